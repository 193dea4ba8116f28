"""Mutations of hires: one transaction, one history line, a value back."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError, transaction

from keyhook.errors import BadInput
from keyhook.hire.hire import Hire
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.guard import NAME as GUARD
from keyhook_desk.hires.models import HOLDING, HireRow, Status
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.errors import DoubleHire, EditedMeanwhile
from keyhook_desk.web.history import document_hash, record


def hire_of(row: HireRow) -> Hire:
    """Return the hire of a row."""
    return Hire.model_validate(row.document)


def save_hire(*, actor: User, hire: Hire, seen_version: int | None) -> HireRow:
    """Save a hire, new or edited; ``seen_version`` is what the editor had opened, None for a new one.

    Raises
    ------
    EditedMeanwhile
        Somebody saved it in between; nothing is written.
    DoubleHire
        The database refused: the vehicle is out with another hire then.
    """
    require(actor, "hire.edit")
    try:
        with transaction.atomic():
            return _write(actor, hire, seen_version)
    except IntegrityError as error:
        raise _in_words(error, hire) from error


def _write(actor: User, hire: Hire, seen_version: int | None) -> HireRow:
    row = HireRow.objects.select_for_update().filter(name=hire.id).first()
    if seen_version is None and row is not None:
        raise BadInput("A hire of this number exists already", seen=hire.id, todo="Open it, or take another number")
    if row is not None and seen_version is not None and row.version != seen_version:
        raise EditedMeanwhile(
            "Somebody else saved this hire while you had it open",
            seen=f"version {row.version}, yours was {seen_version}",
            todo="Compare both below, then save again what should stand",
        )
    before = row.document if row else None
    row = row or HireRow(name=hire.id, version=0)
    _fill(row, hire)
    row.version += 1
    row.save()
    action = "edit" if before else "add"
    record(actor=actor, action=action, kind="hire", name=hire.id, said=hire.lead, before=before, after=row.document)
    return row


def _fill(row: HireRow, hire: Hire) -> None:
    row.document = hire.model_dump(mode="json")
    row.lead = hire.lead
    row.search = " ".join([hire.id, hire.lead, hire.vehicle or "", hire.wanted_sheet or "", hire.trip.where]).lower()[:500]
    row.vehicle = _vehicle(hire)
    row.status = hire.status
    row.collect_at, row.return_at = hire.collect_at, hire.return_at


def _vehicle(hire: Hire) -> VehicleRow | None:
    if hire.vehicle is None:
        return None
    found = VehicleRow.objects.filter(name=hire.vehicle).first()
    if found is None:
        raise BadInput("There is no such vehicle", seen=hire.vehicle, todo="Choose one from the list")
    return found


def _in_words(error: IntegrityError, hire: Hire) -> Exception:
    if GUARD not in str(error):
        return error
    other = (
        HireRow.objects.filter(
            vehicle__name=hire.vehicle,
            status__in=[status.value for status in HOLDING],
            collect_at__lt=hire.return_at,
            return_at__gt=hire.collect_at,
        )
        .exclude(name=hire.id)
        .first()
    )
    seen = f"{other.name} {other.lead}, until {other.return_at:%d %b %H:%M} UTC" if other else "another hire"
    return DoubleHire(
        f"{hire.vehicle} is already given to another hire at that time", seen=seen, todo="Change the times or the vehicle"
    )


def take_in(*, actor: User | None, hire: Hire, news: dict[str, Any]) -> bool:
    """Take a hire from a depot folder; what people edited since the last import is kept. Returns whether it wrote.

    To be called inside the transaction of the whole folder.
    """
    row = HireRow.objects.filter(name=hire.id).first()
    document = hire.model_dump(mode="json")
    digest = document_hash([document, news])
    if row is not None and (row.imported_hash == digest or row.version > 1):
        return False
    row = row or HireRow(name=hire.id, version=1)
    _fill(row, hire)
    row.news, row.imported_hash = news, digest
    row.save()
    record(actor=actor, action="import", kind="hire", name=hire.id, said=hire.lead, after=document)
    return True


def next_number() -> str:
    """Return a free hire number, one above the greatest in use."""
    numbers = HireRow.objects.filter(name__regex=r"^H[0-9]+$").values_list("name", flat=True)
    return f"H{max((int(name[1:]) for name in numbers), default=0) + 1:02d}"


def set_status(*, actor: User, row: HireRow, status: Status) -> HireRow:
    """Move a hire to another status."""
    hire = hire_of(row).model_copy(update={"status": status.value})
    return save_hire(actor=actor, hire=hire, seen_version=row.version)
