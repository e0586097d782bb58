"""Made-up tables of the airplane model for tests of its pages; nothing is computed."""

from __future__ import annotations

import dataclasses

import pandas as pd

from tests.made_results import CLIMB_1, NAN, _value, made


def _ratio():
    return pd.DataFrame([
        {"configuration": name, "true_airspeed [kt]": speed, "ratio [-]": ratio,
         "low [-]": ratio - half, "high [-]": ratio + half, "basis": "scatter between flights"}
        for name, half, step in (("A", 0.0, 0.0), ("B", 0.04, 0.02))
        for speed, ratio in ((100.0, 1.0), (110.0, 1.0 + step), (120.0, 1.0 + 2 * step))
    ])  # fmt: skip


def _curve():
    rows = []
    for name, more in (("A", 0.0), ("B", 100.0)):
        for altitude, top in ((1000, 800.0), (4000, 600.0)):
            for speed in range(52, 82, 3):
                rate = top + more - (speed - 64.0) ** 2
                rows.append({
                    "configuration": name, "pressure_altitude [ft]": altitude,
                    "calibrated_airspeed [kt]": float(speed), "rate [ft/min]": rate,
                    "low [ft/min]": rate - 40, "high [ft/min]": rate + 40,
                })  # fmt: skip
    return pd.DataFrame(rows)


def _points(curve):
    return curve[::4].assign(flight="F1", point="F1-climb-080800").drop(
        columns=["low [ft/min]", "high [ft/min]"])  # fmt: skip


def _accelerations():
    rows = [("A", "F1", 71.0, 640.0, 600.0, ""), ("A", "F1", 95.0, 300.0, NAN, "not flown there"),
            ("B", "F4", 72.0, 790.0, 690.0, "")]  # fmt: skip
    return pd.DataFrame([
        {"configuration": name, "flight": flight, "point": f"{flight}-climb-080800",
         "window": "acceleration_1", "calibrated_airspeed [kt]": speed,
         "pressure_altitude [ft]": 4000.0, "rate [ft/min]": rate, "low [ft/min]": rate - 20,
         "high [ft/min]": rate + 20, "climb_rate [ft/min]": climb,
         "difference [ft/min]": rate - climb, "reason": reason}
        for name, flight, speed, rate, climb, reason in rows
    ])  # fmt: skip


def _agreement():
    rows = [("A", "level runs", 3.8, 1.2, "% of power", False, "flight F3 lies farthest"),
            ("B", "accelerations", 100.0, 10.0, "ft/min", True,
             "accelerations give +100 ft/min beside the climbs: airspeed delay")]  # fmt: skip
    return pd.DataFrame([
        {"configuration": name, "test": test, "flights": 3, "residual": off, "error": error,
         "unit": unit, "contradicts": against, "words": words}
        for name, test, off, error, unit, against, words in rows
    ])  # fmt: skip


def _propeller():
    """Without an engine speed in A, as where none was recorded."""
    row = {"configuration": "A", "true_airspeed [kt]": 100.0, "power [kW]": 49.1,
           "engine_speed [rpm]": NAN, "ideal_efficiency [-]": 0.938}  # fmt: skip
    more = {"configuration": "B", "engine_speed [rpm]": 4500.0, "advance_ratio [-]": 0.867,
            "power_coefficient [-]": 0.075, "tip_mach [-]": 0.576,
            "blade_drag [% of power]": 7.4}  # fmt: skip
    return pd.DataFrame([row, row | more])


def _best(metric, condition_id, known, status="ok", reason=""):
    condition = CLIMB_1.replace("; airspeed=62 kt", "")
    return _value(metric, condition_id, condition, "kt", "A", known, status, reason)


def made_airplane():
    """The results of `made` with every table of the airplane model."""
    whole, curve = made(), _curve()
    values = pd.DataFrame([
        _best("best_rate_airspeed", "bestrate_1", (64.0, 60.0, 68.0)),
        _best("best_angle_airspeed", "bestangle_1", None, "refused", "fly slower climbs"),
        _value("climb_rate", "bestrate_1", CLIMB_1.replace("62 kt", "best rate"), "ft/min", "A",
               (800, 760, 840), "ok", ""),
        _value("time_to_climb", "toclimb", "pressure_altitude=1000 ft to 4000 ft; airspeed=62 kt",
               "s", "A", (240, 210, 270), "ok", ""),
        _value("distance_to_climb", "toclimb",
               "pressure_altitude=1000 ft to 4000 ft; airspeed=62 kt", "m", "A",
               (7408, 6482, 8334), "ok", ""),
        _value("installed_efficiency_ratio", "efficiency_110", "true_airspeed=110 kt", "-", "B",
               (1.02, 0.98, 1.06), "ok", ""),
    ])  # fmt: skip
    tables = {
        "efficiency_ratio": _ratio(), "climb_curve": curve, "climb_points": _points(curve),
        "accelerations": _accelerations(), "test_agreement": _agreement(),
        "propeller": _propeller(),
        "reciprocals": pd.DataFrame([{
            "flight": "F1", "condition_id": "climb_1", "first": "F1-climb-080800",
            "second": "F1-climb-081200", "difference [ft/min]": 20.0,
            "difference, uncorrected [ft/min]": -60.0}]),
        "performance": pd.DataFrame([
            {"configuration": "A", "pressure_altitude [ft]": altitude, "weight [kg]": 600.0,
             "power [% of rated]": 65.0, "true_airspeed [kt]": 100.0 + altitude / 1000,
             "fuel_flow [L/h]": 20.0, "specific_range [nmi/L]": 5.0,
             "endurance [h for 10 L]": 0.5} for altitude in (0, 4000)]),
    }  # fmt: skip
    model = {
        "A": {"kind": "reference", "choice": "polar of the airplane", "polar": "CD0/eta = 0.05",
              "reason": ""},
        "B": {"kind": "smooth", "choice": "polar common with A, ratio smooth", "reason": "",
              "polar": "CD0/eta = 0.05"},
    }  # fmt: skip
    return dataclasses.replace(
        whole, values=pd.concat([whole.values, values], ignore_index=True), tables=tables,
        meta=whole.meta | {"airplane_model": model},
    )  # fmt: skip
