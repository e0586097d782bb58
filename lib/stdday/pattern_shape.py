"""Shape of an airspeed calibration: which directions its legs were flown in, and which lack."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from stdday.atmosphere import SEA_LEVEL_DENSITY_KG_M3, standard_density_kg_m3
from stdday.bands import BANDS, Bands
from stdday.find_legs import Leg
from stdday.ground_velocity import mean_direction_rad

__all__ = ["Shape", "shape_of"]

FloatArray = NDArray[np.float64]

#: Directions of a box or triangle may be this far from 90 or 120 deg apart [rad] (25 deg).
_LOOSE_RAD = 0.44
#: A reciprocal pair: headings at least this far apart [rad] (135 deg).
_OPPOSITE_RAD = 2.36
#: Without headings: what airspeed and ground speeds make of them (115 deg: an airspeed that reads
#: 18 % high makes that of 180 deg), and tracks (125 deg: those of 180 deg in a wind across of
#: nearly half of the airspeed).
_OPPOSITE_AIR_RAD, _OPPOSITE_TRACK_RAD = 2.01, 2.18
#: More directions than this are not searched for a box or triangle among them.
_MOST = 12


@dataclass(frozen=True)
class Shape:
    """Directions of the legs of a pattern.

    Parameters
    ----------
    name : str
        ``box``, ``triangle``, ``reciprocal pair``, or ``legs`` for all others.
    usable : bool
        Whether wind and airspeed can be told apart, along the legs at least.
    span_rad : float
        Angle from the first to the last direction, the widest gap left out [rad].
    add_rad : float
        Direction in which one more leg would help most [rad].
    """

    name: str
    usable: bool
    span_rad: float
    add_rad: float


def shape_of(legs: Sequence[Leg], bands: Bands = BANDS) -> Shape:
    """Tell the shape of a sequence of legs.

    Parameters
    ----------
    legs : sequence of Leg
        At least one.
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    Shape
        Not usable where fewer than three directions span less than `Bands.pattern_span_rad`, two
        opposite ones excepted; never raises.

    Notes
    -----
    Directions are headings. Where they were not recorded they are the velocities over the ground
    minus the wind that makes these equally long (Kasa's circle fit); of two legs they follow from
    the difference of the two, a chord of that circle, and the airspeed.

    Examples
    --------
    >>> def leg(heading):
    ...     return Leg(0.0, 60.0, True, "", np.nan, np.nan, np.radians(heading), 40.0, 900.0, 1.0)
    >>> shape_of([leg(3.0), leg(92.0), leg(180.0), leg(271.0)]).name
    'box'
    >>> shape = shape_of([leg(350.0), leg(80.0)])
    >>> shape.usable, round(np.degrees(shape.span_rad)), round(np.degrees(shape.add_rad))
    (False, 90, 215)
    """
    tracks = np.array([_track_rad(leg) for leg in legs])
    headings = np.array([leg.heading_rad for leg in legs])
    known = bool(np.isfinite(headings).all())
    groups = _grouped(headings if known else tracks, bands.pattern_same_rad)
    apart = None if len(groups) != 2 else _apart_rad(legs, groups, known)
    if apart is not None:
        between, over_ground = apart
        middles = _middles(headings if known else tracks, groups)
        opposite = (
            between >= _OPPOSITE_RAD
            if known
            else between >= _OPPOSITE_AIR_RAD and over_ground >= _OPPOSITE_TRACK_RAD
        )
        _, add = _span(middles)
        return Shape("reciprocal pair" if opposite else "legs", opposite, between, add)
    directions = headings if known else _through_air(legs, tracks, len(groups))
    middles = _middles(directions, _grouped(directions, bands.pattern_same_rad))
    span, add = _span(middles)
    usable = len(middles) > 2 and span >= bands.pattern_span_rad
    return Shape(_name(middles), usable, span, add)


def _track_rad(leg: Leg) -> float:
    if np.isfinite(leg.east_ms):
        return float(np.arctan2(leg.east_ms, leg.north_ms) % (2 * np.pi))
    return leg.heading_rad


def _grouped(angles_rad: FloatArray, same_rad: float) -> list[list[int]]:
    """Places of angles that lie together on the circle."""
    order = [int(place) for place in np.argsort(angles_rad % (2 * np.pi))]
    turns = angles_rad[order] % (2 * np.pi)
    gaps = np.diff(np.concatenate((turns, turns[:1] + 2 * np.pi)))
    cuts = np.flatnonzero(gaps > same_rad)
    if len(cuts) < 2:
        return [order]
    start = int(cuts[0]) + 1
    order, gaps = order[start:] + order[:start], np.roll(gaps, -start)
    edges = [0, *(int(cut) + 1 for cut in np.flatnonzero(gaps > same_rad))]
    return [order[begin:end] for begin, end in pairwise(edges)]


def _middles(angles_rad: FloatArray, groups: Iterable[Sequence[int]]) -> FloatArray:
    """Mean direction of each group, in order around the circle."""
    means = [mean_direction_rad(angles_rad[list(group)]) for group in groups]
    return np.sort(np.array([one for one in means if np.isfinite(one)]))


def _span(middles_rad: FloatArray) -> tuple[float, float]:
    """Angle that directions span, and the middle of the widest gap between them."""
    if not len(middles_rad):
        return 0.0, float("nan")
    gaps = np.diff(np.concatenate((middles_rad, middles_rad[:1] + 2 * np.pi)))
    widest = int(np.argmax(gaps))
    add = float((middles_rad[widest] + gaps[widest] / 2) % (2 * np.pi))
    return float(2 * np.pi - gaps[widest]), add


def _apart_rad(
    legs: Sequence[Leg], groups: Sequence[Sequence[int]], known: bool
) -> tuple[float, float]:
    """Angle between the headings of two groups of legs, and between their tracks."""
    vectors = [
        np.mean([[legs[place].east_ms, legs[place].north_ms] for place in group], axis=0)
        for group in groups
    ]
    tracks = [mean_direction_rad(np.array([_track_rad(legs[i]) for i in one])) for one in groups]
    over_ground = abs(float(np.angle(np.exp(1j * (tracks[0] - tracks[1])))))
    if known:
        turned = [
            mean_direction_rad(np.array([legs[i].heading_rad for i in one])) for one in groups
        ]
        between = abs(float(np.angle(np.exp(1j * (turned[0] - turned[1])))))
        return between, over_ground
    share = float(np.hypot(*(vectors[0] - vectors[1]))) / (2 * _true_airspeed_ms(legs))
    if not np.isfinite(share):
        return over_ground, over_ground
    return 2 * float(np.arcsin(min(share, 1.0))), over_ground


def _true_airspeed_ms(legs: Sequence[Leg]) -> float:
    """Airspeed through the air, near enough to tell a turn of 90 from one of 180 deg."""
    altitude = float(np.mean([leg.altitude_m for leg in legs]))
    height = min(max(altitude, 0.0), 9000.0) if np.isfinite(altitude) else 0.0
    ratio = float(standard_density_kg_m3(height)) / SEA_LEVEL_DENSITY_KG_M3
    return float(np.mean([leg.airspeed_ms for leg in legs])) / float(np.sqrt(ratio))


def _through_air(legs: Sequence[Leg], tracks_rad: FloatArray, groups: int) -> FloatArray:
    """Directions through the air: of the velocities over the ground minus the wind of the fit."""
    moved = np.array([[leg.east_ms, leg.north_ms] for leg in legs])
    if groups < 3 or not np.isfinite(moved).all():
        return tracks_rad
    centred = moved - moved.mean(axis=0)
    # |g - w|^2 = V^2 is linear in w and V^2 - |w|^2; directions that hardly span leave w at rest.
    matrix = np.column_stack((2 * centred, np.full(len(legs), float(np.abs(centred).max()))))
    fitted = np.linalg.lstsq(matrix, (centred**2).sum(axis=1), rcond=0.1)[0]
    through = centred - fitted[:2]
    return np.asarray(np.arctan2(through[:, 0], through[:, 1]) % (2 * np.pi))


def _name(middles_rad: FloatArray) -> str:
    for name, count in (("box", 4), ("triangle", 3)):
        if count <= len(middles_rad) <= _MOST:
            for some in combinations(middles_rad, count):
                gaps = np.diff([*some, some[0] + 2 * np.pi])
                if (np.abs(gaps - 2 * np.pi / count) <= _LOOSE_RAD).all():
                    return name
    return "legs"
