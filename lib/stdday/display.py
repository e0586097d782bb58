"""Numbers and names as people read them: display units, fixed decimals, direction words.

Everything that prints a result (tables, sentences, pictures, the report) takes units, decimals and
names from here, so that the same number reads the same everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from stdday import units
from stdday.errors import InputError
from stdday.metrics import METRICS

__all__ = [
    "NONE",
    "Scale",
    "condition_words",
    "direction",
    "full_condition",
    "metric_scale",
    "metric_words",
    "number",
    "printed",
    "scale_of",
    "with_label",
]

#: Printed where there is no number; the reason stands beside it.
NONE = "–"

# Unit of the results files -> its dimension, the key of [display] that may replace it, and the
# decimals printed in it. The unit says which key: altitudes are in ft, distances in m.
_KEYS: dict[str, tuple[str, str, int]] = {
    "kt": ("speed", "speed", 1),
    "ft": ("length", "altitude", 0),
    "m": ("length", "distance", 0),
    "ft/min": ("vertical_speed", "vertical_speed", 0),
    "kg": ("mass", "weight", 0),
    "L": ("volume", "volume", 1),
    "hPa": ("pressure", "pressure", 1),
    "degC": ("temperature", "temperature", 1),
    "kW": ("power", "power", 1),
    "rpm": ("angular_speed", "engine_speed", 0),
    "L/h": ("volume_flow", "fuel_flow", 1),
    "nmi/L": ("specific_range", "specific_range", 2),
    "s": ("time", "", 1),
    "%": ("fraction", "", 1),
}

# Metrics printed with other decimals than their unit.
_DECIMALS = {"endurance": 0}
# Metrics that pilots read in another unit than that of the results files: unit, decimals. A
# distance in the air goes with the unit of airspeed.
_READ_IN = {"time_to_climb": ("min", 1), "distance_to_climb": ("nmi", 1)}

# Words for a greater and a smaller number of each metric.
_DIRECTIONS: dict[str, tuple[str, str]] = {
    "takeoff_ground_roll": ("longer", "shorter"),
    "takeoff_time_to_liftoff": ("longer", "shorter"),
    "takeoff_distance_50ft": ("longer", "shorter"),
    "landing_ground_roll": ("longer", "shorter"),
    "landing_distance_50ft": ("longer", "shorter"),
    "time_to_climb": ("longer", "shorter"),
    "distance_to_climb": ("longer", "shorter"),
    "endurance": ("longer", "shorter"),
    "climb_rate": ("more", "less"),
    "climb_gradient": ("steeper", "shallower"),
    "cruise_true_airspeed": ("faster", "slower"),
    "fuel_flow": ("more", "less"),
    "fuel_to_climb": ("more", "less"),
    "specific_range": ("more", "less"),
}
_OTHERWISE = ("higher", "lower")

# Conditions that tell rows of one metric apart, by the start of the condition id.
_TELLING = {
    "climb": ("pressure_altitude", "at {}"),
    "cruise": ("power", "at {} power"),
    "efficiency": ("true_airspeed", "at {} true airspeed"),
    "bestrate": ("pressure_altitude", "at {}"),
    "bestangle": ("pressure_altitude", "at {}"),
    "toclimb": ("pressure_altitude", "from {}"),
}
_DISTANCES = {"kt": "nmi", "km/h": "km", "mph": "mi"}


@dataclass(frozen=True)
class Scale:
    """How numbers of one unit of the results files are printed.

    Parameters
    ----------
    unit : str
        Unit printed.
    factor, offset : float
        Printed number = number x factor + offset.
    decimals : int
        Decimals printed [-].

    Examples
    --------
    >>> Scale("ft", 3.2808, 0.0, 0).text(100.0)
    '328'
    """

    unit: str
    factor: float
    offset: float
    decimals: int

    def value(self, number: float) -> float:
        """Turn a number of the results files into the printed unit."""
        return number * self.factor + self.offset

    def change(self, number: float) -> float:
        """Turn a difference of two numbers into the printed unit."""
        return number * self.factor

    def text(self, value: float, decimals: int | None = None) -> str:
        """Print a number of the results files in the printed unit, without the unit."""
        return number(self.value(value), self.decimals if decimals is None else decimals)


def number(value: float, decimals: int, plus: bool = False) -> str:
    """Print a number with fixed decimals; a dash where there is none.

    Parameters
    ----------
    value : float
        Any number; NaN and None read as none.
    decimals : int
        Decimals printed [-].
    plus : bool
        Whether positive numbers carry their sign, as differences do.

    Returns
    -------
    str

    Examples
    --------
    >>> number(-0.04, 1), number(21.26, 1, plus=True), number(float("nan"), 1)
    ('0.0', '+21.3', '–')
    """
    if value is None or not math.isfinite(value):
        return NONE
    rounded = round(float(value), decimals) + 0.0
    sign = "+" if plus and rounded > 0 else ""
    return f"{sign}{rounded:.{decimals}f}"


def printed(
    values: Sequence[float], decimals: int, edges: Iterable[float] = (), plus: bool = False
) -> list[str]:
    """Print numbers that belong together, with one more decimal where rounding would mislead.

    Parameters
    ----------
    values : sequence of float
        Numbers in the printed unit.
    decimals : int
        Usual decimals [-].
    edges : iterable of float
        Numbers, same unit, that a verdict compares with (zero, what matters): a value beside such
        an edge must not be printed as lying on it.
    plus : bool
        Whether positive numbers carry their sign.

    Returns
    -------
    list of str

    Examples
    --------
    >>> printed([-21.2, -41.0, -0.4], 0, edges=(0.0,), plus=True)
    ['-21.2', '-41.0', '-0.4']
    >>> printed([-21.2, -41.0, -1.4], 0, edges=(0.0,), plus=True)
    ['-21', '-41', '-1']
    """
    known = [edge for edge in edges if math.isfinite(edge)]
    finite = [value for value in values if math.isfinite(value)]
    clear = all(
        _side(round(value, decimals) - edge) == _side(value - edge)
        for value in finite
        for edge in known
    )
    places = decimals if clear else decimals + 1
    return [number(value, places, plus) for value in values]


def _side(value: float) -> int:
    return (value > 1e-9) - (value < -1e-9)


def scale_of(meta: Mapping[str, Any], unit: str) -> Scale:
    """Scale for a unit of the results files under the campaign's display units.

    Parameters
    ----------
    meta : mapping
        ``Results.meta``, of which ``display`` is read.
    unit : str
        Unit of the results files; one that is not known is printed as it stands.

    Returns
    -------
    Scale

    Raises
    ------
    InputError
        Where a display unit cannot be read, or is not of the dimension.

    Examples
    --------
    >>> scale_of({"display": {"distance": "ft"}}, "m").text(100.0)
    '328'
    >>> scale_of({"display": {}}, "kt").unit
    'kt'
    """
    dimension, key, decimals = _KEYS.get(unit, ("", "", 2))
    wanted = _wanted(meta.get("display", {}), key) or unit
    if not dimension or wanted == unit:
        return Scale("" if unit == "-" else unit, 1.0, 0.0, decimals)
    factor, offset = _between(unit, wanted, dimension)
    return Scale(wanted, factor, offset, max(0, decimals - round(math.log10(factor))))


def _wanted(display: Mapping[str, str], key: str) -> str:
    if key != "specific_range":
        return display.get(key, "")
    flow, distance = display.get("fuel_flow", ""), _DISTANCES.get(display.get("speed", ""), "nmi")
    return f"{distance}/{flow.removesuffix('/h')}" if flow.endswith("/h") else ""


def _between(unit: str, wanted: str, dimension: str) -> tuple[float, float]:
    """Factor and offset from one unit to another."""
    try:
        scale, offset = units.factor_to_si(unit, dimension)
        other, zero = units.factor_to_si(wanted, dimension)
    except InputError as error:
        raise InputError(f"[display] in campaign.toml: {error}") from error
    return scale / other, (offset - zero) / other


def metric_scale(meta: Mapping[str, Any], metric: str) -> Scale:
    """Scale for the numbers of a metric.

    Parameters
    ----------
    meta : mapping
        ``Results.meta``.
    metric : str
        Metric name.

    Returns
    -------
    Scale

    Examples
    --------
    >>> metric_scale({"display": {"vertical_speed": "m/s"}}, "climb_rate").text(1000.0)
    '5.08'
    >>> [metric_scale({}, name).unit for name in ("time_to_climb", "distance_to_climb")]
    ['min', 'nmi']
    """
    entry = METRICS[metric]
    if metric in _READ_IN:
        unit, decimals = _READ_IN[metric]
        if entry.dimension == "length":
            unit = _DISTANCES.get(meta.get("display", {}).get("speed", ""), unit)
        return Scale(unit, *_between(entry.unit, unit, entry.dimension), decimals)
    found = scale_of(meta, entry.unit)
    if entry.unit in _KEYS and metric not in _DECIMALS:
        return found
    return Scale(found.unit, found.factor, found.offset, _DECIMALS.get(metric, entry.decimals))


def direction(metric: str, difference: float) -> str:
    """Word for the sign of a difference: shorter, faster, more.

    Parameters
    ----------
    metric : str
        Metric name.
    difference : float
        Difference, any unit; not zero.

    Returns
    -------
    str

    Examples
    --------
    >>> direction("takeoff_ground_roll", -21.0), direction("cruise_true_airspeed", 2.0)
    ('shorter', 'faster')
    """
    more, less = _DIRECTIONS.get(metric, _OTHERWISE)
    return more if difference > 0 else less


def _condition_parts(meta: Mapping[str, Any], condition: str) -> dict[str, str]:
    parts: dict[str, str] = {}
    for part in condition.split("; "):
        key, found, value = part.partition("=")
        if found:
            parts[key] = " to ".join(_quantity(meta, one) for one in value.split(" to "))
    return parts


def _quantity(meta: Mapping[str, Any], value: str) -> str:
    """Quantity of a condition in the printed unit; other words as they stand."""
    size, _, unit = value.partition(" ")
    scale = scale_of(meta, unit) if unit in _KEYS else None
    if scale is None or scale.unit == unit:
        return value
    return f"{scale.text(float(size))} {scale.unit}"


def condition_words(meta: Mapping[str, Any], condition_id: str, condition: str) -> str:
    """Words that tell the rows of one metric apart.

    Parameters
    ----------
    meta : mapping
        ``Results.meta``.
    condition_id, condition : str
        As in ``values.csv``.

    Returns
    -------
    str
        Empty where a metric has only one condition.

    Examples
    --------
    >>> condition_words({}, "cruise_65", "power=65 %; pressure_altitude=4000 ft")
    'at 65 % power'
    >>> condition_words({}, "bestrate_1", "pressure_altitude=1000 ft; airspeed=best rate")
    'at 1000 ft and best-rate airspeed'
    """
    key, words = _TELLING.get(condition_id.partition("_")[0], ("", ""))
    parts = _condition_parts(meta, condition)
    told = words.format(parts[key]) if key in parts else ""
    best = parts.get("airspeed", "")
    if not best.startswith("best "):
        return told
    return f"{told} and {best.replace(' ', '-')} airspeed".removeprefix(" and ")


def full_condition(meta: Mapping[str, Any], condition: str) -> str:
    """Condition of a row in words, every key of it.

    Parameters
    ----------
    meta : mapping
        ``Results.meta``.
    condition : str
        As in ``values.csv``.

    Returns
    -------
    str

    Examples
    --------
    >>> full_condition({}, "pressure_altitude=0 ft; temperature=ISA+0; weight=600 kg")
    'pressure altitude 0 ft, temperature ISA+0, weight 600 kg'
    """
    parts = _condition_parts(meta, condition)
    listed = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in parts.items())
    listed = listed.replace("liftoff", "lift-off")
    return listed or condition


def metric_words(meta: Mapping[str, Any], metric: str, condition_id: str, condition: str) -> str:
    """Title of a metric with what tells its rows apart.

    Parameters
    ----------
    meta : mapping
        ``Results.meta``.
    metric, condition_id, condition : str
        As in ``values.csv``.

    Returns
    -------
    str

    Examples
    --------
    >>> metric_words({}, "fuel_flow", "cruise_65", "power=65 %; pressure_altitude=4000 ft")
    'Fuel flow at 65 % power'
    """
    return f"{METRICS[metric].title} {condition_words(meta, condition_id, condition)}".strip()


def with_label(meta: Mapping[str, Any], configuration: str) -> str:
    """Configuration with its label, where it has one.

    Parameters
    ----------
    meta : mapping
        ``Results.meta``.
    configuration : str
        Its id.

    Returns
    -------
    str

    Examples
    --------
    >>> with_label({"configurations": {"B": {"label": "three-blade"}}}, "B")
    'B (three-blade)'
    """
    label = meta.get("configurations", {}).get(configuration, {}).get("label", "")
    return f"{configuration} ({label})" if label and label != configuration else configuration
