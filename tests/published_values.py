"""Published check values: the YAML files in `published/`, read for the tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

FOLDER = Path(__file__).resolve().parent / "published"
NEEDED = ("id", "quantity", "inputs", "expected", "tolerance", "source", "origin")


def items(file_stem: str) -> list[dict[str, Any]]:
    """Items of one file, each with its source, its standing (`origin`) and its tolerance."""
    found = yaml.safe_load((FOLDER / f"{file_stem}.yaml").read_text(encoding="utf-8"))
    seen: set[str] = set()
    for item in found:
        missing = [key for key in NEEDED if key not in item]
        assert not missing, f"{file_stem}.yaml: {item.get('id', item)} lacks {missing}"
        assert item["id"] not in seen, f"{file_stem}.yaml: {item['id']} is there twice"
        if isinstance(item["tolerance"], dict):
            assert set(item["tolerance"]) == set(item["expected"]), f"{item['id']}: tolerances"
        seen.add(item["id"])
    return list(found)


def identity(item: dict[str, Any]) -> str:
    """Name of an item for pytest: `ids=identity`."""
    return str(item["id"])


def differences(item: dict[str, Any], got: dict[str, float]) -> list[str]:
    """Every expected figure that `got` misses by more than its tolerance, in words."""
    missed = []
    for key, expected in item["expected"].items():
        off = abs(got[key] - expected)
        if not off <= item["tolerance"][key]:
            missed.append(
                f"{item['id']} {key}: got {got[key]!r}, published {expected}"
                f" within {item['tolerance'][key]}, off by {off:.6g}; {item['source']}"
            )
    return missed
