"""The invented demo stands alone, comes out the same again, and its truth is its own physics."""

import ast
import csv
import dataclasses
import gzip
import importlib
import json
import math
import sys
import tomllib
import zlib
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data_demo"
CAMPAIGN = DEMO / "propeller_change"
KT_MS = 1852.0 / 3600.0
FT_M = 0.3048


def demo_module(name):
    """A module of the demo's program, which is no part of the installed library."""
    if str(ROOT) not in sys.path:
        sys.path.append(str(ROOT))
    return importlib.import_module(f"data_demo.{name}")


def truth():
    return json.loads((CAMPAIGN / "truth.json").read_text(encoding="utf-8"))


def imported_roots(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield node.module.split(".")[0]


def test_program_uses_only_numpy_and_the_standard_library():
    paths = sorted(DEMO.glob("*.py"))
    assert len(paths) >= 10
    allowed = set(sys.stdlib_module_names) | {"numpy"}
    for path in paths:
        assert set(imported_roots(path)) <= allowed, path.name
        # __main__ names the one module it imports by a text; no other text may name the library
        assert "stdday" not in path.read_text(encoding="utf-8"), path.name


def test_two_flights_come_out_as_the_same_bytes(tmp_path):
    make = demo_module("make")
    names = make.make(tmp_path, only=(3, 6))
    assert sorted(names) == ["f03a.csv.gz", "f03b.csv.gz", "f06.csv.gz"]
    for name in names:
        made, kept = tmp_path / "logs" / name, CAMPAIGN / "logs" / name
        assert gzip.decompress(made.read_bytes()) == gzip.decompress(kept.read_bytes()), name
        if (
            "ng" not in zlib.ZLIB_RUNTIME_VERSION
        ):  # another compressor packs the same text otherwise
            assert made.read_bytes() == kept.read_bytes(), name


def test_campaign_files_and_truth_come_out_the_same(tmp_path):
    make = demo_module("make")
    make.make(tmp_path)
    names = ["campaign.toml", "flights.csv", "columns/panel.toml", "columns/second_recorder.toml"]
    for name in [*names, "truth.json"]:
        assert (tmp_path / name).read_bytes() == (CAMPAIGN / name).read_bytes(), name
    assert demo_module("make").truth_table() in (DEMO / "README.md").read_text(encoding="utf-8")


def test_gzip_headers_hold_no_time_name_or_system():
    logs = sorted((CAMPAIGN / "logs").iterdir())
    assert len(logs) == 12
    for path in logs:
        header = path.read_bytes()[:10]
        # RFC 1952: magic, method 8, no flags, time 0, best compression (2), system unknown (255)
        assert header == bytes([0x1F, 0x8B, 8, 0, 0, 0, 0, 0, 2, 255]), path.name


def test_recordings_stay_small():
    assert sum(path.stat().st_size for path in (CAMPAIGN / "logs").iterdir()) < 10e6


def test_seed_in_truth_is_the_one_written_down():
    assert truth()["seed"] == demo_module("scenario").SEED == 604311


def test_errors_were_drawn_from_the_declared_sigmas():
    """Every drawn error is within three and a half declared sigmas, and none is zero."""
    document = truth()
    sigma, drawn = document["sigma"], document["errors_drawn"]
    ratios = [
        drawn["temperature_k"] / sigma["outside_air_temperature_bias"],
        drawn["power"] / sigma["power"],
        *[
            v / sigma["power_between_configurations"]
            for v in drawn["power_by_configuration"].values()
        ],
        *[v / sigma["airspeed_calibration_table"] for v in drawn["table_kt"]],
        *[v / sigma["airspeed_between_configurations"] for v in drawn["between_kt"]],
        drawn["slope"] / sigma["runway_slope"],
        drawn["delay_s"] / sigma["airspeed_delay"],
        drawn["altitude_m"] / FT_M / sigma["pressure_altitude"],
        drawn["fuel_flow"] / sigma["fuel_flow_scale"],
    ]
    assert all(0.0 < abs(ratio) < 3.5 for ratio in ratios)
    delay = document["airspeed_lag_s"] - document["gps_delay_s"]
    assert delay == pytest.approx(drawn["delay_s"], abs=1e-6)


def test_weights_in_flights_csv_are_the_true_ones_within_their_error():
    with (CAMPAIGN / "flights.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["configuration"] for row in rows] == list("AAAABBBBBAA")
    flights, sigma = truth()["flights"], truth()["sigma"]["weight"]
    errors = [
        float(row["takeoff_weight [kg]"]) - flights[row["flight"]]["takeoff_weight_kg"]
        for row in rows
    ]
    assert max(abs(error) for error in errors) < 3.5 * sigma
    assert 0.3 * sigma < np.std(errors) < 2.0 * sigma
    assert all(float(row["takeoff_weight [kg]"]) <= 600.0 for row in rows)
    assert sum(row["reported_dew_point [degC]"] == "" for row in rows) == 1


def test_owners_table_is_the_truth_of_configuration_a_within_its_error():
    campaign = tomllib.loads((CAMPAIGN / "campaign.toml").read_text(encoding="utf-8"))
    table = campaign["airplane"]["one"]["airspeed_calibration"]
    recorder, scenario = demo_module("recorder"), demo_module("scenario")
    errors = scenario.draw_errors()
    assert len(table) == 10
    for shown, calibrated in table:
        indicated = float(shown.removesuffix(" kt"))
        cas = np.array([float(calibrated.removesuffix(" kt"))])
        real = cas - recorder.position_error_kt(cas, "A", errors)
        assert (
            abs(float(real[0]) - indicated) < 3.5 * truth()["sigma"]["airspeed_calibration_table"]
        )


def calm_flight(name):
    """A simulated flight in still standard air: take-off, climb and a level run at 70 %."""
    air, flight, pilots = demo_module("air"), demo_module("flight"), demo_module("pilot")
    scenario, airplane = demo_module("scenario"), demo_module("airplane")
    calm = air.Weather(101325.0, 288.15, 200.0, 0.0065, 0.0, 0.0, 0.0, 0.16, 0.0, 0.0, 0.0)
    runway = dataclasses.replace(scenario.runway_of("08", 0.0), start_height_m=0.0)
    sim = flight.Simulator(
        airplane.CONFIGURATIONS[name],
        air.Column(calm, 0.0),
        runway,
        flight.Variation(),
        536.0,
        64.0,
        np.random.default_rng(1),
    )
    pilot = pilots.Pilot(sim, 0.0, 0.0)
    pilot.line_up(20.0)
    pilot.take_off(48.0 * KT_MS)
    pilot.climb_to(4100.0 * FT_M, runway.heading_rad)
    pilot.level_run(0.70, runway.heading_rad, 4000.0 * FT_M, 200.0)
    return sim


@pytest.mark.parametrize("name", ["A", "B"])
def test_truth_is_what_the_simulator_does_in_calm_air(name):
    airplane = demo_module("airplane")
    config = airplane.CONFIGURATIONS[name]
    sim = calm_flight(name)
    table = sim.table()
    events = {event["kind"]: event for event in sim.events}

    released, left = events["brake release"], events["lift-off"]
    run = airplane.ground_run(
        config, left["cas_ms"], *airplane.standard_air(0.0), released["mass_kg"]
    )
    assert left["ground_roll_m"] == pytest.approx(float(run.distance_m), rel=0.01)
    assert left["time_s"] - released["time_s"] == pytest.approx(float(run.time_s), abs=0.2)
    assert released["engine_rps"] == pytest.approx(float(run.static_speed_rps), rel=0.002)

    at = int(np.argmax(table["height_m"] > 1100.0))
    part = slice(at - 100, at + 100)
    rate = np.polyfit(table["time_s"][part], table["height_m"][part], 1)[0]
    climb = airplane.climb_state(
        config,
        table["cas_ms"][part].mean(),
        table["pressure_pa"][at],
        table["temperature_k"][at],
        table["vapour_pa"][at],
        sim.dry_kg + table["fuel_kg"][at],
    )
    assert rate == pytest.approx(float(climb.rate_ms), rel=0.01)
    assert table["engine_rps"][at] == pytest.approx(float(climb.speed_rps), rel=0.005)

    level = airplane.level_state(
        config,
        table["tas_ms"][-200:].mean(),
        table["pressure_pa"][-1],
        table["temperature_k"][-1],
        table["vapour_pa"][-1],
        sim.mass_kg,
    )
    assert table["power_w"][-200:].mean() == pytest.approx(float(level.power_w), rel=0.003)
    fuel = table["fuel_kg_s"][-200:].mean() / airplane.FUEL_KG_M3
    assert fuel == pytest.approx(float(level.fuel_m3_s), rel=0.005)


def test_truth_is_plausible_for_such_an_airplane():
    """Bounds of common practice for a light two-seater of 600 kg and 78 kW."""
    rows = {(row["metric"], row["condition_id"]): row for row in truth()["results"]}
    roll = rows["takeoff_ground_roll", "takeoff"]
    assert 120.0 < roll["B"] < roll["A"] < 200.0
    climb = rows["climb_rate", "climb_1"]
    assert 700.0 < climb["A"] < climb["B"] < 1000.0
    cruise = rows["cruise_true_airspeed", "cruise_75"]
    assert 105.0 < cruise["A"] < 115.0
    assert abs(cruise["difference"]) < 3.0
    for percent in (55, 65, 75):
        tas = rows["cruise_true_airspeed", f"cruise_{percent}"]["A"]
        fuel = rows["fuel_flow", f"cruise_{percent}"]["A"]
        power = percent / 100.0 * 78.0
        assert rows["specific_range", f"cruise_{percent}"]["A"] == pytest.approx(
            tas / fuel, rel=1e-3
        )
        # four-stroke spark-ignition engines use about 0.25 to 0.35 kg for each kilowatt-hour
        assert 0.25 < fuel * 0.72 / power < 0.35


def test_ideal_propeller_bounds_hold():
    """Momentum theory: no propeller makes more thrust of its power than the ideal one."""
    airplane = demo_module("airplane")
    density = 1.225
    tas = np.array([0.0, 10.0, 25.0, 40.0, 60.0])
    for config in airplane.CONFIGURATIONS.values():
        thrust, power, *_ = airplane.full_throttle(config, tas, *airplane.standard_air(0.0))
        area = math.pi * config.propeller.diameter_m**2 / 4.0
        ideal_power = thrust * 0.5 * (tas + np.sqrt(tas**2 + 2.0 * thrust / (density * area)))
        assert np.all(ideal_power < 0.95 * power)


def test_engine_lapse_and_rating():
    """Rated at sea level; half-way between density and pressure lapse; moist and hot air costs."""
    engine = demo_module("engine_propeller").Engine()
    air = demo_module("air")
    rated = engine.state(engine.rated_rps, 1.0, 101325.0, 288.15, 0.0)
    assert float(rated.power_w) == pytest.approx(78.0e3, rel=1e-6)
    height = 10000.0 * FT_M
    pressure, temperature = air.standard_pressure_pa(height), air.standard_temperature_k(height)
    ratio = engine.state(engine.rated_rps, 1.0, pressure, temperature, 0.0).power_w / 78.0e3
    # common practice: a naturally aspirated engine keeps about 70 % at 10,000 ft
    assert 0.66 < ratio < 0.74
    hot = engine.state(engine.rated_rps, 1.0, 101325.0, 303.15, 0.0).power_w
    moist = engine.state(engine.rated_rps, 1.0, 101325.0, 303.15, 3400.0).power_w
    assert 0.96 < hot / 78.0e3 < 0.985
    assert 0.95 < moist / hot < 0.97


def test_truth_functions_broadcast():
    airplane = demo_module("airplane")
    config = airplane.CONFIGURATIONS["B"]
    weight = np.array([500.0, 550.0, 600.0])[:, None]
    wind = np.array([0.0, 4.0])
    pressure, temperature, vapour = airplane.standard_air(0.0)
    run = airplane.ground_run(config, 25.0, pressure, temperature, vapour, weight, wind, 0.003)
    assert run.distance_m.shape == (3, 2)
    assert np.all(np.diff(run.distance_m, axis=0) > 0.0)
    assert np.all(run.distance_m[:, 1] < run.distance_m[:, 0])
    single = airplane.ground_run(config, 25.0, pressure, temperature, vapour, 550.0, 4.0, 0.003)
    assert float(single.distance_m) == pytest.approx(run.distance_m[1, 1], rel=1e-9)
