"""Arrays of physics: formulas evaluated block by block, published tables between their rows."""

from collections.abc import Callable
from math import prod
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

BLOCK = 16384  # values: 128 KiB a temporary, so that several fit the second-level cache


def by_blocks(formula: Callable[..., Floats], *inputs: ArrayLike) -> Floats:
    """Apply an elementwise formula to arrays of any size with temporaries of one block only.

    Parameters
    ----------
    formula : callable
        Takes as many float64 arrays of shape (k,) as there are inputs and returns one of shape
        (k,). It may use as many temporaries as its author finds clear.
    *inputs : array_like
        Broadcast against each other.

    Returns
    -------
    ndarray of float64
        The inputs' broadcast shape; a float64 scalar if all inputs are scalars.
    """
    operands = [np.asarray(each) for each in inputs]
    shape = np.broadcast_shapes(*(each.shape for each in operands))
    size = prod(shape)
    if not size:
        return np.empty(shape)
    if size <= BLOCK:
        # One block: a walk over it would cost more than the formula.
        flat = [
            (each if each.shape == shape else np.broadcast_to(each, shape)).reshape(size)
            for each in (np.asarray(each, dtype=np.float64) for each in operands)
        ]
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            answer: Floats = formula(*flat).reshape(shape)[()]
        return answer
    roles: list[list[Literal["readonly", "writeonly", "allocate"]]]
    roles = [["readonly"] for _ in operands]
    roles.append(["writeonly", "allocate"])
    walk = np.nditer(
        (*operands, None),
        flags=["external_loop", "buffered"],
        op_flags=roles,
        op_dtypes=[np.float64] * (len(operands) + 1),
        casting="same_kind",
        order="C",
        buffersize=BLOCK,
    )
    # Bad input is answered with NaN, so it needs no warning besides.
    with walk, np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        for *blocks, out in walk:
            out[...] = formula(*blocks)
        result: Floats = walk.operands[-1]
    return result[()]


def between_rows(values: ArrayLike, known: Floats, answers: Floats) -> Floats:
    """Interpolate straight between the rows of a table.

    Parameters
    ----------
    values : array_like, any shape
        Where to read the table; NaN stays NaN.
    known, answers : ndarray, shape (n,)
        The table's rows, ``known`` rising.

    Returns
    -------
    ndarray of float64, same shape as values
        NaN before the first row and after the last: the table is silent there, and so are we.
    """
    wanted = np.asarray(values, dtype=np.float64)
    read: Floats = np.asarray(np.interp(wanted, known, answers, left=np.nan, right=np.nan))[()]
    return read
