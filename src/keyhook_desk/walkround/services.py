"""Mutations of the hand-over: the wishes of the desk, ticks of the walk, the acknowledgement."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from uuid import UUID

from django.db import IntegrityError, transaction

from keyhook.errors import BadInput
from keyhook_desk import clock
from keyhook_desk.hires.models import HireRow
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.walkround.ledger import personal_part, sealed
from keyhook_desk.walkround.models import HandOverRecord, Kind, TourWish, WalkTick
from keyhook_desk.walkround.wishes import Settings
from keyhook_desk.web.history import record

_TRIES = 20


def keep_wishes(*, actor: User, hire: HireRow, settings: Settings) -> TourWish:
    """Keep what the desk says about the tour of a hire; the last word counts."""
    require(actor, "tour.plan")
    values = {
        "available_min": settings.available_min,
        "first_time": settings.first_time,
        "slow": settings.slow,
        "confirmed": list(settings.confirmed),
        "by": actor,
        "at": clock.now(),
    }
    with transaction.atomic():
        wish, _ = TourWish.objects.update_or_create(hire=hire, defaults=values)
        minutes = "the usual time" if settings.available_min is None else f"{settings.available_min:g} min"
        said = f"{minutes}, {len(settings.confirmed)} confirmed in the pack"
        record(actor=actor, action="tour", kind="hire", name=hire.name, said=said)
    return wish


@dataclass(frozen=True, slots=True)
class Tick:
    """One thing that happened on a walk as a tablet tells it; ``at`` is the tablet's time."""

    uid: UUID
    point: str
    kind: Kind
    at: dt.datetime
    note: str = ""


def tick(*, actor: User, hire: HireRow, told: Tick) -> WalkTick:
    """Write down what happened on a walk; the same tick sent twice is written once.

    Raises
    ------
    BadInput
        Its id was already used for another hire.
    """
    require(actor, "walk.do")
    values = {
        "hire": hire,
        "point": told.point,
        "kind": told.kind,
        "note": told.note,
        "at": told.at,
        "received_at": clock.now(),
        "by": actor,
    }
    with transaction.atomic():
        row, _ = WalkTick.objects.get_or_create(uid=told.uid, defaults=values)
    if row.hire_id != hire.pk:
        raise BadInput("This tick belongs to another hire", seen=told.uid, todo="Tick it again on the right tour")
    return row


@dataclass(frozen=True, slots=True)
class Shown:
    """A point that must be said, in the words that stood on the tablet, and how it was shown (empty: it was not)."""

    id: str
    text: str
    how: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A teach-back question and how it went: ``answered`` or ``again`` (it has to be shown once more)."""

    point: str
    text: str
    answer: str


@dataclass(frozen=True, slots=True)
class Acknowledgement:
    """What is signed: name, signature (the commands of a path, or empty), points, questions, the words above it."""

    uid: UUID
    name: str
    signature: str
    shown: tuple[Shown, ...]
    asked: tuple[Asked, ...]
    caution: str
    at: dt.datetime
    minutes: int


def hand_over(*, actor: User, hire: HireRow, said: Acknowledgement) -> HandOverRecord:
    """Add an acknowledgement to the ledger; the same one sent twice is written once.

    Raises
    ------
    BadInput
        It was already used for another hire, or too many are being written at once.
    """
    require(actor, "walk.do")
    for _ in range(_TRIES):
        if there := HandOverRecord.objects.filter(uid=said.uid).first():
            if there.hire_id != hire.pk:
                raise BadInput("This signature belongs to another hire", seen=said.uid, todo="Sign again")
            return there
        try:
            with transaction.atomic():
                return _add_entry(actor, hire, said)
        except IntegrityError:
            # Somebody else took the number in this moment, or sent the same: look again.
            continue
    raise BadInput("Too many hand-overs are being written at once", todo="Send it again")


def _add_entry(actor: User, hire: HireRow, said: Acknowledgement) -> HandOverRecord:
    before = HandOverRecord.objects.select_for_update().order_by("-number").first()
    entry = HandOverRecord(uid=said.uid, hire=hire, personal=personal_part(said.name, said.signature))
    received_at = clock.now()
    sealed(
        entry,
        {
            "vehicle": hire.vehicle.name if hire.vehicle else "",
            "by": actor.username,
            "at": said.at.isoformat(),
            "received_at": received_at.isoformat(),
            "minutes": said.minutes,
            "caution": said.caution,
            "points": [{"id": one.id, "text": one.text, "how": one.how} for one in said.shown],
            "questions": [{"point": one.point, "text": one.text, "answer": one.answer} for one in said.asked],
        },
        before,
    )
    entry.save()
    not_shown = sum(not one.how for one in said.shown)
    words = f"Entry {entry.number}: {len(said.shown) - not_shown} points acknowledged"
    words += f", {not_shown} not shown" if not_shown else ""
    record(actor=actor, action="hand-over", kind="hire", name=hire.name, said=words, after=entry.entry)
    return entry


def drop_person(*, actor: User, entry: HandOverRecord) -> None:
    """Drop name and signature of an entry; what was shown and when stays, and the chain holds."""
    require(actor, "people.edit")
    with transaction.atomic():
        HandOverRecord.objects.filter(pk=entry.pk).update(personal=None)
        said = f"Name and signature of entry {entry.number} dropped"
        record(actor=actor, action="drop", kind="hire", name=entry.hire.name, said=said)
