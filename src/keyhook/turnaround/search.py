"""The annealer's inner loop, compiled: propose a change, decode from there on, keep it by the falling temperature.

One step:

1. Copy the genes and change them in one place: a task on the way of a late departure goes earlier; a task goes
   anywhere near; a task takes another mode; two departures swap vehicles, or one takes a free vehicle.
2. Draw how much worse a plan would still be kept (the usual rule: ``-temperature * log(u)``) *before* decoding, so
   that decoding stops at the first task that makes the plan worse than that.
3. Take the state back to the last snapshot before the change and decode from there.
4. Keep the genes when the plan is good enough; the best plan is kept by comparing the levels as a tuple.

Chance comes from a small generator whose state is an array, so that a seed repeats on every machine.
"""

from __future__ import annotations

import math

import numba
import numpy as np

from keyhook.turnaround.kernel import begin, count_levels, decode_from, vehicle_for
from keyhook.turnaround.layout import (
    COUNTS,
    D_CAUSE,
    D_CREW,
    D_END,
    D_READY,
    D_START,
    DEPARTURES,
    DTASK,
    DTASK_PTR,
    DUE,
    FIXED,
    G_DEPARTURE,
    G_MODE,
    G_VEHICLE,
    I32,
    I64,
    MODE_PTR,
    S_LEAVE,
    SUITS,
    TASKS,
    VEHICLES,
    VTASK,
    VTASK_PTR,
    CREW_MAX,
)

#: Snapshots are taken every so many tasks.
EVERY = 16
#: What one unit of each lower level weighs against a minute of lateness when a step is judged; never in the best.
SWAP_SHARE, OVERTIME_SHARE, MOVED_SHARE = 0.25, 0.002, 0.01


@numba.njit(cache=True, forceinline=True)
def _draw(R: np.ndarray) -> float:  # type: ignore[type-arg]
    """Return the next number in [0, 1): xorshift64*, D. Knuth's multiplier left out."""
    x = R[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    R[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@numba.njit(cache=True, forceinline=True)
def _below(R: np.ndarray, count: int) -> int:  # type: ignore[type-arg]
    return min(count - 1, int(_draw(R) * count))


@numba.njit(cache=True, forceinline=True)
def energy(C: I64) -> float:
    """Return one number for judging steps: lateness, and a little of the lower levels."""
    return C[0] + SWAP_SHARE * C[1] + OVERTIME_SHARE * C[2] + MOVED_SHARE * C[3]


@numba.njit(cache=True)
def _insert(G: I32, old: int, new: int) -> int:
    """Move a task of the order from one position to another; return the first changed position."""
    task = G[old]
    step = -1 if new < old else 1
    for k in range(old, new, step):
        G[k] = G[k + step]
    G[new] = task
    return min(old, new)


@numba.njit(cache=True)
def _late_task(T: I32, S: I32, G: I32, D: I32, R: np.ndarray) -> int:  # type: ignore[type-arg]
    """Return a task on the way of a departure that is late (of any, when none is): where it waits for hands or room."""
    count, late = T[DEPARTURES], 0
    for d in range(count):
        if G[T[G_VEHICLE] + d] >= 0 and S[T[S_LEAVE] + d] > T[T[DUE] + d]:
            late += 1
    pick = _below(R, late if late > 0 else count)
    departure = -1
    for d in range(count):
        hit = G[T[G_VEHICLE] + d] >= 0 and S[T[S_LEAVE] + d] > T[T[DUE] + d] if late > 0 else True
        if hit:
            if pick == 0:
                departure = d
                break
            pick -= 1
    if departure < 0 or G[T[G_VEHICLE] + departure] < 0:
        return -1
    vehicle, last, end = G[T[G_VEHICLE] + departure], -1, -1
    for k in range(T[T[DTASK_PTR] + departure], T[T[DTASK_PTR] + departure + 1]):
        task = T[T[DTASK] + k]
        if T[T[COUNTS] + task] == 1 and D[T[D_END] + task] > end:
            last, end = task, D[T[D_END] + task]
    for k in range(T[T[VTASK_PTR] + vehicle], T[T[VTASK_PTR] + vehicle + 1]):
        task = T[T[VTASK] + k]
        if T[T[COUNTS] + task] == 1 and D[T[D_END] + task] > end:
            last, end = task, D[T[D_END] + task]
    task, found, seen = last, -1, 0
    while task >= 0:
        if D[T[D_START] + task] > D[T[D_READY] + task] and T[T[FIXED] + task] == 0:
            seen += 1
            if _draw(R) * seen < 1.0:
                found = task
        task = D[T[D_CAUSE] + task]
    return found if found >= 0 else last


@numba.njit(cache=True)
def _propose(T: I32, S: I32, G: I32, D: I32, N: I32, where: I32, R: np.ndarray) -> int:  # type: ignore[type-arg]
    """Write changed genes into ``N``; return the first changed position, -1 for none, -2 when the allotment changed."""
    N[:] = G
    count, kind = T[TASKS], _draw(R)
    if kind < 0.45:
        task = _late_task(T, S, G, D, R)
        if task < 0:
            return -1
        old = where[task]
        if old == 0:
            return -1
        reach = 1 + int(old * _draw(R) * _draw(R))
        return _insert(N, old, old - reach)
    if kind < 0.80:
        old = _below(R, count)
        reach = 1 + int(count * 0.5 * _draw(R) * _draw(R) * _draw(R))
        new = old - reach if _draw(R) < 0.5 else old + reach
        if new < 0 or new >= count:
            return -1
        return _insert(N, old, new)
    if kind < 0.92:
        return _other_mode(T, N, where, R)
    return _other_vehicle(T, N, R)


@numba.njit(cache=True)
def _other_mode(T: I32, N: I32, where: I32, R: np.ndarray) -> int:  # type: ignore[type-arg]
    for _ in range(12):
        task = _below(R, T[TASKS])
        modes = T[T[MODE_PTR] + task + 1] - T[T[MODE_PTR] + task]
        if modes > 1 and T[T[FIXED] + task] == 0:
            now = N[T[G_MODE] + task]
            N[T[G_MODE] + task] = (now + 1 + _below(R, modes - 1)) % modes
            return where[task]
    return -1


@numba.njit(cache=True)
def _other_vehicle(T: I32, N: I32, R: np.ndarray) -> int:  # type: ignore[type-arg]
    departures, vehicles = T[DEPARTURES], T[VEHICLES]
    if departures == 0:
        return -1
    one = _below(R, departures)
    mine = N[T[G_VEHICLE] + one]
    if mine < 0:
        return -1
    for _ in range(12):
        vehicle = _below(R, vehicles)
        if vehicle == mine or T[T[SUITS] + one * vehicles + vehicle] < 0:
            continue
        two = N[T[G_DEPARTURE] + vehicle]
        if two >= 0 and T[T[SUITS] + two * vehicles + mine] < 0:
            continue
        N[T[G_VEHICLE] + one] = vehicle
        N[T[G_DEPARTURE] + vehicle] = one
        N[T[G_DEPARTURE] + mine] = two
        if two >= 0:
            N[T[G_VEHICLE] + two] = mine
        return -2
    return -1


@numba.njit(cache=True)
def _is_better(C: I64, B: I64) -> bool:
    for level in range(4):
        if C[level] != B[level]:
            return C[level] < B[level]
    return False


@numba.njit(cache=True)
def settle(
    T: I32, S0: I32, D0: I32, S: I32, G: I32, D: I32, C: I64, W: I32, order: I32, where: I32, shots: I32, costs: I64
) -> bool:
    """Decode the genes whole, put the order in which tasks came up into them, and keep snapshots."""
    S[:] = S0
    D[:] = D0
    begin(T, S, G, D, C)
    placed = decode_from(T, S, G, D, C, W, order, 0, np.int64(1) << 60, shots, costs, EVERY)
    if placed < 0:
        return False
    count_levels(T, S, G, D, C)
    for k in range(T[TASKS]):
        G[k] = order[k]
        where[order[k]] = k
    return True


@numba.njit(cache=True)
def _keep(
    T: I32, S: I32, G: I32, D: I32, C: I64, N: I32, W: I32, order: I32, where: I32, shots: I32, costs: I64,
    first: int, S2: I32, D2: I32,
) -> None:  # fmt: skip
    """Make the changed genes the present ones: decode once more from the snapshot, this time keeping snapshots."""
    S[:] = S2
    D[:] = D2
    for k in range(first, T[TASKS]):
        N[k] = order[k]
    G[:] = N
    for k in range(first, T[TASKS]):
        where[G[k]] = k
        task = G[k]
        if T[T[FIXED] + task] == 0:
            D2[T[D_START] + task] = -1
            for slot in range(T[CREW_MAX]):
                D2[T[D_CREW] + task * T[CREW_MAX] + slot] = -1
    shot = first // EVERY
    S2[:] = shots[shot]
    C[0] = costs[shot]
    decode_from(T, S2, G, D2, C, W, order, first, np.int64(1) << 60, shots, costs, EVERY)
    count_levels(T, S2, G, D2, C)


@numba.njit(cache=True)
def steps(
    T: I32, S0: I32, D0: I32, S: I32, G: I32, D: I32, C: I64,
    W: I32, order: I32, where: I32, shots: I32, costs: I64,
    N: I32, S2: I32, D2: I32, C2: I64, best: I32, B: I64,
    R: np.ndarray, count: int, warm: float, cold: float,  # type: ignore[type-arg]
) -> int:  # fmt: skip
    """Take so many steps while the temperature falls from ``warm`` to ``cold``; return how many were kept.

    ``G``, ``S``, ``D``, ``C`` are of the present plan, ``best`` and ``B`` of the best one so far.
    """
    kept, tasks = 0, T[TASKS]
    cooling = math.log(cold / warm) / max(1, count)
    for step in range(count):
        temperature = warm * math.exp(cooling * step)
        first = _propose(T, S, G, D, N, where, R)
        if first == -1:
            continue
        threshold = energy(C) - temperature * math.log(max(1e-300, _draw(R)))
        D2[:] = D
        fresh = np.int64(-1)
        if first == -2:
            S2[:] = S0
            D2[:] = D0
            begin(T, S2, N, D2, C2)
            first = 0
            fresh = C2[0]
        else:
            shot = first // EVERY
            first = shot * EVERY
            S2[:] = shots[shot]
            C2[0] = costs[shot]
            for k in range(first, tasks):
                task = N[k]
                if T[T[FIXED] + task] == 0:
                    D2[T[D_START] + task] = -1
                    crew = T[D_CREW] + task * T[CREW_MAX]
                    for slot in range(T[CREW_MAX]):
                        D2[crew + slot] = -1
        if C2[0] > threshold:
            continue
        if decode_from(T, S2, N, D2, C2, W, order, first, np.int64(threshold), shots, costs, 0) < 0:
            continue
        count_levels(T, S2, N, D2, C2)
        if energy(C2) > threshold:
            continue
        kept += 1
        if fresh >= 0:
            shots[0, :] = S0
            costs[0] = fresh
        _keep(T, S, G, D, C, N, W, order, where, shots, costs, first, S2, D2)
        if _is_better(C, B):
            B[:] = C
            best[:] = G
    return kept


__all__ = ["EVERY", "energy", "settle", "steps", "vehicle_for"]
