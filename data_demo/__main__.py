"""`python data_demo` makes the invented demo campaign again, to the same bytes."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    changed = importlib.import_module("data_demo.make").make()
    print(f"recordings changed: {', '.join(changed) or 'none'}")
