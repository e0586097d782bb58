"""Indicated to calibrated airspeed: the table, its edges, and what no table costs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stdday.calibrate import calibrated_airspeed_ms, calibration_sigma_ms, has_calibration
from stdday.campaign import Campaign, load_campaign
from stdday.uncertainty import Draws
from tests.benchmarks.campaigns import DEMO, KT

TABLE = ((40 * KT, 42 * KT), (80 * KT, 81 * KT), (120 * KT, 119 * KT))


@pytest.fixture(scope="module")
def campaign() -> Campaign:
    demo = load_campaign(DEMO)
    return replace(
        demo, airplanes={"one": replace(demo.airplanes["one"], airspeed_calibration=TABLE)}
    )


def _bare(campaign: Campaign, word: str) -> Campaign:
    return replace(
        campaign, airplanes={"one": replace(campaign.airplanes["one"], airspeed_calibration=word)}
    )


@pytest.mark.parametrize(
    ("indicated_kt", "calibrated_kt"),
    [(40, 42), (60, 61.5), (80, 81), (100, 100), (120, 119), (30, 32), (140, 139)],
)
def test_the_table_is_interpolated_and_its_end_corrections_held(
    campaign: Campaign, indicated_kt: float, calibrated_kt: float
) -> None:
    found = calibrated_airspeed_ms(
        campaign, campaign.flights[:1], [indicated_kt * KT], Draws(0)
    )
    assert found[0, 0] / KT == pytest.approx(calibrated_kt)


def test_sigma_grows_outside_of_the_table(campaign: Campaign) -> None:
    airplane = campaign.airplanes["one"]
    inside, slow, slower = calibration_sigma_ms(campaign, airplane, np.array([60, 30, 20]) * KT)
    assert inside == pytest.approx(campaign.sigma("airspeed_calibration_table"))
    # a tenth of a knot for each knot beyond the last leg, added in quadrature
    assert slow == pytest.approx(np.hypot(inside, 1.0 * KT))
    assert slower > slow


@pytest.mark.parametrize("word", ["none", "from flights"])
def test_without_a_table_airspeed_is_known_to_3_kt_and_2_per_cent(
    campaign: Campaign, word: str
) -> None:
    bare = _bare(campaign, word)
    airplane = bare.airplanes["one"]
    assert not has_calibration(airplane)
    assert calibration_sigma_ms(bare, airplane, 100 * KT) == pytest.approx(np.hypot(3, 2) * KT)
    found = calibrated_airspeed_ms(bare, bare.flights[:1], [55 * KT], Draws(0))
    assert found[0, 0] == pytest.approx(55 * KT)


def test_draws_have_the_declared_size_at_every_airspeed(campaign: Campaign) -> None:
    flights = [campaign.flights[0]] * 3
    draws = Draws(20_000, seed=2)
    found = calibrated_airspeed_ms(campaign, flights, np.array([45, 75, 110]) * KT, draws)
    wanted = np.hypot(
        campaign.sigma("airspeed_calibration_table"),
        campaign.sigma("airspeed_between_configurations"),
    )
    assert found[1:].std(axis=0) == pytest.approx(wanted, rel=0.02)


def test_only_the_part_of_an_installation_is_common_to_both_configurations(
    campaign: Campaign,
) -> None:
    pair = [
        next(f for f in campaign.flights if f.configuration == name) for name in ("A", "B")
    ]
    found = calibrated_airspeed_ms(campaign, pair, [60 * KT] * 2, Draws(20_000, seed=2))[1:]
    own = campaign.sigma("airspeed_between_configurations")
    assert np.std(found[:, 0] - found[:, 1]) == pytest.approx(np.sqrt(2) * own, rel=0.02)
