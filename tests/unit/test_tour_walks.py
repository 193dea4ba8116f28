"""The shortest walks of all sets of blocks, against every permutation."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np
import pytest

from keyhook.tour.walks import Legs, walk_table


def _legs(seed: int, count: int) -> Legs:
    rng = np.random.default_rng(seed)
    between = rng.integers(1, 60, (count, count)).astype(np.int32)
    start, end = (rng.integers(1, 60, count).astype(np.int32) for _ in range(2))
    return Legs(start, between, end, int(rng.integers(1, 60)))


def _cost(legs: Legs, order: tuple[int, ...]) -> int:
    if not order:
        return legs.direct
    return int(legs.start[order[0]] + sum(legs.between[a, b] for a, b in pairwise(order)) + legs.end[order[-1]])


def _best(legs: Legs, members: list[int], pairs: set[tuple[int, int]]) -> int | None:
    allowed = [
        order
        for order in permutations(members)
        if all(order.index(a) < order.index(b) for a, b in pairs if a in members and b in members)
    ]
    return min((_cost(legs, order) for order in allowed), default=None)


@pytest.mark.parametrize("seed", range(8))
def test_every_set_has_the_shortest_walk_of_all_its_allowed_orders(seed):
    count = 6
    legs = _legs(seed, count)
    rng = np.random.default_rng(seed)
    line = rng.permutation(count)
    pairs = {(int(line[a]), int(line[b])) for a, b in ((0, 3), (1, 2), (2, 4))} if seed else set()
    table = walk_table(legs, pairs)
    for mask in range(2**count):
        members = [number for number in range(count) if mask >> number & 1]
        expected = _best(legs, members, pairs)
        assert table.walk[mask] == expected
        order = tuple(table.route(mask))
        assert sorted(order) == members
        assert _cost(legs, order) == expected
        assert all(order.index(a) < order.index(b) for a, b in pairs if {a, b} <= set(order))


def test_sets_without_what_is_always_used_lead_nowhere_and_the_others_stay():
    legs = _legs(3, 5)
    plain, always = walk_table(legs, {(0, 1)}), walk_table(legs, {(0, 1)}, always=0b00001)
    for mask in range(1, 32):
        if mask & 0b00001:
            assert always.walk[mask] == plain.walk[mask]
        elif mask & 0b00010:
            assert always.walk[mask] > 10**6
