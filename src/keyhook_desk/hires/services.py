"""Mutations of hires: one transaction, one history line, a value back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from keyhook.errors import BadInput
from keyhook.hire.hire import Hire
from keyhook_desk import clock
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.guard import NAME as GUARD
from keyhook_desk.hires.models import HOLDING, HireRow
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.document import document_hash
from keyhook_desk.web.errors import DoubleHire, EditedMeanwhile
from keyhook_desk.web.history import record
from keyhook_desk.web.models import Once

_TRIES = 20
_ONCE_KEPT = dt.timedelta(days=2)


def hire_of(row: HireRow) -> Hire:
    """Return the hire of a row."""
    return Hire.model_validate(row.document)


def add_hire(*, actor: User, hire: Hire, once: str = "") -> HireRow:
    """Write a new hire down under the next free number; the id it carries is not looked at.

    ``once`` marks the form it came from: the same form sent again (a double click, a lost answer) gives the hire
    that it became the first time.

    Raises
    ------
    DoubleHire
        The database refused: the vehicle is with another hire then.
    """
    require(actor, "hire.edit")
    for _ in range(_TRIES):
        if once and (before := Once.objects.filter(token=once).first()):
            return HireRow.objects.get(name=before.name)
        numbered = hire
        try:
            with transaction.atomic():
                # Whoever numbers waits here for the one before; the few who slip past each other try again.
                HireRow.objects.select_for_update().order_by("-pk").values_list("pk").first()
                numbered = hire.model_copy(update={"id": next_number()})
                return _write_new(actor, numbered, once)
        except IntegrityError as error:
            numbered_by_another = HireRow.objects.filter(name=numbered.id).exists()
            sent_twice = bool(once) and Once.objects.filter(token=once).exists()
            if not numbered_by_another and not sent_twice:
                raise in_words(error, numbered) from error
    raise BadInput("Too many hires are being written at once", todo="Save it again")


def _write_new(actor: User, hire: Hire, once: str) -> HireRow:
    row = _write(actor, hire, HireRow(name=hire.id), before=None)
    if once:
        Once.objects.filter(at__lt=clock.running() - _ONCE_KEPT).delete()
        Once.objects.create(token=once, name=row.name, at=clock.running())
    return row


def save_hire(*, actor: User, hire: Hire, seen_version: int) -> HireRow:
    """Save an edited hire; ``seen_version`` is the one that the editor had opened.

    Raises
    ------
    EditedMeanwhile
        Somebody saved it in between; nothing is written.
    DoubleHire
        The database refused: the vehicle is with another hire then.
    """
    require(actor, "hire.edit")
    try:
        with transaction.atomic():
            row = HireRow.objects.select_for_update().filter(name=hire.id).first()
            if row is None:
                raise BadInput("There is no such hire", seen=hire.id, todo="Open it from the list")
            if row.version != seen_version:
                raise EditedMeanwhile(
                    "Somebody else saved this hire while you had it open",
                    todo="Choose below what shall stand, then save",
                )
            return _write(actor, hire, row, before=row.document)
    except IntegrityError as error:
        raise in_words(error, hire) from error


def _write(actor: User, hire: Hire, row: HireRow, *, before: Any) -> HireRow:
    _fill(row, hire)
    row.save()
    action = "edit" if before else "add"
    record(actor=actor, action=action, kind="hire", name=hire.id, said=hire.lead, before=before, after=row.document)
    return row


def _fill(row: HireRow, hire: Hire, *, imported: bool = False) -> None:
    row.put(hire.model_dump(mode="json"), imported=imported)
    row.lead = hire.lead
    words = (hire.id, hire.lead, hire.vehicle or "", hire.wanted_sheet or "", hire.trip.where)
    row.search = " ".join(words).lower()[:500]
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


def in_words(error: IntegrityError, hire: Hire) -> Exception:
    """Return the guard's refusal as one sentence that names the other hire; any other error as it is."""
    if GUARD not in str(error):
        return error
    holding = HireRow.objects.filter(vehicle__name=hire.vehicle, status__in=[status.value for status in HOLDING])
    then = holding.filter(collect_at__lt=hire.return_at, return_at__gt=hire.collect_at)
    other = then.exclude(name=hire.id).first()
    zone = ZoneInfo(hire.zone)
    seen = "another hire"
    if other is not None:
        first, last = other.collect_at.astimezone(zone), other.return_at.astimezone(zone)
        seen = f"{other.name} {other.lead}, {first:%-d %b %H:%M} to {last:%-d %b %H:%M}"
    wrong = f"{hire.vehicle} is already given to another hire at that time"
    return DoubleHire(wrong, seen=seen, todo="Change the times or the vehicle")


def take_in_all(*, actor: User | None, hires: Mapping[str, Hire], news: Mapping[str, dict[str, Any]]) -> int:
    """Take the hires of a depot folder; returns how many were written. Edited ones are kept.

    Those about to change let go of their vehicles first, so that two may swap them. To be called inside the
    transaction of the whole folder.

    Raises
    ------
    DoubleHire
        A vehicle is with a hire that was entered here.
    """
    rows = {row.name: row for row in HireRow.objects.filter(name__in=hires)}
    fresh = [hire for hire in hires.values() if _is_fresh(rows.get(hire.id), hire, news[hire.id])]
    HireRow.objects.filter(pk__in=[rows[hire.id].pk for hire in fresh if hire.id in rows]).update(vehicle=None)
    for hire in fresh:
        _take_in(actor, hire, rows.get(hire.id) or HireRow(name=hire.id), news[hire.id])
    return len(fresh)


def _is_fresh(row: HireRow | None, hire: Hire, news: dict[str, Any]) -> bool:
    if row is None:
        return True
    same = row.imported_digest == document_hash(hire.model_dump(mode="json")) and row.news == news
    return not row.is_edited and not same


def _take_in(actor: User | None, hire: Hire, row: HireRow, news: dict[str, Any]) -> None:
    before = row.document if row.pk else None
    _fill(row, hire, imported=True)
    row.news = news
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as error:
        raise in_words(error, hire) from error
    record(actor=actor, action="import", kind="hire", name=hire.id, said=hire.lead, before=before, after=row.document)


def next_number() -> str:
    """Return a free hire number, one above the greatest in use."""
    numbers = HireRow.objects.filter(name__regex=r"^H[0-9]+$").values_list("name", flat=True)
    return f"H{max((int(name[1:]) for name in numbers), default=0) + 1:02d}"
