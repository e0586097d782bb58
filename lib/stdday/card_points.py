"""Test points of cards filled in by hand: the same tables as from a recording."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from stdday.bands import BANDS, KNOT_MS, Bands
from stdday.candidates import Candidate
from stdday.card_files import CARD_KIND, LEG_PATTERNS, CardRow, read_cards
from stdday.find_legs import Leg
from stdday.legs import speed_course_ms
from stdday.pattern_shape import shape_of
from stdday.points import Points, join_points, make_points, overruled

if TYPE_CHECKING:
    from stdday.campaign_types import Campaign
    from stdday.decisions import Decision
    from stdday.flight_rows import Flight

__all__ = ["card_point_id", "card_points", "with_cards"]

#: What every point of a card says about itself.
_QUALITY = "fair: read by hand"


def card_point_id(row: CardRow) -> str:
    """Name a point after its flight, kind and the name it has on its card.

    Parameters
    ----------
    row : CardRow
        Any of its rows.

    Returns
    -------
    str
        Never that of a point found in a recording, which ends in six digits.

    Examples
    --------
    >>> card_point_id(CardRow("cards/a.csv", 2, "F1", "3", "box", None, "", {}))
    'F1-airspeed calibration-card 3'
    """
    return f"{row.flight}-{CARD_KIND}-card {row.point}"


def with_cards(campaign: Campaign, found: Points, decisions: Sequence[Decision] = ()) -> Points:
    """Add the points of a campaign's cards to those found in its recordings.

    Parameters
    ----------
    campaign : Campaign
        A campaign without errors.
    found : Points
        Points of the recordings.
    decisions : sequence of Decision, optional
        What a person decided; those about points of cards no longer count as orphans.

    Returns
    -------
    Points
        Those of the cards last; the same where there are no cards.
    """
    rows = read_cards(campaign.folder)[0]
    flights = {flight.id: flight for flight in campaign.flights}
    mine = [row for row in rows if row.flight in flights]
    if not mine:
        return found
    made = card_points(campaign, flights, mine, decisions)
    applied = set(made.table["point"])
    orphans = tuple(one for one in found.orphans if one.point not in applied)
    return join_points([replace(found, orphans=orphans), made])


def card_points(
    campaign: Campaign,
    flights: dict[str, Flight],
    rows: Sequence[CardRow],
    decisions: Sequence[Decision] = (),
    bands: Bands = BANDS,
) -> Points:
    """Make points and their legs from the rows of cards.

    Parameters
    ----------
    campaign : Campaign
        Airplanes.
    flights : dict of str to Flight
        Flights by name; every row's must be in it.
    rows : sequence of CardRow
        Rows; those with the same flight and point are one point.
    decisions : sequence of Decision, optional
        What a person decided.
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    Points
        A card tells no times: bounds are NaN.
    """
    groups: dict[str, list[CardRow]] = {}
    for row in rows:
        groups.setdefault(card_point_id(row), []).append(row)
    by_point = {one.point: one for one in decisions}
    points: list[dict[str, object]] = []
    segments: list[dict[str, float | str]] = []
    for name, legs in groups.items():
        flight = flights[legs[0].flight]
        one = _candidate(legs, flight, by_point.get(name), bands)
        labels = {"point": name, "flight": flight.id, "configuration": flight.configuration,
                  "block": flight.block or "", "kind": CARD_KIND}
        points.append({**labels, "start_s": np.nan, "end_s": np.nan, "used": one.used,
                       "reason": one.reason, "quality": one.quality})
        rated = campaign.airplane_of(flight.configuration).rated_power_w
        said = by_point[name].flaps if name in by_point else None
        if one.used:
            segments += [
                {**labels, "condition_id": f"leg_{place}", **_state(leg, rated),
                 "flaps": said or leg.flaps}
                for place, leg in enumerate(legs, start=1)
            ]
    decided = {name: by_point[name] for name in groups if name in by_point}
    return make_points(points, segments, (), decided)


def _candidate(
    legs: Sequence[CardRow], flight: Flight, decision: Decision | None, bands: Bands
) -> Candidate:
    reason = _why_not(legs, bands)
    one = Candidate(CARD_KIND, np.nan, np.nan, not reason, reason, _QUALITY,
                    pattern=legs[0].pattern)
    if decision is not None:
        one = overruled(one, decision)
    if not flight.use:
        why = flight.why_not or "no reason given in flights.csv"
        one = replace(one, used=False, reason=f"flight not used: {why}")
    return one


def _why_not(rows: Sequence[CardRow], bands: Bands) -> str:
    """Why the legs of a card are no pattern; empty where they are."""
    if rows[0].pattern not in LEG_PATTERNS:
        return ""
    legs = [_as_leg(row) for row in rows]
    speeds = np.array([leg.airspeed_ms for leg in legs])
    if np.ptp(speeds) > bands.pattern_attempt_ms:
        return (f"airspeed not held: {speeds.min() / KNOT_MS:.0f} to {speeds.max() / KNOT_MS:.0f} "
                "kt over the legs")
    shape = shape_of(legs, bands)
    if shape.usable:
        return ""
    return (f"headings span only {np.degrees(shape.span_rad):.0f} deg: fly one more leg near "
            f"{np.degrees(shape.add_rad) % 360:03.0f} deg")


def _as_leg(row: CardRow) -> Leg:
    values = row.values
    east, north = _vector(row)
    return Leg(np.nan, np.nan, True, "", east, north, values.get("heading", np.nan),
               values["indicated_airspeed"], values["pressure_altitude"],
               values.get("power", np.nan))


def _vector(row: CardRow) -> tuple[float, float]:
    speed, track = (row.values.get(name, np.nan) for name in ("ground_speed", "track"))
    return float(speed * np.sin(track)), float(speed * np.cos(track))


def _state(row: CardRow, rated_power_w: float) -> dict[str, float | str]:
    """State of one leg; what a card does not tell is left out."""
    values = row.values
    east, north = _vector(row)
    timed = values.get("time_out", np.nan) + values.get("time_back", np.nan)
    return {
        "duration_s": timed,
        "interval_sigma": 0.0,
        "indicated_airspeed_ms": values["indicated_airspeed"],
        "pressure_altitude_m": values.get("pressure_altitude", np.nan),
        "outside_air_temperature_k": values.get("outside_air_temperature", np.nan),
        "power_w": values.get("power", np.nan) * rated_power_w,
        "ground_speed_ms": values.get("ground_speed", np.nan),
        "samples": 1,
        "pattern": row.pattern,
        "ground_east_ms": east,
        "ground_north_ms": north,
        "track_is_true": float(bool(row.track_is_true)),
        "heading_rad": values.get("heading", np.nan),
        "reference_calibrated_ms": values.get("other_calibrated_airspeed", np.nan),
        "reference_true_ms": _on_course(row),
    }


def _on_course(row: CardRow) -> float:
    """True airspeed of a speed course [m/s]; NaN for other patterns."""
    if row.pattern != "speed course":
        return float("nan")
    length, *times = (row.values[name] for name in ("course_length", "time_out", "time_back"))
    return float(speed_course_ms(length, *times))
