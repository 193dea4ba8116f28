"""Mutations of hires: one transaction, one history line, a value back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import IntegrityError, transaction

from keyhook.errors import BadInput
from keyhook.hire.hire import Hire
from keyhook_desk import clock
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.giving import Gift, Given, already_given, as_before, in_vehicle, move_of, refusals
from keyhook_desk.hires.guard import NAME as GUARD
from keyhook_desk.hires.models import HOLDING, HireRow, VehiclesGiven
from keyhook_desk.hires.selectors import hire_of
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.document import document_hash
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.web.history import record
from keyhook_desk.web.models import HistoryLine, Once

__all__ = ["hire_of"]
_TRIES = 20
_ONCE_KEPT = dt.timedelta(days=2)


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


def _write(actor: User, hire: Hire, row: HireRow, *, before: Any, said: str = "") -> HireRow:
    _fill(row, hire)
    row.save()
    action, said = "edit" if before else "add", f"{hire.lead}{said}"
    record(actor=actor, action=action, kind="hire", name=hire.id, said=said, before=before, after=row.document)
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
    return already_given(hire.vehicle or "", then.exclude(name=hire.id).first(), hire.zone)


# ---------------------------------------------------------------- vehicles, several at once


def give_vehicles(*, actor: User, day: dt.date, gifts: Sequence[Gift], said: str = "") -> Given:
    """Give several hires other vehicles in one go, so that two may exchange theirs; those that cannot are told why.

    Nobody ever sees a hire between two vehicles: they let go of the old ones and take the new ones in one transaction.

    Raises
    ------
    EditedMeanwhile
        Somebody saved one of the hires since it was seen, or gave it its vehicle; nothing is written.
    BadInput
        There is no such hire, or nothing is to be done.
    DoubleHire
        The database refused: a vehicle is with another hire then; nothing is written.
    """
    require(actor, "hire.edit")
    with transaction.atomic():
        rows = _seen_rows({gift.hire: gift.seen_version for gift in gifts})
        wanted = {gift.hire: _vehicle_named(gift.vehicle) for gift in gifts}
        moving = [rows[name] for name, vehicle in wanted.items() if rows[name].vehicle != vehicle]
        if not moving:
            raise EditedMeanwhile("The hires have these vehicles already", todo="Look at the day again")
        refused = refusals(moving, wanted)
        going = [row for row in moving if row.name not in refused]
        news = {row.name: in_vehicle(hire_of(row), wanted[row.name]) for row in going}
        moves = [move_of(hire_of(row), news[row.name], row.version + 1) for row in going]
        if going:
            _exchange(actor, going, news, said)
            VehiclesGiven.objects.create(day=day, at=clock.now(), by=actor, moves=moves)
        return Given(tuple(row.name for row in going), refused)


def take_vehicles_back(*, actor: User, given_id: int) -> tuple[str, ...]:
    """Put hires back into the vehicles, seats and stores they had before; returns their numbers.

    Raises
    ------
    EditedMeanwhile
        Somebody has taken it back already, or saved one of the hires since; nothing is written.
    DoubleHire
        A vehicle is with another hire by now; nothing is written.
    """
    require(actor, "hire.edit")
    with transaction.atomic():
        given = VehiclesGiven.objects.select_for_update().filter(pk=given_id).first()
        if given is None:
            raise BadInput("Nothing of the kind was given", seen=given_id, todo="Look at the day again")
        if given.taken_back:
            raise EditedMeanwhile("Somebody has taken this back already", todo="Look at the day again")
        rows = _seen_rows({move["hire"]: move["version"] for move in given.moves})
        news = {move["hire"]: as_before(hire_of(rows[move["hire"]]), move) for move in given.moves}
        _exchange(actor, list(rows.values()), news, " as before")
        given.taken_back = True
        given.save(update_fields=["taken_back"])
        return tuple(rows)


def _seen_rows(seen: Mapping[str, int]) -> dict[str, HireRow]:
    """Return the hires, locked; refuse when one is not there or no longer as it was seen."""
    found = HireRow.objects.select_for_update(of=("self",)).filter(name__in=seen).order_by("pk")
    rows = {row.name: row for row in found.select_related("vehicle")}
    for name, version in seen.items():
        if name not in rows:
            raise BadInput("There is no such hire", seen=name, todo="Look at the day again")
        if rows[name].version != version:
            last = HistoryLine.objects.filter(kind="hire", name=name).select_related("by").first()
            who = str(last.by) if last and last.by else "Somebody else"
            wrong = f"{who} has saved hire {name} since you looked at it; nothing of yours was written"
            raise EditedMeanwhile(wrong, todo="Look at the day again and decide")
    return rows


def _vehicle_named(name: str) -> VehicleRow | None:
    if not name:
        return None
    found = VehicleRow.objects.select_related("sheet").filter(name=name).first()
    if found is None:
        raise BadInput("There is no such vehicle", seen=name, todo="Look at the day again")
    return found


def _exchange(actor: User, rows: Sequence[HireRow], news: Mapping[str, Hire], said: str) -> None:
    """Let all go of their vehicles, then write each in its new one."""
    HireRow.objects.filter(pk__in=[row.pk for row in rows]).update(vehicle=None)
    for row in rows:
        hire = news[row.name]
        words = f": {hire.vehicle or 'no vehicle'} instead of {hire_of(row).vehicle or 'none'}{said}"
        try:
            with transaction.atomic():
                _write(actor, hire, row, before=row.document, said=words)
        except IntegrityError as error:
            raise in_words(error, hire) from error


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
