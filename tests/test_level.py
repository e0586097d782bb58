"""Level flight against published figures, root finding, round trips, and bad input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from stdday import climb, level, takeoff
from stdday.errors import InputError
from tests.performance_support import (
    FT,
    HP,
    KT,
    LB,
    LBF,
    MPH,
    SLUG_FT3,
    check_draws,
    compare,
    functions_of,
    published,
    steady,
)
from tests.published_values import identity

PUBLISHED = published("level")
SEA_LEVEL = 0.0023769 * SLUG_FT3


def reduced(inputs):
    weights = inputs["weight_test_lb"] * LB, inputs["weight_std_lb"] * LB
    power, true = inputs["brake_power_hp"] * HP, inputs["tas_kt"] * KT
    return {
        "PIW_hp": level.power_index_w(power, inputs["sigma"], *weights) / HP,
        "VIW_kt": level.airspeed_index_ms(true, inputs["sigma"], *weights) / KT,
    }


def airframe(inputs):
    return (
        inputs["rho0_slugft3"] * SLUG_FT3,
        inputs["wing_area_ft2"] * FT**2,
        inputs["span_ft"] * FT,
        inputs["weight_lb"] * LBF,
        1.0,
    )


def fitted(inputs):
    speed = np.array(inputs["eas_kt"])
    power = np.array(inputs["thrust_power_required_hp"])
    slope, intercept = np.polyfit(speed**4, power * speed, 1)
    knot = inputs["kt_to_ftps"] * FT
    cd0, e = level.drag_polar_from_power(
        slope * HP / knot**3, intercept * HP * knot, *airframe(inputs)
    )
    return {
        "slope_hp_per_kt3": slope, "intercept_hp_kt": intercept, "CD0": cd0, "oswald_e": e
    }  # fmt: skip


def characteristic(inputs):
    curve = level.power_curve_from_polar(inputs["CD0"], inputs["oswald_e"], *airframe(inputs))
    speeds = level.characteristic_speeds(*curve)
    named = {
        "min_drag": speeds.minimum_drag_ms,
        "min_power": speeds.minimum_power_ms,
        "carson": speeds.carson_ms,
    }
    got = {f"V_{name}_kt": speed / KT for name, speed in named.items()}
    powers = {name: level.power_required_w(speed, *curve) for name, speed in named.items()}
    got |= {f"thp_{name}": power / HP for name, power in powers.items()}
    weight = inputs["weight_lb"] * LBF
    return got | {"max_L_over_D": weight * named["min_drag"] / powers["min_drag"]}


def carson(inputs):
    assert inputs == {}
    curve = 0.25, 4e5
    speeds = level.characteristic_speeds(*curve)
    least, fast, slow = speeds.minimum_drag_ms, speeds.carson_ms, speeds.minimum_power_ms
    power = {speed: level.power_required_w(speed, *curve) for speed in (least, fast, slow)}
    return {
        "V_carson_over_V_md": fast / least,
        "D_carson_over_D_min": power[fast] / fast / (power[least] / least),
        "V_mp_over_V_md": slow / least,
        "P_mp_over_P_md": power[slow] / power[least],
    }


def cube(inputs):
    # The parasite limit: the induced part made 1e-10 of the whole.
    before = level.airspeed_for_power_ms(1e6, 1.0, 1.0)
    after = level.airspeed_for_power_ms(1e6 * inputs["power_ratio"], 1.0, 1.0)
    return {"speed_ratio": after / before}


def exponent(ratio):
    curve = 0.25, 4e5
    least_drag = level.characteristic_speeds(*curve).minimum_drag_ms
    return level.power_exponent(np.array(ratio) * least_drag, *curve)


def imperial_polar(inputs, density_key="rho_slug_ft3", efficiency=1.0):
    area = inputs["wing_area_ft2"] * FT**2
    return level.power_curve_from_polar(
        inputs["cd0"],
        inputs["oswald_e"],
        inputs[density_key] * SLUG_FT3,
        area,
        np.sqrt(inputs["aspect_ratio"] * area),
        inputs["weight_lb"] * LBF,
        efficiency,
    )


def power_at_speed(inputs):
    power = level.power_required_w(inputs["tas_fps"] * FT, *imperial_polar(inputs))
    return {"power_required_hp": power / HP}


def greatest_speed(inputs):
    curve = imperial_polar(inputs, efficiency=inputs["prop_efficiency"])
    thinner = inputs["rho_slug_ft3"] / inputs.get("rho0_slug_ft3", inputs["rho_slug_ft3"])
    power = inputs.get("engine_power_hp", inputs.get("engine_power_sl_hp")) * HP * thinner
    return {"vmax_mph": level.airspeed_for_power_ms(power, *curve) / MPH}


def power_at_height(inputs):
    thinner = inputs["rho_slug_ft3"] / inputs["rho0_slug_ft3"]
    true = inputs["sea_level_tas_fps"] * FT / np.sqrt(thinner)
    power = level.power_required_w(true, *imperial_polar(inputs))
    ground = level.power_required_w(
        inputs["sea_level_tas_fps"] * FT, *imperial_polar(inputs, "rho0_slug_ft3")
    )
    # Printed method: reduced power is the same at one equivalent airspeed and weight.
    assert level.power_index_w(power, thinner, 1000.0, 1000.0) == pytest.approx(ground)
    return {"power_required_hp": power / HP}


def best_ratios(curve, density, area, weight):
    """Greatest CL/CD, and CL^1.5/CD from power at W sqrt(2 W/(rho S))/(CL^1.5/CD)."""
    speeds = level.characteristic_speeds(*curve)
    drag = level.power_required_w(speeds.minimum_drag_ms, *curve) / speeds.minimum_drag_ms
    power = level.power_required_w(speeds.minimum_power_ms, *curve)
    return weight / drag, weight * np.sqrt(2.0 * weight / (density * area)) / power


def best_of_polar(inputs):
    density, area, span, weight = 1.2, 12.0, 10.0, 6000.0
    e = area / (np.pi * span**2 * inputs["k_induced"])
    curve = level.power_curve_from_polar(inputs["cd0"], e, density, area, span, weight, 1.0)
    glide, sink = best_ratios(curve, density, area, weight)
    return {"l_over_d_max": glide, "cl3_over_cd2_max": sink**2}


def least_power(inputs):
    span, weight = inputs["span_ft"] * FT, inputs["weight_lb"] * LBF
    e = 1.0 / (np.pi * inputs["aspect_ratio"] * inputs["k_induced"])
    curve = level.power_curve_from_polar(
        inputs["cd0"], e, inputs["rho_slug_ft3"] * SLUG_FT3, span**2 / inputs["aspect_ratio"],
        span, weight, 1.0,
    )  # fmt: skip
    slowest = level.characteristic_speeds(*curve).minimum_power_ms
    power = level.power_required_w(slowest, *curve)
    return {
        "speed_min_power_fps": slowest / FT,
        "power_required_min_hp": power / HP,
        "power_required_min_ftlb_s": power / (FT * LBF),
    }


def best_of_light_single(inputs):
    density, weight, area = 1.225, 13000.0, inputs["wing_area_m2"]
    curve = level.power_curve_from_polar(
        inputs["cd0"], inputs["oswald_e"], density, area, inputs["span_m"], weight, 1.0
    )
    glide, sink = best_ratios(curve, density, area, weight)
    return {"cl_over_cd_max": glide, "cl15_over_cd_max": sink}


def quartic(inputs):
    curve = level.power_curve_from_polar(
        inputs["cd0"], inputs["oswald_e"], inputs["rho_kg_m3"], inputs["wing_area_m2"],
        inputs["span_m"], inputs["weight_N"], inputs["prop_efficiency"],
    )  # fmt: skip
    power = inputs["engine_power_hp"] * inputs["hp_in_W"]
    return {"vmax_m_s": level.airspeed_for_power_ms(power, *curve)}


def transport(inputs):
    speed = level.characteristic_speeds(*imperial_polar(inputs)).carson_ms
    return {"speed_min_d_over_v_mph": speed / MPH}


def thrust_limited(inputs):
    density, area, weight = inputs["rho_kg_m3"], inputs["wing_area_m2"], inputs["weight_N"]
    span = np.sqrt(inputs["aspect_ratio"] * area)
    curve = level.power_curve_from_polar(
        inputs["cd0"], inputs["oswald_e"], density, area, span, weight, 1.0
    )
    fastest = brentq(
        lambda v: level.power_required_w(v, *curve) / v - inputs["thrust_N"], 150.0, 299.0
    )
    stall = takeoff.liftoff_airspeed_ms(weight, density, area, inputs["clmax"], 1.0)
    return {"vmax_km_h": 3.6 * fastest, "vmin_km_h": 3.6 * stall}


CASES = {
    "PWR-PIW-01": reduced,
    "PWR-FIT-01": fitted,
    "PWR-SPD-01": characteristic,
    "PWR-CARSON-01": carson,
    "PWR-CUBE-01": cube,
    "PWR-EXP-01": lambda inputs: {"exponent": exponent(inputs["V_over_V_md"])},
    "PRP-SPD-01": lambda inputs: {
        "speed_ratio": inputs["eta_ratio"] ** (1.0 / exponent(inputs["V_over_V_md"]))
    },
    "TXB-PWR-01": power_at_speed,
    "TXB-PWR-02": greatest_speed,
    "TXB-PWR-03": power_at_height,
    "TXB-PWR-04": greatest_speed,
    "TXB-PWR-05": best_of_polar,
    "TXB-PWR-06": least_power,
    "TXB-PWR-07": best_of_light_single,
    "TXB-PWR-08": quartic,
    "TXB-PWR-09": transport,
    "TXB-PWR-10": thrust_limited,
}


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published_figures(item):
    compare(item, CASES[item["id"]](item["inputs"]))


def test_every_published_item_has_a_case():
    assert set(CASES) == {item["id"] for item in PUBLISHED}


sigma = st.floats(0.4, 1.2)
weights = st.floats(200.0, 2000.0)
cubics = st.floats(0.05, 2.0)
inverses = st.floats(1e4, 1e6)


@steady
@given(value=st.floats(1e3, 1e5), speed=st.floats(15.0, 120.0), ratio=sigma, a=weights, b=weights)
def test_reduction_and_back(value, speed, ratio, a, b):
    index = level.power_index_w(value, ratio, a, b)
    assert level.power_from_index_w(index, ratio, a, b) == pytest.approx(value, rel=1e-13)
    index = level.airspeed_index_ms(speed, ratio, a, b)
    assert level.true_airspeed_from_index_ms(index, ratio, a, b) == pytest.approx(speed, rel=1e-13)


@steady
@given(cubic=cubics, inverse=inverses, ratio=st.floats(1.0, 10.0).filter(lambda r: r > 1.0))
def test_airspeed_for_power_against_root_finding(cubic, inverse, ratio):
    slowest = level.characteristic_speeds(cubic, inverse).minimum_power_ms
    power = ratio * level.power_required_w(slowest, cubic, inverse)
    found = level.airspeed_for_power_ms(power, cubic, inverse)
    if np.isnan(found):
        assert ratio < 1.0 + 1e-14
        return
    # The curve is flat at least power: there a speed is known to the root of round-off only.
    loose = 1e-12 + 1e-15 / np.sqrt(ratio - 1.0 + 1e-15)
    wanted = brentq(
        lambda v: level.power_required_w(v, cubic, inverse) - power,
        slowest, np.cbrt(power / cubic), xtol=1e-12, rtol=1e-15,
    )  # fmt: skip
    assert found == pytest.approx(wanted, rel=10.0 * loose)
    assert found >= slowest
    assert level.power_required_w(found, cubic, inverse) == pytest.approx(power, rel=1e-12)


def test_less_than_the_least_power_is_missing():
    cubic, inverse = 0.25, 4e5
    slowest = level.characteristic_speeds(cubic, inverse).minimum_power_ms
    least = level.power_required_w(slowest, cubic, inverse)
    found = level.airspeed_for_power_ms(least * np.array([0.0, 0.999999, 1.000001]), cubic, inverse)
    assert np.isnan(found[:2]).all()
    assert found[2] == pytest.approx(slowest, rel=1e-3)


@steady
@given(
    cd0=st.floats(0.01, 0.1), e=st.floats(0.4, 1.2), density=st.floats(0.5, 1.3),
    area=st.floats(5.0, 40.0), span=st.floats(5.0, 20.0), weight=st.floats(2e3, 3e4),
    efficiency=st.floats(0.5, 1.0),
)  # fmt: skip
def test_polar_and_back(cd0, e, density, area, span, weight, efficiency):
    conditions = density, area, span, weight, efficiency
    curve = level.power_curve_from_polar(cd0, e, *conditions)
    assert level.drag_polar_from_power(*curve, *conditions) == pytest.approx((cd0, e), rel=1e-13)


@steady
@given(speed=st.floats(15.0, 120.0), cubic=cubics, inverse=inverses)
def test_exponent_is_the_slope_of_the_curve(speed, cubic, inverse):
    step = 1e-5
    high, low = (
        np.log(level.power_required_w(speed * np.exp(sign * step), cubic, inverse))
        for sign in (1.0, -1.0)
    )
    slope = (high - low) / (2.0 * step)
    assert level.power_exponent(speed, cubic, inverse) == pytest.approx(slope, abs=1e-8)


def test_energy_power_is_weight_times_energy_rate():
    # Two modules state one energy: as a power here, as a rate of climb there.
    rate, true, growth = 0.1016, 55.0, 0.012
    power = level.energy_power_w(5884.0, rate, true, growth)
    assert power == pytest.approx(5884.0 * climb.energy_rate_ms(rate, true, growth), rel=1e-14)
    assert climb.power_change_ms(power, 5884.0) == pytest.approx(0.1016 + 55.0 * 0.012 / 9.80665)


TYPICAL = {
    "airspeed_for_power_ms": (5e4, 0.25, 4e5),
    "airspeed_index_ms": (55.0, 0.9, 560.0, 600.0),
    "characteristic_speeds": (0.25, 4e5),
    "drag_polar_from_power": (0.25, 3.5e5, 1.2, 11.0, 9.0, 5884.0, 0.8),
    "energy_power_w": (5884.0, 0.1, 55.0, 0.01),
    "power_curve_from_polar": (0.03, 0.8, 1.2, 11.0, 9.0, 5884.0, 0.8),
    "power_exponent": (55.0, 0.25, 4e5),
    "power_from_index_w": (5e4, 0.9, 560.0, 600.0),
    "power_index_w": (5e4, 0.9, 560.0, 600.0),
    "power_required_w": (55.0, 0.25, 4e5),
    "true_airspeed_from_index_ms": (55.0, 0.9, 560.0, 600.0),
}
# A result that does not depend on every argument has the shape of those it depends on.
OWN_SHAPE = {"drag_polar_from_power", "power_curve_from_polar"}


@pytest.mark.parametrize("name", sorted(set(functions_of(level)) - OWN_SHAPE))
def test_draws_and_missing_values(name):
    check_draws(getattr(level, name), TYPICAL[name])


@pytest.mark.parametrize("name", sorted(OWN_SHAPE))
def test_draws_of_the_polar(name):
    first, second, *rest = TYPICAL[name]
    spread = 1.0 + 0.01 * np.linspace(-1.0, 1.0, 2000)[:, None]
    rest[0] = rest[0] * np.linspace(0.9, 1.0, 40)
    results = getattr(level, name)(first * spread, second * spread, *rest)
    for place, result in enumerate(results):
        assert result.shape == (2000, 40)
        alone = getattr(level, name)(
            first * spread[17, 0], second * spread[17, 0], rest[0][5], *rest[1:]
        )
        assert result[17, 5] == pytest.approx(alone[place], rel=1e-13)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: level.power_required_w([50.0, 0.0], 0.25, 4e5),
         "true_ms [m/s] must be 1 to 300; got 0 at index 1 "
         "(an airspeed in flight in m/s is needed)"),
        (lambda: level.power_required_w(50.0, -0.25, 4e5),
         "cubic [kg/m] must be 0.0001 to 100; got -0.25 (A of P = A V^3 + B/V, near 0.25)"),
        (lambda: level.airspeed_for_power_ms(5e4, 0.25, 0.0),
         "inverse [W m/s] must be 1 to 1e+11; got 0 (B of P = A V^3 + B/V, near 4e5)"),
        (lambda: level.power_index_w(5e4, 1.225 * 1.2, 560.0, 600.0),
         "density_ratio [-] must be 0.15 to 1.4; got 1.47 (density over 1.225 kg/m^3 is needed)"),
        (lambda: level.power_index_w(5e4, 0.9, 560.0, 0.0),
         "reference_weight_kg [kg] must be 20 to 100000; got 0 "
         "(the airplane's weight as a mass in kg)"),
        (lambda: level.drag_polar_from_power(0.25, 4e5, 1.2, 11.0, 9.0, 5884.0, 80.0),
         "efficiency [-] must be 0.2 to 1; got 80 (a fraction: 80 % is 0.8)"),
        (lambda: level.power_curve_from_polar(0.03, 8.0, 1.2, 11.0, 9.0, 5884.0, 0.8),
         "span_efficiency [-] must be 0.2 to 1.5; got 8 (a factor near 0.8)"),
        (lambda: level.energy_power_w(5884.0, 600.0, 55.0, 0.0),
         "height_rate_ms [m/s] must be -100 to 100; got 600 (is it in ft/min?)"),
    ],
)  # fmt: skip
def test_bad_input_is_named(call, said):
    with pytest.raises(InputError) as error:
        call()
    assert str(error.value) == said
