"""Set the demo's results beside its known truth in `data_demo/README.md`, misses included."""

from __future__ import annotations

import json
from pathlib import Path

from stdday.results import Results

DEMO = Path(__file__).resolve().parents[1] / "data_demo" / "propeller_change"
BEGIN, END = "<!-- results begin -->", "<!-- results end -->"


def table(results: Results, truth: list[dict[str, object]]) -> str:
    """Markdown table: truth, estimate, interval, and by how much the interval misses."""
    known = {(row["metric"], row["condition_id"]): row for row in truth}
    lines = [
        "| metric | condition | unit | of | truth | estimate | 95 % interval | misses by |",
        "| --- | --- | --- | --- | ---: | ---: | --- | ---: |",
    ]
    for row in results.values.to_dict("records"):
        found = known.get((row["metric"], row["condition_id"]))
        if found and row["status"] == "ok":
            lines.append(
                _line(row, row["configuration"], found[row["configuration"]],
                      row["estimate"], row["low"], row["high"])
            )  # fmt: skip
    for row in results.effects.to_dict("records"):
        found = known.get((row["metric"], row["condition_id"]))
        if found and row["difference"] == row["difference"]:
            lines.append(
                _line(row, "**B - A**", found["difference"], row["difference"],
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


def fill(readme: Path, text: str) -> None:
    """Put the table between its marks, whole or not at all."""
    old = readme.read_text(encoding="utf-8")
    head, tail = old.split(BEGIN)[0], old.split(END)[1]
    new = readme.with_name(readme.name + ".new")
    new.write_text(f"{head}{BEGIN}\n{text}\n{END}{tail}", encoding="utf-8", newline="\n")
    new.replace(readme)


def main(results: Results) -> None:
    """Fill the demo's README from results of the demo."""
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["results"]
    fill(DEMO.parent / "README.md", table(results, truth))
