"""Made-up results with landings, patterns, an acceleration and a point of a card."""

from __future__ import annotations

import dataclasses

import pandas as pd

from stdday.results import VALUE_COLUMNS
from tests.made_results import FLIGHTS, NAN, made

CONDITION = "pressure_altitude=0 ft; temperature=ISA+0; weight=600 kg"
_STEPS = ("delay of the ground speed", "no wind", "weight", "air density")


def _point(number, flight, kind, minute, used=True, reason="", **more):
    start, end = (f"2026-05-0{number}T08:{minute:02d}:{second:02d}Z" for second in (0, 40))
    return {
        "point": f"{flight}-{kind}-08{minute:02d}00", "flight": flight,
        "configuration": FLIGHTS[flight], "block": FLIGHTS[flight] + "1", "kind": kind,
        "start_utc": start, "end_utc": end, "used": used, "reason": reason, "quality": "good",
    } | more  # fmt: skip


def _rows():
    rows = []
    for number, flight in enumerate(FLIGHTS, start=1):
        landed = {"landing_roll [m]": 150.0 + 3 * number, "touchdown_ground_speed [kt]": 42.0,
                  "touchdown_indicated_airspeed [kt]": 45.5, "deceleration [m/s^2]": 1.62,
                  "touchdown_sigma [s]": 0.61}  # fmt: skip
        rows.append(_point(number, flight, "landing", 57, **landed))
    rows.append(_point(1, "F1", "landing", 52, False, "rolled out without hard braking: 0.5 m/s^2"))
    rows.append(_point(1, "F1", "airspeed calibration", 40, **{"indicated_airspeed [kt]": 71.0}))
    rows.append(_point(1, "F1", "acceleration", 47, **{"indicated_airspeed [kt]": 80.0}))
    rows.append(_point(1, "F1", "airspeed calibration", 0)
                | {"point": "F1-airspeed calibration-card-1", "start_utc": "", "end_utc": ""})
    return rows


def _ledger():
    rows = []
    for number, flight in enumerate(FLIGHTS, start=1):
        before = 150.0 + 3 * number
        for step, change in zip(_STEPS, (-6.5, 24.0 + number, 8.5, -6.0 + number), strict=True):
            rows.append({
                "point": f"{flight}-landing-085700", "metric": "landing_ground_roll",
                "condition_id": "landing", "step": step, "quantity": "landing ground roll",
                "before": before, "after": before + change, "change": change, "unit": "m",
                "source": "made up", "inputs": "",
            })  # fmt: skip
            before += change
    return rows


def _values():
    told = {"condition_id": "landing", "condition": CONDITION, "unit": "m", "basis":
            "scatter between flights", "reason": "", "method": "as braked"}  # fmt: skip
    rows = []
    for name, value in (("A", 182.0), ("B", 196.0)):
        rows.append(told | {
            "metric": "landing_ground_roll", "configuration": name, "estimate": value,
            "low": value - 20, "high": value + 20, "flights": 3, "points": 3, "status": "ok",
        })  # fmt: skip
        rows.append(told | {
            "metric": "landing_distance_50ft", "configuration": name, "estimate": NAN, "low": NAN,
            "high": NAN, "flights": 0, "points": 0, "basis": "", "status": "refused",
            "reason": "no passing of 50 ft: GPS altitude is missing or too slow",
        })  # fmt: skip
    return pd.DataFrame(rows, columns=list(VALUE_COLUMNS))


def made_landings():
    """`made` with landings and the other kinds of points."""
    results = made()
    left_out = pd.DataFrame([{
        "point": "F1-landing-085200", "metric": "all", "condition_id": "",
        "reason": "rolled out without hard braking: 0.5 m/s^2",
    }])  # fmt: skip
    return dataclasses.replace(
        results,
        points=pd.concat([results.points, pd.DataFrame(_rows())], ignore_index=True),
        corrections=pd.concat([results.corrections, pd.DataFrame(_ledger())], ignore_index=True),
        left_out=pd.concat([results.left_out, left_out], ignore_index=True),
        values=pd.concat([results.values, _values()], ignore_index=True),
    )
