# ruff: noqa: N803, PLR0913, PLR0917, PLR2004, C901
# T, S, G, D, N, L, K, U, W and R are arrays of the layout; the shares with which moves choose are plain numbers.
"""Taking a few departures out of a plan and putting them back another way, compiled (source ``schrimpf-2000``).

Everything else keeps its people and minutes, so that a step costs what it changes and not what the day holds:

1. Choose a departure that costs something, and those whose tasks took the hands or the room it waited for.
2. Take their tasks, and those of their vehicles, out of the state: all, or from some minute on.
3. Perhaps let them change vehicles, do a task another way, or ask for somebody.
4. Put the tasks back one by one, each as early as it fits, those of some departures sooner than they stood
   and those of others later. Stop as soon as the plan costs more than would be kept.
5. Keep the plan by the falling temperature, else put everything back as it was.

What is put back so leaves gaps. Now and then the day is laid anew in the order of the starts.
"""

from __future__ import annotations

import math

import numpy as np

from keyhook.turnaround.chance import draw
from keyhook.turnaround.choosing import CUT, UNIT_ROW, change_vehicles, choose, choose_back, row_of_unit
from keyhook.turnaround.compiled import compiled, copy_over
from keyhook.turnaround.counting import begin, count_levels
from keyhook.turnaround.kernel import decode_from
from keyhook.turnaround.layout import (
    CREW_MAX,
    D_CREW,
    D_ROW,
    D_START,
    DEPARTURES,
    FIXED,
    G_FIRM,
    G_ROW,
    G_TASK,
    G_VEHICLE,
    G_WISH,
    I32,
    I64,
    NEVER,
    OWN,
    OWN_FIRST,
    OWN_LAST,
    S_LEAVE,
    S_VEHICLE,
    S_VEHICLE_ROW,
    TASK,
    TASK_ROW,
    TASKS,
    U64,
    VEHICLES,
)
from keyhook.turnaround.putting_back import (
    AS_THEY_STOOD,
    BY_DUE,
    BY_HELD,
    ask_for_held,
    count_kept,
    count_last,
    keeps_across,
    line_up,
    put_back,
    wish_anew,
)
from keyhook.turnaround.search import is_better, is_kept, put_in_order
from keyhook.turnaround.taking_out import take_out

#: After so many kept steps the day is laid anew.
LAY_EVERY = 50
#: How often the order of what is put back is shaken, and by how much at most [min].
SHAKEN, SHAKE = 0.3, 120.0


@compiled
def _copy_touched(
    T: I32, U: I32, into: I32, source: I32, into_d: I32, source_d: I32, into_g: I32, source_g: I32
) -> None:
    """Copy what a step may have changed: people, places, leaving, and the chosen vehicles with their tasks."""
    for k in range(T[S_VEHICLE]):
        into[k] = source[k]
    for k in range(T[S_LEAVE], T[S_LEAVE] + T[DEPARTURES]):
        into[k] = source[k]
    for k in range(T[G_VEHICLE], T[G_TASK]):
        into_g[k] = source_g[k]
    for unit in range(T[VEHICLES] + T[DEPARTURES]):
        if U[unit * UNIT_ROW + CUT] == NEVER:
            continue
        row = row_of_unit(T, unit)
        for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
            lain, gene = T[T[OWN] + k] * T[D_ROW], T[G_TASK] + T[T[OWN] + k] * T[G_ROW]
            for j in range(lain, lain + T[D_ROW]):
                into_d[j] = source_d[j]
            for j in range(gene, gene + T[G_ROW]):
                into_g[j] = source_g[j]
        if unit < T[VEHICLES]:
            stays = T[S_VEHICLE] + unit * T[S_VEHICLE_ROW]
            for j in range(stays, stays + T[S_VEHICLE_ROW]):
                into[j] = source[j]


@compiled
def lay_whole(
    T: I32, S0: I32, D0: I32, S: I32, G: I32, D: I32, C: I64, W: I32, order: I32,
    N: I32, S2: I32, D2: I32, C2: I64, shots: I32, costs: I64, spare: I32, R: U64, slack: float, heat: float
) -> bool:  # fmt: skip
    """Lay the whole day anew in the order of the starts; False, and everything as it was, when that is worse."""
    put_in_order(T, N, D)
    if draw(R) < 0.5:
        for task in range(T[TASKS]):
            lain, gene = task * T[D_ROW], T[G_TASK] + task * T[G_ROW]
            if D[lain + D_START] >= 0 and T[T[TASK] + task * TASK_ROW + FIXED] == 0:
                N[gene + G_FIRM] = 0
                for slot in range(T[CREW_MAX]):
                    N[gene + G_WISH + slot] = D[lain + D_CREW + slot]
    copy_over(S2, S0)
    copy_over(D2, D0)
    begin(T, S2, N, D2, C2)
    if decode_from(T, S2, N, D2, C2, W, order, 0, C[0] + np.int64(slack), shots, costs, spare, 0) >= 0:
        count_levels(T, S2, N, D2, C2)
        if is_kept(C, C2, slack, heat):
            copy_over(S, S2)
            copy_over(D, D2)
            copy_over(C, C2)
            copy_over(G, N)
            return True
    copy_over(S2, S)
    copy_over(D2, D)
    copy_over(N, G)
    return False


@compiled
def recreate(
    T: I32, S0: I32, D0: I32, S: I32, G: I32, D: I32, C: I64, W: I32, order: I32, shots: I32, costs: I64, spare: I32,
    N: I32, S2: I32, D2: I32, C2: I64, best_g: I32, best_s: I32, best_d: I32, B: I64, U: I32, L: I32, K: I32,
    R: U64, count: int, warm: float, cold: float, hottest: float, back_share: float
) -> int:  # fmt: skip
    """Take so many steps while the temperature falls from ``warm`` to ``cold``; return how many were kept.

    ``S``, ``G``, ``D``, ``C`` are of the present plan, which keeps within everybody's hours; ``best_s``,
    ``best_g``, ``best_d``, ``B`` of the best one so far. ``back_share`` of the steps take moved tasks back to where
    people hold them; 0 when nobody holds a plan.
    """
    taken = 0
    cooling = math.log(cold / warm) / max(1, count)
    copy_over(S2, S)
    copy_over(D2, D)
    copy_over(N, G)
    for step in range(count):
        slack = -warm * math.exp(cooling * step) * math.log(1.0 - draw(R))
        back = draw(R) < back_share and choose_back(T, G, D, U, R)
        helped = -1 if back else choose(T, S, G, D, U, R)
        if not back and (G[T[G_VEHICLE] + helped] < 0 or draw(R) < 0.12) and not change_vehicles(T, G, N, U, helped, R):
            _copy_touched(T, U, S2, S, D2, D, N, G)
            continue
        number = take_out(T, S0, S2, G, D2, N, U, L)
        count_kept(T, S2, N, D2, C2, U)
        limit = C[0] + np.int64(slack)
        kept = C2[0] <= limit
        if kept:
            by = BY_HELD
            if back:
                for k in range(number):
                    ask_for_held(T, N, L[k])
            else:
                wish_anew(T, N, L, number, back_share > 0.0, R)
                by = BY_DUE if draw(R) < 0.15 else AS_THEY_STOOD
            line_up(T, D, N, U, L, K, number, by, SHAKE * draw(R) if draw(R) < SHAKEN else 0.0, R)
            kept = put_back(T, S2, N, D2, C2, W, L, number, limit) and keeps_across(T, D2)
        if kept:
            count_last(T, S0, S2, D2)
            count_levels(T, S2, N, D2, C2)
            kept = is_kept(C, C2, slack, hottest)
        if not kept:
            _copy_touched(T, U, S2, S, D2, D, N, G)
            continue
        taken += 1
        _copy_touched(T, U, S, S2, D, D2, G, N)
        copy_over(C, C2)
        if taken % LAY_EVERY == 0:
            lay_whole(T, S0, D0, S, G, D, C, W, order, N, S2, D2, C2, shots, costs, spare, R, slack, hottest)
        if is_better(C, B):
            copy_over(B, C)
            copy_over(best_s, S)
            copy_over(best_g, G)
            copy_over(best_d, D)
    return taken
