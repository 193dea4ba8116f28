# ruff: noqa: N803, C901
# T, G and D are arrays of the layout.
"""Which tasks the allotment calls for, on which vehicle, and from when on each is ready, compiled."""

from __future__ import annotations

from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.layout import (
    ARRIVES,
    BEFORE,
    BEFORE_FIRST,
    BEFORE_LAST,
    BOUND,
    D_CAUSE,
    D_END,
    D_READY,
    D_ROW,
    D_START,
    G_DEPARTURE,
    G_VEHICLE,
    I32,
    LAG,
    LEAVING,
    LINK,
    LINK_ROW,
    LINKED,
    OTHER,
    OTHER_FIRST,
    OTHER_LAST,
    RELEASE,
    SERVES,
    TASK,
    TASK_ROW,
    TOUCHES,
    V_BEFORE,
    V_BEFORE_PTR,
    V_OTHER,
    V_OTHER_PTR,
    VEHICLE,
    VEHICLE_ROW,
    VEHICLES,
)


@inlined
def vehicle_for(T: I32, G: I32, task: int) -> int:
    """Return the vehicle a task is done on, -1 for none."""
    row = T[TASK] + task * TASK_ROW
    return G[T[G_VEHICLE] + T[row + SERVES]] if T[row + SERVES] >= 0 else T[row + BOUND]


@inlined
def is_called_for(T: I32, G: I32, task: int) -> bool:
    """Return whether the allotment in the genes calls for a task."""
    row = T[TASK] + task * TASK_ROW
    if T[row + SERVES] >= 0:
        return G[T[G_VEHICLE] + T[row + SERVES]] >= 0
    return T[row + LEAVING] == 0 or G[T[G_DEPARTURE] + T[row + BOUND]] >= 0


@compiled
def set_ready(T: I32, G: I32, D: I32, task: int, vehicle: int) -> int:  # noqa: PLR0912  # one look at every link
    """Write when a task is ready and why; return a task that has to have its time first, -1 when none."""
    row, width = T[TASK] + task * TASK_ROW, T[D_ROW]
    ready, cause = T[row + RELEASE], -1
    if T[row + TOUCHES] == 1 and vehicle >= 0:
        ready = max(ready, T[T[VEHICLE] + vehicle * VEHICLE_ROW + ARRIVES])
    for link in range(T[row + BEFORE_FIRST], T[row + BEFORE_LAST]):
        other = T[T[BEFORE] + link * LINK_ROW + LINKED]
        if D[other * width + D_START] < 0:
            if is_called_for(T, G, other):
                return other
            continue
        over = D[other * width + D_END] + T[T[BEFORE] + link * LINK_ROW + LAG]
        if over > ready:
            ready, cause = over, other
    for link in range(T[row + OTHER_FIRST], T[row + OTHER_LAST]):
        other = T[T[OTHER] + link * LINK_ROW + LINKED]
        if D[other * width + D_START] < 0 and is_called_for(T, G, other):
            return other
    if T[row + LINK] >= 0 and vehicle >= 0:
        pair = T[row + LINK] * T[VEHICLES] + vehicle
        for link in range(T[T[V_BEFORE_PTR] + pair], T[T[V_BEFORE_PTR] + pair + 1]):
            other = T[T[V_BEFORE] + link * LINK_ROW + LINKED]
            if D[other * width + D_START] < 0:
                return other
            over = D[other * width + D_END] + T[T[V_BEFORE] + link * LINK_ROW + LAG]
            if over > ready:
                ready, cause = over, other
        for link in range(T[T[V_OTHER_PTR] + pair], T[T[V_OTHER_PTR] + pair + 1]):
            other = T[T[V_OTHER] + link * LINK_ROW + LINKED]
            if D[other * width + D_START] < 0:
                return other
    D[task * width + D_READY] = ready
    D[task * width + D_CAUSE] = cause
    return -1
