"""Copy the published values into the library, which ships without a reader of YAML.

``python tests/published`` after any change of the files here; a test holds the copy to them.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import yaml

HERE = Path(__file__).resolve().parent
COPY = HERE.parents[1] / "lib" / "stdday" / "published.json"


def read() -> list[dict[str, Any]]:
    """All items of all files, in the order of the files' names."""
    files = sorted(HERE.glob("*.yaml"))
    return [item for path in files for item in yaml.safe_load(path.read_text(encoding="utf-8"))]


def text() -> str:
    """One line an item."""
    lines = ",\n".join(json.dumps(item, ensure_ascii=False) for item in read())
    return f"[\n{lines}\n]\n"


if __name__ == "__main__":
    COPY.write_text(text(), encoding="utf-8", newline="\n")
    print(f"{len(read())} items copied")
