"""Evaluate a formula over arrays block by block, so that temporaries stay in the cache."""

from collections.abc import Callable
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
    if 0 in shape:
        return np.empty(shape)
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
