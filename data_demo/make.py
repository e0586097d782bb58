"""Make the demos: recordings, campaign files, truth and the tables of the README."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import timedelta
from pathlib import Path

from . import club, scenario
from .air import FT_M, GRAVITY_MS2, KT_MS, calibrated_from_impact_ms, density_kg_m3, impact_pa
from .files import FORMATS, record, start_of, write_gzip
from .flight import STEP_S
from .flying import Flown, fly
from .plan import Demo
from .recorder import Sensed, calibration_table, lags_s, sense
from .truths import airspeed_correction, calm_landing, truth_rows

HERE = Path(__file__).resolve().parent
DEMOS = {demo.name: demo for demo in (scenario.DEMO, club.DEMO)}


# ---- what was flown -----------------------------------------------------------------------


def _stamp(flown: Flown, seconds: float) -> str:
    moment = start_of(flown) + timedelta(seconds=seconds)
    return moment.strftime("%Y-%m-%dT%H:%M:%S.%f")[:-5] + "Z"


def _readable(flown: Flown, entry: Mapping[str, object]) -> dict[str, object]:
    """Times as UTC, figures rounded, legs likewise."""
    out: dict[str, object] = {}
    for key, value in entry.items():
        if key.endswith("_s") and key in ("time_s", "start_s", "end_s"):
            name = {"time_s": "utc", "start_s": "start_utc", "end_s": "end_utc"}[key]
            out[name] = _stamp(flown, float(str(value)))
        elif isinstance(value, list):
            out[key] = [_readable(flown, part) for part in value]
        else:
            out[key] = round(value, 3) if isinstance(value, float) else value
    return out


def _flown_rows(flown: Flown, sensed: Sensed) -> list[dict[str, object]]:
    rows = []
    for event in flown.sim.events:
        more = {}
        if event["kind"] in ("brake release", "lift-off", "lift-off after touch-and-go"):
            more = _static_step(flown, sensed, float(str(event["time_s"])))
        rows.append(_readable(flown, {**event, **more}))
    return rows


def _static_step(flown: Flown, sensed: Sensed, time_s: float) -> dict[str, object]:
    """What suction under power does to altitude and airspeed at one moment."""
    at = min(round(time_s / STEP_S) - 1, len(sensed.suction_pa) - 1)
    row = {name: float(values[at]) for name, values in flown.sim.table().items()}
    suction = float(sensed.suction_pa[at])
    density = density_kg_m3(row["pressure_pa"], row["temperature_k"], row["vapour_pa"])
    impact = impact_pa(row["cas_ms"], 101325.0, 288.15)
    faster = calibrated_from_impact_ms(impact + suction) - row["cas_ms"]
    out: dict[str, object] = {"static_step_ft": suction / (density * GRAVITY_MS2 * FT_M)}
    if row["cas_ms"] > 10.0:
        out["airspeed_high_by_kt"] = float(faster) / KT_MS
    return out


def _weight_kg(flown: Flown) -> tuple[float, float]:
    """True weight [kg] and fuel [L] at the first brake release."""
    first = next(event for event in flown.sim.events if event["kind"] == "brake release")
    return float(str(first["mass_kg"])), float(str(first["fuel_litres"]))


# ---- campaign files -----------------------------------------------------------------------

FLIGHTS_HEAD = (
    "flight,configuration,date,log,columns,takeoff_weight [kg],fuel_at_start [L],airfield,runway,"
    "altimeter_setting [hPa],reported_temperature [degC],reported_dew_point [degC],"
    "reported_wind_from [deg],reported_wind_speed [kt],block,installation,pilot,engine_hours [h],"
    "flaps,mixture,runway_condition,crew_note,use,why_not"
)


def flight_line(flown: Flown, logs: Iterable[str], hours: float) -> str:
    """One row of flights.csv."""
    plan, demo = flown.plan, flown.demo
    aircraft = demo.aircraft[plan.configuration]
    weight, _ = _weight_kg(flown)
    cells = [
        plan.name,
        plan.configuration,
        plan.date,
        " | ".join(f"logs/{name}" for name in logs),
        FORMATS[plan.recorder].columns,
        f"{weight + flown.weight_error_kg:.0f}",
        f"{plan.fuel_l:.0f}",
        demo.site.name,
        flown.sim.runway.name,
        f"{plan.qnh_hpa:.0f}",
        f"{plan.temperature_c:.0f}",
        f"{plan.dew_point_c:.0f}" if plan.dew_point_noted else "",
        f"{flown.reported_wind[0]:.0f}",
        f"{flown.reported_wind[1]:.0f}",
        plan.block if demo.says_blocks else "",
        "",
        plan.pilot,
        f"{hours:.1f}",
        aircraft.flaps,
        aircraft.mixture,
        "dry",
        plan.note,
        "yes",
        "",
    ]
    return ",".join(f'"{cell}"' if "," in cell else cell for cell in cells)


def campaign_toml(demo: Demo) -> str:
    """Text of campaign.toml, with the owners' calibration tables where there are any."""
    text = _template(f"{demo.name}.toml")
    for name, errors in demo.errors.items():
        if errors.table_kt is None:
            continue
        table = calibration_table(demo.aircraft[name], errors)
        rows = [f'    ["{shown:.0f} kt", "{value:.1f} kt"],\n' for shown, value in table]
        text = text.replace(f"@TABLE {name}@\n", "".join(rows))
    return text


def _template(name: str) -> str:
    return (HERE / "templates" / name).read_bytes().decode("utf-8")


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode("utf-8"))


# ---- truth --------------------------------------------------------------------------------


def truth_json(demo: Demo, flights: Mapping[str, object]) -> str:
    """Text of truth.json."""
    document = {
        "what": "truth behind an invented demo; from the simulator, noise-free, errors off",
        "seed": demo.seed,
        "reference": {
            name: f"dry standard day, {one.weight_kg:.0f} kg, lift-off {one.liftoff_kt:.0f} kt and "
            f"climb {one.climb_kt:.0f} kt calibrated, level paved runway at 0 ft, no wind, full "
            f"throttle before brake release; cruise at {demo.reference.cruise_ft:.0f} ft; "
            f"endurance on {one.usable_fuel_l:.0f} L; time, fuel and distance to climb from 0 ft"
            for name, one in demo.aircraft.items()
        },
        "results": truth_rows(demo),
        "sigma": demo.sigma,
        "errors_drawn": {
            demo.aircraft[name].airplane: asdict(errors) for name, errors in demo.errors.items()
        },
        "delays": {name: _delays(demo, name) for name in demo.aircraft},
        "airspeed_correction": {
            name: airspeed_correction(demo, one, demo.errors[name])
            for name, one in demo.aircraft.items()
        },
        "landing_of_the_mean_pilot": {
            name: calm_landing(demo, one) for name, one in demo.aircraft.items()
        },
        "flights": flights,
    }
    return json.dumps(_rounded(document), indent=1, ensure_ascii=False) + "\n"


def _delays(demo: Demo, name: str) -> dict[str, float]:
    airspeed, gps = lags_s(demo.errors[name])
    return {
        "airspeed_lag_s": airspeed,
        "gps_delay_s": gps,
        "airspeed_behind_ground_speed_s": airspeed - gps,
    }


def _rounded(value: object) -> object:
    """Floats to eight significant digits, so that another machine writes the same text."""
    if isinstance(value, float):
        return float(f"{value:.8g}") if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {key: _rounded(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(part) for part in value]
    return value


DECIMALS = {
    "m": 1, "s": 2, "rpm": 0, "ft/min": 0, "%": 2, "kt": 1, "L/h": 2, "nmi/L": 2, "ft": 0, "L": 2,
    "-": 3,
}  # fmt: skip


def truth_table(demo: Demo) -> str:
    """Truth as a Markdown table."""
    first, second = demo.aircraft
    lines = [f"| metric | condition | unit | {first} | {second} | {second} - {first} |"]
    lines.append("| --- | --- | --- | ---: | ---: | ---: |")
    for row in truth_rows(demo):
        large = abs(float(str(row[first]))) >= 1000.0
        digits = 0 if large else DECIMALS[str(row["unit"])]
        cells = [f"{float(str(row[key])):.{digits}f}" for key in (first, second, "difference")]
        metric, condition, unit = row["metric"], row["condition_id"], row["unit"]
        lines.append(f"| {metric} | {condition} | {unit} | {' | '.join(cells)} |")
    return "\n".join(lines)


def put_block(text: str, name: str, inside: str) -> str:
    """Replace what stands between the marks of a block in a text."""
    pattern = re.compile(rf"(<!-- {name} begin -->\n).*?(<!-- {name} end -->)", re.DOTALL)
    if not pattern.search(text):
        raise ValueError(f"the README lacks the marks '<!-- {name} begin -->' and end")
    return pattern.sub(lambda match: f"{match[1]}{inside}\n{match[2]}", text)


# ---- all of it ----------------------------------------------------------------------------


def make(demo: Demo, folder: Path | None = None) -> list[str]:
    """Make a demo in a folder; returns the names of recordings whose content changed.

    Parameters
    ----------
    demo : Demo
        What to make.
    folder : Path or None
        Where to write; None for the demo's own place, and its tables in the README with it.
    """
    place = folder or HERE / demo.name
    (place / "logs").mkdir(parents=True, exist_ok=True)
    changed, lines, flights = [], [FLIGHTS_HEAD], {}
    hours = {one.airplane: one.hours for one in demo.aircraft.values()}
    for plan in demo.plans:
        flown = fly(demo, plan)
        sensed = sense(flown)
        files = record(flown, sensed)
        changed += [name for name, text in files.items() if write_gzip(place / "logs" / name, text)]
        airplane = demo.aircraft[plan.configuration].airplane
        lines.append(flight_line(flown, files, hours[airplane]))
        hours[airplane] += round(flown.sim.time_s / 3600.0, 1)
        flights[plan.name] = _flight_truth(flown, sensed)
    _write(place / "flights.csv", "\n".join(lines) + "\n")
    _write(place / "truth.json", truth_json(demo, flights))
    _write_texts(demo, place)
    if folder is None:
        readme = HERE / "README.md"
        text = readme.read_text(encoding="utf-8")
        _write(readme, put_block(text, f"truth of {demo.name}", truth_table(demo)))
    return changed


def _flight_truth(flown: Flown, sensed: Sensed) -> dict[str, object]:
    weight, fuel = _weight_kg(flown)
    return {
        "takeoff_weight_kg": weight,
        "fuel_at_takeoff_l": fuel,
        "block": flown.plan.block,
        **flown.truth,
        "flown": _flown_rows(flown, sensed),
    }


def _write_texts(demo: Demo, place: Path) -> None:
    """Campaign and columns files."""
    _write(place / "campaign.toml", campaign_toml(demo))
    for recorder in sorted({plan.recorder for plan in demo.plans}):
        name = f"{FORMATS[recorder].columns}.toml"
        _write(place / "columns" / name, _template(name))


__all__ = ["DEMOS", "make", "truth_rows"]
