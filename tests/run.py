"""What `python3 tests` does once it runs in the test environment."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "data_demo" / "propeller_change"
SETTINGS = {
    "PLOTLY_RENDERER": "plotly_mimetype",    # the one that stores the same bytes each time
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "VECLIB_MAXIMUM_THREADS": "1",
    "JUPYTER_PREFER_ENV_PATH": "1",
}


def prepare_demo() -> int:
    """Make the demo's results where they are missing or out of date, as opening it would."""
    command = [sys.executable, "-P", "-m", "stdday.command", str(DEMO), "--no-open"]
    return subprocess.run(command, cwd=ROOT, check=False, stdout=subprocess.DEVNULL).returncode


def pytest_arguments(typed: list[str]) -> list[str]:
    """Everything in one run of pytest, so that its closing line covers everything."""
    if any((ROOT / word.split("::")[0]).exists() for word in typed):
        return ["--nbval", "--nbval-current-env", "--benchmark-disable", *typed]
    places = ["lib", "tests", "workbook"]
    return ["--nbval", "--nbval-current-env", "--benchmark-disable", *places, *typed]


def main(typed: list[str]) -> int:
    """Run the checks, or refresh the notebooks."""
    os.environ.update(SETTINGS, PYTHONPATH=str(ROOT / "lib"))
    os.environ.pop("STDDAY_OPENED", None)
    os.chdir(ROOT)
    with tempfile.TemporaryDirectory() as state:    # what a person opened last stays as it is
        os.environ["STDDAY_STATE"] = state
        return _run(typed)


def _run(typed: list[str]) -> int:
    if prepare_demo() != 0:
        print("The results of the demo could not be made (above).", file=sys.stderr, flush=True)
        if typed[:1] == ["refresh"]:
            return 1
    if typed[:1] == ["refresh"]:
        command = [sys.executable, "-P", str(ROOT / "tests" / "refresh.py"), *typed[1:]]
    else:
        command = [sys.executable, "-P", "-m", "pytest", *pytest_arguments(typed)]
    try:
        return subprocess.run(command, check=False).returncode
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
