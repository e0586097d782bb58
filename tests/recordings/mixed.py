"""Random recordings mixed from words, units and layouts of all shapes, with columns left out."""

from __future__ import annotations

import dataclasses

import numpy as np

from stdday.propose_units import split_unit
from tests.recordings.shapes import HELD_OUT, SHAPES, Col, Shape, bracketed, names, rows

_POOL = [column for shape in (*SHAPES, *HELD_OUT) for column in shape.columns
         if not column.holds.startswith("@") and column.name]
_LONG = {column.long for column in _POOL}


def random_shape(seed: int) -> Shape:
    """A recording of 4 to 16 columns, in any order, in any of the languages at once."""
    rng = np.random.default_rng(seed)
    held: dict[str, Col] = {}
    for place in rng.permutation(len(_POOL)).tolist():
        column = _POOL[place]
        if not column.long:
            said = "g" if column.unit == "g0" else None
            held.setdefault(column.holds, dataclasses.replace(column, said=said))
    chosen = [held[name] for name in rng.permutation(sorted(held)).tolist()]
    chosen = chosen[:int(rng.integers(4, 17))]
    named = [dataclasses.replace(column, name=_bare(column.name)) for column in chosen]
    if len({column.name for column in named}) < len(named):
        return random_shape(seed + 100_000)
    delimiter, decimal = [(",", "."), (";", ","), ("\t", "."), ("|", ".")][int(rng.integers(4))]
    header = [bracketed(" [", "]"), rows("names", "units"), rows("units", "names"), names,
              rows("Recorder: invented", "blank", "names", "units")][int(rng.integers(5))]
    time = [(Col("UTC date", "@%Y-%m-%d"), Col("UTC time", "@%H:%M:%S")),
            (Col("Time", "@%Y-%m-%dT%H:%M:%SZ"),), (Col("Elapsed s", "@elapsed"),)][
        int(rng.integers(3))]
    return Shape(f"mixed {seed}", seed, (*time, *named), header, delimiter, decimal,
                 step=int(rng.choice([1, 1, 2, 5])))


def _bare(name: str) -> str:
    """Name without a unit that belongs to another layout."""
    said, _, where = split_unit(name)
    return said if where == "bracket" else name
