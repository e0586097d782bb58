"""The notebooks on campaigns other than the invented example, and how they find their campaign."""

from __future__ import annotations

import ast
import contextlib
import csv
import dataclasses
import io
import json
import os
import re
import shutil
from pathlib import Path

import nbformat
import pandas as pd
import pytest
from nbclient import NotebookClient

from stdday import cards, notebook, opening, pipeline, plots, store, tables_points
from stdday.bands import BANDS
from stdday.decisions import read_decisions
from stdday.errors import CampaignError, InputError, StddayError
from tests.made_results import HOSTILE, made, made_empty, made_hostile, made_single

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data_demo" / "propeller_change"
NOTEBOOKS = sorted((ROOT / "workbook").glob("*.ipynb"))
#: A name that pages, formulas and spreadsheets could take for something else.
LABEL = "<b>two</b> & $x^2$ =1+1"


# ---- the campaign of a notebook ------------------------------------------------------------------


def test_the_campaign_is_the_nearest_one_at_or_above(tmp_path):
    inner = tmp_path / "outer" / "inner"
    (inner / "notebooks").mkdir(parents=True)
    (tmp_path / "outer" / "campaign.toml").touch()
    assert notebook.campaign_folder(inner / "notebooks") == tmp_path / "outer"
    (inner / "campaign.toml").touch()
    assert notebook.campaign_folder(inner / "notebooks") == inner
    assert notebook.campaign_folder(inner) == inner


def test_the_working_folder_counts_where_none_is_named(tmp_path, monkeypatch):
    (tmp_path / "campaign.toml").touch()
    monkeypatch.chdir(tmp_path)
    assert notebook.campaign_folder() == tmp_path


def test_outside_of_any_campaign_it_is_the_invented_example(tmp_path):
    assert notebook.campaign_folder(tmp_path) == DEMO


def test_without_any_campaign_the_message_says_how_to_open_one(tmp_path, monkeypatch):
    monkeypatch.setattr(notebook, "DEMO", tmp_path / "gone")
    with pytest.raises(StddayError, match="python3 workbook FOLDER"):
        notebook.campaign_folder(tmp_path)


def test_results_are_loaded_when_up_to_date_and_made_when_not(tmp_path, monkeypatch, capsys):
    asked = []
    monkeypatch.setattr(notebook, "run", lambda folder: asked.append(folder) or "made")
    monkeypatch.setattr(store, "load_results", lambda folder: "loaded")
    monkeypatch.setattr(store, "up_to_date", lambda folder: True)
    monkeypatch.delenv(notebook.OPENED, raising=False)
    assert notebook.open_results(tmp_path) == "loaded"
    monkeypatch.setattr(store, "up_to_date", lambda folder: False)
    assert notebook.open_results(str(tmp_path)) == "made"
    assert asked == [tmp_path]
    assert capsys.readouterr().out == "", "stored notebooks must not tell whether a run was needed"
    monkeypatch.setenv(notebook.OPENED, "1")
    notebook.open_results(tmp_path)
    assert "made anew" in capsys.readouterr().out


def test_a_folder_without_a_campaign_is_refused_in_words(tmp_path):
    with pytest.raises(CampaignError, match=r"campaign\.toml"):
        notebook.open_results(tmp_path)


# ---- what it adds to tables and words ------------------------------------------------------------


def test_sentences_cannot_become_markup_or_formulas():
    passage = notebook.Passage([(HOSTILE, f"costs $5 to $9 {HOSTILE}")])
    page = passage._repr_html_()
    assert "<script" not in page
    assert not re.search(r"\$[^<]*\$", page), "two dollar signs would be set as a formula"
    assert HOSTILE in repr(passage)


def test_each_sentence_stands_under_its_verdict():
    parts = notebook.in_words(made()).parts
    assert [head for head, _ in parts] == [
        "Shown", "Shown", "No difference larger than what matters",
        "No difference larger than what matters", "Not resolved", "Not resolved",
    ]  # fmt: skip
    assert all("Time to lift-off" not in text for _, text in parts), "exploratory, unless asked for"
    assert notebook.in_words(made_single()).parts[0][0] == "Value"
    refused = notebook.in_words(made_single(), "takeoff_distance_50ft").parts
    assert refused == (("", "Nothing to say: these results hold no such metric."),)


def test_what_to_fly_next_follows_from_the_reasons():
    found = dict(notebook.next_flights(made()).parts)
    assert "Cruise true airspeed at 65 % power" in found["More days"]
    assert "full throttle gives 72 %" in found["A first comparison"]
    assert found["For the size alone"].endswith("what matters: Take-off ground roll.")
    fuel = dict(notebook.next_flights(made(), "fuel_flow").parts)
    assert "temperature 9.0 to 15.0 degC" in fuel["The same conditions"]
    effects = made().effects.assign(reason="surely; one change-over: not told apart")
    back = notebook.next_flights(dataclasses.replace(made(), effects=effects))
    assert back.parts[-1][1].startswith("Flights with A again")
    once = made_single().values.assign(basis="assumed day-to-day scatter")
    single = notebook.next_flights(dataclasses.replace(made_single(), values=once))
    assert single.parts[0][0] == "More days"
    assert "Nothing is needed" in notebook.next_flights(made_single()).parts[0][1]


def test_cards_state_the_bands_in_the_campaigns_units():
    results = made()
    results.meta["display"] |= {"speed": "km/h", "altitude": "m"}
    card = cards.card(results, "level run").set_index("Card")["Level run"]
    assert f"Altitude within {BANDS.level_altitude_m:.1f} m" in card["Data band"]
    assert "airspeed within 2.8 km/h" in card["Data band"]    # 1.5 kt x 1.852
    assert "55 %, 65 %, 75 %" in card["Target"]
    assert "licensed people decide" in card["Stop when"]
    with pytest.raises(InputError, match="level run"):
        cards.card(results, "glide")


def test_points_are_counted_whole():
    table = tables_points.points_found(made())
    assert table["Found"].astype(int).sum() == len(made().points)
    assert (table["Used"].astype(int) + table["Left out"].astype(int)
            == table["Found"].astype(int)).all()
    assert tables_points.flown(made(), "take-off")["Points"].to_list() == ["1"] * 6
    assert tables_points.reasons(made(), "climb")["Reason"].to_list() == ["flown at … kt"]


def test_rows_of_decisions_are_taken_as_they_are_printed(tmp_path):
    text = tables_points.decision_rows(made(), "F4")
    (tmp_path / "decisions.csv").write_text(text.replace(",,", ",no,traffic ahead"))
    taken = read_decisions(tmp_path)
    own = made().points[made().points["flight"] == "F4"]
    assert [decision.point for decision in taken] == own["point"].to_list()
    assert {(decision.use, decision.reason) for decision in taken} == {(False, "traffic ahead")}
    (tmp_path / "decisions.csv").write_text(text)
    assert {decision.use for decision in read_decisions(tmp_path)} == {None}, "left as found"


def test_reference_conditions_stand_once_each():
    table = cards.reference_day(made()).set_index("What")
    assert table.loc["Rate of climb", "Pressure altitude"] == "1000 ft, 4000 ft"
    assert table.loc["Cruise true airspeed", "Power"] == "55 %, 65 %, 75 %"
    assert table.loc["Take-off ground roll"].str.contains("48 kt").any()
    assert "Static engine speed" not in table.index, "stated as flown"


def test_a_point_and_a_flight_are_chosen_and_may_be_none():
    assert notebook.sample_point(made(), "specific_range") == ""
    assert notebook.flight_to_look_at(made()) == "F4"
    empty = made_empty()
    assert notebook.flight_to_look_at(empty) == ""
    assert notebook.leading_metric(empty) == ("takeoff_ground_roll", "")
    assert "no corrected point" in notebook.one_point_steps(empty, "", "climb_rate").layout.meta[
        "summary"]  # fmt: skip


# ---- all notebooks, on results of other kinds ----------------------------------------------------


def three():
    """Three configurations, no level run, no fuel flow."""
    whole = made()
    third = {name: table.assign(configuration="C") for name, table in (
        ("values", whole.values[whole.values["configuration"] == "B"]),
        ("flight_values", whole.flight_values[whole.flight_values["configuration"] == "B"]),
        ("balance", whole.balance[whole.balance["configuration"] == "B"]),
    )}  # fmt: skip
    meta = whole.meta | {"configurations": whole.meta["configurations"] | {
        "C": {"label": "", "airplane": "two", "blocks": []}}}  # fmt: skip
    joined = {name: pd.concat([getattr(whole, name), table], ignore_index=True)
              for name, table in third.items()}  # fmt: skip
    effects = pd.concat([whole.effects, whole.effects.assign(configuration_b="C")])
    no_runs = whole.points[whole.points["kind"] != "level run"].drop(columns="fuel_flow [L/h]")
    ledger = whole.corrections[whole.corrections["metric"] != "cruise_true_airspeed"]
    return dataclasses.replace(
        whole, meta=meta, effects=effects.reset_index(drop=True), points=no_runs,
        corrections=ledger, curve_points=whole.curve_points.iloc[:0],
        curves=whole.curves.iloc[:0], **joined,
    )  # fmt: skip


def refused():
    """Nothing but refusals: every point left out, every metric refused."""
    whole = made_empty()
    values = made().values.assign(estimate=float("nan"), low=float("nan"), high=float("nan"),
                                  flights=0, points=0, basis="", status="refused",
                                  reason="no usable point")  # fmt: skip
    points = made().points.assign(used=False, reason="not steady")
    left = pd.DataFrame({"point": points["point"], "metric": "all", "condition_id": "",
                         "reason": "not steady"})  # fmt: skip
    flights = made().flights.assign(points_used=0)
    return dataclasses.replace(whole, values=values, points=points, left_out=left,
                               flights=flights, traces=made().traces)  # fmt: skip


def shown_by(path, results, monkeypatch):
    """Run the cells of a notebook on given results: what they would show, as HTML and as text."""
    monkeypatch.setattr(notebook, "open_results", lambda: results)
    pages, plain, names = [], [], {}
    monkeypatch.setattr(plots, "show", lambda fig: plain.append(plots.bundle(fig)["text/plain"]))
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type != "code":
            continue
        tree = ast.parse(cell.source)
        last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
        exec(compile(tree, path.name, "exec"), names)
        if last is not None:
            value = eval(compile(ast.Expression(last.value), path.name, "eval"), names)
            if value is not None:
                pages.append(value._repr_html_())
                plain.append(repr(value))
    return "\n".join(pages), "\n".join(plain)


@pytest.mark.parametrize("make", [made, made_single, made_hostile, three, refused],
                         ids=lambda make: make.__name__)  # fmt: skip
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebooks_hold_on_results_of_every_kind(path, make, monkeypatch):
    page, plain = shown_by(path, make(), monkeypatch)
    assert "<script" not in page
    assert not re.search(r"\bnan\b|\bNone\b|\bNaN\b", page + plain)


# ---- all notebooks, from recordings, in kernels --------------------------------------------------


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """The invented example cut down to two flights of A, under names that invite mischief."""
    folder = tmp_path_factory.mktemp("a small & odd campaign")
    for name in ("columns", "campaign.toml"):
        source = DEMO / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, folder / name)
    text = (folder / "campaign.toml").read_text(encoding="utf-8")
    text = re.sub(r'^title = .*$', f"title = '{HOSTILE}'", text, flags=re.MULTILINE)
    text = text.replace('"two-blade fixed pitch"', f"'{LABEL}'")
    text = re.sub(r"(?s)\[configuration\.B\].*?(?=\n\[)", "", text)
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    with (DEMO / "flights.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    kept = [row for row in rows if row[0] in ("flight", "F01", "F02")]
    place = kept[0].index("crew_note")
    for row in kept[1:]:
        row[0], row[place] = row[0].replace("F0", "F-climb +"), f"{LABEL} {HOSTILE}"
    with (folder / "flights.csv").open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(kept)
    (folder / "logs").mkdir()
    for name in ("f01.csv.gz", "f02.csv.gz"):
        shutil.copy(DEMO / "logs" / name, folder / "logs" / name)
    pipeline.run(folder)
    opening.copy_notebooks(ROOT / "workbook", folder, with_outputs=False)
    return folder


def executed(folder, content):
    """A notebook run in a kernel that finds the library and tells no person anything."""
    environment = {key: value for key, value in os.environ.items() if key != notebook.OPENED}
    client = NotebookClient(content, timeout=120, kernel_name="python3", allow_errors=True,
                            resources={"metadata": {"path": str(folder)}})  # fmt: skip
    with contextlib.redirect_stderr(io.StringIO()):
        client.execute(env=environment | {"PYTHONPATH": str(ROOT / "lib")})
    return content


@pytest.fixture(scope="module")
def own_copies(small):
    """Outputs of the campaign's own notebooks, by name; one kernel for all, which is quicker."""
    contents = {path.name: nbformat.read(path, as_version=4)
                for path in sorted((small / "notebooks").glob("*.ipynb"))}  # fmt: skip
    cells = [cell for content in contents.values() for cell in content.cells]
    for place, cell in enumerate(cells):
        cell.id = f"cell-{place}"
    executed(small / "notebooks", nbformat.v4.new_notebook(cells=cells))
    return {name: [output for cell in content.cells for output in cell.get("outputs", ())]
            for name, content in contents.items()}  # fmt: skip


@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("name", [path.name for path in NOTEBOOKS])
def test_notebooks_run_in_a_campaign_of_their_own(small, own_copies, name):
    outputs = own_copies[name]
    assert outputs
    assert not [output for output in outputs if output["output_type"] == "error"]
    assert not [output for output in outputs if output.get("name") == "stderr"]
    assert "<script" not in "".join(o.get("data", {}).get("text/html", "") for o in outputs)
    text = json.dumps(outputs)
    assert "Two propellers" not in text, "the results must be the campaign's own, not the demo's"
    assert str(small) not in text
    if name.startswith("00"):
        assert "One configuration" in text


@pytest.mark.filterwarnings("default")
def test_an_error_of_the_workbook_shows_its_message_alone(tmp_path):
    (tmp_path / "campaign.toml").write_text("schema = 1\nno such key = 2\n")
    cell = nbformat.v4.new_code_cell(
        "from stdday.notebook import open_results\nresults = open_results()"
    )
    done = executed(tmp_path, nbformat.v4.new_notebook(cells=[cell]))
    (output,) = done.cells[0].outputs
    shown = "\n".join(output["traceback"])
    assert output["output_type"] == "error"
    assert "Mend:" in shown
    assert "campaign.toml" in shown
    assert ".py" not in shown, "a page of program text helps nobody"
