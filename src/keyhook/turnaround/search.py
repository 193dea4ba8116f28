# ruff: noqa: N803, PLR0913, PLR0917, PLR2004, PLR0911
# Compiled code is handed everything it reads; the shares of the moves are plain numbers.
"""The annealer's inner loop, compiled: propose a change, decode from there on, keep it by the falling temperature.

One step:

1. Copy the genes and change them in one place (:mod:`keyhook.turnaround.moves`).
2. Draw how much worse a plan would still be kept (``-temperature * log(u)``) *before* decoding, so that
   decoding stops at the first task that makes the plan worse than that.
3. Take the state back to the last one kept before the change, and decode from there.
4. Keep the genes when the plan is good enough. Levels are never traded: plans are compared at the first
   level in which they differ, and each level has a temperature of its own.
5. The best plan is kept by comparing the levels as a tuple.

Chance comes from a small generator whose state is an array, so that a seed repeats on every machine.
"""

from __future__ import annotations

import math

import numpy as np

from keyhook.turnaround.chance import draw
from keyhook.turnaround.compiled import compiled, copy_over, inlined
from keyhook.turnaround.counting import begin, count_levels
from keyhook.turnaround.kernel import decode_from
from keyhook.turnaround.layout import (
    D_CREW,
    D_ROW,
    D_START,
    FIXED,
    I32,
    I64,
    TASK,
    TASK_ROW,
    TASKS,
    U64,
)
from keyhook.turnaround.moves import (
    FROM_BLANK,
    NOTHING,
    help_late,
    lay_anew,
    other_mode,
    other_people,
    other_vehicle,
    shift_any,
    shift_together,
)

#: Temperatures of the levels below lateness, as shares of what a unit of them is taken for when it is warmest.
SWAP_HEAT, OVERTIME_HEAT, MOVED_HEAT = 0.4, 6.0, 0.4
ENDLESS = 1 << 60
#: After so many kept changes the order is put into the order of the starts again.
SORT_EVERY = 50


@compiled
def _propose(T: I32, S: I32, G: I32, D: I32, N: I32, W: I32, where: I32, R: U64, begun: bool) -> int:
    kind = draw(R)
    if kind < 0.50:
        return help_late(T, S, G, D, N, where, R)
    if kind < 0.66:
        return shift_any(T, G, N, R)
    if kind < 0.74:
        return shift_together(T, S, G, N, W, R)
    if kind < 0.78:
        return lay_anew(T, S, G, D, N, W, R)
    if kind < 0.85:
        return other_mode(T, N, where, R)
    if kind < 0.90:
        return other_people(T, G, N, where, R)
    return other_vehicle(T, S, G, D, N, W, where, R, begun)


@inlined
def is_kept(C: I64, C2: I64, slack: float, heat: float) -> bool:
    """Return whether a plan is good enough, at the first level in which it differs from the present one."""
    if C2[0] != C[0]:
        return C2[0] - C[0] <= slack
    share = slack / heat
    if C2[1] != C[1]:
        return C2[1] - C[1] <= SWAP_HEAT * share
    if C2[2] != C[2]:
        return C2[2] - C[2] <= OVERTIME_HEAT * share
    return C2[3] - C[3] <= MOVED_HEAT * share


@inlined
def is_better(C: I64, B: I64) -> bool:
    """Return whether one cost is below another at the first level in which they differ."""
    for level in range(4):
        if C[level] != B[level]:
            return C[level] < B[level]
    return False


@compiled
def rewind(
    T: I32, S0: I32, D0: I32, G: I32, S: I32, D: I32, C: I64, shots: I32, costs: I64, kept: I32, every: int, first: int
) -> int:  # fmt: skip
    """Take a state back to the last one kept at or before position ``first``; return the position it stands at."""
    if first == FROM_BLANK:
        copy_over(S, S0)
        copy_over(D, D0)
        begin(T, S, G, D, C)
        return 0
    shot = kept[first // every]
    copy_over(S, shots[shot])
    C[0] = costs[shot]
    at, width = first // every * every, T[D_ROW]
    for k in range(at, T[TASKS]):
        if T[T[TASK] + G[k] * TASK_ROW + FIXED] == 0:
            D[G[k] * width + D_START] = -1
            for slot in range(D_CREW, width):
                D[G[k] * width + slot] = -1
    return at


@compiled
def adopt(T: I32, G: I32, N: I32, order: I32, where: I32, kept: I32, spare: I32, every: int, first: int) -> None:
    """Make changed genes the present ones, in the order in which their tasks came up from ``first`` on."""
    copy_over(G, N)
    for k in range(first, T[TASKS]):
        G[k] = order[k]
        where[order[k]] = k
    for shot in range(first // every, len(kept)):
        kept[shot], spare[shot] = spare[shot], kept[shot]


@compiled
def settle(
    T: I32, S0: I32, D0: I32, S: I32, G: I32, D: I32, C: I64, W: I32, order: I32, where: I32,
    shots: I32, costs: I64, kept: I32, spare: I32, every: int
) -> bool:  # fmt: skip
    """Decode the genes whole, keep states, and put the order of coming up into the genes."""
    rewind(T, S0, D0, G, S, D, C, shots, costs, kept, every, FROM_BLANK)
    if decode_from(T, S, G, D, C, W, order, 0, ENDLESS, shots, costs, spare, every) < 0:
        return False
    count_levels(T, S, G, D, C)
    adopt(T, G, G, order, where, kept, spare, every, 0)
    return True


@compiled
def put_in_order(T: I32, G: I32, D: I32) -> None:
    """Put the order of the genes into the order in which tasks begin in the present plan."""
    width = T[D_ROW]
    for k in range(1, T[TASKS]):
        task = G[k]
        start, j = D[task * width + D_START], k
        while j > 0 and D[G[j - 1] * width + D_START] > start:
            G[j] = G[j - 1]
            j -= 1
        G[j] = task


@compiled
def steps(
    T: I32, S0: I32, D0: I32, S: I32, G: I32, D: I32, C: I64, W: I32, order: I32, where: I32,
    shots: I32, costs: I64, kept: I32, spare: I32,
    N: I32, S2: I32, D2: I32, C2: I64, best_g: I32, best_s: I32, best_d: I32, B: I64, R: U64, every: int, count: int,
    warm: float, cold: float, hottest: float, begun: bool
) -> int:  # fmt: skip
    """Take so many steps while the temperature falls from ``warm`` to ``cold``; return how many were kept.

    ``G``, ``S``, ``D``, ``C`` are of the present plan, ``best_g``, ``best_s``, ``best_d``, ``B`` of the best one
    so far. ``hottest`` is the temperature at which the lower levels are at their full heat.
    """
    taken = 0
    cooling = math.log(cold / warm) / max(1, count)
    for step in range(count):
        slack = -warm * math.exp(cooling * step) * math.log(1.0 - draw(R))
        copy_over(N, G)
        first = _propose(T, S, G, D, N, W, where, R, begun)
        if first == NOTHING:
            continue
        copy_over(D2, D)
        at = rewind(T, S0, D0, N, S2, D2, C2, shots, costs, kept, every, first)
        limit = C[0] + np.int64(slack)
        if C2[0] > limit or decode_from(T, S2, N, D2, C2, W, order, at, limit, shots, costs, spare, every) < 0:
            continue
        count_levels(T, S2, N, D2, C2)
        if not is_kept(C, C2, slack, hottest):
            continue
        taken += 1
        adopt(T, G, N, order, where, kept, spare, every, at)
        copy_over(S, S2)
        copy_over(D, D2)
        copy_over(C, C2)
        if taken % SORT_EVERY == 0:
            copy_over(N, G)
            put_in_order(T, G, D)
            done = settle(T, S0, D0, S, G, D, C, W, order, where, shots, costs, kept, spare, every)
            if not done or is_better(C2, C):
                copy_over(G, N)
                settle(T, S0, D0, S, G, D, C, W, order, where, shots, costs, kept, spare, every)
        if is_better(C, B):
            copy_over(B, C)
            copy_over(best_g, G)
            copy_over(best_s, S)
            copy_over(best_d, D)
    return taken
