"""Lint and types: the same tools and settings that a developer runs by hand."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.mark.parametrize("tool", [["ruff", "check", "--no-cache"], ["mypy"]], ids=lambda t: t[0])
def test_is_clean(tool, tmp_path):
    cache = ["--cache-dir", str(tmp_path)] if tool == ["mypy"] and not_writable() else []
    answer = subprocess.run(
        [sys.executable, "-m", *tool, *cache], cwd=ROOT, capture_output=True, text=True
    )
    assert answer.returncode == 0, answer.stdout + answer.stderr


def not_writable():
    try:
        (ROOT / ".mypy_cache").mkdir(exist_ok=True)
    except OSError:
        return True
    return False
