"""Make the whole demo: recordings, campaign files, truth and the tables of the README."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

from .air import FT_M, KT_MS
from .airplane import (
    CONFIGURATIONS,
    airspeed_for_power,
    climb_state,
    ground_run,
    level_state,
    standard_air,
)
from .recorder import (
    POWER_SUCTION_PA,
    calibration_table,
    lags_s,
    record,
    start_of,
    write_gzip,
)
from .scenario import PLANS, SEED, SIGMA, Errors, Flown, draw_errors, fly

HERE = Path(__file__).resolve().parent
CAMPAIGN = HERE / "propeller_change"
REFERENCE_KG = 600.0
LIFTOFF_MS = 48.0 * KT_MS
CLIMB_MS = 62.0 * KT_MS
MISSING_DEW_POINT = 10  # the flight whose report lacks it


def truth_rows() -> list[dict[str, object]]:
    """True results of each configuration and their difference on the reference day.

    From the simulator's own physics, without errors, noise, wind or turbulence.
    """
    values = {name: _truth_of(name) for name in CONFIGURATIONS}
    rows = []
    for key, (unit, digits, a) in values["A"].items():
        b = values["B"][key][2]
        metric, condition = key
        rows.append(
            {
                "metric": metric,
                "condition_id": condition,
                "unit": unit,
                "A": round(a, digits),
                "B": round(b, digits),
                "difference": round(b - a, digits),
            }
        )
    return rows


def _truth_of(name: str) -> dict[tuple[str, str], tuple[str, int, float]]:
    config = CONFIGURATIONS[name]
    out: dict[tuple[str, str], tuple[str, int, float]] = {}
    sea = standard_air(0.0)
    roll = ground_run(config, LIFTOFF_MS, *sea, REFERENCE_KG)
    out["takeoff_ground_roll", "takeoff"] = ("m", 2, float(roll.distance_m))
    out["takeoff_time_to_liftoff", "takeoff"] = ("s", 3, float(roll.time_s))
    out["static_engine_speed", "takeoff"] = ("rpm", 1, float(roll.static_speed_rps) * 60.0)
    for index, height in enumerate((1000.0, 4000.0), start=1):
        climb = climb_state(config, CLIMB_MS, *standard_air(height * FT_M), REFERENCE_KG)
        rate = float(climb.rate_ms) / FT_M * 60.0
        out["climb_rate", f"climb_{index}"] = ("ft/min", 2, rate)
        out["climb_gradient", f"climb_{index}"] = ("%", 3, float(climb.gradient) * 100.0)
    cruise = standard_air(4000.0 * FT_M)
    for percent in (55, 65, 75):
        power = percent / 100.0 * config.engine.rated_w
        tas = airspeed_for_power(config, power, *cruise, REFERENCE_KG)
        level = level_state(config, tas, *cruise, REFERENCE_KG)
        if float(level.throttle) > 1.0:
            raise ValueError(f"{name}: {percent} % is beyond full throttle at the cruise altitude")
        fuel = float(level.fuel_m3_s) * 3.6e6
        label = f"cruise_{percent}"
        out["cruise_true_airspeed", label] = ("kt", 3, float(tas) / KT_MS)
        out["fuel_flow", label] = ("L/h", 3, fuel)
        out["specific_range", label] = ("nmi/L", 4, float(tas) / KT_MS / fuel)
    return out


def _stamp(flown: Flown, seconds: float) -> str:
    moment = start_of(flown) + dt.timedelta(seconds=seconds)
    return moment.strftime("%Y-%m-%dT%H:%M:%S.%f")[:-5] + "Z"


def _flown_rows(flown: Flown) -> list[dict[str, object]]:
    rows = []
    for event in flown.sim.events:
        row: dict[str, object] = {}
        for key, value in event.items():
            if key == "time_s":
                row["utc"] = _stamp(flown, float(str(value)))
            else:
                row[key] = round(value, 4) if isinstance(value, float) else value
        rows.append(row)
    return rows


def _weight_kg(flown: Flown) -> tuple[float, float]:
    """True weight [kg] and fuel [L] at the first brake release."""
    first = next(event for event in flown.sim.events if event["kind"] == "brake release")
    return float(str(first["mass_kg"])), float(str(first["fuel_litres"]))


FLIGHTS_HEAD = (
    "flight,configuration,date,log,columns,takeoff_weight [kg],fuel_at_start [L],airfield,runway,"
    "altimeter_setting [hPa],reported_temperature [degC],reported_dew_point [degC],"
    "reported_wind_from [deg],reported_wind_speed [kt],block,installation,pilot,engine_hours [h],"
    "flaps,mixture,runway_condition,crew_note,use,why_not"
)


def flight_line(flown: Flown, logs: list[str], hours: float) -> str:
    """One row of flights.csv."""
    plan = flown.plan
    weight, _ = _weight_kg(flown)
    dew_point = "" if plan.number == MISSING_DEW_POINT else f"{plan.dew_point_c:.0f}"
    note = f'"{plan.note}"' if "," in plan.note else plan.note
    cells = [
        plan.name,
        plan.configuration,
        plan.date,
        " | ".join(f"logs/{name}" for name in logs),
        "panel" if plan.recorder == "main" else "second_recorder",
        f"{weight + flown.weight_error_kg:.0f}",
        f"{plan.fuel_l:.0f}",
        "dunlinhaven",
        plan.runway,
        f"{plan.qnh_hpa:.0f}",
        f"{plan.temperature_c:.0f}",
        dew_point,
        f"{flown.reported_wind[0]:.0f}",
        f"{flown.reported_wind[1]:.0f}",
        "",
        "",
        plan.pilot,
        f"{hours:.1f}",
        "10 deg",
        "automatic",
        "dry",
        note,
        "yes",
        "",
    ]
    return ",".join(cells)


def campaign_toml(errors: Errors) -> str:
    """Text of campaign.toml with the owner's calibration table."""
    rows = [
        f'    ["{shown:.0f} kt", "{value:.1f} kt"],\n' for shown, value in calibration_table(errors)
    ]
    return _template("campaign.toml").replace("@TABLE@\n", "".join(rows))


def _template(name: str) -> str:
    return (HERE / "templates" / name).read_bytes().decode("utf-8")


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode("utf-8"))


def truth_json(errors: Errors, flights: Mapping[str, object]) -> str:
    """Text of truth.json."""
    airspeed_lag, gps_delay = lags_s(errors)
    document = {
        "what": "truth behind the invented demo; from the simulator, noise-free, errors off",
        "seed": SEED,
        "reference": "dry standard day, 600 kg, lift-off 48 kt and climb 62 kt calibrated, level "
        "paved runway at 0 ft, no wind, full throttle before brake release; cruise at 4000 ft",
        "results": truth_rows(),
        "sigma": SIGMA,
        "errors_drawn": asdict(errors),
        "airspeed_lag_s": airspeed_lag,
        "gps_delay_s": gps_delay,
        "static_step_at_rest_ft": {
            name: round(value / (12.0 * FT_M), 2) for name, value in POWER_SUCTION_PA.items()
        },
        "flights": flights,
    }
    return json.dumps(_rounded(document), indent=1, ensure_ascii=False) + "\n"


def _rounded(value: object) -> object:
    """Floats to eight significant digits, so that another machine writes the same text."""
    if isinstance(value, float):
        return float(f"{value:.8g}") if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _rounded(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(part) for part in value]
    return value


def truth_table() -> str:
    """Truth as a Markdown table."""
    lines = ["| metric | condition | unit | A | B | B - A |"]
    lines.append("| --- | --- | --- | ---: | ---: | ---: |")
    decimals = {"m": 1, "s": 2, "rpm": 0, "ft/min": 0, "%": 2, "kt": 1, "L/h": 2, "nmi/L": 2}
    for row in truth_rows():
        digits = decimals[str(row["unit"])]
        cells = [f"{float(str(row[key])):.{digits}f}" for key in ("A", "B", "difference")]
        metric, condition, unit = row["metric"], row["condition_id"], row["unit"]
        lines.append(f"| {metric} | {condition} | {unit} | {' | '.join(cells)} |")
    return "\n".join(lines)


def put_block(text: str, name: str, inside: str) -> str:
    """Replace what stands between the marks of a block in a text."""
    pattern = re.compile(rf"(<!-- {name} begin -->\n).*?(<!-- {name} end -->)", re.DOTALL)
    if not pattern.search(text):
        raise ValueError(f"the README lacks the marks '<!-- {name} begin -->' and end")
    return pattern.sub(lambda match: f"{match[1]}{inside}\n{match[2]}", text)


def make(folder: Path = CAMPAIGN, only: tuple[int, ...] | None = None) -> list[str]:
    """Make the campaign in a folder; returns the names of recordings whose content changed.

    Parameters
    ----------
    folder : Path
        Where to write.
    only : tuple of int or None
        Numbers of the flights to make; then only their recordings are written.
    """
    errors = draw_errors()
    (folder / "logs").mkdir(parents=True, exist_ok=True)
    changed, lines, flights = [], [FLIGHTS_HEAD], {}
    hours = 1240.6
    for plan in PLANS:
        if only is not None and plan.number not in only:
            continue
        flown = fly(plan, errors)
        files = record(flown, errors)
        for name, text in files.items():
            if write_gzip(folder / "logs" / name, text):
                changed.append(name)
        lines.append(flight_line(flown, list(files), hours))
        hours += round(flown.sim.time_s / 3600.0, 1)
        weight, fuel = _weight_kg(flown)
        flights[plan.name] = {
            "takeoff_weight_kg": weight,
            "fuel_at_takeoff_l": fuel,
            "block": plan.block,
            **flown.truth,
            "flown": _flown_rows(flown),
        }
    if only is None:
        _write(folder / "campaign.toml", campaign_toml(errors))
        _write(folder / "flights.csv", "\n".join(lines) + "\n")
        for name in ("panel.toml", "second_recorder.toml"):
            _write(folder / "columns" / name, _template(name))
        _write(folder / "truth.json", truth_json(errors, flights))
        readme = HERE / "README.md"
        if folder == CAMPAIGN and readme.exists():
            text = readme.read_text(encoding="utf-8")
            _write(readme, put_block(text, "truth", truth_table()))
    return changed


__all__ = ["CAMPAIGN", "make", "truth_rows"]
