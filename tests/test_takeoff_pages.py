"""Take-offs on pages: units, sums, flags, and campaigns that give less."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from stdday import margin_tables, notebook, plots, plots_takeoff, tables_takeoff
from stdday.campaign import Campaign, load_campaign
from stdday.margins import CAUTION
from stdday.outcome import Analysis, analyse
from stdday.picture_svg import svg
from stdday.report import report_html
from stdday.results import Results
from stdday.roll_fit import ROLL_COLUMNS
from stdday.takeoff_tables import takeoff_tables
from stdday.uncertainty import Draws
from tests.benchmarks import campaigns
from tests.made_results import made, made_empty, made_single
from tests.made_takeoffs import made_takeoffs

Flown = tuple[Campaign, pd.DataFrame, Analysis]


@pytest.fixture(scope="module")
def flown() -> Flown:
    demo = load_campaign(campaigns.DEMO)
    world = campaigns.World(demo, seed=21, size=0.0)
    campaign = campaigns.make_flights(demo, world)
    world.campaign = campaign
    every = campaigns.make_segments(campaign, world)
    rolls = every[every["kind"] == "take-off"].reset_index(drop=True)
    return campaign, rolls, analyse(campaign, rolls, Draws(40, seed=3))


@pytest.fixture(scope="module")
def tables(flown: Flown) -> dict[str, pd.DataFrame]:
    return takeoff_tables(*flown)


# ---- tables of the results -----------------------------------------------------------------------


def test_steps_of_the_headwind_add_up_as_in_the_ledger(
    flown: Flown, tables: dict[str, pd.DataFrame]
) -> None:
    wind = tables["takeoff_wind"].set_index("point")
    steps = ["air_minus_ground [kt]", "by_static_jump [kt]", "by_delay [kt]", "by_gradient [kt]"]
    total = wind[steps].sum(axis=1, min_count=4)
    known = wind["from_the_air [kt]"].notna()
    assert known.any()
    np.testing.assert_allclose(total[known], wind.loc[known, "from_the_air [kt]"], atol=0.03)
    ledger = next(r for r in flown[2].reduced if r.metric == "takeoff_ground_roll").ledger
    joined = ledger[ledger["step"] == "joined with the reported wind"].set_index("point")["after"]
    np.testing.assert_allclose(wind.loc[joined.index, "combined [kt]"], joined, atol=0.01)


def test_the_model_column_is_the_corrected_ground_roll(
    flown: Flown, tables: dict[str, pd.DataFrame]
) -> None:
    check = tables["takeoff_cross_check"].set_index("point")
    item = next(r for r in flown[2].reduced if r.metric == "takeoff_ground_roll")
    np.testing.assert_allclose(
        check.loc[list(item.points), "by_model [m]"], item.values[0], atol=0.01
    )
    off = 100 * (check["by_handbook [m]"] / check["by_model [m]"] - 1)
    np.testing.assert_allclose(check["difference [%]"], off, atol=0.02)
    assert list(check["flag"] == "disagree") == list(off.abs() > 5)


def test_acceleration_gives_the_measured_roll_back(
    flown: Flown, tables: dict[str, pd.DataFrame]
) -> None:
    """Time from the integral of dV/a over the measured curve is the recorded one, nearly."""
    curve = tables["takeoff_acceleration"]
    recorded = flown[1].set_index("point")["time_to_liftoff_s"]
    for point, own in curve.groupby("point"):
        speed = own["true_airspeed [kt]"].to_numpy() * 1852 / 3600
        took = np.trapezoid(1 / own["as_flown [m/s^2]"].to_numpy(), speed)
        assert took == pytest.approx(recorded[point], rel=0.08)


def test_rolls_without_a_curve_say_so(flown: Flown) -> None:
    campaign, rolls, _ = flown
    bare = rolls.assign(**dict.fromkeys(ROLL_COLUMNS, np.nan))
    found = takeoff_tables(campaign, bare, analyse(campaign, bare, Draws(20, seed=1)))
    assert "takeoff_acceleration" not in found
    assert found["takeoff_cross_check"]["difference [%]"].isna().all()
    assert (found["takeoff_cross_check"]["reason"].str.startswith("no acceleration curve")).all()
    results = replace(made(), tables=found)
    assert tables_takeoff.cross_check_words(results).startswith("No take-off carries a curve")
    assert "no acceleration curve" in plots_takeoff.acceleration(
        results, str(bare["point"].iloc[0])
    ).layout.meta["summary"].casefold()


def test_pilots_stand_without_their_names(
    flown: Flown, tables: dict[str, pd.DataFrame]
) -> None:
    campaign, rolls, analysis = flown
    named = replace(campaign, flights=tuple(replace(f, pilot="Somebody") for f in campaign.flights))
    pilots = takeoff_tables(named, rolls, analysis)["liftoff_by_pilot"]
    assert set(pilots["pilot"]) == {"pilot 1"}
    assert pilots["take_offs"].sum() == len(rolls)
    assert set(tables["liftoff_by_pilot"]["pilot"]) <= {"pilot 1", "pilot 2", "pilot 3", "not told"}


def test_nothing_without_take_offs(flown: Flown) -> None:
    campaign, rolls, _ = flown
    none = rolls.iloc[:0]
    assert takeoff_tables(campaign, none, analyse(campaign, none, Draws(6, seed=1))) == {}


def test_without_a_wind_and_all_refused(flown: Flown) -> None:
    """Neither calibration nor reported wind: no headwind, no number, no margin, and no error."""
    campaign, rolls, _ = flown
    silent = replace(
        campaign,
        airplanes={name: replace(one, airspeed_calibration="none")
                   for name, one in campaign.airplanes.items()},
        flights=tuple(replace(f, reported_wind_speed_ms=None) for f in campaign.flights),
    )  # fmt: skip
    analysis = analyse(silent, rolls, Draws(6, seed=1))
    found = takeoff_tables(silent, rolls, analysis)
    assert found["takeoff_wind"]["combined [kt]"].isna().all()
    assert not {"takeoff_cross_check", "liftoff_by_pilot", "takeoff_margins"} & set(found)
    results = replace(made_empty(), tables=found)
    assert "not known of any" in plots_takeoff.headwinds(results).layout.meta["summary"]
    assert len(tables_takeoff.headwinds(results))
    assert tables_takeoff.margin_words(results).startswith("No margin is stated")


# ---- margins -------------------------------------------------------------------------------------


def test_margins_by_day_and_runway(flown: Flown, tables: dict[str, pd.DataFrame]) -> None:
    campaign, _, analysis = flown
    table = tables["takeoff_margins"]
    assert (table["caution"] == "not approved data").all()
    lengths = [r for field in campaign.airfields.values() for r in field.runways if r.length_m]
    assert len(table) == len(campaign.configurations) * len(lengths) * 4  # ISA day at sea level is
    warm = table[table["day"] == "sea level, ISA+15"].set_index(["configuration", "runway"])
    plain = table[table["day"] == "reference day"].set_index(["configuration", "runway"])
    assert (warm["required [m]"] > plain["required [m]"]).all()
    left = table["available [m]"] - table["high [m]"]
    np.testing.assert_allclose(table["left_over_high [m]"], left, atol=0.11)
    refused = table["required [m]"].isna()
    assert (table.loc[refused, "reason"] != "").all()
    asked = replace(campaign, decide=replace(campaign.decide, runway_m=500.0))
    more = margin_tables.margins_table(asked, analysis.outcomes, analysis.reduced)
    assert set(more.loc[more["runway"] == margin_tables.ASKED, "available [m]"]) == {500.0}


def test_no_margins_without_a_length(flown: Flown) -> None:
    campaign, _, analysis = flown
    unknown = replace(
        campaign,
        airfields={name: replace(field, runways=tuple(replace(r, length_m=None)
                                                      for r in field.runways))
                   for name, field in campaign.airfields.items()},
    )  # fmt: skip
    assert not len(margin_tables.margins_table(unknown, analysis.outcomes, analysis.reduced))


# ---- pages ---------------------------------------------------------------------------------------


def test_one_kind_of_distance_stands_in_the_header() -> None:
    results = made_takeoffs()
    both = tables_takeoff.margins(results)
    assert list(both["For"].unique()) == ["Take-off distance to 50 ft", "Take-off ground roll"]
    own = results.tables["takeoff_margins"]
    one = replace(results, tables={"takeoff_margins": own[own["configuration"] == "A"]})
    assert "Take-off distance to 50 ft, required [m]" in tables_takeoff.margins(one)
    assert "density altitude too high" in tables_takeoff.margins(one)["Beside it"].iloc[1]


def test_a_campaign_that_gives_nothing_gets_empty_tables_and_words() -> None:
    for results in (made_empty(), made_single()):
        for make in (tables_takeoff.timing, tables_takeoff.headwinds, tables_takeoff.cross_check,
                     tables_takeoff.pilots, tables_takeoff.exponents, tables_takeoff.friction,
                     tables_takeoff.margins):  # fmt: skip
            assert not len(make(results))
            assert repr(make(results)).endswith("(none)")
        for figure in (plots_takeoff.acceleration(results, ""), plots_takeoff.headwinds(results)):
            assert figure.layout.meta["summary"] in svg(figure, "x")
        page = report_html(results)
        assert "Runway required" not in page
        assert "beside the acceleration model" not in page


def test_the_report_shows_margins_with_their_caution() -> None:
    page = report_html(made_takeoffs())
    table = page.index("Runway required against runway available, not approved data")
    assert 0 < table - page.index(CAUTION[:60]) < 2000
    assert "within 5 % in 4 of 5 take-offs" in page
    assert "Neither is the runway length needed" in page


def test_pictures_tell_series_apart_without_colour() -> None:
    figure = plots_takeoff.acceleration(made_takeoffs(), "F1-take-off-080400")
    assert [item.line.dash for item in figure.data] == ["solid", "dash"]
    marks = plots_takeoff.headwinds(made_takeoffs()).data
    assert [item.marker.symbol for item in marks[1:]] == ["circle-open", "square"]
    assert marks[0].mode == "lines"


@pytest.mark.parametrize("make", [made_takeoffs, made, made_single, made_empty])
def test_every_cell_of_the_notebook_works_on_less(
    make: Callable[[], Results], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With all tables, with none, with one configuration, and with every take-off refused."""
    path = Path(__file__).resolve().parents[1] / "workbook" / "40_take_off.ipynb"
    cells = [c for c in json.loads(path.read_text(encoding="utf-8"))["cells"]
             if c["cell_type"] == "code"]  # fmt: skip
    monkeypatch.setattr(notebook, "open_results", make)
    monkeypatch.setattr(plots, "show", lambda figure: svg(figure, "x"))
    values = make().values
    names: dict[str, object] = {}
    for cell in cells:
        source = "".join(cell["source"])
        asked = re.search(r'tables\.values\(results, "(\w+)"\)', source)
        if asked and asked[1] not in set(values["metric"]):
            continue    # made results hold fewer metrics than a run, which has a row for each
        exec(source, names)    # the notebook's own cells
    assert len(cells) > 20
