"""One airplane under level runs and climbs: what the joint fits give, choose, refuse and say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from stdday import airplane_tables, climb_model
from stdday.level_fit import cruise_at
from stdday.outcome import ASSUMED, analyse
from stdday.reduce_acceleration import reduce_accelerations
from stdday.reduce_level import reduce_levels
from stdday.state import make_state, power_words
from stdday.throttle import propeller_slopes
from stdday.uncertainty import Draws
from tests.benchmarks import airplane_model as bench

KT = 1852 / 3600
DRAWS = Draws(40, seed=3)


@pytest.fixture(scope="module")
def campaign():
    return bench.load()


@pytest.fixture(scope="module")
def truth(campaign):
    return bench.reference_truth(campaign)


@pytest.fixture(scope="module")
def clean(campaign):
    return bench.made(campaign, 11, 0.0)


@pytest.fixture(scope="module")
def noisy(campaign):
    return bench.made(campaign, 12, 1.0)


@pytest.fixture(scope="module")
def analysis(noisy):
    return analyse(*noisy, DRAWS)


def levels(segments):
    return segments[segments["kind"] == "level run"]


def climbs(segments):
    return segments[segments["kind"] == "climb"]


def with_changed(campaign, changed):
    b = replace(campaign.configurations["B"], changed=changed)
    return replace(campaign, configurations={**campaign.configurations, "B": b})


# what the reducer's simpler laws may be off, of a richer airplane without any noise
MISMATCH = {
    "cruise_true_airspeed": 0.4 * KT,
    "installed_efficiency_ratio": 0.008,
    "best_rate_airspeed": 1.2 * KT,
    "climb_rate": 12 * 0.3048 / 60,
}


def test_answers_meet_the_truth_of_a_richer_airplane(clean, truth):
    found = {
        (o.metric, o.condition_id, o.configuration): o.estimate.value
        for o in analyse(*clean, Draws(2)).outcomes if o.estimate is not None
    }  # fmt: skip
    checked = 0
    for key, expected in truth.items():
        if key[2] == "B-A":
            continue
        assert found[key] == pytest.approx(expected, abs=MISMATCH[key[0]]), key
        checked += 1
    assert checked >= 20


def test_draws_follow_a_scale_of_power_exactly(noisy):
    campaign, segments = noisy
    only = replace(campaign, uncertainty={**campaign.uncertainty, "power": 0.02})
    draws = Draws(20, kinds=frozenset({"shared"}))
    quiet = {key: 0.0 if isinstance(value, float) and key != "power" else value
             for key, value in only.uncertainty.items()}  # fmt: skip
    _, fits = reduce_levels(replace(only, uncertainty=quiet), levels(segments), draws)
    scale = 1 + 0.02 * draws.normal("power", "shared", ["one"])[:, 0]
    # the energy step does not scale, so that the ratio is a hundredth of a per cent off
    polar = fits["A"].coefficients[:, 0] / fits["A"].coefficients[0, 0]
    assert polar == pytest.approx(scale, abs=4e-4)
    assert fits["B"].coefficients[:, 2] == pytest.approx(fits["B"].coefficients[0, 2], abs=2e-3)


def test_all_configurations_share_one_polar(noisy):
    _, fits = reduce_levels(noisy[0], levels(noisy[1]), Draws(0))
    assert fits["A"].places[:2] == fits["B"].places[:2] == (0, 1)
    assert fits["A"].kind == "reference"
    assert fits["B"].kind in ("constant", "smooth")
    assert "flights left out are predicted within" in fits["B"].model


@pytest.mark.parametrize("changed", [("airframe",), ("propeller", "airframe"), ("engine",), ()])
def test_no_efficiency_is_claimed_where_more_than_the_propeller_changed(noisy, changed):
    campaign, segments = with_changed(noisy[0], changed), noisy[1]
    found = analyse(campaign, levels(segments), DRAWS)
    assert found.fits["B"].kind == "own"
    ratio = [o for o in found.outcomes if o.metric == "installed_efficiency_ratio"]
    assert [o.status for o in ratio if o.configuration == "B"] == ["refused"]
    assert "airframe or engine changed" in ratio[-1].reason
    cruise = [o for o in found.outcomes if o.metric == "cruise_true_airspeed"]
    assert all(o.status == "ok" for o in cruise)


def test_a_constant_ratio_is_chosen_for_propellers_that_differ_by_a_constant(noisy):
    """Flights of A alone, half of them called B with 3 % more power at every airspeed."""
    campaign, segments = noisy
    mine = [f.id for f in campaign.flights if f.configuration == "A"]
    other = set(mine[::2])
    flights = tuple(
        replace(f, configuration="B") if f.id in other else f
        for f in campaign.flights if f.id in mine
    )  # fmt: skip
    alike = replace(campaign.configurations["A"], id="B", changed=("propeller",))
    changed = replace(
        campaign, flights=flights, configurations={**campaign.configurations, "B": alike}
    )
    own = levels(segments)
    own = own[own["flight"].isin(mine)].reset_index(drop=True)
    own["configuration"] = np.where(own["flight"].isin(other), "B", "A")
    own["power_w"] *= np.where(own["flight"].isin(other), 1.03, 1.0)
    _, fits = reduce_levels(changed, own, Draws(0))
    assert fits["B"].kind == "constant"
    assert fits["B"].coefficients[0, 2] == pytest.approx(-np.log(1.03), abs=0.02)


def test_a_ratio_has_one_for_the_reference_and_says_what_is_booked_to_it(analysis):
    ratio = [o for o in analysis.outcomes if o.metric == "installed_efficiency_ratio"]
    assert {o.configuration for o in ratio} == {"A", "B"}
    base = [o for o in ratio if o.configuration == "A"]
    assert all(o.estimate.value == 1.0 and o.estimate.interval() == (1.0, 1.0) for o in base)
    assert all("cooling drag" in o.method and "mass" in o.method for o in ratio)
    assert all(o.condition == f"true_airspeed={o.condition_id.split('_')[1]} kt" for o in ratio)
    assert {o.condition_id for o in base} == {o.condition_id for o in ratio}


def test_every_result_says_where_power_comes_from(analysis, noisy):
    said = power_words(noisy[0], "A")
    assert said == "brake power from the logged power, one sigma 2 % shared and 1 % its own"
    made = [o for o in analysis.outcomes if o.metric == "cruise_true_airspeed" and o.estimate]
    assert made
    assert all(said in o.method for o in made)


def test_power_from_a_chart_gives_the_same_curve_with_a_wider_sigma(noisy):
    campaign, segments = noisy
    # a chart that is linear in both, of which these runs are rows: power = 200 n + MP/2
    speeds, pressures = (40.0, 70.0, 100.0), (2e4, 6e4, 2e5)
    chart = tuple((n, mp, 200 * n + 0.5 * mp) for n in speeds for mp in pressures)
    airplane = replace(
        campaign.airplanes["one"], power_from="power chart", power_chart=chart
    )
    typed = replace(
        campaign, airplanes={"one": airplane},
        defaults_used=(*campaign.defaults_used, "power"),
    )  # fmt: skip
    own = levels(segments).reset_index(drop=True)
    state = make_state(campaign, own, Draws(0))
    standard = (288.15 - 0.0065 * state.pressure_altitude_m[0]) / state.temperature_k[0]
    dry = 1 - state.vapour_pa[0] / state.pressure_pa[0]
    at_standard = own["power_w"].to_numpy() / np.sqrt(standard) / dry
    own["manifold_pressure_pa"] = 2 * (at_standard - 200 * own["engine_speed_rps"])
    own["power_w"] = np.nan
    _, fits = reduce_levels(typed, own, Draws(0))
    _, logged = reduce_levels(campaign, levels(segments), Draws(0))
    for name in "AB":
        same = logged[name].coefficients[0, :2]
        assert fits[name].coefficients[0, :2] == pytest.approx(same, rel=2e-3)
    assert "power chart, one sigma 4 %" in power_words(typed, "A")


def test_one_flight_of_a_configuration_has_no_scatter_of_its_own(noisy):
    campaign, segments = noisy
    keep = [f.id for f in campaign.flights if f.configuration == "A"]
    keep += [f.id for f in campaign.flights if f.configuration == "B"][:1]
    found = analyse(campaign, segments[segments["flight"].isin(keep)], DRAWS)
    mine = [o for o in found.outcomes if o.configuration == "B" and o.estimate is not None]
    assert {o.metric for o in mine} >= {"cruise_true_airspeed", "best_rate_airspeed"}
    assert all(o.basis == ASSUMED for o in mine)


def test_check_climbs_alone_give_no_best_airspeed_and_say_what_to_fly(noisy):
    campaign, segments = noisy
    own = climbs(segments)
    checks = own[own.groupby("flight").cumcount() < 2]
    fits, reasons = climb_model.fit_climbs(
        campaign, checks, Draws(0), propeller_slopes(campaign, segments), {}
    )
    assert not reasons
    assert not fits["A"].curved
    assert "fly climbs at 5 airspeeds" in fits["A"].reason
    found = analyse(campaign, checks, DRAWS)
    best = [o for o in found.outcomes if o.metric == "best_rate_airspeed"]
    assert [o.status for o in best] == ["refused", "refused"]
    climbed = [o for o in found.outcomes if o.metric == "time_to_climb"]
    assert all(o.status == "ok" for o in climbed)


def test_best_rate_is_the_greatest_of_the_curve(noisy):
    campaign, segments = noisy
    fits, _ = climb_model.fit_climbs(
        campaign, climbs(segments), Draws(0), propeller_slopes(campaign, climbs(segments)), {}
    )
    found = {(o.metric, o.condition_id, o.configuration): o for o in
             analyse(campaign, climbs(segments), DRAWS).outcomes}  # fmt: skip
    fit = fits["A"]
    best = found["best_rate_airspeed", "bestrate_1", "A"].estimate.value
    rate = found["climb_rate", "bestrate_1", "A"].estimate.value
    around = fit.rate(fit.coefficients[:1], best + np.array([-2.0, 0.0, 2.0]), 0)[0]
    assert around[1] == pytest.approx(rate, abs=1e-3)
    assert around[1] > max(around[0], around[2])


def test_a_ceiling_far_above_the_climbs_is_refused_with_the_climb_to_fly(analysis):
    ceiling = [o for o in analysis.outcomes if o.metric == "service_ceiling"]
    assert [o.status for o in ceiling] == ["refused", "refused"]
    assert all("fly climbs through" in o.reason for o in ceiling)


def test_time_fuel_and_distance_hang_together(analysis, noisy):
    found = {o.metric: o.estimate.value for o in analysis.outcomes
             if o.condition_id == "toclimb" and o.configuration == "A"}  # fmt: skip
    low, high = noisy[0].reference.climb_pressure_altitudes_m
    speed = found["distance_to_climb"] / found["time_to_climb"]
    assert speed == pytest.approx(62 * KT * 1.035, rel=0.02)
    rate = (high - low) / found["time_to_climb"]
    own = [o.estimate.value for o in analysis.outcomes if o.metric == "climb_rate"
           and o.condition_id in ("climb_1", "climb_2") and o.configuration == "A"]  # fmt: skip
    assert min(own) < rate < max(own)


def test_an_acceleration_flown_on_the_curve_of_the_climbs_agrees_with_it(clean):
    """Windows made from sawtooth climbs: the same excess power, gone into speed."""
    campaign, segments = clean
    own = climbs(segments).reset_index(drop=True)
    own = own[own["condition_id"] == "climb_1"].copy()
    shown = own["indicated_airspeed_ms"].to_numpy()
    growth = own["pressure_altitude_rate_ms"].to_numpy() * 9.80665 / shown / 1.02
    own["indicated_airspeed_rate_ms2"] = growth
    own["ground_speed_rate_ms2"] = np.nan
    own["pressure_altitude_rate_ms"] = 0.0
    own["kind"] = "acceleration"
    own["condition_id"] = [f"acceleration_{n}" for n in range(len(own))]
    slopes = propeller_slopes(campaign, segments)
    fits, _ = climb_model.fit_climbs(campaign, climbs(segments), Draws(0), slopes, {})
    table = reduce_accelerations(campaign, own, DRAWS, slopes, fits)
    known = table[table["difference"].notna()]
    assert len(known) > 20
    assert known["difference"].abs().max() < 60  # ft/min
    assert (known["rate_low"] < known["rate"]).all()


def test_the_tables_of_the_propeller_and_of_performance(noisy, analysis):
    campaign, _ = noisy
    propellers = airplane_tables.propeller_table(campaign, analysis.fits)
    assert propellers["ideal_efficiency [-]"].between(0.85, 0.99).all()
    governed = propellers[propellers["configuration"] == "B"]
    assert governed["advance_ratio [-]"].is_monotonic_increasing
    fixed = propellers[propellers["configuration"] == "A"]
    assert fixed["engine_speed [rpm]"].is_monotonic_increasing
    assert np.ptp(fixed["advance_ratio [-]"]) < 0.06  # level flight at one loading, nearly
    reference, airplane = campaign.reference, campaign.airplanes["one"]
    for name in "AB":
        fit = analysis.fits[name]
        table = airplane_tables.performance_table(
            campaign, fit, [0.65], reference.weight_kg, reference.cruise_pressure_altitude_m
        )
        known = cruise_at(fit, airplane, reference, 0.65).values["cruise_true_airspeed"][0]
        assert table["true_airspeed [kt]"][0] == pytest.approx(known / KT, abs=0.06)


def test_powers_outside_of_what_was_flown_are_refused_in_the_table(noisy, analysis):
    table = airplane_tables.performance_table(
        noisy[0], analysis.fits["A"], [0.3], 600.0, 1200.0
    )
    assert "outside" in table["reason"][0]


def test_the_polar_is_called_effective_and_carson_is_named(noisy, analysis):
    words = airplane_tables.effective_polar(noisy[0], analysis.fits["A"])
    assert "effective" in words
    assert "Carson" in words
    assert "glide" in words


def test_a_flight_that_contradicts_the_others_is_named(noisy):
    campaign, segments = noisy
    bad = [f.id for f in campaign.flights if f.configuration == "A"][2]
    changed = segments.copy()
    changed.loc[changed["flight"] == bad, "power_w"] *= 1.12
    fits = analyse(campaign, levels(changed), Draws(2)).fits
    table = airplane_tables.agreement_table(campaign, changed, fits, {"A": 2100.0, "B": 5000.0})
    named = table[(table["test"] == "level runs") & table["contradicts"]]
    assert [bad in words for words in named["words"]].count(True) == 1
    static = table[table["test"] == "take-off static thrust"]
    assert list(static["contradicts"]) == [False, True]
    assert "momentum theory" in static["words"].iloc[1]


def test_climbs_on_opposite_tracks_come_together_where_the_headwind_grew(clean):
    """Without noise: check climbs flown twice, the second with the shear from behind."""
    campaign, segments = clean
    own = climbs(segments)
    into = own[own.groupby("flight").cumcount() < 2].reset_index(drop=True)
    away = into.copy()
    shear = 0.006 * into["pressure_altitude_rate_ms"]
    for frame, sign in ((into, -1.0), (away, 1.0)):
        lifted = sign * frame["ground_speed_ms"] / 9.80665 * shear
        frame["ground_speed_rate_ms2"] += sign * shear
        frame["pressure_altitude_rate_ms"] -= lifted
    into["track_rad"], away["track_rad"] = 1.4, 1.4 + np.pi
    away["point"] = away["point"] + "-back"
    pairs = airplane_tables.reciprocal_table(campaign, pd.concat([into, away]))
    assert len(pairs) == 2 * len(campaign.flights)
    assert (pairs["difference [ft/min]"].abs() < 6).all()
    assert (pairs["difference, uncorrected [ft/min]"] > 25).all()
