# ruff: noqa: N803
# R is the state of the generator.
"""Chance for compiled code: a small generator whose state is an array, so that a seed repeats on every machine."""

from __future__ import annotations

import numpy as np

from keyhook.turnaround.compiled import inlined
from keyhook.turnaround.layout import U64


@inlined
def draw(R: U64) -> float:
    """Return the next number in [0, 1): a 64-bit xorshift with a final multiplication."""
    x = R[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    R[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@inlined
def below(R: U64, count: int) -> int:
    """Return a whole number from 0 to below ``count``."""
    return min(count - 1, int(draw(R) * count))
