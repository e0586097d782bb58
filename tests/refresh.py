"""Execute the notebooks of `workbook/` in order on the demo and store their outputs.

This alone writes stored notebooks, and the table of results in the demo's README: each notebook
runs in a fresh kernel, its metadata carries no versions, and nothing is written unless every
notebook ran to its end.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from stdday.notebook import open_results  # noqa: E402
from tests import demo_truth  # noqa: E402

WORKBOOK = ROOT / "workbook"
METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
CELL_SECONDS = 300


def normalised(notebook: Any) -> Any:
    """Drop what differs from one computer or day to the next; keep tags, which are the author's."""
    notebook.metadata = nbformat.from_dict(METADATA)
    for number, cell in enumerate(notebook.cells):
        tags = cell.metadata.get("tags")
        cell.metadata = nbformat.from_dict({"tags": tags} if tags else {})
        cell.id = f"cell-{number + 1:02d}"
        for output in cell.get("outputs", []):
            if "metadata" in output:
                output.metadata = nbformat.from_dict({})
    notebook.nbformat, notebook.nbformat_minor = 4, 5
    return notebook


def executed(path: Path) -> Any:
    """The notebook with the outputs of a fresh kernel, in its own folder."""
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=CELL_SECONDS,
        kernel_name="python3",
        resources={"metadata": {"path": str(path.parent)}},
        record_timing=False,
        coalesce_streams=True,
    )
    client.execute()
    return normalised(notebook)


def store(path: Path, notebook: Any) -> None:
    """Write a notebook whole or not at all."""
    new = path.with_name(path.name + ".new")
    new.write_text(nbformat.writes(notebook) + "\n", encoding="utf-8", newline="\n")
    new.replace(path)


def main(workbook: Path = WORKBOOK) -> int:
    """Execute all, then store all."""
    done = {}
    for path in sorted(workbook.glob("*.ipynb")):
        print(f"executing {path.name}", flush=True)
        try:
            done[path] = executed(path)
        except CellExecutionError as error:
            print(f"{path.name} stopped; no notebook was stored.\n{error}", file=sys.stderr)
            return 1
    for path, notebook in done.items():
        store(path, notebook)
    for demo in (demo_truth.DEMO, demo_truth.CLUB):
        demo_truth.main(open_results(demo), demo)
    print(f"{len(done)} notebooks executed and stored; demo results set beside their truth")
    return 0


if __name__ == "__main__":
    sys.exit(main())
