"""The state of a test point: recorded, standing in for what is absent, or decided by a person."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from stdday import atmosphere
from stdday.campaign import Campaign, load_campaign
from stdday.state import State, make_state
from stdday.uncertainty import Draws
from tests.benchmarks import campaigns


@pytest.fixture(scope="module")
def flown() -> tuple[Campaign, pd.DataFrame]:
    demo = load_campaign(campaigns.DEMO)
    world = campaigns.World(demo, seed=9, size=0.0)
    campaign = campaigns.make_flights(demo, world)
    world.campaign = campaign
    segments = campaigns.make_segments(campaign, world)
    return campaign, segments[segments["kind"] == "level run"].reset_index(drop=True)


def _changed(campaign: Campaign, **changes: object) -> Campaign:
    return replace(campaign, flights=tuple(replace(f, **changes) for f in campaign.flights))


def _state(campaign: Campaign, segments: pd.DataFrame, draws: int = 0) -> State:
    return make_state(campaign, segments, Draws(draws, seed=1))


def test_weight_is_the_take_off_weight_less_fuel_burnt(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    state = _state(campaign, segments.assign(fuel_used_m3=0.020))
    start = [flight.takeoff_weight_kg for flight in state.flights]
    assert state.weight_kg[0] == pytest.approx(np.array(start) - 20 * 0.72)


def test_without_fuel_flow_the_fuel_burnt_is_assumed_and_said(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    rows = segments.assign(fuel_used_m3=np.nan, elapsed_since_first_takeoff_s=3600.0)
    state = _state(campaign, rows)
    burnt = np.array([f.takeoff_weight_kg for f in state.flights]) - state.weight_kg[0]
    # an hour at 60 % of 78 kW at 0.29 kg/kWh
    assert burnt == pytest.approx(0.6 * 78 * 0.29)
    assert all("no fuel flow" in " ".join(notes) for notes in state.notes)


def test_a_weight_not_given_lies_between_lightest_and_heaviest(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    state = _state(_changed(campaign, takeoff_weight_kg=None), segments, draws=4000)
    # 336 kg empty and one occupant of 75 kg, to 600 kg
    assert state.weight_kg[0] == pytest.approx((336 + 75 + 600) / 2)
    assert state.weight_kg[1:].std(axis=0) == pytest.approx(189 / np.sqrt(12), rel=0.05)


def test_a_decided_weight_holds_at_the_point(flown: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = flown
    rows = segments.assign(fuel_used_m3=0.020, decided_weight_kg=np.nan)
    rows.loc[3, "decided_weight_kg"] = 512.0
    state = _state(campaign, rows)
    assert state.weight_kg[0, 3] == 512.0
    assert state.weight_kg[0, 2] != 512.0
    assert "weight as decided" in state.notes[3]


def test_a_missing_dew_point_is_drawn_common_to_a_block(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    state = _state(_changed(campaign, reported_dew_point_k=None), segments, draws=400)
    blocks = np.array([flight.block for flight in state.flights])
    spread = state.vapour_pa[1:] / state.vapour_pa[0]
    one = np.flatnonzero(blocks == "A1")[:2]
    other = np.flatnonzero(blocks == "B1")[0]
    assert np.corrcoef(spread[:, one[0]], spread[:, one[1]])[0, 1] > 0.95
    assert abs(np.corrcoef(spread[:, one[0]], spread[:, other])[0, 1]) < 0.3
    assert all("no dew point" in " ".join(notes) for notes in state.notes)


def test_air_is_never_more_than_saturated(flown: tuple[Campaign, pd.DataFrame]) -> None:
    campaign, segments = flown
    wet = _changed(campaign, reported_dew_point_k=305.0)
    state = _state(wet, segments)
    assert (state.vapour_pa <= np.asarray(atmosphere.vapour_pressure_pa(state.temperature_k))).all()


def test_a_temperature_not_recorded_is_carried_up_from_the_field(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    state = _state(campaign, segments.assign(outside_air_temperature_k=np.nan))
    for place, flight in enumerate(state.flights):
        assert flight.reported_temperature_k is not None
        climbed = state.pressure_altitude_m[0, place]
        assert state.temperature_k[0, place] == pytest.approx(
            flight.reported_temperature_k - 0.0065 * climbed, abs=1.5
        )
        assert "carried up from the field" in " ".join(state.notes[place])


def test_power_from_fuel_flow_is_less_sure_where_the_mixture_was_not_written_down(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    airplane = replace(
        campaign.airplanes["one"], power_from="fuel flow", specific_consumption_kg_j=0.29 / 3.6e6
    )
    bare = replace(campaign, airplanes={"one": airplane}, defaults_used=("power",))

    def sigma(mixture: str | None) -> float:
        state = _state(_changed(bare, mixture=mixture), segments, draws=4000)
        return float((state.power_w[1:, 0] / state.power_w[0, 0]).std())

    assert sigma("best power") == pytest.approx(0.05, rel=0.1)
    assert sigma(None) == pytest.approx(0.10, rel=0.1)


# ---- ram rise of the temperature probe -----------------------------------------------------------


def _probed(campaign: Campaign, factor: float | None) -> Campaign:
    airplane = replace(campaign.airplanes["one"], temperature_recovery_factor=factor)
    return replace(campaign, airplanes={"one": airplane})


def test_the_ram_rise_is_taken_off_what_the_probe_shows(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    """K V^2/7592 in degC, true airspeed in kt: printed constant, from a secondary copy."""
    campaign, segments = flown
    shown = segments["outside_air_temperature_k"].to_numpy()
    state = _state(_probed(campaign, 0.75), segments)
    rise = 0.75 * (state.true_ms[0] * 3600 / 1852) ** 2 / 7592
    assert shown - state.temperature_k[0] == pytest.approx(rise, rel=0.01)
    assert rise.max() > 0.5
    assert _state(_probed(campaign, 0.0), segments).temperature_k[0] == pytest.approx(shown)
    assert not any("recovery" in " ".join(notes) for notes in state.notes)


def test_a_recovery_factor_not_given_is_drawn_evenly_and_said(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    sharp = _probed(replace(campaign, uncertainty=campaign.uncertainty | {
        "outside_air_temperature_bias": 1e-9, "airspeed_calibration_table": 1e-9,
        "airspeed_between_configurations": 1e-9}), None)
    state = _state(sharp, segments, draws=4000)
    none, whole = (_state(_probed(campaign, factor), segments).temperature_k[0]
                   for factor in (0.0, 1.0))
    share = (none - state.temperature_k) / (none - whole)
    assert share[0] == pytest.approx(0.5, abs=0.01)
    assert share[1:].min() > -0.02
    assert share[1:].max() < 1.02
    assert share[1:].std(axis=0) == pytest.approx(12**-0.5, rel=0.05)
    assert np.corrcoef(share[1:, 0], share[1:, -1])[0, 1] > 0.99
    assert all("recovery factor" in " ".join(notes) for notes in state.notes)


def test_reported_temperatures_and_those_on_the_ground_keep_theirs(
    flown: tuple[Campaign, pd.DataFrame],
) -> None:
    campaign, segments = flown
    lapsed = segments.assign(outside_air_temperature_k=np.nan)
    ground = segments.assign(kind="landing")
    for rows in (lapsed, ground):
        none, whole = (_state(_probed(campaign, factor), rows) for factor in (0.0, 1.0))
        assert none.temperature_k[0] == pytest.approx(whole.temperature_k[0])
        assert not any("recovery" in " ".join(notes) for notes in whole.notes)
