"""Draws of the errors that the scatter between flights cannot show.

Every physics function broadcasts over a leading axis of draws.  Row 0 of that axis is the nominal
case without any error, so that the value and its draws come from one and the same computation.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from stdday.errors import InputError

__all__ = ["KINDS", "SYSTEMATIC", "Draws"]

#: Kinds of error, as in the project's guide: what each does to a difference.
KINDS = ("shared", "configuration", "block", "flight", "point", "parameter")

#: Kinds that the scatter of flight means cannot show.
SYSTEMATIC = frozenset({"shared", "configuration", "block", "parameter"})


@dataclass(frozen=True)
class Draws:
    """Standard normal draws by name, the same for the same seed, name and key.

    Parameters
    ----------
    count : int
        Number of draws, an even number [-]; 0 gives the nominal case alone.
    seed : int
        Seed [-].
    kinds : frozenset of str
        Kinds of error that are drawn; all others stay zero.
    asked : dict of (name, key) to str
        Kind of each error that was drawn so far and is not zero.

    Examples
    --------
    >>> draws = Draws(4, seed=1)
    >>> z = draws.normal("probe", "shared", ["one", "two"])
    >>> z.shape, z[0].tolist(), bool(np.all(z[1:3] == -z[3:5]))
    ((5, 2), [0.0, 0.0], True)
    """

    count: int = 2000
    seed: int = 20261125
    kinds: frozenset[str] = SYSTEMATIC
    asked: dict[tuple[str, str], str] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )

    def __post_init__(self) -> None:
        """Check the count and the kinds."""
        if self.count < 0 or self.count % 2:
            raise InputError(f"count [-] must be even and not negative; got {self.count}")
        unknown = self.kinds - set(KINDS)
        if unknown:
            raise InputError(f"kinds must be among {KINDS}; got {sorted(unknown)}")

    def normal(self, name: str, kind: str, keys: Sequence[str]) -> NDArray[np.float64]:
        """Draws of one named error, one column a key (equal keys get equal draws).

        Parameters
        ----------
        name : str
            Name of the error.
        kind : str
            Its kind, one of `KINDS`.
        keys : sequence of str
            What it is common to: the installation, configuration, block, flight or point of each
            column.

        Returns
        -------
        ndarray, shape (count + 1, len(keys))
            Standard normal draws [-]; row 0 is zero, and the second half mirrors the first, so
            that an error without curvature adds no bias.

        Raises
        ------
        InputError
            Where the kind is not known.
        """
        if kind not in KINDS:
            raise InputError(f"kind must be among {KINDS}; got {kind!r}")
        result = np.zeros((self.count + 1, len(keys)))
        if kind not in self.kinds or not self.count:
            return result
        columns = {key: self.column(name, key) for key in dict.fromkeys(keys)}
        self.asked.update(dict.fromkeys(((name, key) for key in columns), kind))
        for place, key in enumerate(keys):
            result[1:, place] = columns[key]
        return result

    def column(self, name: str, key: str) -> NDArray[np.float64]:
        """Draws of one named error and key, without the nominal row.

        Parameters
        ----------
        name, key : str
            Name of the error and what it is common to.

        Returns
        -------
        ndarray, shape (count,)
            Standard normal draws [-]; the second half mirrors the first.
        """
        digest = hashlib.sha256(f"{self.seed}\n{name}\n{key}".encode()).digest()
        half = np.random.default_rng(int.from_bytes(digest[:8], "big")).standard_normal(
            self.count // 2
        )
        return np.concatenate([half, -half])

    def only(self, kinds: Iterable[str]) -> Draws:
        """Return the same draws with only these kinds of error."""
        return Draws(self.count, self.seed, frozenset(kinds))
