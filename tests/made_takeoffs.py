"""Made-up tables of take-offs beside `made_results`: round numbers, every kind of row once."""

from __future__ import annotations

import dataclasses

import pandas as pd

from tests.made_results import FLIGHTS, NAN, made

POINTS = {f"{flight}-take-off-080400": (flight, name) for flight, name in FLIGHTS.items()}
MODEL = "acceleration curve too loose at lift-off: handbook exponents alone"


def _named(**columns):
    return pd.DataFrame({
        "point": list(POINTS), "flight": [flight for flight, _ in POINTS.values()],
        "configuration": [name for _, name in POINTS.values()], **columns,
    })  # fmt: skip


def takeoff_tables():
    """Tables by name, as `stdday.takeoff_tables` makes them."""
    timing = _named(**{
        "brake_release_sigma [s]": 0.3, "liftoff_sigma [s]": [0.2, 0.2, 0.3, 0.2, 0.7, 0.2],
        "height50_sigma [s]": [0.3, 0.3, 0.3, 0.3, NAN, 0.3],
        "airspeed_delay [s]": [0.4, 0.4, NAN, 0.5, 0.5, 0.6], "airspeed_delay_sigma [s]": 0.2,
        "roll_samples": 12.0, "acceleration": ["", "", "", "", MODEL, ""],
    })  # fmt: skip
    wind = _named(**{
        "air_minus_ground [kt]": [6.0, 7.0, 5.0, 6.0, NAN, 12.0], "static_jump [ft]": 9.0,
        "static_jump_left": 0.5, "by_static_jump [kt]": -1.0, "delay [s]": 0.4,
        "delay_sigma [s]": 0.1, "by_delay [kt]": 0.5, "by_gradient [kt]": -0.5,
        "from_the_air [kt]": [5.0, 6.0, 4.0, 5.0, NAN, 11.0],
        "from_the_air_sigma [kt]": [1.0, 1.0, 1.0, 1.0, NAN, 1.0], "reported [kt]": 2.0,
        "reported_sigma [kt]": 2.5, "combined [kt]": [4.6, 5.5, 3.7, 4.6, 2.0, 9.8],
        "combined_sigma [kt]": 0.9, "apart_sigmas": [1.1, 1.5, 0.7, 1.1, NAN, 3.3],
        "flag": ["", "", "", "", "", "disagree"],
    })  # fmt: skip
    curve = pd.DataFrame([
        {"point": point, "true_airspeed [kt]": speed, "as_flown [m/s^2]": 2.4 - speed / 100,
         "reference_day [m/s^2]": 2.2 - speed / 100}
        for point in list(POINTS)[:4] for speed in (5.0, 25.0, 48.0)
    ])  # fmt: skip
    check = _named(**{
        "by_model [m]": [200.0, 200.0, 200.0, 180.0, NAN, 190.0],
        "by_handbook [m]": [202.0, 204.0, 212.0, 180.0, 190.0, 188.1],
        "difference [%]": [1.0, 2.0, 6.0, 0.0, NAN, -1.0],
        "flag": ["", "", "disagree", "", "", ""], "reason": ["", "", "", "", MODEL, ""],
    })  # fmt: skip
    pilots = pd.DataFrame({
        "pilot": ["pilot 1", "pilot 1", "pilot 2"], "configuration": ["A", "B", "A"],
        "take_offs": [2, 3, 1], "mean [kt]": [48.0, 49.0, 52.0], "sd [kt]": [1.0, 2.0, NAN],
    })  # fmt: skip
    exponents = pd.DataFrame([
        {"part": "ground roll", "set": "fixed pitch", "ratio": ratio, "exponent": value,
         "sigma": 0.2, "standing": "made up", "used_for": "A"}
        for ratio, value in (("weight", 2.4), ("engine_speed", -2.4))
    ])  # fmt: skip
    friction = pd.DataFrame({
        "surface": ["flown: paved, dry", "paved", "grass"], "coefficient": [0.03, 0.03, 0.06],
        "sigma": [0.01, 0.01, 0.02], "standing": "made up",
    })  # fmt: skip
    return {
        "takeoff_timing": timing, "takeoff_wind": wind, "takeoff_acceleration": curve,
        "takeoff_cross_check": check, "liftoff_by_pilot": pilots, "takeoff_exponents": exponents,
        "takeoff_friction": friction, "takeoff_margins": _margins(),
    }  # fmt: skip


def _margins():
    rows = []
    for name, metric, required in (("A", "takeoff_distance_50ft", 400.0),
                                   ("B", "takeoff_ground_roll", 190.0)):
        row = {
            "configuration": name, "metric": metric, "day": "reference day",
            "pressure_altitude [ft]": 0, "temperature [degC]": 15.0, "weight [kg]": 600.0,
            "runway": "home 08", "slope [%]": 0.3, "surface": "paved, dry",
            "required [m]": required, "low [m]": required - 20, "high [m]": required + 20,
            "high_with_safety_factor [m]": 1.33 * (required + 20),
            "by_public_factors [m]": required + 5, "available [m]": 600.0,
            "left_over_high [m]": 580.0 - required, "factor": 1.0, "public_factor": 1.01,
            "words": "" if name == "A" else "ground roll alone", "reason": "",
            "caution": "not approved data",
        }  # fmt: skip
        nothing = {key: NAN for key in row if key.endswith("[m]") and not key.startswith("avail")}
        rows += [row, row | nothing | {"day": "2000 ft, ISA+15", "words": "",
                                       "pressure_altitude [ft]": 2000, "temperature [degC]": 26.0,
                                       "reason": "density altitude too high for what was flown"}]
    return pd.DataFrame(rows)


def made_takeoffs():
    """The results of `made` with tables of take-offs."""
    return dataclasses.replace(made(), tables=takeoff_tables())
