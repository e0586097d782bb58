"""Airspeed calibrations in results, tables, pictures and words: with a curve, and without one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from stdday import notebook_calibration, plots_calibration, tables_calibration
from stdday.calibrate_fit import fit_calibrations
from stdday.campaign import Campaign, load_campaign
from stdday.cards import card
from stdday.report import report_html
from stdday.results import Results
from stdday.results_calibration import NO_CURVE, TABLE, calibration_meta, calibration_tables
from tests.made_results import made
from tests.make_campaign import make_campaign
from tests.test_calibrate import _bare, _correction, _pattern


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> Campaign:
    return load_campaign(make_campaign(tmp_path_factory.mktemp("results_calibration")))


def _results(campaign: Campaign, *patterns: list[dict[str, object]], word: str = "from flights"
             ) -> Results:
    told = _bare(campaign, word)
    columns = {"kind": [], "flight": [], "point": []}
    rows = pd.DataFrame([row for one in patterns for row in one] or columns)
    found = fit_calibrations(told, rows)
    whole = made()
    return replace(whole, meta=whole.meta | calibration_meta(told, found),
                   tables=calibration_tables(found.values()))


@pytest.fixture(scope="module")
def results(campaign: Campaign) -> Results:
    boxes = [_pattern("F01", place, speed) for place, speed in enumerate((50, 65, 80, 95))]
    return _results(campaign, *boxes, _pattern("F01", 9, 70, headings=(40, 55, 70)))


def test_tables_say_whose_they_are_and_hold_the_curve(results: Results) -> None:
    assert sorted(results.tables) == ["calibration_curve", "calibration_legs",
                                      "calibration_patterns"]
    for table in results.tables.values():
        assert set(table["installation"]) == {"one"}
        assert set(table["airplane"]) == {"one"}
        assert not np.isinf(table.select_dtypes("number").to_numpy()).any()
    curve = results.table("calibration_curve")
    flown = curve[curve["flown"]]
    speed = flown["indicated_airspeed [kt]"].to_numpy()
    off = np.abs(flown["correction [kt]"].to_numpy() - _correction(speed))
    assert np.all(off <= flown["band [kt]"].to_numpy())
    assert flown["calibrated_airspeed [kt]"].to_numpy() == pytest.approx(
        speed + flown["correction [kt]"].to_numpy(), abs=0.011)


def test_a_leg_has_its_own_correction_and_true_airspeed(results: Results) -> None:
    legs = results.table("calibration_legs")
    own = legs[legs["used"]]
    wanted = _correction(own["indicated_airspeed [kt]"].to_numpy())
    assert own["correction [kt]"].to_numpy() == pytest.approx(wanted, abs=0.25)
    patterns = results.table("calibration_patterns").set_index("point")
    spread = own.groupby("point")["true_airspeed [kt]"].mean()
    for point, mean in spread.items():
        assert patterns.loc[point, "true_airspeed [kt]"] == pytest.approx(mean, abs=0.02)


def test_the_handbook_table_names_what_was_not_flown(results: Results) -> None:
    table = tables_calibration.handbook(results)
    cells = dict(zip(table["Indicated [kt]"], table["Calibrated [kt]"], strict=True))
    assert list(cells) == [str(speed) for speed in range(45, 105, 5)]
    assert cells["45"].endswith("(not flown)")
    assert "not flown" not in cells["60"]
    value, band = (float(part) for part in cells["60"].split(" ± "))
    assert abs(value - 60 - _correction(60)) < band < 2.0


def test_display_units_reach_every_table(results: Results) -> None:
    shown = replace(results, meta=results.meta | {"display": {"speed": "km/h"}})
    table = tables_calibration.handbook(shown)
    assert table["Indicated [km/h]"].iloc[3] == "111"
    value = float(table["Calibrated [km/h]"].iloc[3].split(" ± ")[0])
    assert value == pytest.approx((60 + _correction(60)) * 1.852, abs=0.6)
    assert "km/h" in plots_calibration.curve(shown).layout.xaxis.title.text


def test_refused_patterns_say_what_to_fly(results: Results) -> None:
    table = tables_calibration.refused(results)
    assert table["What"].to_list() == ["F01-airspeed-calibration-000009"]
    assert "fly one leg near" in table["Why not"].iloc[0]
    checks = tables_calibration.checks(results)
    assert "F01-airspeed-calibration-000009" not in set(checks["Pattern"])
    assert set(checks["Condition"]) == {"0.50"}


def test_the_mean_of_ground_speeds_is_shown_to_be_wrong(results: Results) -> None:
    point = notebook_calibration.sample_pattern(results)
    assert point == "F01-airspeed-calibration-000000"  # the slowest has the most wind for its speed
    steps = dict(tables_calibration.steps(results, point).itertuples(index=False))
    off = float(steps["Averaging ground speeds would be off by"].split()[0])
    law = next(text for step, text in steps.items() if "wind squared" in step)
    assert off == pytest.approx(float(law.split()[0]), abs=0.25)
    assert off > 0.2


def test_the_tips_of_the_picture_lie_on_its_circle(results: Results) -> None:
    point = notebook_calibration.sample_pattern(results)
    figure = plots_calibration.pattern(results, point)
    circle, wind, tips = figure.data[0], figure.data[-2], figure.data[-1]
    centre = np.array([wind.x[1], wind.y[1]])
    radius = np.hypot(circle.x[0] - centre[0], circle.y[0] - centre[1])
    apart = np.hypot(np.array(tips.x) - centre[0], np.array(tips.y) - centre[1])
    legs = results.table("calibration_legs")
    true = legs.loc[legs["point"] == point, "true_airspeed [kt]"].to_numpy()
    assert apart == pytest.approx(true, abs=0.05)
    assert radius == pytest.approx(true.mean(), abs=0.05)
    axes = figure.layout.xaxis.range, figure.layout.yaxis.range
    inner = 700 - 64 - 20, 520 - 38 - 52
    assert axes[0][1] / inner[0] == pytest.approx(axes[1][1] / inner[1])
    assert point in figure.layout.meta["summary"]


def test_the_curve_is_drawn_with_its_legs_and_shaded_where_not_flown(results: Results) -> None:
    figure = plots_calibration.curve(results)
    assert len(figure.data[-1].x) == 16
    shaded = [shape for shape in figure.layout.shapes if shape.type == "rect"]
    assert (round(shaded[0].x1), round(shaded[1].x0)) in {(48, 97), (49, 96), (49, 97), (48, 96)}
    low, high = figure.layout.yaxis.range
    for line in figure.data[:3]:
        known = [value for value in line.y if value is not None]
        assert low - 1e-3 <= min(known)
        assert max(known) <= high + 1e-3


@pytest.mark.parametrize(("word", "how"), [("none", "none"), ("from flights", NO_CURVE)])
def test_without_a_curve_everything_says_so(campaign: Campaign, word: str, how: str) -> None:
    found = _results(campaign, word=word)
    assert found.meta["calibration"] == {"one": how}
    assert "taken as indicated" in str(notebook_calibration.what_there_is(found))
    assert tables_calibration.handbook(found).empty
    assert tables_calibration.legs(found, "").empty
    assert notebook_calibration.share_of_intervals(found).empty
    assert plots_calibration.curve(found).layout.meta["summary"].endswith("no curve from flights.")
    page = report_html(found)
    assert "The airspeed of airplane one was not calibrated" in page
    assert "Indicated to calibrated airspeed" not in page
    assert "Fly a box" in page if word == "from flights" else "Fly a box" not in page


def test_an_owners_table_is_named_and_flown_patterns_are_shown_beside_it(
    campaign: Campaign,
) -> None:
    found = fit_calibrations(campaign, pd.DataFrame(_pattern("F01", 1, 80)))
    meta = calibration_meta(campaign, found)
    assert meta["calibration"] == {"one": TABLE}
    assert not meta["calibration_words"][0]["used"]
    whole = made()
    results = replace(whole, meta=whole.meta | meta, tables=calibration_tables(found.values()))
    told = " ".join(str(notebook_calibration.what_there_is(results)).split())
    assert "owner's table is used" in told
    assert "shown and not used" in told


def test_the_report_has_the_picture_the_table_and_the_words(results: Results) -> None:
    page = report_html(results)
    section = page[page.index('id="airspeed"'):page.index('id="balance"')]
    assert "Airspeed correction" in section
    assert "(not flown)" in section
    assert "4 patterns, 16 legs" in section
    assert section.count("<svg") == 1
    numbers = [int(part.split(":")[0]) for part in page.split("Figure ")[1:]
               if part.split(":")[0].isdigit()]
    assert numbers == list(range(1, len(numbers) + 1))


def test_the_share_of_the_calibration_is_summed_over_its_parts(results: Results) -> None:
    basis = "equal weight"
    rows = [("climb_rate", "climb_1", "A", basis, "airspeed calibration", 20.0),
            ("climb_rate", "climb_1", "A", basis, "airspeed calibration, own to a configuration",
             10.0),
            ("climb_rate", "climb_1", "A", basis, "take-off weight", 70.0),
            ("climb_rate", "climb_1", "B - A", "payload", "airspeed calibration", 9.0),
            ("fuel_flow", "cruise_65", "A", basis, "airspeed calibration", 50.0)]
    budget = pd.DataFrame(rows, columns=["metric", "condition_id", "configuration", "load_basis",
                                         "source", "share [%]"])
    told = replace(results, tables=results.tables | {"budget": budget})
    table = notebook_calibration.share_of_intervals(told)
    assert table["Share of the variance [%]"].to_list() == ["30"]
    assert table["Of"].to_list() == ["A"]
    assert table["What"].to_list() == ["Rate of climb at 1000 ft"]


def test_the_card_gives_headings_airspeeds_and_bands(results: Results) -> None:
    rows = dict(card(results, "airspeed calibration").itertuples(index=False))
    assert "headings 90° apart" in rows["Target"]
    assert "48 kt" in rows["Target"]
    assert "Reference day" not in rows
    assert "Stop when" in rows
