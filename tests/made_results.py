"""Made-up results for tests of tables, sentences, pictures and the report: every kind of row once.

Nothing here is measured or computed by the library; the numbers are small and round, so that a test
can say what must be printed.
"""

from __future__ import annotations

import dataclasses

import pandas as pd

from stdday.results import EFFECT_COLUMNS, VALUE_COLUMNS, Results

NAN = float("nan")
HOSTILE = '<script>alert("x")</script>'
FORMULA = "=cmd()"

FLIGHTS = {"F1": "A", "F2": "A", "F3": "A", "F4": "B", "F5": "B", "F6": "B"}
TAKEOFF = "pressure_altitude=0 ft; temperature=ISA+0; weight=600 kg; liftoff_airspeed=48 kt"
CLIMB_1 = "pressure_altitude=1000 ft; airspeed=62 kt; weight=600 kg"
CLIMB_2 = "pressure_altitude=4000 ft; airspeed=62 kt; weight=600 kg"
CRUISE = "power={} %; pressure_altitude=4000 ft; weight=600 kg"
SCATTER = "scatter between flights"
DISPLAY = {
    "speed": "kt", "altitude": "ft", "vertical_speed": "ft/min", "weight": "kg", "mass": "kg",
    "volume": "L", "pressure": "hPa", "temperature": "degC", "distance": "m", "power": "kW",
    "engine_speed": "rpm", "fuel_flow": "L/h",
}  # fmt: skip

# metric, condition_id, condition, unit, value with interval of A and of B, difference with its
# 95 % and 90 % intervals, p, adjusted p, primary, matters, verdict, reason
_ROWS = (
    ("takeoff_ground_roll", "takeoff", TAKEOFF, "m", (212, 203, 221), (191, 182, 200),
     (-21, -28, -14, -26.5, -15.5), 0.0004, 0.0012, True, 25, "shown",
     "not surely as large as what matters"),
    ("takeoff_time_to_liftoff", "takeoff", TAKEOFF, "s", (14.9, 14.3, 15.5), (13.6, 13.0, 14.2),
     (-1.3, -1.9, -0.7, -1.8, -0.8), 0.002, NAN, False, NAN, "shown",
     "exploratory: not one of the primary metrics"),
    ("climb_rate", "climb_1", CLIMB_1, "ft/min", (760, 730, 790), (884, 854, 914),
     (124, 88, 160, 95, 153), 0.0001, 0.0006, True, 80, "shown",
     "surely as large as what matters"),
    ("climb_rate", "climb_2", CLIMB_2, "ft/min", (560, 530, 590), (585, 555, 615),
     (25, 3, 47, 7, 43), 0.03, 0.12, True, 80, "no difference larger than what matters",
     "a small difference is there: zero is excluded"),
    ("climb_gradient", "climb_1", CLIMB_1, "%", (11.9, 11.2, 12.6), (13.6, 12.9, 14.3),
     (1.7, -0.1, 3.5, 0.2, 3.2), 0.06, NAN, False, NAN, "not resolved",
     "scatter: the interval holds zero; exploratory: not one of the primary metrics"),
    ("cruise_true_airspeed", "cruise_55", CRUISE.format(55), "kt", (98.2, 97.1, 99.3),
     (97.6, 96.5, 98.7), (-0.6, -2.0, 0.8, -1.8, 0.6), 0.3, 0.6, True, 3,
     "no difference larger than what matters", ""),
    ("cruise_true_airspeed", "cruise_65", CRUISE.format(65), "kt", (105.4, 104.2, 106.6),
     (102.1, 100.9, 103.3), (-3.3, -5.4, -1.2, -5.0, -1.6), 0.03, 0.12, True, 3, "not resolved",
     "excludes zero alone, but not with the other claims counted"),
    ("cruise_true_airspeed", "cruise_75", CRUISE.format(75), "kt", (111.0, 109.6, 112.4), None,
     None, NAN, NAN, True, 3, "not resolved",
     "B: full throttle gives 72 % of rated power at that altitude"),
    ("fuel_flow", "cruise_65", CRUISE.format(65), "L/h", (17.9, 17.3, 18.5), (18.3, 17.7, 18.9),
     (0.4, -0.5, 1.3, -0.3, 1.1), 0.3, NAN, False, 1, "not resolved",
     "confounded: conditions do not overlap: temperature 9.0 to 15.0 degC with A, 24.0 to 26.0 "
     "degC with B"),
)  # fmt: skip


def _value(metric, condition_id, condition, unit, configuration, known, status, reason, **more):
    numbers = known or (NAN, NAN, NAN)
    return {
        "metric": metric, "condition_id": condition_id, "condition": condition, "unit": unit,
        "configuration": configuration, "estimate": float(numbers[0]), "low": float(numbers[1]),
        "high": float(numbers[2]), "flights": 3 if known else 0, "points": 6 if known else 0,
        "basis": SCATTER if known else "", "status": status, "reason": reason,
        "method": "handbook exponents, step by step",
    } | more  # fmt: skip


def _values():
    rows = []
    for metric, condition_id, condition, unit, a, b, *_, reason in _ROWS:
        rows.append(_value(metric, condition_id, condition, unit, "A", a, "ok", ""))
        status, why = ("ok", "") if b else ("not reachable", reason.removeprefix("B: "))
        rows.append(_value(metric, condition_id, condition, unit, "B", b, status, why))
    rows += [
        _value("liftoff_airspeed", "takeoff", "as flown", "kt", "A", (49.1, 48.0, 50.2), "ok", ""),
        _value("liftoff_airspeed", "takeoff", "as flown", "kt", "B", (48.3, 46.0, 50.6), "ok", "",
               flights=1, points=2, basis="assumed day-to-day scatter"),
        _value("static_engine_speed", "takeoff", "as flown", "rpm", "A", (4820, 4790, 4850), "ok",
               ""),
        _value("static_engine_speed", "takeoff", "as flown", "rpm", "B", None, "refused",
               "no engine speed before the roll"),
    ]
    return pd.DataFrame(rows, columns=list(VALUE_COLUMNS))


def _effect(row):
    (metric, condition_id, condition, unit, a, b, difference, p, p_adjusted, primary, matters,
     verdict, reason) = row  # fmt: skip
    b = b or (NAN, NAN, NAN)
    ends = difference or (NAN,) * 5
    values = (
        metric, condition_id, condition, unit, "A", "B", *map(float, a), *map(float, b),
        *map(float, ends), p, p_adjusted, primary, 3, 3 if difference else 0, 6,
        6 if difference else 0, float(matters), "equal weight", verdict, reason,
        "handbook exponents, step by step",
    )  # fmt: skip
    return dict(zip(EFFECT_COLUMNS, values, strict=True))


def effect(**changes):
    """One effect row, as a plain dict, with what a test wants changed."""
    return _effect(_ROWS[0]) | changes


def _point(number, flight, kind, minute, used=True, reason=""):
    start = f"2026-05-0{number}T08:{minute:02d}:00Z"
    end = f"2026-05-0{number}T08:{minute:02d}:40Z"
    takeoff = kind == "take-off"
    return {
        "point": f"{flight}-{kind}-08{minute:02d}00", "flight": flight,
        "configuration": FLIGHTS[flight], "block": FLIGHTS[flight] + "1", "kind": kind,
        "start_utc": start, "end_utc": end, "used": used, "reason": reason, "quality": "good",
        "indicated_airspeed [kt]": 40.0 if takeoff else 62.0,
        "ground_speed [kt]": 38.0 if takeoff else 60.0,
        "pressure_altitude [ft]": 40.0 if takeoff else 1500.0,
        "outside_air_temperature [degC]": 14.0 + number, "power [kW]": 70.25 - number,
        "engine_speed [rpm]": 4900.0, "fuel_flow [L/h]": 21.5,
        "rate_of_pressure_altitude [ft/min]": 0.0 if takeoff else 740.0,
        "ground_roll [m]": 200.0 + 3 * number if takeoff else NAN,
        "time_to_liftoff [s]": 14.5 if takeoff else NAN,
        "liftoff_ground_speed [kt]": 44.0 if takeoff else NAN,
    }  # fmt: skip


def _points():
    rows = []
    for number, flight in enumerate(FLIGHTS, start=1):
        rows += [
            _point(number, flight, "take-off", 4),
            _point(number, flight, "climb", 8),
            _point(number, flight, "level run", 20),
            _point(number, flight, "level run", 30),
        ]
    rows.append(_point(4, "F4", "take-off", 50, used=False, reason="touch-and-go"))
    return pd.DataFrame(rows)


def _chain(point, metric, condition_id, quantity, unit, start, steps):
    rows, before = [], start
    for step, change in steps:
        rows.append({
            "point": point, "metric": metric, "condition_id": condition_id, "step": step,
            "quantity": quantity, "before": float(before), "after": float(before + change),
            "change": float(change), "unit": unit, "source": "handbook exponent, from memory",
            "inputs": "headwind 5.0 kt" if step == "no wind" else "",
        })  # fmt: skip
        before += change
    return rows


def _corrections():
    rows = []
    for number, (flight, configuration) in enumerate(FLIGHTS.items(), start=1):
        shift = 0 if configuration == "A" else -20
        rows += _chain(f"{flight}-take-off-080400", "takeoff_ground_roll", "takeoff", "ground roll",
                       "m", 200 + 3 * number + shift,
                       (("no wind", 22.0 + number), ("runway slope", -2.0), ("weight", 6.5),
                        ("air density", -14.0 - 2 * number)))  # fmt: skip
        for place in (1, 2):
            rows += _chain(f"{flight}-climb-080800", "climb_rate", f"climb_{place}",
                           "rate of climb", "ft/min", 740 - 200 * (place - 1) - 4 * shift,
                           (("geometric rate", 14.0), ("airspeed change", 3.0 - number),
                            ("weight", -12.0), ("reference altitude", 20.0)))  # fmt: skip
        for minute in (20, 30):
            point = f"{flight}-level run-08{minute}00"
            rows += _chain(point, "cruise_true_airspeed", "cruise", "brake power", "kW",
                           50.0 + minute / 3, (("energy", -0.4),))  # fmt: skip
            rows += _chain(point, "cruise_true_airspeed", "cruise", "reduced power", "kW",
                           49.6 + minute / 3, (("reference weight, sea-level density", 1.2),))
    return pd.DataFrame(rows)


def _flights():
    rows = [
        {
            "flight": flight, "configuration": configuration, "block": configuration + "1",
            "date": f"2026-05-0{number}", "pilot": "first", "rows_in_file": 3600,
            "rows_used": 3590, "rows_set_aside": "10 repeated time stamps", "points_found": 4,
            "points_used": 4, "findings": "", "note": "smooth" if number == 1 else "",
        }
        for number, (flight, configuration) in enumerate(FLIGHTS.items(), start=1)
    ]  # fmt: skip
    rows[3] |= {"points_found": 5, "findings": "gap of 12 s | airspeed frozen for 40 s"}
    return pd.DataFrame(rows)


def _traces():
    rows = []
    for number, flight in enumerate(FLIGHTS, start=1):
        for place in range(60):
            up = min(place, 59 - place)
            rows.append({
                "flight": flight, "minutes": float(place),
                "pressure_altitude [ft]": float(min(40 + 160 * up, 3500)),
                "indicated_airspeed [kt]": float(min(12 * up, 95)),
                "ground_speed [kt]": float(min(12 * up, 99 + number)),
                "engine_speed [rpm]": 4900.0 if up else NAN,
                "start_utc": f"2026-05-0{number}T08:00:00Z",
            })  # fmt: skip
    return pd.DataFrame(rows)


def _curves():
    points, lines = [], []
    for number, (flight, name) in enumerate(FLIGHTS.items()):
        for step in range(3):
            speed = 88.0 + 9 * step + number
            power = 3.1e-5 * speed**3 + 1100 / speed + (1.0 if name == "B" else 0.0)
            points.append({
                "configuration": name, "flight": flight,
                "point": f"{flight}-level run-08{step}000",
                "reduced_airspeed [kt]": speed, "reduced_power [kW]": round(power, 3),
                "brake_power [kW]": round(1.02 * power, 3),
                "fuel_flow [L/h]": round(power / 2.8, 2),
                "weight_in_fit": 0.4 if number == 5 and step == 2 else 1.0,
            })  # fmt: skip
    for name, more in (("A", 0.0), ("B", 1.0)):
        for speed in range(88, 112, 2):
            lines.append({
                "configuration": name, "reduced_airspeed [kt]": float(speed),
                "reduced_power [kW]": round(3.1e-5 * speed**3 + 1100 / speed + more, 3),
            })  # fmt: skip
    return pd.DataFrame(points), pd.DataFrame(lines)


def _flight_values():
    rows = []
    for metric, condition_id, _, unit, a, b, *_ in _ROWS:
        for number, (flight, name) in enumerate(FLIGHTS.items()):
            known = a if name == "A" else b
            if known is None or metric.startswith(("cruise", "fuel")):
                continue
            rows.append({
                "metric": metric, "condition_id": condition_id, "configuration": name,
                "flight": flight, "value": known[0] + (number % 3 - 1) * (known[2] - known[0]) / 2,
                "unit": unit,
            })  # fmt: skip
    return pd.DataFrame(rows)


def _balance():
    rows = []
    for metric, condition_id in (("takeoff_ground_roll", "takeoff"), ("climb_rate", "climb_1")):
        for quantity, unit, (low, mean, high), apart in (
            ("weight", "kg", (500, 548.0, 590), 6.0),
            ("temperature", "degC", (9.0, 12.5, 15.0), 12.0),
            ("headwind", "kt", (1.0, 4.5, 9.0), 0.5),
        ):  # fmt: skip
            for name, shift in (("A", 0.0), ("B", apart)):
                rows.append({
                    "metric": metric, "condition_id": condition_id, "quantity": quantity,
                    "unit": unit, "configuration": name, "flights": 3, "least": float(low + shift),
                    "mean": mean + shift, "greatest": float(high + shift),
                })  # fmt: skip
    return pd.DataFrame(rows)


def _meta():
    return {
        "title": "Two propellers, made up for tests", "question": "Does B shorten the take-off?",
        "reference_configuration": "A",
        "primary": ["takeoff_ground_roll", "climb_rate", "cruise_true_airspeed"],
        "configurations": {
            "A": {"label": "two-blade", "airplane": "one", "blocks": ["A1"]},
            "B": {"label": "three-blade", "airplane": "one", "blocks": ["B1"]},
        },
        "reference": {
            "weight_kg": 600.0, "temperature_offset_k": 0.0, "takeoff_pressure_altitude_m": 0.0,
            "liftoff_airspeed_ms": 24.693, "climb_airspeed_ms": 31.896,
            "climb_pressure_altitudes_m": [304.8, 1219.2], "cruise_pressure_altitude_m": 1219.2,
            "cruise_power_fraction": [0.55, 0.65, 0.75], "runway_slope": 0.0,
            "runway_surface": "paved, dry",
        },
        "display": dict(DISPLAY), "calibration": {"one": "none"}, "draws": 2000, "seed": 20261125,
        "provenance": {
            "made_by": "Standard Day", "schema": 1, "command": "run", "version": "0.1.0",
            "code": "c" * 64, "lock": "", "python": "3.11",
            "packages": {"numpy": "2.4.6", "pandas": "3.1.1"},
            "inputs": {"campaign.toml": "a" * 64, "logs/f1.csv": "b" * 64},
        },
    }  # fmt: skip


def made():
    """Two configurations with every verdict, a refused value and one that is not reachable."""
    curve_points, curves = _curves()
    return Results(
        meta=_meta(),
        values=_values(),
        effects=pd.DataFrame([_effect(row) for row in _ROWS], columns=list(EFFECT_COLUMNS)),
        points=_points(),
        corrections=_corrections(),
        flights=_flights(),
        left_out=pd.DataFrame([
            {"point": "F4-take-off-085000", "metric": "all", "condition_id": "",
             "reason": "touch-and-go"},
            {"point": "F2-climb-080800", "metric": "climb_rate", "condition_id": "climb_2",
             "reason": "flown at 70 kt, 8 kt from the common airspeed"},
        ]),
        flight_values=_flight_values(),
        curve_points=curve_points,
        curves=curves,
        balance=_balance(),
        traces=_traces(),
        costs=pd.DataFrame([
            {"file": "flights.csv", "where": "line 3, reported_dew_point", "absent": "nothing",
             "mend": "write the dew point; drawn from a range until then"},
        ]),
        uncertainties=pd.DataFrame([
            {"key": "weight", "default": "4 kg", "given": "default", "kind": "flight",
             "meaning": "Error of the take-off weight, drawn anew for each flight."},
            {"key": "power", "default": "2 %", "given": "campaign", "kind": "shared",
             "meaning": "Scale of the engine power."},
        ]),
    )  # fmt: skip


def _only(table, name):
    return table[table["configuration"] == name].reset_index(drop=True)


def made_single():
    """Only configuration A of `made`: values and no differences."""
    whole = made()
    meta = whole.meta | {"configurations": {"A": whole.meta["configurations"]["A"]}}
    own = [flight for flight, name in FLIGHTS.items() if name == "A"]
    return dataclasses.replace(
        whole,
        meta=meta,
        effects=whole.effects.iloc[:0],
        **{name: _only(getattr(whole, name), "A")
           for name in ("values", "points", "flights", "flight_values", "curve_points", "curves",
                        "balance")},
        **{name: getattr(whole, name)[getattr(whole, name)[key].str[:2].isin(own)]
           for name, key in (("corrections", "point"), ("traces", "flight"),
                             ("left_out", "point"))},
    )  # fmt: skip


def made_hostile():
    """The results of `made` with text that a page or a spreadsheet could take for code."""
    whole = made()
    meta = whole.meta | {"title": HOSTILE, "question": FORMULA + HOSTILE}
    meta["configurations"]["B"]["label"] = HOSTILE
    flights = whole.flights.assign(note=HOSTILE, findings=FORMULA)
    effects = whole.effects.assign(reason=whole.effects["reason"] + HOSTILE)
    left_out = whole.left_out.assign(reason=HOSTILE)
    corrections = whole.corrections.assign(inputs=HOSTILE, step=whole.corrections["step"] + HOSTILE)
    return dataclasses.replace(whole, meta=meta, flights=flights, effects=effects,
                               left_out=left_out, corrections=corrections)  # fmt: skip


def made_empty():
    """A campaign whose recordings held nothing: every table without a row."""
    whole = made()
    return dataclasses.replace(
        whole,
        **{name: getattr(whole, name).iloc[:0] for name in Results.core_names()},
    )
