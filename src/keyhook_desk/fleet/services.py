"""Mutations of build sheets and vehicles."""

from __future__ import annotations

from django.db import transaction

from keyhook.errors import BadInput
from keyhook.vehicle.build_sheet import BuildSheet, Ticket, Vehicle
from keyhook_desk.fleet.models import SheetRow, VehicleRow
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.document import document_hash
from keyhook_desk.web.history import record


def take_in_sheet(*, actor: User | None, sheet: BuildSheet) -> bool:
    """Take a build sheet from a depot folder; returns whether it wrote. Edited ones are kept."""
    row = SheetRow.objects.filter(name=sheet.id).first() or SheetRow(name=sheet.id)
    document = sheet.model_dump(mode="json")
    if row.pk and (row.is_edited or row.imported_digest == document_hash(document)):
        return False
    before = row.document if row.pk else None
    row.put(document, imported=True)
    row.save()
    record(
        actor=actor, action="import", kind="build sheet", name=sheet.id, said=sheet.name, before=before, after=document
    )
    return True


def take_in_vehicle(*, actor: User | None, vehicle: Vehicle) -> bool:
    """Take a vehicle from a depot folder; returns whether it wrote. Edited ones are kept."""
    row = VehicleRow.objects.filter(name=vehicle.id).first() or VehicleRow(name=vehicle.id)
    document = vehicle.model_dump(mode="json")
    if row.pk and (row.is_edited or row.imported_digest == document_hash(document)):
        return False
    before = row.document if row.pk else None
    row.sheet, row.plate = SheetRow.objects.get(name=vehicle.sheet), vehicle.plate
    row.put(document, imported=True)
    row.save()
    record(
        actor=actor, action="import", kind="vehicle", name=vehicle.id, said=vehicle.plate, before=before, after=document
    )
    return True


def add_ticket(*, actor: User, vehicle: str, ticket: Ticket) -> VehicleRow:
    """Add a weighbridge ticket to a vehicle; with one of its own it no longer counts from those of its type.

    Raises
    ------
    BadInput
        There is no such vehicle, or a ticket of this number is there already.
    """
    require(actor, "ticket.add")
    with transaction.atomic():
        row = VehicleRow.objects.select_for_update().filter(name=vehicle).first()
        if row is None:
            raise BadInput("There is no such vehicle", seen=vehicle, todo="Choose one from the list")
        held = Vehicle.model_validate(row.document)
        if any(ticket.id == other.id for other in held.tickets):
            raise BadInput("A ticket of this number is there already", seen=ticket.id, todo="Give it another number")
        before = row.document
        row.put(held.model_copy(update={"tickets": (*held.tickets, ticket)}).model_dump(mode="json"))
        row.save()
        said = f"ticket {ticket.id}: front {ticket.front_kg:g}, rear {ticket.rear_kg:g} kg"
        record(actor=actor, action="weigh", kind="vehicle", name=vehicle, said=said, before=before, after=row.document)
    return row
