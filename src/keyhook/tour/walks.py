"""The shortest walk of every set of blocks at once, some blocks before others.

1. ``cost[set, last]`` is the shortest walk from the start through exactly the blocks of ``set``, ending at ``last``.
2. A set of one costs the walk from the start. A larger one is the best of: the set without ``last``, ending at some
   block of it, and the walk from there (Held and Karp's recursion).
3. ``last`` may not end a set that holds a block which has to come after it, so every order kept is allowed; a set
   that lacks a block which is always used and has to come before one of its own is left out, it leads nowhere.
4. The walk of a set is the best over its last block with the walk to the end station.

Sets are bit masks, so the work grows as n^2 2^n; :data:`MOST_BLOCKS` keeps it to a fraction of a second.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

#: So many blocks are walked through exactly: a million sets.
MOST_BLOCKS = 20
_NEVER = np.int32(2**30)

Ticks = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Legs:
    """Ticks from the start to each block, between blocks, and from each block to the end station."""

    start: Ticks
    between: Ticks
    end: Ticks
    direct: int

    @property
    def count(self) -> int:
        """How many blocks there are."""
        return len(self.start)


@dataclass(frozen=True, slots=True)
class WalkTable:
    """Shortest walks of all sets of blocks [ticks]; ``walk[mask]`` counts the end, ``cost`` is kept for the route."""

    legs: Legs
    cost: Ticks
    walk: Ticks

    def route(self, mask: int) -> list[int]:
        """Return the blocks of a set in the order of its shortest walk."""
        order: list[int] = []
        after = self.legs.end
        while mask:
            last = int(np.argmin(self.cost[mask] + after))
            order.append(last)
            mask ^= 1 << last
            after = self.legs.between[:, last]
        return order[::-1]


def walk_table(legs: Legs, pairs: Collection[tuple[int, int]], always: int = 0) -> WalkTable:
    """Return the shortest walks of all sets of blocks, where for each pair the first comes before the second.

    ``always`` is the set of blocks that are used in any case; only sets that hold all of them have a walk.
    """
    later = np.zeros(legs.count, dtype=np.int64)
    needs = np.zeros(legs.count, dtype=np.int64)
    for first, second in pairs:
        later[first] |= 1 << second
        needs[second] |= (1 << first) & always
    cost, walk = _all_sets(legs.start, legs.between, legs.end, later, needs)
    walk[0] = legs.direct
    return WalkTable(legs, cost, walk)


@numba.njit(cache=True)
def _all_sets(  # noqa: C901  one recursion, unrolled for speed
    start: Ticks, between: Ticks, end: Ticks, later: NDArray[np.int64], needs: NDArray[np.int64]
) -> tuple[Ticks, Ticks]:
    count = len(start)
    cost = np.full((1 << count, count), _NEVER, dtype=np.int32)
    walk = np.full(1 << count, _NEVER, dtype=np.int32)
    for mask in range(1, 1 << count):
        lacks = np.int64(0)
        for member in range(count):
            if mask >> member & 1:
                lacks |= needs[member] & ~mask
        if lacks:
            continue
        for last in range(count):
            rest = mask ^ (1 << last)
            if rest > mask or later[last] & rest:
                continue
            best = start[last] if rest == 0 else _NEVER
            for before in range(count):
                if rest >> before & 1:
                    best = min(best, cost[rest, before] + between[before, last])
            cost[mask, last] = min(best, _NEVER)
            walk[mask] = min(walk[mask], cost[mask, last] + end[last])
    return cost, walk
