"""The invented demos stand alone, come out the same again, and their truth is their own physics."""

import ast
import csv
import dataclasses
import datetime as dt
import gzip
import importlib
import itertools
import json
import math
import sys
import tomllib
import zlib
from pathlib import Path

import numpy as np
import pytest

from tests import demo_truth

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data_demo"
CAMPAIGN = DEMO / "propeller_change"
CLUB = DEMO / "two_aircraft"
NAMES = ("propeller_change", "two_aircraft")
KT_MS = 1852.0 / 3600.0
FT_M = 0.3048


def demo_module(name):
    """A module of the demo's program, which is no part of the installed library."""
    if str(ROOT) not in sys.path:
        sys.path.append(str(ROOT))
    return importlib.import_module(f"data_demo.{name}")


def truth(folder=CAMPAIGN):
    return json.loads((folder / "truth.json").read_text(encoding="utf-8"))


def results(folder=CAMPAIGN):
    return {(row["metric"], row["condition_id"]): row for row in truth(folder)["results"]}


def demo(name="propeller_change"):
    return demo_module("make").DEMOS[name]


def events(folder, *kinds):
    """What was flown, with its flight, in the order of the campaign."""
    for flight, one in truth(folder)["flights"].items():
        for event in one["flown"]:
            if event["kind"] in kinds:
                yield flight, event


def flight_rows(folder):
    with (folder / "flights.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def imported_roots(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield node.module.split(".")[0]


def test_program_uses_only_numpy_and_the_standard_library():
    paths = sorted(DEMO.glob("*.py"))
    assert len(paths) >= 15
    allowed = set(sys.stdlib_module_names) | {"numpy"}
    for path in paths:
        assert set(imported_roots(path)) <= allowed, path.name
        # __main__ names the one module it imports by a text; no other text may name the library
        assert "stdday" not in path.read_text(encoding="utf-8"), path.name


@pytest.mark.parametrize("name", NAMES)
def test_every_file_comes_out_as_the_same_bytes(tmp_path, name):
    make = demo_module("make")
    changed = make.make(demo(name), tmp_path)
    kept = [path for part in ("logs", "columns") for path in sorted((DEMO / name / part).iterdir())]
    assert sorted(changed) == [path.name for path in kept if path.suffix == ".gz"]
    kept += [DEMO / name / file for file in ("campaign.toml", "flights.csv", "truth.json")]
    for path in kept:
        made, old = (tmp_path / path.relative_to(DEMO / name)).read_bytes(), path.read_bytes()
        if path.suffix == ".gz":
            assert gzip.decompress(made) == gzip.decompress(old), path.name
        # another compressor packs the same text otherwise
        if path.suffix != ".gz" or "ng" not in zlib.ZLIB_RUNTIME_VERSION:
            assert made == old, path.name
    assert make.truth_table(demo(name)) in (DEMO / "README.md").read_text(encoding="utf-8")


def test_gzip_headers_hold_no_time_name_or_system():
    logs = [path for name in NAMES for path in sorted((DEMO / name / "logs").iterdir())]
    assert len(logs) == 12 + 9
    for path in logs:
        header = path.read_bytes()[:10]
        # RFC 1952: magic, method 8, no flags, time 0, best compression (2), system unknown (255)
        assert header == bytes([0x1F, 0x8B, 8, 0, 0, 0, 0, 0, 2, 255]), path.name


def test_demos_stay_small():
    for name in NAMES:
        paths = [*(DEMO / name / "logs").iterdir(), DEMO / name / "truth.json"]
        assert sum(path.stat().st_size for path in paths) < 2.5e6, name


def test_seeds_in_truth_are_those_written_down():
    assert truth()["seed"] == demo_module("scenario").SEED == 604311
    assert truth(CLUB)["seed"] == demo_module("club").SEED == 718204


def ratios(drawn, sigma):
    """Drawn errors of one airplane over their declared sigmas."""
    yield drawn["temperature_k"] / sigma["outside_air_temperature_bias"]
    yield drawn["power"] / sigma["power"]
    for value in drawn["power_by_configuration"].values():
        yield value / sigma["power_between_configurations"]
    for value in drawn["between_kt"]:
        yield value / sigma["airspeed_between_configurations"]
    for value in drawn["table_kt"] or ():
        yield value / sigma["airspeed_calibration_table"]
    yield drawn["slope"] / sigma["runway_slope"]
    yield drawn["delay_s"] / sigma["airspeed_delay"]
    yield drawn["altitude_m"] / FT_M / sigma["pressure_altitude"]
    yield drawn["fuel_flow"] / sigma["fuel_flow_scale"]


@pytest.mark.parametrize("name", NAMES)
def test_errors_were_drawn_from_the_declared_sigmas(name):
    """Every drawn error is within three and a half declared sigmas, and none is zero."""
    document = truth(DEMO / name)
    for drawn in document["errors_drawn"].values():
        assert all(0.0 < abs(ratio) < 3.5 for ratio in ratios(drawn, document["sigma"]))
    airplanes = {n: one.airplane for n, one in demo(name).aircraft.items()}
    for configuration, delays in document["delays"].items():
        difference = delays["airspeed_lag_s"] - delays["gps_delay_s"]
        drawn = document["errors_drawn"][airplanes[configuration]]
        assert difference == pytest.approx(drawn["delay_s"], abs=1e-6)
        assert delays["airspeed_behind_ground_speed_s"] == pytest.approx(difference, abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
def test_declared_uncertainties_are_those_that_were_drawn_from(name):
    campaign = tomllib.loads((DEMO / name / "campaign.toml").read_text(encoding="utf-8"))
    declared = {k: v for k, v in campaign["uncertainty"].items() if k != "between_blocks"}
    sigma = truth(DEMO / name)["sigma"]
    assert set(declared) == set(sigma)
    for key, text in declared.items():
        number, unit = text.split(" ")
        assert float(number) * (0.01 if unit == "%" else 1.0) == pytest.approx(sigma[key]), key


@pytest.mark.parametrize(("name", "limits"), [
    ("propeller_change", {"A": 600.0, "B": 600.0}),
    ("two_aircraft", {"trainer": 600.0, "tourer": 1100.0}),
])  # fmt: skip
def test_weights_in_flights_csv_are_the_true_ones_within_their_error(name, limits):
    rows, document = flight_rows(DEMO / name), truth(DEMO / name)
    sigma = document["sigma"]["weight"]
    errors = []
    for row in rows:
        weight = float(row["takeoff_weight [kg]"])
        errors.append(weight - document["flights"][row["flight"]]["takeoff_weight_kg"])
        assert weight <= limits[row["configuration"]]
    assert max(abs(error) for error in errors) < 3.5 * sigma
    assert 0.3 * sigma < np.std(errors) < 2.0 * sigma


def test_flight_tables_hold_what_the_scenarios_say():
    rows = flight_rows(CAMPAIGN)
    assert [row["configuration"] for row in rows] == list("AAAABBBBBAA")
    assert sum(row["reported_dew_point [degC]"] == "" for row in rows) == 1
    rows = flight_rows(CLUB)
    flown = [row["configuration"] for row in rows]
    assert (flown.count("trainer"), flown.count("tourer")) == (4, 5)
    assert {row["pilot"] for row in rows} == {"one", "two", "three"}
    for configuration in ("trainer", "tourer"):
        own = [row for row in rows if row["configuration"] == configuration]
        seasons = {row["block"].removeprefix(f"{configuration}-") for row in own}
        assert seasons == {"spring", "autumn"}
        assert len({row["pilot"] for row in own}) == 3


# ---- airspeed -----------------------------------------------------------------------------


def test_the_clubs_tables_are_the_truth_within_their_error():
    campaign = tomllib.loads((CLUB / "campaign.toml").read_text(encoding="utf-8"))
    sigma = truth(CLUB)["sigma"]["airspeed_calibration_table"]
    for configuration, airplane in (("trainer", "two_seat"), ("tourer", "four_seat")):
        correction = truth(CLUB)["airspeed_correction"][configuration]
        table = campaign["airplane"][airplane]["airspeed_calibration"]
        shown, said = (
            np.array([float(row[place].removesuffix(" kt")) for row in table]) for place in (0, 1)
        )
        grid = correction["indicated_kt"]
        inside = (shown >= grid[0]) & (shown <= grid[-1])
        true = np.interp(shown, grid, correction["no_power_kt"])
        assert inside.sum() >= 6
        error = (said - shown - true)[inside]
        assert 0.0 < np.abs(error).max() < 3.5 * sigma


def test_the_group_calibrates_from_flights():
    campaign = tomllib.loads((CAMPAIGN / "campaign.toml").read_text(encoding="utf-8"))
    assert campaign["airplane"]["one"]["airspeed_calibration"] == "from flights"
    patterns = list(events(CAMPAIGN, "pattern"))
    rows = {row["flight"]: row for row in flight_rows(CAMPAIGN)}
    flown = {"A": [], "B": []}
    for flight, pattern in patterns:
        flown[rows[flight]["configuration"]].append((flight, pattern))
    for name, low, high in (("A", 58.0, 108.0), ("B", 58.0, 105.0)):
        assert len({flight for flight, _ in flown[name]}) == 2
        speeds = sorted(pattern["cas_kt"] for _, pattern in flown[name])
        assert len(speeds) >= 5
        assert speeds[0] < low < high < speeds[-1]
    kinds = [pattern["pattern"] for _, pattern in patterns]
    assert (kinds.count("triangle"), kinds.count("circle")) == (1, 1)
    for _, pattern in patterns:
        count = {"box": 4, "triangle": 3, "circle": 0}[pattern["pattern"]]
        assert len(pattern["legs"]) == count
        assert math.hypot(pattern["wind_east_ms"], pattern["wind_north_ms"]) > 2.0
        for leg in pattern["legs"]:
            assert 60.0 < seconds(leg["start_utc"], leg["end_utc"]) < 105.0
            assert abs(leg["cas_kt"] - pattern["cas_kt"]) < 2.0


def seconds(start, end):
    first, last = (dt.datetime.fromisoformat(text) for text in (start, end))
    return (last - first).total_seconds()


def test_legs_are_flown_by_hand_on_headings_a_quarter_turn_apart():
    off = []
    for _, pattern in events(CAMPAIGN, "pattern"):
        if pattern["pattern"] == "box":
            headings = [leg["heading_deg"] for leg in pattern["legs"]]
            off += [(b - a + 180.0) % 360.0 - 180.0 - 90.0 for a, b in itertools.pairwise(headings)]
    assert len(off) == 3 * 9
    assert 2.0 < np.std(off) < 7.0
    assert np.abs(off).max() < 20.0


@pytest.mark.parametrize("name", NAMES)
def test_the_true_correction_is_what_the_recordings_show(name):
    """In level runs, indicated airspeed and the true correction give the true one again."""
    program, document = demo(name), truth(DEMO / name)
    recorder, flying = demo_module("recorder"), demo_module("flying")
    for configuration in program.aircraft:
        plan = next(
            p for p in program.plans if p.configuration == configuration and p.gust_kt < 2.0
        )
        flown = flying.fly(program, plan)
        sensed, table = recorder.sense(flown), flown.sim.table()
        kinds = {"level run starts": [], "level run ends": []}
        for event in flown.sim.events:
            kinds.get(event["kind"], []).append(event["time_s"])
        correction = document["airspeed_correction"][configuration]
        errors = []
        for start, end in zip(*kinds.values(), strict=True):
            run = (table["time_s"] > start) & (table["time_s"] < end)
            shown = sensed.table["airspeed_ms"][run].mean() / KT_MS
            grid = correction["indicated_kt"]
            given = shown + np.interp(shown, grid, correction["level_flight_kt"])
            errors.append(table["cas_ms"][run].mean() / KT_MS - given)
        assert len(errors) >= 4
        assert np.abs(errors).max() < 0.12  # other weights and heights than the table's


def test_the_position_error_is_no_polynomial_and_differs_a_little_by_configuration():
    correction = truth()["airspeed_correction"]
    grid = np.array(correction["A"]["indicated_kt"])
    level = {name: np.array(correction[name]["level_flight_kt"]) for name in "AB"}
    left = level["A"] - np.polyval(np.polyfit(grid, level["A"], 2), grid)
    assert np.abs(left).max() > 0.02
    assert 0.05 < np.abs(level["A"] - level["B"]).max() < 1.0
    assert np.all(np.abs(np.diff(level["A"], 2)) < 0.15)  # smooth


def test_suction_at_lift_off_is_told_for_every_take_off():
    rows = {row["flight"]: row["configuration"] for row in flight_rows(CAMPAIGN)}
    at_rest = {"A": [], "B": []}
    for flight, event in events(CAMPAIGN, "brake release"):
        at_rest[rows[flight]].append(event["static_step_ft"])
    assert np.mean(at_rest["A"]) == pytest.approx(8.0, rel=0.1)
    assert np.mean(at_rest["B"]) == pytest.approx(14.0, rel=0.1)
    left = [event for _, event in events(CAMPAIGN, "lift-off")]
    assert len(left) >= 22
    for event in left:
        assert 1.0 < event["static_step_ft"] < 7.0
        assert 0.2 < event["airspeed_high_by_kt"] < 1.6


# ---- landings, climbs and accelerations ---------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_every_landing_has_its_touchdown_and_most_their_stop(name):
    down = list(events(DEMO / name, "touchdown"))
    stops = list(events(DEMO / name, "stop"))
    rolled = list(events(DEMO / name, "roll-out without braking"))
    goes = list(events(DEMO / name, "touch-and-go"))
    assert len(down) == len(stops) + len(rolled) + len(goes)
    assert (len(rolled), len(goes)) == ((2, 1) if name == "propeller_change" else (0, 0))
    for (_, landed), (_, stopped) in zip(
        down, events(DEMO / name, "stop", "roll-out without braking", "touch-and-go"), strict=True
    ):
        if stopped["kind"] != "stop":
            continue
        time = seconds(landed["utc"], stopped["utc"])
        mean = landed["ground_speed_ms"] / 2.0
        assert stopped["ground_roll_m"] == pytest.approx(mean * time, rel=0.25)
        assert stopped["distance_50ft_m"] > stopped["ground_roll_m"] + 150.0


def test_climbs_and_accelerations_are_flown_in_two_flights_of_each_configuration():
    rows = {row["flight"]: row["configuration"] for row in flight_rows(CAMPAIGN)}
    climbs = {"A": {}, "B": {}}
    for flight, event in events(CAMPAIGN, "climb starts"):
        climbs[rows[flight]].setdefault(round(event["asked_cas_kt"]), set()).add(flight)
    for name in "AB":
        assert {speed for speed, flights in climbs[name].items() if len(flights) >= 2} == {
            55, 62, 70, 80,
        }  # fmt: skip
    fast = {"A": set(), "B": set()}
    for flight, event in events(CAMPAIGN, "acceleration ends"):
        assert event["cas_ms"] > 100.0 * KT_MS
        fast[rows[flight]].add(flight)
    assert {name: len(flights) for name, flights in fast.items()} == {"A": 2, "B": 2}


def calm_flight(name):
    """A simulated flight in still standard air: take-off, climb and a level run at 70 %."""
    air, flight, pilots = demo_module("air"), demo_module("flight"), demo_module("pilot")
    airplane = demo_module("airplane")
    calm = air.Weather(101325.0, 288.15, 200.0, 0.0065, 0.0, 0.0, 0.0, 0.16, 0.0, 0.0, 0.0)
    runway = dataclasses.replace(demo().site.runway("08", 0.0), start_height_m=0.0)
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
    rows = results()
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


def test_truth_of_the_four_seat_airplane_is_plausible():
    """Bounds of common practice for a fixed-gear four-seat airplane of 1050 kg and 120 kW."""
    rows = results(CLUB)
    assert 200.0 < rows["takeoff_ground_roll", "takeoff"]["tourer"] < 320.0
    assert 550.0 < rows["climb_rate", "climb_1"]["tourer"] < 850.0
    assert 110.0 < rows["cruise_true_airspeed", "cruise_75"]["tourer"] < 125.0
    fuel = rows["fuel_flow", "cruise_75"]["tourer"]
    assert 0.27 < fuel * 0.72 / 90.0 < 0.32
    assert 10000.0 < rows["service_ceiling", "ceiling"]["tourer"] < 17000.0


@pytest.mark.parametrize("name", NAMES)
def test_derived_truths_agree_with_one_another(name):
    rows = results(DEMO / name)
    for configuration in demo(name).aircraft:
        value = {key: row[configuration] for key, row in rows.items()}
        for place in ("1", "2"):
            usual = value["climb_rate", f"climb_{place}"]
            best = value["climb_rate", f"bestrate_{place}"]
            assert usual <= best < 1.1 * usual
            steep = value["best_angle_airspeed", f"bestangle_{place}"]
            assert steep < value["best_rate_airspeed", f"bestrate_{place}"]
        # between the rates at the bottom and at the top, on the way to 8000 ft
        minutes = value["time_to_climb", "toclimb"] / 60.0
        low, high = (value["climb_rate", f"climb_{place}"] for place in (1, 2))
        assert high < 3000.0 / minutes < low
        assert value["time_to_climb", "to_8000_ft"] / 60.0 > 8000.0 / low
        assert value["takeoff_distance_50ft", "takeoff"] > value["takeoff_ground_roll", "takeoff"]
        assert value["landing_distance_50ft", "landing"] > value["landing_ground_roll", "landing"]


def test_at_its_true_ceiling_the_best_rate_is_a_hundred_feet_a_minute():
    airplane = demo_module("airplane")
    ceiling = results()["service_ceiling", "ceiling"]
    for name, config in airplane.CONFIGURATIONS.items():
        air = airplane.standard_air(ceiling[name] * FT_M)
        speeds = np.arange(50.0, 80.0, 0.25) * KT_MS
        rates = airplane.climb_state(config, speeds, *air, 600.0).rate_ms
        assert rates.max() / FT_M * 60.0 == pytest.approx(100.0, abs=1.0)


def test_efficiency_ratio_is_the_ratio_of_powers_at_one_airspeed():
    """In cruise, where the airspeeds at one power differ by a few tenths of a per cent."""
    rows = results()
    for percent in (55, 65, 75):
        ratio = rows["installed_efficiency_ratio", f"cruise_{percent}"]
        cruise = rows["cruise_true_airspeed", f"cruise_{percent}"]
        assert ratio["A"] == 1.0
        # power grows with about the second to third power of airspeed here
        gained = math.log(cruise["B"] / cruise["A"])
        assert 1.8 * gained - 0.003 < math.log(ratio["B"]) < 3.0 * gained + 0.003


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


def test_the_readme_has_a_place_for_truth_and_results_of_each_demo():
    text = (DEMO / "README.md").read_text(encoding="utf-8")
    for name in NAMES:
        for line in (*demo_truth.marks(DEMO / name), f"<!-- truth of {name} begin -->"):
            assert text.count(line) == 1, line
