"""Range and specific range against published figures, draws and bad input."""

from __future__ import annotations

import pytest

from stdday import range_fuel
from stdday.errors import InputError
from tests.performance_support import HP, KT, LB, check_draws, compare, published
from tests.published_values import identity

GALLON = 3.785411784e-3
PUBLISHED = published("range")


def breguet(inputs):
    consumption = inputs["sfc_lb_per_hp_h"] * LB / (HP * 3600)
    weights = inputs["weight_start_lb"] * LB, inputs["weight_end_lb"] * LB
    metres = range_fuel.breguet_range_m(
        inputs["eta"], consumption, inputs["L_over_D"], *weights
    )
    # what the textbook puts before eta/c L/D ln(W0/W1), in nautical miles
    constant = HP * 3600 / (LB * 9.80665) / 1852
    return {"range_nm": metres / 1852, "constant_nm": constant}


def specific(inputs):
    flow = inputs["fuel_gal_per_h"] * GALLON / 3600
    found = range_fuel.specific_range_m_m3(inputs["tas_kt"] * KT, flow)
    return {"nm_per_gal": found * GALLON / 1852}


CASES = {"PWR-RANGE-01": breguet, "PWR-SR-01": specific}


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published_figures(item):
    compare(item, CASES[item["id"]](item["inputs"]))


def test_every_published_item_has_a_case():
    assert set(CASES) == {item["id"] for item in PUBLISHED}


def test_draws():
    check_draws(range_fuel.breguet_range_m, (0.8, 7.6e-8, 11.0, 1089.0, 980.0))
    check_draws(range_fuel.specific_range_m_m3, (53.0, 5e-6))


def test_a_flight_does_not_end_heavier_than_it_began():
    with pytest.raises(InputError, match="start over end weight"):
        range_fuel.breguet_range_m(0.8, 7.6e-8, 11.0, 980.0, 1089.0)


def test_fuel_flow_in_the_wrong_unit_is_told():
    with pytest.raises(InputError, match="20 L/h is"):
        range_fuel.specific_range_m_m3(53.0, 18.0)
