"""A weighted linear fit solved again for every draw of the errors, a block of rows at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scipy import sparse

__all__ = ["DrawSums"]

FloatArray = NDArray[np.float64]


class DrawSums:
    """Normal equations of weighted least squares, draw by draw, added up over blocks of rows.

    They are as small as the columns are few, however many rows there are.

    Parameters
    ----------
    whitener : sparse array, shape (rows, rows)
        As `stdday.statistics.ClusterFit.whitener`, common to all draws.
    draws, columns : int
        Draws and columns of the design [-].

    Examples
    --------
    >>> from scipy import sparse
    >>> sums = DrawSums(sparse.eye_array(3, format="csr"), 1, 2)
    >>> sums.add([0, 2], np.array([[[1.0, 0.0], [1.0, 2.0]]]), np.array([[1.0, 5.0]]))
    >>> sums.add([1], np.array([[[1.0, 1.0]]]), np.array([[3.0]]))
    >>> sums.solve().round(6).tolist()
    [[1.0, 2.0]]
    """

    def __init__(self, whitener: sparse.csr_array, draws: int, columns: int) -> None:
        self._whitener = whitener
        self._gram = np.zeros((draws, columns, columns))
        self._moment = np.zeros((draws, columns))

    def add(self, rows: Sequence[int], design: FloatArray, response: FloatArray) -> None:
        """Add rows that no other row outside of the block is whitened with: whole flights.

        Parameters
        ----------
        rows : sequence of int
            Numbers of the rows in the fit.
        design : ndarray, shape (draws, rows of the block, columns)
            Their design.
        response : ndarray, shape (draws, rows of the block)
            Their response.
        """
        draws, count, columns = design.shape
        whitening = self._whitener[rows][:, rows]
        flat = whitening @ design.transpose(1, 0, 2).reshape(count, draws * columns)
        x = np.ascontiguousarray(flat.reshape(count, draws, columns).transpose(1, 2, 0))
        y = np.ascontiguousarray((whitening @ response.T).T)[..., None]
        self._gram += x @ x.transpose(0, 2, 1)
        self._moment += (x @ y)[..., 0]

    def solve(self) -> FloatArray:
        """Solve for the coefficients of every draw.

        Returns
        -------
        ndarray, shape (draws, columns)
            Coefficients.

        Raises
        ------
        numpy.linalg.LinAlgError
            Where a design does not span its columns.
        """
        solved = np.linalg.solve(self._gram, self._moment[..., None])
        return np.asarray(solved[..., 0], dtype=float)
