"""Landings corrected to the reference day, against rolls integrated with other laws, and refusals.

Truth brakes with grip on the load that the wings leave on the wheels, with rolling friction and
drag, none of which the reducer knows.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from stdday import airspeed, atmosphere
from stdday.campaign import load_campaign
from stdday.landing_habits import airspeed_habit, habit_columns
from stdday.metrics import METRICS
from stdday.outcome import analyse, condition_words
from stdday.reduce_landing import landing_rows, reduce_landings
from stdday.segments import SEGMENT_COLUMNS
from stdday.uncertainty import Draws
from tests.make_campaign import make_campaign

DRAWS = Draws(60, seed=4)
KT, GRAVITY = 1852 / 3600, 9.80665
TOUCHDOWN_MS = 44 * KT  # calibrated, at 600 kg
RUNWAY = np.radians(82.0)
LATE_S = 0.3  # the ground speed is recorded late, so that the roll seems longer


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    return load_campaign(make_campaign(tmp_path_factory.mktemp("campaign")))


def roll_m(weight, density, airspeed_ms, headwind, slope, grip=0.22):
    """Roll to a stop, integrated: grip on what the wings leave, friction and drag."""
    ground = np.linspace(airspeed_ms - headwind, 0.0, 4001)
    pressure = 0.5 * density * (ground + headwind) ** 2
    force = weight * GRAVITY
    lift, drag = 11.0 * 0.35 * pressure, 11.0 * 0.09 * pressure
    rate = ((grip + 0.03) * (force - lift) + drag) / weight + GRAVITY * slope
    return float(np.trapezoid(-ground / rate, ground)), float(np.trapezoid(1 / rate, -ground))


def row(campaign, flight, number=0, **change):
    """Segment of one landing of a flight, without errors and noise."""
    given = next(one for one in campaign.flights if one.id == flight)
    weight = given.takeoff_weight_kg
    field = campaign.airfields["home"]
    altitude = float(
        atmosphere.pressure_altitude_at_field_m(field.elevation_m, given.altimeter_setting_pa)
    )
    pressure = float(atmosphere.standard_pressure_pa(altitude))
    temperature = given.reported_temperature_k
    vapour = float(atmosphere.vapour_pressure_pa(given.reported_dew_point_k))
    density = float(atmosphere.density_kg_m3(pressure, temperature, vapour))
    runway = next(one for one in field.runways if one.name == given.runway)
    turn = given.reported_wind_from_rad - runway.true_bearing_rad
    headwind = 0.85 * given.reported_wind_speed_ms * np.cos(turn)
    calibrated = TOUCHDOWN_MS * np.sqrt(weight / 600.0)
    true = float(airspeed.true_airspeed_ms(calibrated, pressure, temperature))
    distance, seconds = roll_m(weight, density, true, headwind, runway.slope)
    late = LATE_S * (true - headwind)
    shown = calibrated - np.interp(calibrated, np.array([42, 101]) * KT, np.array([2, 1]) * KT)
    made = dict.fromkeys(SEGMENT_COLUMNS, np.nan) | {
        "point": f"{flight}-landing-{number:06d}", "condition_id": "landing", "flight": flight,
        "configuration": given.configuration, "kind": "landing", "fuel_used_m3": 0.0,
        "elapsed_since_first_takeoff_s": 0.0, "field_pressure_altitude_m": altitude,
        "touchdown_ground_speed_ms": true - headwind, "touchdown_indicated_airspeed_ms": shown,
        "landing_roll_m": distance + late, "landing_roll_sigma_m": 0.08 * distance,
        "landing_roll_reckoned_m": 0.0,
        "landing_mean_deceleration_ms2": (true - headwind) / seconds,
        "air_distance_m": 9.0 * (1.1 * true - 1.2 * headwind) - late, "touchdown_s": 9.0,
        "height50_s": 0.0, "height50_ground_speed_ms": 1.2 * true - 1.2 * headwind,
        "near_indicated_airspeed_ms": shown, "near_ground_speed_ms": true - 1.1 * headwind,
        "near_acceleration_ms2": 0.0, "track_rad": runway.true_bearing_rad, "away_m": 300.0,
        "interval_sigma": 0.0,
    }  # fmt: skip
    return made | change


def frame(campaign, **change):
    return pd.DataFrame([row(campaign, one.id, **change) for one in campaign.flights])


def reduced(campaign, segments):
    return {one.metric: one for one in reduce_landings(campaign, segments, DRAWS)}


def reference_roll():
    true = float(airspeed.true_airspeed_ms(TOUCHDOWN_MS, 101325.0, 288.15))
    return roll_m(600.0, 1.225, true, 0.0, 0.0)[0]


def test_corrected_rolls_meet_a_truth_of_other_laws(campaign):
    # Touched down with the square root of weight, which three flights do not tell the reducer.
    # Flown at 569 to 583 kg, 9 to 17 degC, winds of 2 to 10 kt and 0.3 % of slope either way.
    raw = frame(campaign)["landing_roll_m"].to_numpy()
    values = reduced(campaign, frame(campaign))["landing_ground_roll"].values[0]
    truth = reference_roll()
    assert values == pytest.approx(truth, rel=0.04)
    assert np.std(values) < 0.35 * np.std(raw)


def test_the_ledger_is_a_chain_and_ends_at_the_value(campaign):
    for one in reduced(campaign, frame(campaign)).values():
        last = one.ledger.groupby("point", sort=False)["after"].last()
        assert last.to_numpy() == pytest.approx(one.values[0])
        for _, own in one.ledger.groupby(["point", "quantity"], sort=False):
            assert np.allclose(own["before"].iloc[1:], own["after"].iloc[:-1])
        assert (one.ledger["source"].str.len() > 5).all()
        assert set(one.ledger["condition_id"]) == {"landing"}
        assert set(one.ledger["metric"]) == {one.metric}


def test_the_headwind_is_that_of_the_flare_and_knows_no_climb(campaign):
    ledger = reduced(campaign, frame(campaign))["landing_ground_roll"].ledger
    steps = ledger[ledger["quantity"] == "headwind"]
    assert set(steps["step"]) == {
        "delay of the airspeed", "wind gradient", "joined with the reported wind"
    }
    assert not steps["source"].str.contains("climb|static").any()
    # The owner's table makes true airspeed minus ground speed worth more than the report.
    shares = steps["inputs"].str.extract(r"(\d+) % from true airspeed")[0].dropna().astype(int)
    assert (shares > 50).all()
    assert len(shares) == 3


def test_distance_is_roll_and_air_phase(campaign):
    found = reduced(campaign, frame(campaign))
    roll, distance = found["landing_ground_roll"], found["landing_distance_50ft"]
    ledger = distance.ledger
    still = ledger.loc[ledger["step"] == "no wind in the air phase", "after"].to_numpy()
    # 9 s at 1.1 of the touchdown airspeed, whatever the wind.
    weight = np.array([one.takeoff_weight_kg for one in campaign.flights])
    air = 9.0 * 1.1 * TOUCHDOWN_MS * np.sqrt(weight / 600.0)
    assert still - roll.values[0] == pytest.approx(air, rel=0.05)
    assert (distance.values[0] > still).all()  # the reference is heavier


def test_weight_exponent_is_told_and_follows_the_braking(campaign):
    hard = frame(campaign, landing_mean_deceleration_ms2=3.5)
    soft = frame(campaign, landing_mean_deceleration_ms2=1.6)
    told = {}
    for name, segments in (("hard", hard), ("soft", soft)):
        ledger = reduced(campaign, segments)["landing_ground_roll"].ledger
        told[name] = ledger[ledger["step"] == "weight"].set_index("point")
    assert told["hard"]["inputs"].str.contains("braking 0.0: grip of the tyres").all()
    assert told["soft"]["inputs"].str.contains("braking 0.5: between grip").all()
    assert told["soft"]["inputs"].str.contains(r"touchdown airspeed as weight\^0\.25").all()
    assert (told["soft"]["change"] > 1.3 * told["hard"]["change"]).all()


def habit_of(campaign, exponent, weights):
    """Landings at these weights of six flights, touched down at weight to the power of this."""
    flights = tuple(
        replace(campaign.flights[0], id=f"F{place}", takeoff_weight_kg=weight)
        for place, weight in enumerate(weights)
    )
    many = replace(campaign, flights=flights)
    shown = TOUCHDOWN_MS * (np.array(weights) / 600.0) ** exponent
    rows = [row(many, one.id, touchdown_indicated_airspeed_ms=speed)
            for one, speed in zip(flights, shown, strict=True)]  # fmt: skip
    return many, pd.DataFrame(rows)


@pytest.mark.parametrize("exponent", [0.0, 0.5])
def test_what_pilots_do_with_weight_comes_from_their_own_landings(campaign, exponent):
    many, rows = habit_of(campaign, exponent, [470.0, 480.0, 520.0, 560.0, 590.0, 600.0])
    found = habit_columns(many, rows.assign(
        pressure_altitude_m=0.0, indicated_airspeed_ms=rows["touchdown_indicated_airspeed_ms"]))
    # The owner's table makes a little less than the indicated exponent of it.
    assert found["airspeed_exponent"] == pytest.approx([exponent] * 6, abs=0.06)
    assert max(found["airspeed_exponent_sigma"]) < 0.08
    assert all("by 6 flights, joined with 0.25" in words
               for words in found["airspeed_exponent_words"])  # fmt: skip
    ledger = reduced(many, rows)["landing_ground_roll"].ledger
    steps = ledger[ledger["step"] == "weight"]
    factor = (steps["after"] / steps["before"]).to_numpy()
    share = 2 * found["airspeed_exponent"][0] + 0.5
    assert factor == pytest.approx((600.0 / np.array([470, 480, 520, 560, 590, 600])) ** share)


def test_weights_alike_or_few_flights_leave_the_assumption():
    alike = airspeed_habit(np.full(6, 600.0), np.full(6, 23.0), np.array(["A"] * 6))
    few = airspeed_habit(np.array([500.0, 600.0]), np.array([23.0, 23.0]), np.array(["A"] * 2))
    for one in (alike, few):
        assert (one.exponent, one.sigma) == (0.25, 0.25)
        assert one.words.startswith("assumed 0.25 +- 0.25")


def test_the_level_of_a_configuration_is_its_own():
    weight = np.array([480.0, 520.0, 560.0, 500.0, 540.0, 600.0])
    names = np.array(["A", "A", "A", "B", "B", "B"])
    level = np.where(names == "A", 22.0, 26.0)
    found = airspeed_habit(weight, level, names)
    assert found.words.startswith("0.00 +-")


def test_the_interval_of_the_exponent_holds_the_truth():
    rng = np.random.default_rng(3)
    inside = []
    for _ in range(3000):
        weight = rng.uniform(470.0, 600.0, 11)
        true = rng.normal(0.25, 0.25)
        speed = weight**true * np.exp(rng.normal(0.0, 0.03, 11))
        found = airspeed_habit(weight, speed, np.array(["A"] * 6 + ["B"] * 5))
        inside.append(abs(found.exponent - true) < 1.96 * found.sigma)
    assert np.mean(inside) >= 0.93


def test_without_a_reported_temperature_the_descent_gives_it(campaign):
    bare = replace(campaign, flights=tuple(
        replace(one, reported_temperature_k=None) for one in campaign.flights))  # fmt: skip
    known = frame(campaign, climb_temperature_at_field_k=288.0)
    ledger = reduced(bare, known)["landing_ground_roll"].ledger
    told = ledger.loc[ledger["step"] == "air density", "inputs"]
    assert told.str.contains("no reported temperature: carried down from the descent").all()


def test_far_weights_are_flagged(campaign):
    light = replace(campaign, flights=tuple(
        replace(one, takeoff_weight_kg=500.0) for one in campaign.flights))  # fmt: skip
    ledger = reduced(light, frame(light))["landing_ground_roll"].ledger
    assert ledger.loc[ledger["step"] == "weight", "inputs"].str.contains("CAUTION").all()


def test_a_landing_the_other_way_takes_that_runway(campaign):
    flight = campaign.flights[0]
    assert flight.runway == "08"
    segments = pd.DataFrame([row(campaign, flight.id, track_rad=RUNWAY + np.pi)])
    ledger = reduced(campaign, segments)["landing_ground_roll"].ledger
    slope = ledger.loc[ledger["step"] == "runway slope", "inputs"].iloc[0]
    assert slope == "slope -0.30 %"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"away_m": 12_000.0}, "landed 12 km from where the recording begins"),
        ({"track_rad": np.radians(170.0)}, "no runway of the airfield lies along the roll"),
        ({"landing_roll_sigma_m": 90.0}, "known to 90 m only"),
        ({"landing_roll_m": np.nan}, "an input of the correction is missing"),
    ],
)
def test_what_carries_no_number_is_refused_in_words(campaign, change, words):
    for one in reduced(campaign, frame(campaign, **change)).values():
        assert not one.points
        assert all(words in reason or "50 ft" in reason for reason in one.refused.values())
    roll = reduced(campaign, frame(campaign, **change))["landing_ground_roll"]
    assert all(words in reason for reason in roll.refused.values())


def test_another_surface_is_never_pooled(campaign):
    wet = replace(campaign, flights=tuple(
        replace(one, runway_condition="wet") for one in campaign.flights))  # fmt: skip
    roll = reduced(wet, frame(wet))["landing_ground_roll"]
    assert not roll.points
    assert all("never pooled" in reason for reason in roll.refused.values())


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"air_distance_m": np.nan, "height50_ground_speed_ms": np.nan}, "no passing of 50 ft"),
        ({"height50_ground_speed_ms": 12.0}, "airspeed grew from 50 ft to touchdown"),
    ],
)
def test_without_an_air_phase_the_ground_roll_stays(campaign, change, words):
    found = reduced(campaign, frame(campaign, **change))
    assert len(found["landing_ground_roll"].points) == 3
    assert not found["landing_distance_50ft"].points
    assert all(words in reason for reason in found["landing_distance_50ft"].refused.values())


def test_outcomes_and_their_conditions(campaign):
    analysis = analyse(campaign, frame(campaign), DRAWS)
    found = {(one.metric, one.configuration): one for one in analysis.outcomes
             if one.condition_id == "landing"}  # fmt: skip
    assert len(found) == 4
    one = found["landing_ground_roll", "A"]
    assert one.status == "ok"
    assert one.condition == "pressure_altitude=0 ft; temperature=ISA+0; weight=600 kg"
    assert one.estimate.value == pytest.approx(reference_roll(), rel=0.04)
    # The pilot dominates: one flight alone rests on the assumed scatter of 15 %.
    alone = found["landing_ground_roll", "B"]
    assert alone.basis == "assumed day-to-day scatter"
    assert condition_words(campaign, "A", "landing_distance_50ft", "landing") == one.condition


def test_without_landings_the_value_is_refused(campaign):
    analysis = analyse(campaign, frame(campaign).iloc[:0], DRAWS)
    found = [one for one in analysis.outcomes if one.condition_id == "landing"]
    assert [one.status for one in found] == ["refused"] * 4
    assert reduce_landings(campaign, frame(campaign).iloc[:0], DRAWS) == []


def test_the_delay_comes_from_the_take_offs_of_the_same_flight(campaign):
    names = ["airspeed_delay_s", "airspeed_delay_sigma_s"]
    rows = frame(campaign).assign(**dict.fromkeys(names, np.nan))
    takeoff = rows.iloc[:1].assign(kind="take-off", airspeed_delay_s=0.7,
                                   airspeed_delay_sigma_s=0.2)  # fmt: skip
    found = landing_rows(pd.concat([takeoff, rows], ignore_index=True))
    assert list(found["kind"]) == ["landing"] * 3
    assert found["airspeed_delay_s"].iloc[0] == 0.7
    assert found["airspeed_delay_s"].iloc[1:].isna().all()


def test_the_definitions_say_whose_landing_it_is():
    assert "as the pilots braked" in METRICS["landing_ground_roll"].definition
    assert "as in their own landings" in METRICS["landing_ground_roll"].definition
    assert METRICS["landing_distance_50ft"].made
