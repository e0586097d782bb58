"""Published examples that ship with the library, and how a figure of ours is held to theirs."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from stdday.errors import InputError
from stdday.units import factor_to_si

__all__ = ["Case", "Figure", "Item", "figures", "published"]

#: A worked example: inputs as published, to the figures that the library makes of them.
Case = Callable[[Mapping[str, Any]], Mapping[str, Any]]

#: Copy of the tests' reference files, made by ``python tests/published``.
PLACE = Path(__file__).with_name("published.json")
#: Beyond this share of a figure [-] neither printed digits nor differences are looked at: results
#: of other computers differ there.
FINEST = 1e-9

#: Figures that were printed coarser than the tolerance that the tests' file holds beside them. For
#: all others a finer tolerance tells of printed zeros at the end, which files of numbers lose.
_COARSE = {("PRP-06", "thrust_lbf"), ("STA-T-03", "one_sided_critical_095_dof15")}

FT = factor_to_si("ft", "length")[0]
INCH = factor_to_si("in", "length")[0]
NMI = factor_to_si("NM", "length")[0]
KT = factor_to_si("kt", "speed")[0]
MPH = factor_to_si("mph", "speed")[0]
FPM = factor_to_si("fpm", "vertical_speed")[0]
LB = factor_to_si("lb", "mass")[0]
LBF = factor_to_si("lbf", "force")[0]
HP = factor_to_si("hp", "power")[0]
INHG = factor_to_si("inHg", "pressure")[0]
SLUG_FT3 = factor_to_si("slug/ft^3", "density")[0]
GALLON = factor_to_si("US gal", "volume")[0]
LB_HP_H = factor_to_si("lb/hp/h", "specific_consumption")[0]


@dataclass(frozen=True)
class Item:
    """A published example.

    Parameters
    ----------
    id : str
        Name of the example.
    quantity : str
        What is computed.
    inputs, expected : dict
        Inputs and figures as published, in the units that their names say.
    tolerance : dict, float or str
        What the tests allow, for each figure.
    source : str
        Where it is from.
    origin : str
        How far to trust it.

    Examples
    --------
    >>> published()["CLB-TAPE-01"].source
    'USNTPS-FTM-No.108, Fixed Wing Performance (30 Sep 1992), climb chapter; AC 23-8C app. 2; AFTR
    6273'
    """

    id: str
    quantity: str
    inputs: Mapping[str, Any]
    expected: Mapping[str, Any]
    tolerance: Mapping[str, float] | float | str
    source: str
    origin: str

    @property
    def standing(self) -> str:
        """How far to trust the item, in two words."""
        words = self.origin.replace("_", " ")
        for sign, told in (("no printed figure", "formula only"), ("from memory", "from memory"),
                           ("graph", "read from a graph"), ("companion", "in a companion"),
                           ("printed figure", "printed figure")):  # fmt: skip
            if sign in words:
                return told
        return words


@dataclass(frozen=True)
class Figure:
    """One published figure and ours.

    Parameters
    ----------
    item : Item
        The example.
    name : str
        Name of the figure.
    published, ours : float
        The two, in the unit that the name says.
    allowed : float
        What the tests allow, same unit.

    Examples
    --------
    >>> figure = Figure(published()["PRP-05"], "thrust_lbf", 1136.463, 1136.4634, 0.01)
    >>> figure.agrees, figure.shown
    ('yes', ('1136.463', '1136.4634', '0.0004'))
    """

    item: Item
    name: str
    published: float
    ours: float
    allowed: float

    @property
    def exponent(self) -> int:
        """Power of ten of the last printed digit."""
        return int(Decimal(repr(self.published)).as_tuple().exponent)

    @property
    def agrees(self) -> str:
        """``yes`` to the printed digits, ``in tolerance`` of the tests alone, or ``no``."""
        off = abs(self.ours - self.published)
        least = FINEST * abs(self.published)
        half = 0.5 * 10.0**self.exponent * (1 + 1e-6)
        coarse = (self.item.id, self.name.split(" ")[0]) in _COARSE
        if off <= max(half if coarse else min(half, self.allowed), least):
            return "yes"
        return "in tolerance" if off <= self.allowed < math.inf else "no"

    @property
    def shown(self) -> tuple[str, str, str]:
        """Published figure, ours with one more digit, and the difference, as text."""
        off = self.ours - self.published
        if not math.isfinite(off):
            return f"{self.published!r}", "–", "–"
        digits = len(Decimal(repr(self.published)).as_tuple().digits)
        if self.exponent < -6 or digits > 9:
            ours = f"{self.ours:.{min(9, digits + 1)}g}"
        else:
            ours = f"{self.ours:.{max(0, 1 - self.exponent)}f}"
        small = abs(off) <= FINEST * abs(self.published)
        return f"{self.published!r}", ours, "0" if small else _two_digits(off)


def _two_digits(number: float) -> str:
    """Two significant digits, plain where that is readable."""
    if not 1e-5 <= abs(number) < 1e5:
        return f"{number:.1e}"
    return f"{number:.{max(0, 1 - math.floor(math.log10(abs(number))))}f}"


@cache
def published() -> dict[str, Item]:
    """Read the examples that ship with the library.

    Returns
    -------
    dict of str to Item
        By id.

    Raises
    ------
    InputError
        Where the file is absent.

    Examples
    --------
    >>> published()["gray1998"].inputs["track_deg"]
    [192, 283, 20]
    """
    if not PLACE.is_file():
        raise InputError(
            f"{PLACE.name}: not found beside the library. Mend: unpack the project again, or make "
            "it with python tests/published."
        )
    known = Item.__dataclass_fields__
    found = json.loads(PLACE.read_text(encoding="utf-8"))
    items = [Item(**{key: item[key] for key in known}) for item in found]
    return {item.id: item for item in items}


def figures(item: Item, case: Case) -> list[Figure]:
    """Redo one example and set each figure beside the published one.

    Parameters
    ----------
    item : Item
        The example.
    case : callable
        What the library makes of its inputs.

    Returns
    -------
    list of Figure
        Those that the library computes; a list of figures gives one each, numbered from 1.

    Raises
    ------
    InputError
        Where the case makes figures that were not published.

    Examples
    --------
    >>> item = published()["PWR-CUBE-01"]
    >>> [figure.agrees for figure in figures(item, lambda _: {"speed_ratio": 1.0163964})]
    ['yes']
    """
    made = case(item.inputs)
    if not set(made) <= set(item.expected):
        raise InputError(
            f"{item.id}: {sorted(set(made) - set(item.expected))} was not published; needed are "
            f"{sorted(item.expected)}"
        )
    found = []
    for name in (key for key in item.expected if key in made):
        wanted, ours = item.expected[name], made[name]
        if not isinstance(wanted, Sequence):
            found.append(_figure(item, name, name, wanted, ours))
            continue
        for place, (one, other) in enumerate(zip(wanted, ours, strict=True), start=1):
            found.append(_figure(item, name, f"{name} {place}", one, other))
    return found


def _figure(item: Item, key: str, name: str, wanted: Any, ours: Any) -> Figure:
    number = float(wanted) if isinstance(wanted, bool) else wanted
    return Figure(item, name, number, float(ours), _allowed(item, key, float(wanted)))


def _allowed(item: Item, key: str, wanted: float) -> float:
    """What the tests allow; a tolerance in words may be relative, or give none beside exactness."""
    given = item.tolerance[key] if isinstance(item.tolerance, Mapping) else item.tolerance
    if isinstance(given, str):
        first, *rest = given.split()
        try:
            number = float(first)
        except ValueError:
            return 0.0 if first == "exact" else math.inf
        return number * abs(wanted) if "relative" in rest else number
    return float(given)
