# ruff: noqa: N803
# T and S are arrays of the layout, and compiled code is handed everything it reads.
"""From when on people, places and the zones of a vehicle are free in the state of a plan, compiled."""

from __future__ import annotations

from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.layout import (
    BREAK,
    BREAK_FIRST,
    BREAK_LAST,
    BREAK_LENGTH,
    BREAK_ROW,
    BREAKS,
    COUNT,
    I32,
    NEVER,
    PERSON,
    PERSON_ROW,
    PLACE,
    PLACE_SLOTS,
    PLACE_TAIL,
    REST_AT,
    S_PERSON,
    S_PERSON_ROW,
    S_PLACE,
    S_PLACE_ROW,
    S_VEHICLE,
    S_VEHICLE_ROW,
    TASK,
    TASK_ROW,
    USE,
    ZONE_TAIL,
    ZONES,
)


@inlined
def gap(S: I32, first: int, count: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on with ``length`` free minutes between stretches laid at ``first``."""
    k = first + 2 * (count - 1)
    while k >= first and S[k + 1] > minute:
        k -= 2
    k += 2
    last = first + 2 * count
    while k < last and S[k] < minute + length:
        minute = S[k + 1]
        k += 2
    return minute


@compiled
def person_free(T: I32, S: I32, person: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which a person has ``length`` free and keeps every break."""
    row, breaks = T[S_PERSON] + person * T[S_PERSON_ROW], T[BREAKS]
    first, count = row + REST_AT + breaks, S[row + COUNT]
    while True:
        minute = gap(S, first, count, minute, length)
        if minute >= NEVER:
            return NEVER
        pushed = False
        for b in range(breaks):
            rest = S[row + REST_AT + b]
            if rest < 0 or minute + length <= rest:
                continue
            owed = T[PERSON] + person * T[PERSON_ROW] + BREAK + b * BREAK_ROW
            whole = T[owed + BREAK_LENGTH]
            if rest + whole > minute and gap(S, first, count, minute + length, whole) > T[owed + BREAK_LAST]:
                minute = rest + whole
                pushed = True
                break
        if not pushed:
            return minute


@inlined
def _place_free(T: I32, S: I32, place: int, room: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which a place never holds more than ``room`` for ``length``."""
    row = T[S_PLACE] + place * T[S_PLACE_ROW]
    last = row + 1 + 2 * S[row + COUNT]
    k = last - 2
    while S[k] > minute:
        k -= 2
    while k < last and S[k] < minute + length:
        if S[k + 1] > room:
            minute = S[k + 2]
        k += 2
    return minute


@inlined
def _zones_free(T: I32, S: I32, vehicle: int, mask: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which the zones of a vehicle are free for ``length``."""
    row = T[S_VEHICLE] + vehicle * T[S_VEHICLE_ROW]
    for k in range(row + 1, row + 1 + 3 * S[row + COUNT], 3):
        if S[k] >= minute + length:
            break
        if S[k + 1] > minute and S[k + 2] & mask:
            minute = S[k + 1]
    return minute


@compiled
def spot_free(T: I32, S: I32, task: int, vehicle: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which both the zones and the place of a task are free."""
    row = T[TASK] + task * TASK_ROW
    place, mask = T[row + PLACE], T[row + ZONES]
    zoned = vehicle >= 0 and mask != 0
    while True:
        asked = minute
        if zoned:
            minute = _zones_free(T, S, vehicle, mask, minute, length + T[row + ZONE_TAIL])
        if place < 0:
            return minute
        room = T[T[PLACE_SLOTS] + place] - T[row + USE]
        minute = _place_free(T, S, place, room, minute, length + T[row + PLACE_TAIL])
        if minute == asked or not zoned:
            return minute


@inlined
def earliest_rest(T: I32, S: I32, person: int, number: int) -> int:
    """Return the first minute at which a break of a person fits among their work."""
    row = T[S_PERSON] + person * T[S_PERSON_ROW]
    owed = T[PERSON] + person * T[PERSON_ROW] + BREAK + number * BREAK_ROW
    return gap(S, row + REST_AT + T[BREAKS], S[row + COUNT], T[owed + BREAK_FIRST], T[owed + BREAK_LENGTH])
