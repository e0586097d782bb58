"""Indicated to calibrated airspeed: from flights, the table, its edges, and what none costs."""

from __future__ import annotations

import pickle
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from stdday.airspeed import true_airspeed_ms
from stdday.atmosphere import standard_pressure_pa
from stdday.calibrate import (
    Calibration,
    calibrated_airspeed_ms,
    calibration_note,
    calibration_sigma_ms,
    has_calibration,
)
from stdday.calibrate_fit import fit_calibrations
from stdday.campaign import Campaign, load_campaign
from stdday.state import make_state
from stdday.uncertainty import Draws
from tests.make_campaign import CAMPAIGN, make_campaign

KT, FT = 1852 / 3600, 0.3048
TABLE = ((40 * KT, 42 * KT), (80 * KT, 81 * KT), (120 * KT, 119 * KT))


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> Campaign:
    made = load_campaign(make_campaign(tmp_path_factory.mktemp("calibrate")))
    return replace(
        made, airplanes={"one": replace(made.airplanes["one"], airspeed_calibration=TABLE)}
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


# ---- from flights --------------------------------------------------------------------------------


def _correction(indicated_kt: float) -> float:
    return 3.0 - 0.03 * indicated_kt    # kt: +1.5 at 50, -0.3 at 110


def _pattern(
    flight: str, number: int, indicated_kt: float, headings=(10, 100, 190, 280), *,
    kind: str = "box", wind=(9.0, -6.0), noise: float = 0.0, seed: int = 1, shift_kt: float = 0.0,
    **columns: object,
) -> list[dict[str, object]]:
    """Rows of one pattern; wind is the velocity of the air, east and north, in kt."""
    random = np.random.default_rng([seed, number])
    rows = []
    for place, heading in enumerate(np.radians(headings)):
        shown = indicated_kt + random.normal() * 1.5
        altitude, temperature = 4000 * FT + 5 * random.normal(), 285.0
        calibrated = (shown + _correction(shown) + shift_kt) * KT
        true = float(true_airspeed_ms(calibrated, standard_pressure_pa(altitude), temperature))
        gust = noise * KT * random.normal(size=2)
        rows.append({
            "point": f"{flight}-airspeed-calibration-{number:06d}",
            "condition_id": f"leg_{place+1}", "flight": flight,
            "kind": "airspeed calibration", "pattern": kind, "flaps": "",
            "start_s": 120.0 * place, "end_s": 120.0 * place + 60, "track_is_true": 1.0,
            "indicated_airspeed_ms": shown * KT, "indicated_airspeed_rate_ms2": 0.0,
            "pressure_altitude_m": altitude, "outside_air_temperature_k": temperature,
            "power_w": 40e3, "heading_rad": float(heading),
            "ground_east_ms": true * np.sin(heading) + wind[0] * KT + gust[0],
            "ground_north_ms": true * np.cos(heading) + wind[1] * KT + gust[1],
            "reference_calibrated_ms": np.nan, "reference_true_ms": np.nan, **columns,
        })
    return rows


def _flown(campaign: Campaign, *patterns: list[dict[str, object]]) -> Campaign:
    bare = _bare(campaign, "from flights")
    rows = pd.DataFrame([row for one in patterns for row in one])
    return replace(bare, calibrations=fit_calibrations(bare, rows))


def _only(campaign: Campaign) -> Calibration:
    assert list(campaign.calibrations) == [("one", "")]
    return campaign.calibrations["one", ""]


@pytest.fixture(scope="module")
def boxes(campaign: Campaign) -> Campaign:
    return _flown(campaign, *(
        _pattern("F01", place, speed, noise=0.4)
        for place, speed in enumerate((50, 65, 80, 95, 110))
    ))


def test_boxes_give_the_curve_and_the_wind(boxes: Campaign) -> None:
    found = _only(boxes)
    speeds = np.array([52.0, 70, 90, 108])
    got = calibrated_airspeed_ms(boxes, boxes.flights[:1] * 4, speeds * KT, Draws(0))[0] / KT
    band = np.asarray(found.curves["A"].band_ms(speeds * KT)) / KT
    assert np.all(np.abs(got - speeds - _correction(speeds)) < band)
    assert np.all(band < 1.6)
    assert has_calibration(boxes.airplanes["one"], boxes)
    assert found.patterns["wind_speed_ms"].to_numpy() / KT == pytest.approx(10.8, abs=1.0)
    assert np.degrees(found.patterns["wind_from_rad"].to_numpy()) == pytest.approx(303.7, abs=6)
    assert np.all(found.patterns["wind_sigma_ms"] < 1.0 * KT)
    assert found.patterns["condition"].to_numpy() == pytest.approx(0.5, abs=0.02)


def test_more_patterns_than_a_fit_takes_are_set_aside_evenly(campaign: Campaign) -> None:
    speeds = 50 + 60 * np.arange(60) / 59
    found = _only(_flown(campaign, *(
        _pattern("F01", place, speed, noise=0.4) for place, speed in enumerate(speeds))))
    fitted = found.patterns[found.patterns["reason"] == ""]
    assert len(fitted) == 20
    assert set(found.patterns["reason"]) == {
        "", "not needed: of 60 patterns one in 3 is fitted"}
    assert len(found.legs) == 240
    flown = np.sort(found.legs.loc[found.legs["used"], "indicated_airspeed_ms"]) / KT
    assert np.diff([50.0, *flown, 110.0]).max() < 8
    few = _only(_flown(campaign, *(
        _pattern("F01", place, speed, noise=0.4) for place, speed in enumerate(speeds[:25]))))
    assert set(few.patterns["reason"]) == {""}


def test_people_see_legs_table_and_words(boxes: Campaign) -> None:
    found = _only(boxes)
    assert len(found.legs) == 20
    assert found.legs["used"].all()
    assert found.legs["residual_ms"].abs().max() < 2 * KT
    assert (found.legs["left_out_ms"].abs() >= found.legs["residual_ms"].abs() - 1e-9).all()
    assert np.diff(found.table["indicated_ms"]) == pytest.approx(5 * KT)
    assert not found.table["flown"].iloc[0]
    assert found.table["band_ms"].iloc[-1] > found.table["band_ms"].iloc[5]
    told = " ".join(found.words)
    assert "5 patterns, 20 legs" in told
    assert "Whether power shifts the curve was not tested" in told
    assert "declared difference between configurations" in told


def test_it_travels_to_other_processes_with_the_campaign(boxes: Campaign) -> None:
    back = pickle.loads(pickle.dumps(boxes))
    speeds = np.array([60.0, 90.0]) * KT
    draws = Draws(20, seed=3)
    assert np.array_equal(
        calibrated_airspeed_ms(back, back.flights[:2], speeds, draws),
        calibrated_airspeed_ms(boxes, boxes.flights[:2], speeds, draws),
    )


def test_draws_of_a_curve_have_its_sigma(boxes: Campaign) -> None:
    speeds = np.array([45.0, 80.0, 130.0]) * KT
    draws = Draws(20_000, seed=2)
    found = calibrated_airspeed_ms(boxes, boxes.flights[:1] * 3, speeds, draws)
    wanted = calibration_sigma_ms(boxes, boxes.airplanes["one"], speeds, boxes.flights[0])
    assert found[1:].std(axis=0) == pytest.approx(wanted, rel=0.03)
    assert wanted[2] > wanted[1] < wanted[0]


def test_the_probe_that_falsified_the_calibration_falsifies_the_test_as_well(
    boxes: Campaign,
) -> None:
    """True airspeed at the airspeed and air of the calibration does not depend on the probe."""
    frame = pd.DataFrame({
        "flight": ["F01"], "kind": ["level run"], "indicated_airspeed_ms": [80 * KT],
        "pressure_altitude_m": [4000 * FT], "outside_air_temperature_k": [285.0],
        "power_w": [40e3], "fuel_used_m3": [0.0], "elapsed_since_first_takeoff_s": [0.0],
        "fuel_flow_m3s": [np.nan],
    })
    draws = Draws(4000, seed=6)
    state = make_state(boxes, frame, draws)
    z = draws.normal("temperature probe", "shared", ["one"])[1:, 0]
    slope = float(np.dot(state.true_ms[1:, 0], z) / np.dot(z, z))
    alone = 80 * KT / (2 * 285)    # what 1 K makes of true airspeed with a fixed calibration
    assert abs(slope) < 0.25 * alone


def test_a_configuration_without_legs_takes_the_curve_and_the_declared_difference(
    boxes: Campaign,
) -> None:
    pair = [next(f for f in boxes.flights if f.configuration == name) for name in ("A", "B")]
    found = calibrated_airspeed_ms(boxes, pair, np.array([80.0, 80]) * KT, Draws(20_000, seed=2))
    own = boxes.sigma("airspeed_between_configurations")
    assert found[0, 0] == found[0, 1]
    assert np.std(found[1:, 0] - found[1:, 1]) == pytest.approx(np.sqrt(2) * own, rel=0.02)


def test_configurations_both_calibrated_replace_the_declared_difference(
    campaign: Campaign,
) -> None:
    both = _flown(campaign, *(
        _pattern(flight, 10 * place + (flight == "F03"), speed, noise=0.3,
                 shift_kt=1.5 * (flight == "F03"))
        for flight in ("F01", "F03") for place, speed in enumerate((55, 70, 85, 100))
    ))
    found = _only(both)
    effect = found.effects.set_index("effect").loc["configuration"]
    assert effect["shift_ms"] / KT == pytest.approx(1.5, abs=0.5)
    assert effect["sigma_ms"] < both.sigma("airspeed_between_configurations")
    assert any("Configuration B against A: the correction shifts by +1." in one
               for one in found.words)
    pair = [next(f for f in both.flights if f.configuration == name) for name in ("A", "B")]
    values = calibrated_airspeed_ms(both, pair, np.array([75.0, 75]) * KT, Draws(20_000, seed=2))
    assert (values[0, 1] - values[0, 0]) / KT == pytest.approx(1.5, abs=0.5)
    assert np.std(values[1:, 1] - values[1:, 0]) == pytest.approx(effect["sigma_ms"], rel=0.05)


def test_power_that_shifts_the_curve_is_seen(campaign: Campaign) -> None:
    rated = campaign.airplanes["one"].rated_power_w
    found = _only(_flown(campaign, *(
        _pattern("F01", 2 * place + high, speed, noise=0.2, shift_kt=2.0 * (0.3 + 0.5 * high),
                 power_w=rated * (0.3 + 0.5 * high))
        for place, speed in enumerate((60, 75, 90)) for high in (0, 1)
    )))
    effect = found.effects.set_index("effect").loc["power"]
    assert effect["shift_ms"] / KT == pytest.approx(2.0, abs=0.8)
    assert any(one.startswith("From no power to full rated power: the correction shifts")
               for one in found.words)


def test_flap_settings_have_curves_of_their_own(campaign: Campaign) -> None:
    found = _flown(campaign, _pattern("F01", 1, 80), _pattern("F01", 2, 50, flaps="20"))
    assert set(found.calibrations) == {("one", ""), ("one", "20")}


def test_headings_that_do_not_span_are_refused_with_the_one_to_add(campaign: Campaign) -> None:
    found = _only(_flown(campaign, _pattern("F01", 1, 80),
                         _pattern("F01", 2, 60, headings=(40, 55, 70))))
    bad = found.patterns.iloc[1]
    assert not bad["used"]
    assert bad["reason"].startswith("the headings do not tell airspeed from wind: fly one leg near")
    assert 215 <= round(np.degrees(bad["add_heading_rad"])) <= 255
    assert not found.legs["used"].iloc[4:].any()
    assert found.curves["A"].low_ms > 75 * KT


def test_legs_that_lack_something_say_what(campaign: Campaign) -> None:
    rows = _pattern("F01", 1, 80) + _pattern("F01", 2, 70, outside_air_temperature_k=np.nan)
    rows[0]["ground_east_ms"] = np.nan
    rows[4]["track_is_true"] = 0.0
    found = _only(_flown(campaign, rows))
    assert "no ground velocity" in found.legs["reason"].iloc[0]
    assert "two norths" in found.legs["reason"].iloc[4]
    assert found.patterns["legs"].tolist() == [3, 0]


def test_a_reported_temperature_stands_in_for_the_probe_and_is_wider(campaign: Campaign) -> None:
    rows = [_pattern("F01", place, speed, noise=0.3) for place, speed in enumerate((60, 80, 100))]
    probe = _only(_flown(campaign, *rows))
    lapsed = _only(_flown(campaign, *(
        [row | {"outside_air_temperature_k": np.nan} for row in one] for one in rows
    )))
    assert (probe.temperature_from, lapsed.temperature_from) == ("temperature probe", "lapse")
    assert lapsed.curves["A"].sigma_ms(80 * KT) > probe.curves["A"].sigma_ms(80 * KT)


def test_a_pair_needs_its_headings_for_a_narrow_curve(campaign: Campaign) -> None:
    speeds = enumerate((60, 80, 100))
    held = [_pattern("F01", place, speed, (30, 210), kind="reciprocal pair", noise=0.3)
            for place, speed in speeds]
    bare = [[row | {"heading_rad": np.nan} for row in one] for one in held]
    known, unknown = (_only(_flown(campaign, *one)).curves["A"] for one in (held, bare))
    assert (np.asarray(known.correction_ms(80 * KT)) / KT
            == pytest.approx(_correction(80), abs=0.8))
    assert unknown.sigma_ms(80 * KT) > known.sigma_ms(80 * KT)


def test_a_speed_course_and_pacing_enter_directly(campaign: Campaign) -> None:
    pressure = standard_pressure_pa(1000 * FT)
    true = float(true_airspeed_ms((90 + _correction(90)) * KT, pressure, 285.0))
    course = _pattern("F01", 1, 90, (0,), kind="speed course", ground_east_ms=np.nan,
                      ground_north_ms=np.nan, indicated_airspeed_ms=90 * KT,
                      pressure_altitude_m=1000 * FT, reference_true_ms=true)
    paced = _pattern("F01", 2, 60, (0,), kind="pacing", ground_east_ms=np.nan,
                     ground_north_ms=np.nan, indicated_airspeed_ms=60 * KT,
                     reference_calibrated_ms=(60 + _correction(60)) * KT)
    found = _only(_flown(campaign, course, paced))
    curve = found.curves["A"]
    assert curve.correction_ms(90 * KT) / KT == pytest.approx(_correction(90), abs=0.2)
    off = abs(float(curve.correction_ms(60 * KT)) - _correction(60) * KT)
    assert off < curve.sigma_ms(60 * KT) < 1.6 * KT
    assert curve.sigma_ms(60 * KT) > curve.sigma_ms(90 * KT) > 0.5 * KT
    assert found.patterns["wind_speed_ms"].isna().all()


def test_one_bad_leg_does_not_take_the_curve_along(campaign: Campaign) -> None:
    rows = [_pattern("F01", place, speed, noise=0.3) for place, speed in
            enumerate((55, 70, 85, 100))]
    clean = _only(_flown(campaign, *rows))
    rows[1][2]["ground_north_ms"] += 8 * KT
    found = _only(_flown(campaign, *rows))
    # the leg opposite could as well be the bad one: a wind along both explains either
    weight = found.legs["weight"]
    assert set(weight.nsmallest(2).index) == {4, 6}
    assert weight[[4, 6]].max() < 0.8 * weight.drop([4, 6]).min()
    off = np.asarray(found.curves["A"].correction_ms(70 * KT)) - np.asarray(
        clean.curves["A"].correction_ms(70 * KT))
    assert abs(off) < 1.0 * KT


def test_recorded_headings_only_check(campaign: Campaign) -> None:
    rows = [_pattern("F01", place, speed) for place, speed in enumerate((60, 80))]
    turned = [[row | {"heading_rad": row["heading_rad"] + 0.1} for row in one] for one in rows]
    plain, found = _only(_flown(campaign, *rows)), _only(_flown(campaign, *turned))
    assert np.array_equal(plain.curves["A"].correction, found.curves["A"].correction)
    assert found.patterns["heading_offset_rad"].to_numpy() == pytest.approx(0.1, abs=0.02)


def test_asked_for_and_not_flown_says_what_to_fly(campaign: Campaign) -> None:
    bare = _bare(campaign, "from flights")
    found = fit_calibrations(bare, pd.DataFrame({"kind": ["climb"]}))["one", ""]
    assert not found.curves
    assert "Fly a box of four headings near 62 kt" in found.words[0]
    filled = replace(bare, calibrations={("one", ""): found})
    assert not has_calibration(filled.airplanes["one"], filled)
    wide = calibration_sigma_ms(filled, filled.airplanes["one"], 100 * KT)
    assert wide == pytest.approx(np.hypot(3, 2) * KT)


def test_patterns_are_shown_and_not_used_where_the_owner_has_a_table(campaign: Campaign) -> None:
    rows = pd.DataFrame(_pattern("F01", 1, 80))
    both = replace(campaign, calibrations=fit_calibrations(campaign, rows))
    assert both.calibrations["one", ""].curves
    assert not both.calibrations["one", ""].used
    got = calibrated_airspeed_ms(both, both.flights[:1], [80 * KT], Draws(0))
    assert got[0, 0] == pytest.approx(81 * KT)


# ---- the altimeter -------------------------------------------------------------------------------


def _state_altitude(campaign: Campaign, kind: str, draws: Draws) -> np.ndarray:
    frame = pd.DataFrame({
        "flight": ["F01"], "kind": [kind], "indicated_airspeed_ms": [60 * KT],
        "pressure_altitude_m": [0.0], "outside_air_temperature_k": [288.15], "power_w": [40e3],
        "fuel_used_m3": [0.0], "elapsed_since_first_takeoff_s": [0.0], "fuel_flow_m3s": [np.nan],
    })
    return make_state(campaign, frame, draws).pressure_altitude_m[:, 0]


@pytest.mark.parametrize(("share", "error_ft"), [(1.0, 5.46), (0.0, 0.0), (None, 0.5 * 5.46)])
def test_the_altimeter_is_corrected_by_the_static_share_alone(campaign, share, error_ft) -> None:
    """1.5 kt of static error at 61.5 kt are 5.46 ft a knot; too slow an indicator, too low."""
    airplane = replace(campaign.airplanes["one"], static_share_of_airspeed_error=share)
    told = replace(campaign, airplanes={"one": airplane})
    found = _state_altitude(told, "level run", Draws(0))[0] / FT
    assert found == pytest.approx(1.5 * error_ft, abs=0.05)
    assert _state_altitude(told, "take-off", Draws(0))[0] == 0.0


def test_a_share_not_declared_is_drawn_evenly(campaign: Campaign) -> None:
    declared = replace(campaign, uncertainty=campaign.uncertainty | {
        "pressure_altitude": 1e-9, "airspeed_calibration_table": 1e-9,
        "airspeed_between_configurations": 1e-9})
    found = _state_altitude(declared, "climb", Draws(4000, seed=3))[1:] / FT / (1.5 * 5.46)
    assert found.min() >= 0
    assert found.max() <= 1.01
    assert found.std() == pytest.approx(12**-0.5, rel=0.05)


def test_the_share_is_a_key_of_the_airplane(tmp_path: Path) -> None:
    line = "gear_ratio = 2.15"
    text = CAMPAIGN.replace(line, line + '\nstatic_share_of_airspeed_error = "100 %"')
    made = load_campaign(make_campaign(tmp_path, campaign=text))
    assert made.airplanes["one"].static_share_of_airspeed_error == pytest.approx(1.0)


# ---- ram rise of the temperature probe, and flaps ------------------------------------------------


def _warmed(rows: list[dict[str, object]], factor: float) -> list[dict[str, object]]:
    """The same legs as a probe with this recovery factor shows them: K V^2/(2 cp) too warm."""
    done = []
    for row in rows:
        calibrated = (row["indicated_airspeed_ms"] / KT + _correction(
            row["indicated_airspeed_ms"] / KT)) * KT
        pressure = standard_pressure_pa(row["pressure_altitude_m"])
        true = float(true_airspeed_ms(calibrated, pressure, row["outside_air_temperature_k"]))
        warm = row["outside_air_temperature_k"] + factor * true**2 / (2 * 1004.68)
        done.append(row | {"outside_air_temperature_k": warm})
    return done


def _with_factor(campaign: Campaign, factor: float | None) -> Campaign:
    airplane = replace(campaign.airplanes["one"], temperature_recovery_factor=factor)
    return replace(campaign, airplanes={"one": airplane})


def test_the_ram_rise_is_taken_off_the_legs(campaign: Campaign) -> None:
    boxes = [_warmed(_pattern("F01", place, speed), 0.8) for place, speed in enumerate((90, 150))]
    at = 150 * KT
    right, half, none = (
        float(_only(_flown(_with_factor(campaign, factor), *boxes)).curves["A"].correction_ms(at))
        for factor in (0.8, None, 0.0)
    )
    exact = float(_only(_flown(
        _with_factor(campaign, 0.0), *(_pattern("F01", place, speed)
                                       for place, speed in enumerate((90, 150)))
    )).curves["A"].correction_ms(at))
    assert right == pytest.approx(exact, abs=0.02 * KT)
    # 2.4 K too warm: 0.4 % too much true airspeed for the airspeed shown
    assert none == pytest.approx(exact - 0.6 * KT, abs=0.15 * KT)
    assert half == pytest.approx(none + (exact - none) * 0.5 / 0.8, abs=0.05 * KT)


def test_the_recovery_factor_of_the_calibration_is_that_of_the_test(campaign: Campaign) -> None:
    """True airspeed at the airspeed and air of the calibration does not depend on it."""
    boxes = [_pattern("F01", place, speed, noise=0.3) for place, speed in enumerate((100, 120))]
    flown = _flown(_with_factor(campaign, None), *boxes)
    frame = pd.DataFrame({
        "flight": ["F01"], "kind": ["level run"], "indicated_airspeed_ms": [110 * KT],
        "pressure_altitude_m": [4000 * FT], "outside_air_temperature_k": [285.0],
        "power_w": [40e3], "fuel_used_m3": [0.0], "elapsed_since_first_takeoff_s": [0.0],
        "fuel_flow_m3s": [np.nan],
    })
    draws = Draws(4000, seed=6)
    state = make_state(flown, frame, draws)
    z = draws.normal("temperature probe recovery", "shared", ["one"])[1:, 0]
    slope = float(np.dot(state.true_ms[1:, 0], z) / np.dot(z, z))
    rise = 110**2 / 7592 * 12**-0.5    # one sigma of the ram rise in K
    assert abs(slope) < 0.3 * rise * 117 * KT / (2 * 285)


def test_take_offs_use_the_curve_of_their_flaps_and_flight_does_not(campaign: Campaign) -> None:
    clean = [_pattern("F01", place, speed) for place, speed in enumerate((55, 75, 95))]
    out = [_pattern("F01", 5 + place, speed, flaps="10 deg", shift_kt=2.0)
           for place, speed in enumerate((50, 60))]
    both = _flown(campaign, *clean, *out)
    set_out = replace(both.flights[0], flaps="10 Deg")
    at = np.array([58.0]) * KT
    up, flaps = (calibrated_airspeed_ms(both, [one], at, Draws(0))[0, 0] / KT
                 for one in (replace(set_out, flaps="up"), set_out))
    assert flaps - up == pytest.approx(2.0, abs=0.5)
    assert calibration_note(both, set_out) == ""
    told = replace(both, flights=(set_out, *both.flights[1:]))
    row = {"flight": "F01", "indicated_airspeed_ms": at[0], "pressure_altitude_m": 0.0,
           "outside_air_temperature_k": 285.0, "power_w": 40e3, "fuel_used_m3": 0.0,
           "elapsed_since_first_takeoff_s": 0.0, "fuel_flow_m3s": np.nan}
    rows = pd.DataFrame([row | {"kind": "level run"}, row | {"kind": "take-off"}])
    found = [make_state(told, rows.iloc[[place]], Draws(0)).calibrated_ms[0, 0] / KT
             for place in (0, 1)]
    assert found == pytest.approx([up, flaps], abs=1e-9)


def test_flaps_without_a_curve_take_that_of_flaps_up_wider_and_say_so(campaign: Campaign) -> None:
    clean = _flown(campaign, *(
        _pattern("F01", place, speed, noise=0.2) for place, speed in enumerate((55, 75, 95))
    ))
    out = replace(clean.flights[0], flaps="10 deg")
    airplane = clean.airplanes["one"]
    up, wide = (float(calibration_sigma_ms(clean, airplane, 60 * KT, one))
                for one in (clean.flights[0], out))
    own = clean.sigma("airspeed_between_configurations")
    assert wide == pytest.approx(np.hypot(up, np.sqrt(2) * own))
    drawn = calibrated_airspeed_ms(clean, [out], [60 * KT], Draws(20_000, seed=2))[1:].std()
    assert drawn == pytest.approx(wide, rel=0.03)
    assert calibration_note(clean, out).startswith("airspeed calibrated with flaps up, not 10 deg")


def test_flaps_up_in_words_are_no_setting_of_their_own(campaign: Campaign) -> None:
    found = _flown(campaign, _pattern("F01", 1, 80, flaps="Up"), _pattern("F01", 2, 60))
    assert set(found.calibrations) == {("one", "")}


def test_the_recovery_factor_is_a_key_of_the_airplane(tmp_path: Path) -> None:
    text = CAMPAIGN.replace('temperature_recovery_factor = "0 %"',
                            'temperature_recovery_factor = "75 %"')
    made = load_campaign(make_campaign(tmp_path, campaign=text))
    assert made.airplanes["one"].temperature_recovery_factor == pytest.approx(0.75)
    bare = CAMPAIGN.replace('temperature_recovery_factor = "0 %"\n', "")
    told = load_campaign(make_campaign(tmp_path / "bare", campaign=bare))
    assert told.airplanes["one"].temperature_recovery_factor is None
    assert [one.where for one in told.costs if "recovery" in one.where]
