"""Bits of a 64-bit word, one instruction each in compiled code."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

import numpy as np
from llvmlite import ir
from numba import types
from numba.extending import intrinsic


def _lowest_bit(_typing: Any, word: Any) -> Any:
    def generate(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.cttz(values[0], ir.Constant(ir.IntType(1), 0))

    return types.int64(word), generate


def _bits_set(_typing: Any, word: Any) -> Any:
    def generate(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.ctpop(values[0])

    return types.int64(word), generate


#: The number of the lowest bit that is set, and how many bits are: one instruction each.
lowest_bit = cast("Callable[[np.int64], int]", intrinsic(_lowest_bit))
bits_set = cast("Callable[[np.int64], int]", intrinsic(_bits_set))
