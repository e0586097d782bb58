"""From raw files to results: what stops a run, what a decision changes, and what is said."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from stdday import store
from stdday.campaign import load_campaign
from stdday.errors import CampaignError
from stdday.pipeline import make, run
from tests.benchmarks.campaigns import DEMO

SMALL = ("F01", "F05")


def _small(tmp_path: Path, flights: tuple[str, ...] = SMALL) -> Path:
    """A campaign of a few of the demo's flights."""
    folder = tmp_path / "a small one"
    shutil.copytree(
        DEMO, folder, ignore=shutil.ignore_patterns("results*", "notebooks", ".cache", "history*")
    )
    lines = (folder / "flights.csv").read_text(encoding="utf-8").splitlines()
    kept = [lines[0], *(line for line in lines[1:] if line.split(",")[0] in flights)]
    (folder / "flights.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    return folder


def test_a_run_writes_everything_the_format_names(tmp_path: Path) -> None:
    folder = _small(tmp_path)
    results = run(folder)
    written = {path.name for path in (folder / "results").iterdir()}
    assert {
        "values.csv", "effects.csv", "points.csv", "corrections.csv", "results.json",
        "report.html", "provenance.json", "tables",
    } == written  # fmt: skip
    assert (folder / "history.csv").read_text(encoding="utf-8").count("\n") == 2
    assert (results.effects["verdict"] == "not resolved").all()  # one flight each: no claim
    on_disk = pd.read_csv(folder / "results" / "values.csv")
    assert on_disk["estimate"].to_numpy() == pytest.approx(
        results.values["estimate"].to_numpy(), nan_ok=True
    )


def test_a_results_file_that_was_lost_is_made_again(tmp_path: Path) -> None:
    folder = _small(tmp_path)
    run(folder)
    before = (folder / "results" / "values.csv").read_bytes()
    (folder / "results" / "values.csv").unlink()
    assert not store.up_to_date(folder)
    run(folder)
    assert (folder / "results" / "values.csv").read_bytes() == before


def test_every_row_of_every_recording_is_accounted_for(tmp_path: Path) -> None:
    table = make(load_campaign(_small(tmp_path))).flights
    for row in table.to_dict("records"):
        aside = sum(int(part.split()[0]) for part in row["rows_set_aside"].split("; ") if part)
        assert row["rows_in_file"] == row["rows_used"] + aside > 3000


def test_a_decision_sets_a_point_aside_with_its_reason(tmp_path: Path) -> None:
    folder = _small(tmp_path)
    points = make(load_campaign(folder)).points
    climb = points[(points["kind"] == "climb") & points["used"]].iloc[0]
    header = "point,flight,kind,start_utc,end_utc,use,reason"
    (folder / "decisions.csv").write_text(
        f"{header}\n{climb['point']},{climb['flight']},climb,{climb['start_utc']},"
        f"{climb['end_utc']},no,flaps forgotten\n",
        encoding="utf-8",
    )
    again = make(load_campaign(folder))
    row = again.points.set_index("point").loc[climb["point"]]
    assert not row["used"]
    assert "flaps forgotten" in row["reason"]
    assert climb["point"] in set(again.left_out["point"])


def test_the_same_flight_in_two_rows_is_refused(tmp_path: Path) -> None:
    folder = _small(tmp_path)
    shutil.copy(folder / "logs" / "f01.csv.gz", folder / "logs" / "copy.csv.gz")
    with (folder / "flights.csv").open("a", encoding="utf-8") as stream:
        line = (folder / "flights.csv").read_text(encoding="utf-8").splitlines()[1]
        stream.write(line.replace("F01", "F99").replace("f01.csv.gz", "copy.csv.gz") + "\n")
    with pytest.raises(CampaignError, match="same airplane at the same time as that of 'F01'"):
        make(load_campaign(folder))


def test_recordings_without_a_clock_carry_the_doubt_about_their_interval(tmp_path: Path) -> None:
    folder = _small(tmp_path)
    sure = make(load_campaign(folder)).values
    columns = folder / "columns" / "panel.toml"
    text = columns.read_text(encoding="utf-8")
    old = next(line for line in text.splitlines() if line.startswith("time"))
    columns.write_text(
        text.replace(old, 'time = { interval = "1 s", interval_sigma = "10 %" }'), encoding="utf-8"
    )
    doubtful = make(load_campaign(folder)).values

    def width(table: pd.DataFrame) -> float:
        row = table[(table["metric"] == "climb_rate") & (table["configuration"] == "A")].iloc[0]
        return float(row["high"] - row["low"])

    assert np.isfinite(width(doubtful))
    assert width(doubtful) > 1.5 * width(sure)
