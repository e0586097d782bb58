"""`python data_demo [NAME]` makes the invented demos again, to the same bytes."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    program = importlib.import_module("data_demo.make")
    for name in sys.argv[1:] or program.DEMOS:
        if name not in program.DEMOS:
            sys.exit(f"no demo {name!r}; there are {', '.join(program.DEMOS)}")
        changed = program.make(program.DEMOS[name])
        print(f"{name}: recordings changed: {', '.join(changed) or 'none'}")
