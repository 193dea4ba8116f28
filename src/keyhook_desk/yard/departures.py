"""What a list needs to know of its departures; worked out once for each version of hire, vehicle and sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import partial

from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.panel import chip
from keyhook_desk.hires.services import hire_of
from keyhook_desk.web.kept import Kept
from keyhook_desk.yard.gates import gates_of


@dataclass(frozen=True, slots=True)
class DepartureFacts:
    """People, verdict (key and words), findings that stop it and the first of them, margin [kg], gate tasks."""

    people: int
    verdict: str
    words: str
    stops: int
    says: str
    margin_kg: float | None
    gates: tuple[str, ...]


_KNOWN: Kept[DepartureFacts] = Kept(2048)


def facts_of(rows: Sequence[HireRow], day: dt.date) -> list[DepartureFacts]:
    """Return the facts of departures in their order; ``vehicle.sheet`` of each should be loaded, documents need not."""
    unknown = [row.vehicle_id for row in rows if row.vehicle_id and _key(row, day) not in _KNOWN]
    whole = VehicleRow.objects.select_related("sheet").in_bulk(unknown) if unknown else {}
    return [_KNOWN.answer(_key(row, day), partial(_work_out, row, whole.get(row.vehicle_id or 0), day)) for row in rows]


def _key(row: HireRow, day: dt.date) -> Hashable:
    vehicle = row.vehicle
    return (day, row.digest, *((vehicle.digest, vehicle.sheet.digest) if vehicle else ()))


def _work_out(row: HireRow, vehicle: VehicleRow | None, day: dt.date) -> DepartureFacts:
    hire = hire_of(row)
    if row.vehicle is None:
        return DepartureFacts(len(hire.party), "unknown", "No vehicle yet", 1, "no vehicle yet", None, ())
    sheet = built_of(vehicle or row.vehicle)
    found = chip(sheet, hire, on_day=day)
    gates = tuple(gate.task for gate in gates_of(hire, sheet, frozenset()))
    return DepartureFacts(
        len(hire.party),
        found.verdict,
        found.words,
        len(found.stops),
        next(iter(found.stops), ""),
        found.margin_kg,
        gates,
    )
