"""Plausibility of a difference: energy by hand, bounds of momentum theory, tests side by side."""

from __future__ import annotations

import numpy as np
import pytest

from stdday import sense
from stdday.campaign import load_campaign
from stdday.compare import Effect
from stdday.outcome import Outcome
from stdday.statistics import Estimate
from tests.make_campaign import make_campaign

FT_MIN = 0.3048 / 60
KT = 1852 / 3600


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    return load_campaign(make_campaign(tmp_path_factory.mktemp("sense") / "campaign"))


def effect(metric: str, condition_id: str, a: float, step: float, half: float) -> Effect:
    """A difference with an interval of about `half` on each side."""
    sides = [
        Outcome(metric, condition_id, "", name, Estimate(value, half / 1.96, np.inf, np.zeros(2)))
        for name, value in (("A", a), ("B", a + step))
    ]
    known = Estimate(step, half / 1.96, np.inf, np.zeros(2))
    return Effect(sides[0], sides[1], known, None, True)


def test_a_climb_needs_weight_times_rate(campaign) -> None:
    one = sense.make_sense(
        campaign, [effect("climb_rate", "climb_1", 900 * FT_MIN, 100 * FT_MIN, 60 * FT_MIN)]
    )[0]
    airplane = campaign.airplane_of("A")
    reference = campaign.reference_for(airplane.id)
    thrust_power = reference.weight_kg * 9.80665 * 100 * FT_MIN
    assert one.power_w == pytest.approx(thrust_power / airplane.assumed_efficiency[0])
    assert one.efficiency_ratio[1] < one.efficiency_ratio[0] < one.efficiency_ratio[2]
    gain = one.efficiency_ratio[0] - 1
    assert (one.efficiency_ratio[2] - 1) / gain == pytest.approx(1.6, rel=1e-3)
    assert one.drag_area_m2 < 0
    assert one.words.startswith("possible")


def test_a_cruise_gain_goes_with_the_slope_of_the_values(campaign) -> None:
    """Power as the cube of airspeed: 5 % of airspeed needs 15.8 % of power."""
    speeds = {55: 90 * KT, 75: 90 * KT * (75 / 55) ** (1 / 3)}
    found = sense.make_sense(
        campaign,
        [
            effect("cruise_true_airspeed", f"cruise_{power}", speed, 0.05 * speed, 0.01 * speed)
            for power, speed in speeds.items()
        ],
    )
    for one in found:
        assert one.efficiency_ratio[0] == pytest.approx(1.05**3, rel=1e-6)


def test_a_shorter_roll_needs_thrust(campaign) -> None:
    shorter, longer = (
        sense.make_sense(campaign, [effect("takeoff_ground_roll", "takeoff", 150.0, step, 5.0)])[0]
        for step in (-15.0, 15.0)
    )
    reference = campaign.reference_for(campaign.airplane_of("A").id)
    kinetic = reference.weight_kg * reference.liftoff_airspeed_ms**2 / 2   # close to sea level
    assert shorter.thrust_n == pytest.approx(kinetic / 135 - kinetic / 150, rel=0.02)
    assert shorter.efficiency_ratio[0] > 1 > longer.efficiency_ratio[0]
    assert np.isnan(shorter.drag_area_m2)


def test_more_than_momentum_theory_allows_is_called_so(campaign) -> None:
    one = sense.make_sense(
        campaign, [effect("climb_rate", "climb_1", 900 * FT_MIN, 700 * FT_MIN, 60 * FT_MIN)]
    )[0]
    assert one.needed_efficiency > one.bound
    assert one.words.startswith("not possible by the propeller alone")


def test_tests_that_contradict_each_other_are_named(campaign) -> None:
    climb = effect("climb_rate", "climb_1", 900 * FT_MIN, 150 * FT_MIN, 20 * FT_MIN)
    against = effect("cruise_true_airspeed", "cruise_75", 100 * KT, -5 * KT, 1 * KT)
    alike = effect("cruise_true_airspeed", "cruise_75", 100 * KT, 6 * KT, 3 * KT)
    apart = sense.agreement(sense.make_sense(campaign, [climb, against]))
    assert len(apart) == 1
    assert "does not explain climb and cruise" in apart[0]
    agreed = sense.agreement(sense.make_sense(campaign, [climb, alike]))
    assert "do not contradict" in agreed[0]
    assert sense.agreement(sense.make_sense(campaign, [climb])) == []


def test_nothing_is_said_without_a_difference(campaign) -> None:
    known = effect("climb_rate", "climb_1", 4.0, 0.5, 0.1)
    refused = Effect(known.a, known.b, None, None, True)
    assert sense.make_sense(campaign, [refused]) == []


