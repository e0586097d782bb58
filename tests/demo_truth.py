"""Set the demos' results beside their known truth in `data_demo/README.md`, misses included."""

from __future__ import annotations

import json
import math
from pathlib import Path

from stdday.results import Results

README = Path(__file__).resolve().parents[1] / "data_demo" / "README.md"
DEMO = README.parent / "propeller_change"
CLUB = README.parent / "two_aircraft"
BEGIN, END = "<!-- results begin -->", "<!-- results end -->"
HEAD = [
    "| metric | condition | unit | of | truth | estimate | 95 % interval | misses by |",
    "| --- | --- | --- | --- | ---: | ---: | --- | ---: |",
]


def marks(demo: Path) -> tuple[str, str]:
    """The two lines of the README between which a demo's table stands."""
    if demo == DEMO:
        return BEGIN, END
    return f"<!-- results of {demo.name} begin -->", f"<!-- results of {demo.name} end -->"


def truth_of(demo: Path) -> list[dict[str, object]]:
    """True results of a demo."""
    document = json.loads((demo / "truth.json").read_text(encoding="utf-8"))
    return list(document["results"])


def table(results: Results, truth: list[dict[str, object]]) -> str:
    """Markdown table: truth, estimate, interval, and by how much the interval misses.

    Results that are not made, or whose truth is not known, have no row.
    """
    known = {(row["metric"], row["condition_id"]): row for row in truth}
    lines = list(HEAD)
    for row in results.values.to_dict("records"):
        found = known.get((row["metric"], row["condition_id"]))
        if found and row["status"] == "ok":
            lines.append(
                _line(row, row["configuration"], found[row["configuration"]],
                      row["estimate"], row["low"], row["high"])
            )  # fmt: skip
    for row in results.effects.to_dict("records"):
        found = known.get((row["metric"], row["condition_id"]))
        if found and math.isfinite(row["difference"]) and row["load_basis"] == "equal weight":
            of = f"**{row['configuration_b']} - {row['configuration_a']}**"
            lines.append(
                _line(row, of, found["difference"], row["difference"],
                      row["difference_low"], row["difference_high"])
            )  # fmt: skip
    lines.append("")
    lines.append("Static engine speed is stated as flown, not on the reference day.")
    return "\n".join(lines)


def _line(
    row: dict[str, object], of: str, truth: object, estimate: float, low: float, high: float
) -> str:
    value = float(str(truth))
    miss = max(low - value, value - high, 0.0)
    digits = 3 if abs(value) < 1 else 2 if abs(value) < 20 else 1
    missed = f"{miss:.{digits}f}" if miss else "–"
    return (
        f"| {row['metric']} | {row['condition_id']} | {row['unit']} | {of} | {value:.{digits}f} | "
        f"{estimate:.{digits}f} | {low:.{digits}f} to {high:.{digits}f} | {missed} |"
    )


def fill(readme: Path, text: str, begin: str = BEGIN, end: str = END) -> None:
    """Put the table between its marks, whole or not at all."""
    old = readme.read_text(encoding="utf-8")
    head, rest = old.split(begin)
    tail = rest.split(end)[1]
    new = readme.with_name(readme.name + ".new")
    new.write_text(f"{head}{begin}\n{text}\n{end}{tail}", encoding="utf-8", newline="\n")
    new.replace(readme)


def main(results: Results, demo: Path = DEMO) -> None:
    """Fill the README from results of a demo."""
    fill(README, table(results, truth_of(demo)), *marks(demo))
