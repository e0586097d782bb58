"""`python3 workbook`: make what is needed on a bare machine, then open the workbook.

This file parses on Python 3.8, so that a Python too old gets an answer in words.
"""

import os
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
sys.path.insert(0, os.path.join(ROOT, "lib"))

import boot

if __name__ == "__main__":
    sys.exit(boot.start(ROOT, "workbook", ["-m", "stdday.command", *sys.argv[1:]]))
