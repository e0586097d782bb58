"""Results as JSON in pieces: the same text as in one go, and the same tables back."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import pandas as pd
import pytest

from stdday import results_json
from stdday.results import Results
from stdday.results_json import read_json, write_json
from tests.made_results import made


def _odd() -> Results:
    """Results whose columns look otherwise in one slice than in the next."""
    mixed = pd.DataFrame({
        "gaps late": [1.0, 2.0, 3.0, float("nan"), float("nan")],
        "text late": [None, None, None, "two", "– three"],
        "whole": [1, 2, 3, 4, 5],
        "yes": [True, False, True, True, False],
        "blank": [float("nan")] * 5,
    })  # fmt: skip
    tables = {name: pd.DataFrame({"point": []}) for name in Results.core_names()}
    return Results(meta={"title": "Grüße"}, **tables | {"values": mixed, "costs": pd.DataFrame()})


def _at_once(results: Results, made_of: dict[str, str]) -> str:
    tables = {}
    for name in Results.core_names():
        split = json.loads(getattr(results, name).to_json(orient="split", double_precision=12))
        tables[name] = {"columns": split["columns"], "rows": split["data"]}
    content = {"schema": 1, "meta": results.meta, "provenance": made_of, "tables": tables}
    return json.dumps(content, separators=(",", ":"), ensure_ascii=False) + "\n"


@pytest.mark.parametrize("rows", [1, 2, 5, 2000])
@pytest.mark.parametrize("characters", [1, 7, 1 << 18])
@pytest.mark.parametrize("results", [made(), _odd()], ids=["made", "odd"])
def test_pieces_give_the_text_and_the_tables_of_one_go(
    monkeypatch: pytest.MonkeyPatch, results: Results, characters: int, rows: int
) -> None:
    whole = _at_once(results, {"code": "12"})
    monkeypatch.setattr(results_json, "ROWS_AT_ONCE", rows)
    monkeypatch.setattr(results_json, "CHARACTERS_AT_ONCE", characters)
    stream = io.StringIO()
    write_json(stream, results, {"code": "12"})
    assert stream.getvalue() == whole

    back = read_json(io.StringIO(whole))
    content = json.loads(whole)
    assert {key: back[key] for key in back if key != "tables"} == {
        key: content[key] for key in content if key != "tables"
    }
    for name, table in content["tables"].items():
        plain = pd.DataFrame(table["rows"], columns=table["columns"])
        for column in plain:
            if plain[column].isna().all():
                plain[column] = plain[column].astype(float)
        pd.testing.assert_frame_equal(back["tables"][name], plain, check_column_type=False)


def test_another_order_and_blanks_make_no_difference() -> None:
    text = '{ "tables": {"a": {"rows": [[1, "x"]], "columns": ["n", "t"]}},\n "schema": 12 }\n'
    back = read_json(io.StringIO(text))
    assert back["schema"] == 12
    assert back["tables"]["a"].to_dict("list") == {"n": [1], "t": ["x"]}


@pytest.mark.parametrize("text", ["", "{", '{"tables":{"a":{"rows":[[1]', "[1]", '{"a" 1}'])
def test_what_is_cut_off_or_no_object_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"must come next|Expecting"):
        read_json(io.StringIO(text))


def test_further_tables_come_back_by_name() -> None:
    """What only some campaigns have is written and read back like the rest."""
    more = pd.DataFrame({"leg": ["leg_1", "leg_2"], "residual": [0.25, -0.5]})
    results = replace(made(), tables={"calibration_legs": more})
    stream = io.StringIO()
    write_json(stream, results, {})
    stream.seek(0)
    found = read_json(stream)["tables"]
    pd.testing.assert_frame_equal(found["calibration_legs"], more)
    assert results.table("calibration_legs") is more
    assert results.table("no such table").empty
