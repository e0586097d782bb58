"""Corrections against an airplane that is richer than the reducer, and what they refuse.

Truth is the demo's airplane, whose engine, propellers, drag and take-off roll follow other laws
than the reducer's. Without noise and errors, what is left is the reducer's own model mismatch.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from stdday import ledger, reduce_level
from stdday.balance import flown_apart
from stdday.campaign import Campaign, load_campaign
from stdday.compare import Effect, compare
from stdday.draw_fit import DrawSums
from stdday.outcome import ASSUMED, Analysis, analyse
from stdday.state import State
from stdday.statistics import cluster_fit
from stdday.uncertainty import Draws
from tests.benchmarks import campaigns

DRAWS = Draws(40, seed=3)


@pytest.fixture(scope="module")
def demo() -> Campaign:
    return load_campaign(campaigns.DEMO)


@pytest.fixture(scope="module")
def clean(demo: Campaign) -> tuple[Campaign, pd.DataFrame]:
    world = campaigns.World(demo, seed=11, size=0.0)
    flown = campaigns.make_flights(demo, world)
    world.campaign = flown
    return flown, campaigns.make_segments(flown, world)


@pytest.fixture(scope="module")
def analysis(clean: tuple[Campaign, pd.DataFrame]) -> Analysis:
    return analyse(*clean, DRAWS)


def _effects(campaign: Campaign, found: Analysis) -> dict[tuple[str, str], Effect]:
    effects = compare(campaign, found.outcomes, flown_apart(campaign, found.reduced))
    return {(e.b.metric, e.b.condition_id): e for e in effects}


# share of the value that the reducer's simpler laws may be off over the demo's range of weights
# (515 to 595 kg corrected to 600), temperatures (4 to 26 degC) and winds (0 to 11 kt)
MISMATCH = {
    "takeoff_ground_roll": 0.015,
    "takeoff_time_to_liftoff": 0.015,
    "climb_rate": 0.02,
    "climb_gradient": 0.02,
    "cruise_true_airspeed": 0.01,
    # mixture near full throttle: the reducer draws 1.5 % (one sigma) for it
    "fuel_flow": 0.03,
    "specific_range": 0.03,
}


def test_corrected_values_meet_the_truth_of_a_richer_airplane(
    demo: Campaign, analysis: Analysis
) -> None:
    truth = campaigns.reference_truth(demo)
    checked = 0
    for outcome in analysis.outcomes:
        key = (outcome.metric, outcome.condition_id, outcome.configuration)
        if outcome.estimate is None or key not in truth:
            continue
        assert outcome.estimate.value == pytest.approx(truth[key], rel=MISMATCH[key[0]]), key
        checked += 1
    assert checked >= 20


def test_the_ledger_is_a_chain_without_gaps(analysis: Analysis) -> None:
    for reduced in analysis.reduced:
        rows = pd.DataFrame(reduced.ledger)
        if rows.empty:
            continue
        for _, own in rows.groupby(["point", "metric", "condition_id", "quantity"], sort=False):
            assert np.allclose(own["before"].iloc[1:], own["after"].iloc[:-1])
            assert np.allclose(own["after"] - own["before"], own["change"])
            assert (own["source"].str.len() > 5).all()


def test_the_ledger_ends_at_the_value_of_the_point(analysis: Analysis) -> None:
    roll = next(r for r in analysis.reduced if r.metric == "takeoff_ground_roll")
    last = pd.DataFrame(roll.ledger).groupby("point", sort=False)["after"].last()
    assert last.to_numpy() == pytest.approx(roll.values[0])


@pytest.mark.parametrize(
    ("step", "change", "shorter"),
    [
        # a tailwind makes the roll longer: corrected to still air it shrinks
        ("no wind", {"wind": np.pi}, True),
        # a headwind makes it shorter: corrected it grows
        ("no wind", {"wind": 0.0}, False),
    ],
)
def test_wind_is_taken_out_in_the_right_direction(
    demo: Campaign, step: str, change: dict[str, float], shorter: bool
) -> None:
    world = campaigns.World(demo, seed=2, size=0.0)
    flown = campaigns.make_flights(demo, world)
    flights = tuple(
        replace(
            flight,
            reported_wind_from_rad=campaigns.RUNWAY + change["wind"],
            reported_wind_speed_ms=4.0,
        )
        for flight in flown.flights
    )
    world.campaign = flown = replace(flown, flights=flights)
    segments = campaigns.make_segments(flown, world)
    rows = pd.DataFrame(
        next(
            r for r in analyse(flown, segments, DRAWS).reduced if r.metric == "takeoff_ground_roll"
        ).ledger
    )
    own = rows[rows["step"] == step]
    assert len(own) == 22
    assert ((own["change"] < 0) == shorter).all()


def _with_flights(campaign: Campaign, **changes: object) -> Campaign:
    flights = tuple(replace(flight, **changes) for flight in campaign.flights)
    return replace(campaign, flights=flights)


def test_without_any_wind_a_take_off_is_refused_and_says_why(
    clean: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = clean
    airplane = replace(campaign.airplanes["one"], airspeed_calibration="none")
    still = _with_flights(
        replace(campaign, airplanes={"one": airplane}),
        reported_wind_speed_ms=None,
        reported_wind_from_rad=None,
    )
    outcome = next(
        o for o in analyse(still, segments, DRAWS).outcomes if o.metric == "takeoff_ground_roll"
    )
    assert outcome.status == "refused"
    assert "no wind known" in outcome.reason


def test_without_calibration_the_reported_wind_stands_alone(
    clean: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = clean
    airplane = replace(campaign.airplanes["one"], airspeed_calibration="none")
    bare = replace(campaign, airplanes={"one": airplane})
    rows = [
        row
        for reduced in analyse(bare, segments, DRAWS).reduced
        for row in reduced.ledger.to_dict("records")
        if row["step"] == "no wind"
    ]
    assert rows
    assert all("0 % from true airspeed minus ground speed" in str(row["inputs"]) for row in rows)


def test_an_uncalibrated_airspeed_costs_width(
    clean: tuple[Campaign, pd.DataFrame], analysis: Analysis
) -> None:
    campaign, segments = clean
    airplane = replace(campaign.airplanes["one"], airspeed_calibration="none")
    bare = analyse(replace(campaign, airplanes={"one": airplane}), segments, DRAWS)

    def width(found: Analysis) -> float:
        outcome = next(
            o
            for o in found.outcomes
            if (o.metric, o.condition_id) == ("cruise_true_airspeed", "cruise_75")
        )
        assert outcome.estimate is not None
        low, high = outcome.estimate.interval()
        return high - low

    assert width(bare) > 1.5 * width(analysis)


def test_another_surface_is_refused(clean: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = clean
    wet = _with_flights(campaign, runway_condition="wet")
    roll = next(
        r for r in analyse(wet, segments, DRAWS).reduced if r.metric == "takeoff_ground_roll"
    )
    assert not roll.points
    assert all("surfaces are never pooled" in reason for reason in roll.refused.values())


def test_a_climb_far_from_the_common_airspeed_is_refused(
    clean: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = clean
    fast = segments.copy()
    first = fast.index[fast["kind"] == "climb"][0]
    fast.loc[first, "indicated_airspeed_ms"] += 5.0
    climb = next(r for r in analyse(campaign, fast, DRAWS).reduced if r.metric == "climb_rate")
    assert "from the common airspeed" in climb.refused[fast.loc[first, "point"]]


def test_a_run_that_was_not_level_is_refused(clean: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = clean
    sinking = segments.copy()
    first = sinking.index[sinking["kind"] == "level run"][0]
    sinking.loc[first, "pressure_altitude_rate_ms"] = 0.6
    level = next(r for r in analyse(campaign, sinking, DRAWS).reduced if r.condition_id == "cruise")
    assert "energy step" in level.refused[sinking.loc[first, "point"]]


def test_no_power_means_no_cruise_result(clean: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = clean
    found = analyse(campaign, segments.assign(power_w=np.nan), DRAWS)
    cruise = [o for o in found.outcomes if o.condition_id.startswith("cruise")]
    assert cruise
    assert all(o.status == "refused" for o in cruise)


def test_a_power_that_was_not_flown_is_not_reachable(
    clean: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = clean
    high = replace(campaign, reference=replace(campaign.reference, cruise_power_fraction=(0.95,)))
    cruise = next(
        o for o in analyse(high, segments, DRAWS).outcomes if o.metric == "cruise_true_airspeed"
    )
    assert (cruise.status, cruise.estimate) == ("not reachable", None)
    assert "full throttle gives" in cruise.reason


def test_one_flight_gives_a_value_but_no_verdict(clean: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = clean
    keep = [f.id for f in campaign.flights if f.configuration == "A"]
    keep += [f.id for f in campaign.flights if f.configuration == "B"][:1]
    few = segments[segments["flight"].isin(keep)]
    found = analyse(campaign, few, DRAWS)
    for outcome in found.outcomes:
        if outcome.configuration == "B" and outcome.estimate is not None:
            assert outcome.basis == ASSUMED
            low, high = outcome.estimate.interval()
            assert low < outcome.estimate.value < high
    for effect in _effects(campaign, found).values():
        assert effect.verdict == "not resolved"
    assert "one flight" in _effects(campaign, found)["climb_rate", "climb_1"].reason


def test_one_configuration_is_a_complete_campaign(clean: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = clean
    alone = replace(
        campaign,
        configurations={"A": campaign.configurations["A"]},
        flights=tuple(f for f in campaign.flights if f.configuration == "A"),
    )
    found = analyse(alone, segments[segments["configuration"] == "A"], DRAWS)
    assert {o.configuration for o in found.outcomes} == {"A"}
    assert _effects(alone, found) == {}


def test_configurations_flown_apart_are_confounded(demo: Campaign) -> None:
    world = campaigns.World(demo, seed=5, size=0.0)
    flown = campaigns.make_flights(demo, world)
    flights = tuple(
        replace(f, takeoff_weight_kg=500.0 if f.configuration == "A" else 590.0)
        for f in flown.flights
    )
    world.campaign = flown = replace(flown, flights=flights)
    found = analyse(flown, campaigns.make_segments(flown, world), DRAWS)
    effect = _effects(flown, found)["climb_rate", "climb_1"]
    assert effect.verdict == "not resolved"
    assert effect.reason.startswith("confounded: conditions do not overlap: weight 500 to")


def test_one_change_over_is_said(demo: Campaign) -> None:
    world = campaigns.World(demo, seed=6, size=1.0)
    flown = campaigns.make_flights(demo, world)
    flights = tuple(replace(f, block=f.configuration) for f in flown.flights)
    world.roll |= dict.fromkeys("AB", 0.0)
    world.rise |= dict.fromkeys("AB", 0.0)
    world.drag |= dict.fromkeys("AB", 0.0)
    world.burn |= dict.fromkeys("AB", 0.0)
    world.campaign = flown = replace(flown, flights=flights)
    found = analyse(flown, campaigns.make_segments(flown, world), DRAWS)
    effect = _effects(flown, found)["climb_rate", "climb_1"]
    assert "one change-over" in effect.reason


def test_a_shared_airspeed_error_cancels_in_a_difference(
    clean: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = clean
    only = analyse(campaign, segments, Draws(200, 1, frozenset({"shared"})))
    key = ("cruise_true_airspeed", "cruise_75")
    effect = _effects(campaign, only)[key]
    assert effect.a.estimate is not None
    assert effect.difference is not None
    assert effect.difference.shared_sigma() < 0.2 * effect.a.estimate.shared_sigma()


def test_draws_added_up_flight_by_flight_are_solved_as_all_rows_at_once() -> None:
    random = np.random.default_rng(5)
    design = random.normal(size=(4, 9, 2))
    response = design @ [2.0, -1.0] + 0.1 * random.normal(size=(4, 9))
    fit = cluster_fit(design[0], response[0], list("aabbbccca"))
    sums = DrawSums(fit.whitener, 4, 2)
    for rows in ([2, 3, 4], [0, 1, 8], [5, 6, 7]):
        sums.add(rows, design[:, rows], response[:, rows])
    whole = [
        np.linalg.lstsq(fit.whitening @ x, fit.whitening @ y, rcond=None)[0]
        for x, y in zip(design, response, strict=True)
    ]
    assert sums.solve() == pytest.approx(np.array(whole), rel=1e-9)
    assert sums.solve()[0] == pytest.approx(fit.coefficients, rel=1e-6)


def test_level_runs_hold_the_draws_of_few_points_at_once(
    clean: tuple[Campaign, pd.DataFrame], monkeypatch: pytest.MonkeyPatch
) -> None:
    campaign, segments = clean
    runs = segments[segments["kind"] == "level run"]
    most = int(runs["flight"].value_counts().max())
    monkeypatch.setattr(ledger, "POINTS_AT_ONCE", 1)    # whole flights all the same
    drawn = []
    make = reduce_level.make_state

    def noted(campaign: Campaign, frame: pd.DataFrame, draws: Draws) -> State:
        drawn.append(len(frame))
        return make(campaign, frame, draws)

    monkeypatch.setattr(reduce_level, "make_state", noted)
    _, fits = reduce_level.reduce_levels(campaign, runs, DRAWS)
    assert max(drawn) <= most
    assert sum(drawn) == 3 * len(runs)    # once for the nominal fit, once for each step
    for fit in fits.values():
        assert fit.coefficients.shape == (DRAWS.count + 1, 6)
        assert len(fit.speed_ms) == len(fit.power_w) == len(fit.fuel_m3s) == 1


@pytest.mark.parametrize("altitudes", [(), (304.8,), (304.8, 1219.2, 1828.8)])
def test_an_airplane_may_have_reference_altitudes_of_its_own(
    clean: tuple[Campaign, pd.DataFrame], altitudes: tuple[float, ...]
) -> None:
    campaign, segments = clean
    other = replace(
        campaign.airplanes["one"],
        id="two",
        reference_overrides={"climb_pressure_altitudes_m": altitudes},
    )
    club = replace(
        campaign,
        airplanes={**campaign.airplanes, "two": other},
        configurations={
            **campaign.configurations,
            "B": replace(campaign.configurations["B"], airplane="two"),
        },
    )
    of_b = segments["configuration"] == "B"
    beyond = segments["condition_id"].isin([f"climb_{n}" for n in range(len(altitudes) + 1, 3)])
    found = analyse(club, segments[~(of_b & beyond)], DRAWS)
    stated = {
        o.condition_id
        for o in found.outcomes
        if o.configuration == "B" and o.metric == "climb_rate"
    }
    assert stated == {f"climb_{n + 1}" for n in range(len(altitudes))}
    assert {"climb_1", "climb_2"} <= {
        o.condition_id for o in found.outcomes if o.configuration == "A"
    }
