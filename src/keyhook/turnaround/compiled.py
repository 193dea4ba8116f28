"""How the numeric loops of the planner are compiled, in one place.

``_nrt=False`` leaves out the counting of references to arrays, which took most of the time: nothing compiled
here allocates, every array is handed in and outlives the call. Code is kept between runs; the cache looks at
each file by itself, so after a change of one of these files empty ``__pycache__`` of the folder.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numba
import numpy as np
import numpy.typing as npt

Whole = npt.NDArray[np.int32] | npt.NDArray[np.int64]
Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """Compile a function when it is first called; it lets other threads run meanwhile."""
    done: Function = numba.njit(cache=True, nogil=True, _nrt=False)(function)  # type: ignore[call-overload]
    return done


def inlined(function: Function) -> Function:
    """Compile a small function into each of its callers."""
    done: Function = numba.njit(cache=True, nogil=True, _nrt=False, forceinline=True)(function)  # type: ignore[call-overload]
    return done


@inlined
def copy_over(into: Whole, source: Whole) -> None:
    """Copy one array over another of its length (a slice assignment would make a third)."""
    for k in range(len(source)):
        into[k] = source[k]
