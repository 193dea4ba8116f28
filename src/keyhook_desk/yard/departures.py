"""What a list needs to know of a departure; worked out once for each version of hire, vehicle and sheet."""

from __future__ import annotations

import datetime as dt
from collections import OrderedDict
from dataclasses import dataclass

from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.panel import chip
from keyhook_desk.hires.services import hire_of
from keyhook_desk.yard.gates import gates_of

_MOST = 2048
_KNOWN: OrderedDict[tuple[object, ...], DepartureFacts] = OrderedDict()


@dataclass(frozen=True, slots=True)
class DepartureFacts:
    """People, verdict (key and words), how many findings stop it, and its gate tasks."""

    people: int
    verdict: str
    words: str
    stops: int
    gates: tuple[str, ...]


def facts_of(row: HireRow, day: dt.date) -> DepartureFacts:
    """Return the facts of a departure; ``row.vehicle.sheet`` should be loaded.

    Rows carry a version that every mutation raises; the document itself stands in the key too, so that a database
    put back from a copy cannot bring an old answer.
    """
    vehicle = row.vehicle
    key = (
        row.pk,
        row.version,
        repr(row.document),
        day,
        *((vehicle.pk, vehicle.version, vehicle.sheet_id, vehicle.sheet.version) if vehicle else ()),
    )
    if key not in _KNOWN:
        _KNOWN[key] = _work_out(row, day)
        if len(_KNOWN) > _MOST:
            _KNOWN.popitem(last=False)
    return _KNOWN[key]


def _work_out(row: HireRow, day: dt.date) -> DepartureFacts:
    hire = hire_of(row)
    if row.vehicle is None:
        return DepartureFacts(len(hire.party), "unknown", "No vehicle yet", 1, ())
    sheet = built_of(row.vehicle)
    verdict, words, stops = chip(sheet, hire, on_day=day)
    gates = tuple(gate.task for gate in gates_of(hire, sheet, frozenset()))
    return DepartureFacts(len(hire.party), verdict, words, stops, gates)
