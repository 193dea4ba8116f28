"""Taking a depot folder in and giving it back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import transaction

from keyhook.depot.depot import Depot, Staff
from keyhook.depot.folder import DepotFolder
from keyhook.depot.tariff import Tariff
from keyhook.errors import BadInput, UnknownName
from keyhook.hire.news import Call, ReturnNews
from keyhook_desk.fleet.models import SheetRow, VehicleRow
from keyhook_desk.fleet.services import take_in_sheet, take_in_vehicle
from keyhook_desk.fleet.sheets import sheet_of, vehicle_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of, take_in_all
from keyhook_desk.people.models import User
from keyhook_desk.web.document import document_hash
from keyhook_desk.web.history import record
from keyhook_desk.yard.models import DepotRow, StaffRow


@dataclass(frozen=True, slots=True)
class TakenIn:
    """How many records a folder wrote; the rest was there already or has been edited since."""

    sheets: int
    vehicles: int
    hires: int


def take_in_folder(*, actor: User | None, folder: DepotFolder) -> TakenIn:
    """Write a whole depot folder in one transaction; on any error nothing is written."""
    with transaction.atomic():
        _take_in_depot(actor, folder)
        sheets = sum(take_in_sheet(actor=actor, sheet=sheet) for sheet in folder.sheets.values())
        vehicles = sum(take_in_vehicle(actor=actor, vehicle=vehicle) for vehicle in folder.vehicles.values())
        news = {name: _news(folder, name) for name in folder.hires}
        hires = take_in_all(actor=actor, hires=folder.hires, news=news)
    return TakenIn(sheets, vehicles, hires)


def _take_in_depot(actor: User | None, folder: DepotFolder) -> None:
    """Take the depot, its tariff and its people; nobody edits them here, so the folder's word stands."""
    row = DepotRow.objects.first() or DepotRow(name=folder.depot.id)
    if row.name != folder.depot.id:
        todo = "Import it into a desk of its own (KEYHOOK_HOME)"
        raise BadInput(f"This desk belongs to the depot {row.name}", seen=folder.depot.id, todo=todo)
    document, tariff = folder.depot.model_dump(mode="json"), folder.tariff.model_dump(mode="json")
    if row.digest != document_hash(document) or row.tariff != tariff:
        before = [row.document, row.tariff] if row.pk else None
        row.tariff = tariff
        row.put(document, imported=True)
        row.save()
        said, after = folder.depot.name, [document, tariff]
        record(actor=actor, action="import", kind="depot", name=row.name, said=said, before=before, after=after)
    for member in StaffRow.objects.exclude(name__in=[person.id for person in folder.staff]):
        record(
            actor=actor,
            action="leave",
            kind="staff",
            name=member.name,
            said="no longer in the folder",
            before=member.document,
        )
        member.delete()
    for person in folder.staff:
        member = StaffRow.objects.filter(name=person.id).first() or StaffRow(name=person.id)
        document = person.model_dump(mode="json")
        if member.digest != document_hash(document):
            before = member.document if member.pk else None
            member.put(document, imported=True)
            member.save()
            said = person.name
            record(actor=actor, action="import", kind="staff", name=person.id, said=said, before=before, after=document)


def _news(folder: DepotFolder, hire_id: str) -> dict[str, Any]:
    back, calls = folder.returns.get(hire_id), folder.calls.get(hire_id, ())
    return {
        "back": back.model_dump(mode="json") if back else None,
        "calls": [call.model_dump(mode="json") for call in calls],
    }


def folder_of_desk() -> DepotFolder:
    """Return everything this desk holds as a depot folder.

    Raises
    ------
    UnknownName
        Nothing has been imported yet.
    """
    row = depot_row()
    rows = list(HireRow.objects.order_by("name"))
    calls = {row.name: tuple(Call.model_validate(call) for call in row.news.get("calls", ())) for row in rows}
    return DepotFolder(
        depot=_as_counted(row),
        staff=tuple(Staff.model_validate(row.document) for row in StaffRow.objects.order_by("id")),
        sheets={row.name: sheet_of(row) for row in SheetRow.objects.order_by("pk")},
        vehicles={row.name: vehicle_of(row) for row in VehicleRow.objects.order_by("pk")},
        hires={row.name: hire_of(row) for row in rows},
        tariff=Tariff.model_validate(row.tariff),
        returns={row.name: ReturnNews.model_validate(row.news["back"]) for row in rows if row.news.get("back")},
        calls={name: news for name, news in calls.items() if news},
    )


def options_sold() -> list[tuple[str, str]]:
    """Return the options of the tariff, each with its words."""
    row = DepotRow.objects.first()
    extras = row.tariff["extras"] if row else []
    return [(extra["id"], extra["id"].replace("_", " ").capitalize()) for extra in extras]


def depot_row() -> DepotRow:
    """Return the row of the depot; UnknownName when nothing has been imported yet."""
    row = DepotRow.objects.first()
    if row is None:
        raise UnknownName("This desk has no depot yet", todo="Import a depot folder first: ./keyhook import FOLDER")
    return row


def the_depot() -> Depot:
    """Return the depot of this desk; UnknownName when nothing has been imported yet.

    Of each teach point it has learnt what was counted on the desk, else what its folder says.
    """
    return _as_counted(depot_row())


def _as_counted(row: DepotRow) -> Depot:
    learnt = {**row.document.get("learnt", {}), **row.counted}
    return Depot.model_validate({**row.document, "learnt": learnt})
