"""Range checks and scalar-or-array plumbing shared by the physics modules."""

from __future__ import annotations

from typing import NoReturn

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stdday.errors import InputError

__all__ = ["FloatArray", "FloatOrArray", "as_result", "checked"]

#: An array of float64, of any shape.
FloatArray = NDArray[np.float64]
#: What a physics function returns: a float for scalar arguments, else an array.
FloatOrArray = float | NDArray[np.float64]

_LARGEST = float(np.finfo(np.float64).max)


def checked(
    name: str,
    values: ArrayLike,
    low: float,
    high: float,
    hint: str = "",
    hint_above: str | None = None,
) -> FloatArray:
    """Return values as a float64 array, or say which of them is out of range.

    NaN (and a masked element) is a missing value and passes; infinities never do. The check is one
    pass for the least and one for the greatest value: about 30 microseconds for 2000 x 40 draws.

    Parameters
    ----------
    name : str
        Argument and unit as the message shows them, such as ``temperature_k [K]``.
    values : array_like, any shape
        Numbers in the unit that `name` states. Text, None and complex numbers are refused.
    low, high : float
        Least and greatest value allowed, both included; ``-inf`` or ``inf`` leaves a side open.
    hint : str, optional
        How to mend a value out of range, a short question or advice without brackets.
    hint_above : str, optional
        What to show instead of `hint` for a value above `high`; empty for nothing.

    Returns
    -------
    ndarray
        The values [as given]; it may share memory with `values`, so it is not to be written to.

    Raises
    ------
    InputError
        A value is not a number, infinite, below `low` or above `high`.

    Examples
    --------
    >>> checked("temperature_k [K]", [288.15, float("nan")], 200.0, 340.0)
    array([288.15,    nan])
    >>> checked("temperature_k [K]", [290.0, 15.2], 200.0, 340.0, "is it in degrees Celsius?")
    Traceback (most recent call last):
    ...
    stdday.errors.InputError: temperature_k [K] must be 200 to 340; got 15.2 at index 1 \
(is it in degrees Celsius?)
    """
    array = _float_array(name, values)
    if array.size == 0:
        return array
    least = np.fmin.reduce(array, axis=None)
    greatest = np.fmax.reduce(array, axis=None)
    if least < max(low, -_LARGEST) or greatest > min(high, _LARGEST):
        _refuse(name, array, low, high, hint, hint if hint_above is None else hint_above)
    return array


def as_result(values: FloatOrArray) -> FloatOrArray:
    """Return a plain float for a single number, else the array.

    Parameters
    ----------
    values : float or ndarray
        Result of a calculation [any unit].

    Returns
    -------
    float or ndarray
        The same value or values [same unit]; never raises.

    Examples
    --------
    >>> as_result(np.asarray(1.5))
    1.5
    >>> as_result(np.asarray([1.5]))
    array([1.5])
    """
    return float(values) if np.ndim(values) == 0 else np.asarray(values, dtype=np.float64)


def _float_array(name: str, values: ArrayLike) -> FloatArray:
    if isinstance(values, np.ma.MaskedArray):
        values = np.ma.filled(values.astype(np.float64), np.nan)
    try:
        array = np.asarray(values)
    except ValueError as error:
        raise InputError(f"{name} must be numbers in one regular shape; got {error}") from error
    if array.dtype.kind not in "fiu":
        found = repr(values)
        shown = found if len(found) <= 40 else found[:37] + "..."
        raise InputError(f"{name} must be numbers, with NaN where one is missing; got {shown}")
    return np.asarray(array, dtype=np.float64)


def _refuse(
    name: str, array: FloatArray, low: float, high: float, hint_below: str, hint_above: str
) -> NoReturn:
    outside = (array < max(low, -_LARGEST)) | (array > min(high, _LARGEST))
    first = tuple(int(part[0]) for part in np.nonzero(np.atleast_1d(outside)))
    value = float(np.atleast_1d(array)[first])
    others = int(np.count_nonzero(outside)) - 1
    place = ""
    if array.ndim:
        place = f" at index {first[0] if array.ndim == 1 else first}"
    more = f" and at {others} more" if others else ""
    hint = hint_above if value > high else hint_below
    mend = f" ({hint})" if hint and np.isfinite(value) else ""
    raise InputError(f"{name} must be {_allowed(low, high)}; got {value:.6g}{place}{more}{mend}")


def _allowed(low: float, high: float) -> str:
    if np.isfinite(low) and np.isfinite(high):
        return f"{low:.6g} to {high:.6g}"
    if np.isfinite(low):
        return f"finite and at least {low:.6g}"
    if np.isfinite(high):
        return f"finite and at most {high:.6g}"
    return "finite"
