"""Taking what a phone says of a task, with its photo."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping

from django.db import IntegrityError, transaction

from keyhook.errors import BadInput
from keyhook_desk import clock
from keyhook_desk.mywork.models import WorkPhoto
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.pictures import read_picture
from keyhook_desk.yard import plan_services
from keyhook_desk.yard.models import WorkMark


def take_mark(
    *, actor: User, day: dt.date, person: str, told: Mapping[str, str], photo: bytes | None = None
) -> WorkMark:
    """Write down what a phone says of a task; the same ``uid`` a second time writes nothing.

    ``told`` holds ``uid``, ``task``, ``kind``, ``at`` (ISO 8601 with offset; now when empty) and ``note``.

    Raises
    ------
    BadInput
        No id, a moment that is none, a photo that is none.
    UnknownName
        No plan of the day has had such a task.
    """
    require(actor, "task.mark")
    with transaction.atomic():
        return plan_services.mark(
            uid=_uid(told.get("uid", "")),
            day=day,
            task=told.get("task", ""),
            kind=told.get("kind", ""),
            person=person,
            at=_moment(told.get("at", "")),
            by=actor,
            note=told.get("note", "").strip(),
            photo=_kept(actor, photo) if photo else "",
        )


def _uid(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        raise BadInput("The mark has no number of its own", seen=text[:40], todo="Open your list again") from None


def _moment(text: str) -> dt.datetime:
    if not text:
        return clock.now()
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        raise BadInput("This is no moment", seen=text[:40], todo="Set the clock of the phone and try again") from None


def _kept(actor: User, content: bytes) -> str:
    """Keep a photo and return the hash of its content; one that is there already is not kept twice."""
    picture = read_picture(content)
    if not WorkPhoto.objects.filter(digest=picture.digest).exists():
        try:
            with transaction.atomic():
                WorkPhoto.objects.create(
                    digest=picture.digest,
                    kind=picture.kind,
                    content=picture.content,
                    width=picture.width,
                    height=picture.height,
                    added_at=clock.now(),
                    added_by=actor,
                )
        except IntegrityError:  # the same photo has just come in by another way
            pass
    return picture.digest
