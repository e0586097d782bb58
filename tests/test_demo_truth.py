"""The table of truth and estimate in the demo's README is what the results say, misses included."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from stdday import store
from tests import demo_truth


@pytest.fixture(scope="module")
def readme() -> str:
    return (demo_truth.DEMO.parent / "README.md").read_text(encoding="utf-8")


def test_the_readme_holds_the_results_of_the_demo(readme: str) -> None:
    if not store.up_to_date(demo_truth.DEMO):
        pytest.skip("the demo's results are not made or out of date; python3 tests makes them")
    truth = json.loads((demo_truth.DEMO / "truth.json").read_text(encoding="utf-8"))["results"]
    block = readme.split(demo_truth.BEGIN)[1].split(demo_truth.END)[0]
    assert block.strip() == demo_truth.table(store.load_results(demo_truth.DEMO), truth).strip()


def test_every_primary_metric_is_set_beside_its_truth(readme: str) -> None:
    block = readme.split(demo_truth.BEGIN)[1].split(demo_truth.END)[0]
    for metric in ("takeoff_ground_roll", "climb_rate", "cruise_true_airspeed"):
        assert f"| {metric} |" in block
        assert "**B - A**" in block


def test_a_miss_is_told(tmp_path: Path) -> None:
    row = {"metric": "m", "condition_id": "c", "unit": "ft"}
    assert demo_truth._line(row, "A", 100.0, 90.0, 85.0, 95.0).endswith("| 5.0 |")
    assert demo_truth._line(row, "A", 90.0, 90.0, 85.0, 95.0).endswith("| – |")
