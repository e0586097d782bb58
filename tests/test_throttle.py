"""Full throttle of the reference day: what changes with the day, and what must not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from data_demo import air
from data_demo import airplane as truth
from stdday import atmosphere
from stdday.campaign import Campaign, load_campaign
from stdday.state import State, make_state
from stdday.throttle import Throttle, full_throttle_reference, propeller_slopes
from stdday.uncertainty import Draws
from tests.benchmarks import campaigns

KT = campaigns.KT


@pytest.fixture(scope="module")
def flown() -> tuple[Campaign, pd.DataFrame]:
    demo = load_campaign(campaigns.DEMO)
    world = campaigns.World(demo, seed=4, size=0.0)
    campaign = campaigns.make_flights(demo, world)
    world.campaign = campaign
    return campaign, campaigns.make_segments(campaign, world)


def _climb_state(campaign: Campaign, segments: pd.DataFrame) -> State:
    rows = segments[segments["condition_id"] == "climb_2"].reset_index(drop=True)
    return make_state(campaign, rows, Draws(0))


def _same_day(state: State, slopes: dict[str, float]) -> Throttle:
    return full_throttle_reference(
        state, Draws(0), slopes, state.true_ms, state.true_ms,
        state.pressure_altitude_m[0], state.temperature_k[0], hold_speed=True,
    )  # fmt: skip


def test_the_slope_of_a_fixed_pitch_is_found_and_only_of_that(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    slopes = propeller_slopes(*flown)
    assert set(slopes) == {"A"}
    assert -0.2 < slopes["A"] < 0  # power coefficient falls with advance ratio


def test_nothing_changes_on_the_day_that_was_flown(flown: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = flown
    dry = replace(
        campaign,
        flights=tuple(replace(f, reported_dew_point_k=210.0) for f in campaign.flights),
    )
    state = _climb_state(dry, segments)
    found = _same_day(state, propeller_slopes(dry, segments))
    assert found.reference_power_w == pytest.approx(found.test_power_w, rel=2e-3)
    assert found.reference_speed_rps == pytest.approx(found.test_speed_rps, rel=2e-3)


def test_power_and_speed_of_the_reference_day_meet_a_richer_engine(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    state = _climb_state(campaign, segments)
    altitude = np.full(len(state.flights), 4000 * 0.3048)
    temperature = np.asarray(atmosphere.standard_temperature_k(altitude))
    reference_true = air.true_ms(62 * KT, air.standard_pressure_pa(altitude), temperature)
    found = full_throttle_reference(
        state, Draws(0), propeller_slopes(campaign, segments), state.true_ms,
        np.broadcast_to(reference_true, state.true_ms.shape), altitude, temperature,
        hold_speed=False,
    )  # fmt: skip
    for place, name in enumerate(state.configurations):
        climb = truth.climb_state(
            truth.CONFIGURATIONS[name], 62 * KT, *truth.standard_air(altitude[place]), 600.0
        )
        # two different lapse laws over days of 4 to 26 degC: measured to agree within 1.7 %
        assert found.reference_power_w[0, place] == pytest.approx(float(climb.power_w), rel=0.02)
        assert found.reference_speed_rps[0, place] == pytest.approx(
            float(climb.speed_rps), rel=0.01
        )


def test_a_fixed_pitch_turns_faster_where_the_air_is_thin_for_the_same_power(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    state = _climb_state(campaign, segments)
    slopes = propeller_slopes(campaign, segments)
    low = full_throttle_reference(
        state, Draws(0), slopes, state.true_ms, state.true_ms,
        np.zeros(len(state.flights)), np.full(len(state.flights), 288.15), hold_speed=True,
    )  # fmt: skip
    fixed = np.array(state.configurations) == "A"
    assert (low.reference_power_w[0, fixed] > low.test_power_w[0, fixed]).all()
    assert low.reference_speed_rps[0, ~fixed] == pytest.approx(low.test_speed_rps[0, ~fixed])


def test_no_power_recorded_is_taken_from_the_rating_and_said(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    state = _climb_state(campaign, segments.assign(power_w=np.nan))
    found = _same_day(state, {})
    assert all("taken from the rating" in note for note in found.notes)
    assert ((found.test_power_w > 40e3) & (found.test_power_w < 78e3)).all()


def test_no_engine_speed_is_said(flown: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = flown
    state = _climb_state(campaign, segments.assign(engine_speed_rps=np.nan))
    found = _same_day(state, {})
    fixed = [note for note, c in zip(found.notes, state.configurations, strict=True) if c == "A"]
    assert all("no engine speed recorded" in note for note in fixed)
    assert np.isfinite(found.reference_power_w).all()
