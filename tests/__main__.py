"""`python3 tests`: make the test environment on a bare machine, then run every check in it.

`python3 tests refresh` executes the notebooks again and stores their outputs. This file parses on
Python 3.8, so that a Python too old gets an answer in words.
"""

import os
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
sys.path.insert(0, os.path.join(ROOT, "lib"))

import boot

if __name__ == "__main__":
    run = os.path.join(ROOT, "tests", "run.py")
    sys.exit(boot.start(ROOT, "tests", [run, *sys.argv[1:]]))
