"""Every reading that is possible: a column as a channel in a unit, with what speaks for it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from stdday.channels import CHANNELS, Channel, find_channel
from stdday.propose_types import Column
from stdday.propose_units import channel_scale, choices_for, header_unit
from stdday.propose_values import Spread, spread_of, value_score
from stdday.propose_words import number_of, tokens, word_scores

__all__ = ["NUMBERED", "Option", "options_of", "words_of"]

FloatArray = NDArray[np.float64]

#: Channels with limits that come by the cylinder.
NUMBERED = ("cylinder_head_temperature", "exhaust_gas_temperature")
#: Channels that numbers and other columns can show where no word does.
BY_NUMBERS = ("latitude", "longitude", "gps_altitude", "ground_speed", "track",
              "indicated_airspeed", "true_airspeed", "pressure_altitude", "indicated_altitude",
              "altimeter_setting", "vertical_speed", "outside_air_temperature", "engine_speed",
              "manifold_pressure", "normal_acceleration")


@dataclass(eq=False)
class Option:
    """One reading of one column.

    Parameters
    ----------
    column : Column
        The column.
    channel : Channel
        What it would be.
    base : str
        Name of the channel without the number of a cylinder.
    unit : str
        Unit it would have.
    how : str
        Why that unit: ``given`` in the header, ``open`` (given, with two meanings), ``shown`` by
        other columns, ``only`` one that the numbers allow, or a ``guess``.
    word, value : float
        How well words and numbers fit.
    spread : Spread
        Its numbers [unit of the channel].
    extra : float
        What other columns add.
    reasons : list of str
        What speaks for it, and against.
    against : list of str
        What contradicts it.
    """

    column: Column
    channel: Channel
    base: str
    unit: str
    how: str
    word: float
    value: float
    spread: Spread
    extra: float = 0.0
    reasons: list[str] = field(default_factory=list)
    against: list[str] = field(default_factory=list)

    @property
    def total(self) -> float:
        """All that speaks for it, in points."""
        unit = {"given": 1.5, "open": 1.2, "shown": 1.5, "only": 0.5}.get(self.how, 0.0)
        return 2.0 * self.word + unit + self.value + self.extra - 1.5 * len(self.against)

    @property
    def inside(self) -> FloatArray:
        """Its numbers [unit of the channel]."""
        scale = channel_scale(self.channel, self.unit) or (np.nan, 0.0)
        return self.column.values * scale[0] + scale[1]


def words_of(column: Column) -> str:
    """All that the header says of a column, with what its unit says of the quantity.

    Parameters
    ----------
    column : Column
        The column.

    Returns
    -------
    str
        Never raises.

    Examples
    --------
    >>> words_of(Column(0, "Spd", "Spd", "KIAS", "row", np.empty(0), np.empty(0)))
    'Spd ias'
    """
    unit = header_unit(column.unit) if column.unit else None
    return f"{column.words} {unit.words}".strip() if unit is not None else column.words


def options_of(columns: Iterable[Column]) -> list[Option]:
    """List every reading of every column.

    Parameters
    ----------
    columns : iterable of Column
        Columns of numbers.

    Returns
    -------
    list of Option
        Those that the unit and the numbers allow; never raises.

    Examples
    --------
    >>> cells = np.array(["80", "90", "100"], dtype=object)
    >>> column = Column(0, "IAS", "IAS", "kt", "row", cells, np.array([80.0, 90.0, 100.0]))
    >>> [(option.channel.name, option.unit, option.how) for option in options_of([column])]
    [('indicated_airspeed', 'kt', 'given')]
    """
    found: list[Option] = []
    for column in columns:
        spread = spread_of(column.values)
        if spread is None:
            continue
        words = words_of(column)
        scores = word_scores(words)
        if not scores and not _says_something_else(words):
            scores = dict.fromkeys(BY_NUMBERS, 0.0)
        most = max(scores.values(), default=0.0)
        for base, word in scores.items():
            if word < most - 1.4:        # a weaker reading of a part of the words
                continue
            channel = _channel(base, words)
            if channel is not None:
                found += _readings(column, channel, base, word, spread)
    _by_custom(found)
    return found


def _by_custom(options: Iterable[Option]) -> None:
    """Where the unit of fuel is a guess, guess the gallon in a recording of inches and Fahrenheit.

    It stays a guess that is asked about.
    """
    options = list(options)
    customary = any(option.how in ("given", "only", "shown") and option.word >= 2.0
                    and option.unit in ("inHg", "degF", "mph") and
                    option.base in ("altimeter_setting", "ground_speed", "oil_temperature")
                    for option in options)
    for option in options:
        if customary and option.how == "guess" and option.unit.startswith("US gal"):
            option.extra += 0.6


def _says_something_else(words: str) -> bool:
    """Whether words that name no channel name something else: a wind, a target."""
    return bool(tokens(words)[0]) and not word_scores(words + " qnh") and bool(words)


def _channel(base: str, words: str) -> Channel | None:
    """Channel of a name; with its number where there are several."""
    number = number_of(words) if base in NUMBERED else None
    return find_channel(f"{base}_{number}" if number is not None else base)


def _readings(
    column: Column, channel: Channel, base: str, word: float, spread: Spread
) -> list[Option]:
    """Readings of a column as one channel, one a unit."""
    given = header_unit(column.unit) if column.unit else None
    if given is not None and channel_scale(channel, given.unit) is not None:
        return _one(column, channel, base, word, spread,
                    [given.unit], "open" if given.open else "given")
    if column.unit and column.unit_place in ("row", "bracket") and _is_other_unit(column.unit):
        return []
    named = _named_unit(channel, column)
    if named:
        return _one(column, channel, base, word, spread, [named], "given")
    units = choices_for(channel)
    made = _one(column, channel, base, word, spread, units, "guess")
    if len(made) == 1:
        made[0].how = "given" if len(units) == 1 else "only"
    return made


def _is_other_unit(unit: str) -> bool:
    """Whether what stands as the unit is one, and not a stroke or a word."""
    return unit.strip(" -#").casefold() not in ("", "none", "n/a", "float", "int", "number", "real",
                                                "double", "1", "raw", "num")


def _named_unit(channel: Channel, column: Column) -> str:
    """Unit that the name of the quantity itself says: rpm, percent."""
    words, joined = tokens(column.words)
    if channel.dimension == "angular_speed" and "rpm" in joined.replace(" ", ""):
        return "rpm"
    if channel.name == "power" and words & {"percent", "pct", "prozent"}:
        return "%"
    if channel.name == "power":
        return "hp" if words & {"bhp", "hp", "horsepower"} else "kW" if "kw" in words else ""
    return ""


def _one(
    column: Column, channel: Channel, base: str, word: float, spread: Spread,
    units: Sequence[str], how: str,
) -> list[Option]:
    """Readings in these units, as far as the numbers allow them."""
    made = []
    for rank, unit in enumerate(units):
        scale = channel_scale(channel, unit)
        if scale is None:
            continue
        inside = spread.scaled(scale)
        judged = value_score(channel, base, inside)
        if judged is None and base not in CHANNELS and how == "given":
            judged = (-1.0, "its range is unusual")
        if judged is None:
            continue
        value, why = judged
        option = Option(column, channel, base, unit, how, word, value, inside,
                        extra=-0.3 * rank if how == "guess" else 0.0)
        if word > 0.0:
            option.reasons.append(f"the words {column.words[:60]!r}")
        if how in ("given", "open"):
            option.reasons.append(f"its unit {unit}")
        if why:
            option.reasons.append(why)
        made.append(option)
    return made
