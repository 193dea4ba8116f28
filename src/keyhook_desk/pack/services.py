"""Mutations of packs: links, looks, what was read, photos, languages."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection

from django.db import transaction
from django.db.models import F

from keyhook.errors import BadInput
from keyhook.phrases import LANGUAGES
from keyhook_desk import clock
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.models import FittingPhoto, LanguageTick, PackConfirmation, PackLink
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.history import record
from keyhook_desk.web.pictures import Picture

#: Photos of one fitting of one vehicle: more than this nobody looks at.
MOST_PHOTOS = 4


def make_link(*, actor: User, hire: HireRow) -> PackLink:
    """Return the link of a hire, made when there is none yet or when it had been withdrawn."""
    require(actor, "pack.send")
    with transaction.atomic():
        HireRow.objects.select_for_update().get(pk=hire.pk)
        link = PackLink.objects.select_for_update().filter(hire=hire).first()
        if link is not None and link.withdrawn_at is None:
            return link
        return _write(actor, hire, link, "made")


def renew_link(*, actor: User, hire: HireRow) -> PackLink:
    """Return a new link; the one before it opens nothing any more."""
    require(actor, "pack.send")
    with transaction.atomic():
        HireRow.objects.select_for_update().get(pk=hire.pk)
        return _write(actor, hire, PackLink.objects.select_for_update().filter(hire=hire).first(), "renewed")


def _write(actor: User, hire: HireRow, link: PackLink | None, done: str) -> PackLink:
    now = clock.now()
    if link is None:
        link = PackLink(hire=hire, version=0)
    link.version += 1
    link.made_at, link.made_by, link.withdrawn_at = now, actor, None
    link.looks, link.last_look_at = 0, None
    link.save()
    said = f"link to the pack {done}, version {link.version}"
    record(actor=actor, action="pack", kind="hire", name=hire.name, said=said)
    return link


def withdraw_link(*, actor: User, hire: HireRow) -> None:
    """Withdraw the link of a hire: it opens nothing from now on."""
    require(actor, "pack.send")
    with transaction.atomic():
        done = PackLink.objects.filter(hire=hire, withdrawn_at=None).update(withdrawn_at=clock.now())
        if done:
            record(actor=actor, action="pack", kind="hire", name=hire.name, said="link to the pack withdrawn")


def note_look(*, hire: HireRow) -> None:
    """Count that somebody opened the pack; the page tells it, so that previews of messages count nothing."""
    PackLink.objects.filter(hire=hire).update(looks=F("looks") + 1, last_look_at=clock.now())


def confirm_points(*, hire: HireRow, points: Collection[str], known: Collection[str], at: dt.datetime | None) -> int:
    """Write down which points the hirer has read; returns how many were new. Sent twice is written once.

    Parameters
    ----------
    points
        As the phone sent them; those that are not ``known`` in this pack are passed over.
    at
        The moment on the phone; now when it told none or one to come.
    """
    now = clock.now()
    read_at = min(at, now) if at else now
    rows = [
        PackConfirmation(hire=hire, point=point, at=read_at, received_at=now)
        for point in dict.fromkeys(points)
        if point in known
    ]
    before = PackConfirmation.objects.filter(hire=hire).count()
    PackConfirmation.objects.bulk_create(rows, ignore_conflicts=True)
    return PackConfirmation.objects.filter(hire=hire).count() - before


def add_photo(*, actor: User, vehicle: VehicleRow, fitting: str, picture: Picture) -> FittingPhoto:
    """Add a photo of a fitting of a vehicle; the same picture again changes nothing.

    Raises
    ------
    BadInput
        This fitting has as many photos as anybody looks at.
    """
    require(actor, "pack.photo")
    with transaction.atomic():
        VehicleRow.objects.select_for_update().get(pk=vehicle.pk)
        there = FittingPhoto.objects.filter(vehicle=vehicle, fitting=fitting)
        if same := there.filter(digest=picture.digest).first():
            return same
        if there.count() >= MOST_PHOTOS:
            raise BadInput(f"This fitting has {MOST_PHOTOS} photos already", todo="Take one of them off first")
        photo = FittingPhoto.objects.create(
            vehicle=vehicle,
            fitting=fitting,
            digest=picture.digest,
            kind=picture.kind,
            content=picture.content,
            width=picture.width,
            height=picture.height,
            added_at=clock.now(),
            added_by=actor,
        )
        record(actor=actor, action="photo", kind="vehicle", name=vehicle.name, said=f"photo of {fitting}")
    return photo


def take_photo_off(*, actor: User, vehicle: VehicleRow, digest: str, fitting: str) -> None:
    """Take a photo off a fitting."""
    require(actor, "pack.photo")
    with transaction.atomic():
        gone, _ = FittingPhoto.objects.filter(vehicle=vehicle, fitting=fitting, digest=digest).delete()
        if gone:
            said = f"photo of {fitting} taken off"
            record(actor=actor, action="photo", kind="vehicle", name=vehicle.name, said=said)


def tick_language(*, actor: User, language: str, checked: bool) -> None:
    """Say that a native speaker has read a language of the pack, or that one should read it again.

    Raises
    ------
    BadInput
        The pack has no such language, or it is the original.
    """
    require(actor, "pack.language")
    if language not in LANGUAGES or language == "en":
        raise BadInput("The pack is not translated into this", seen=language, todo="Choose one from the list")
    with transaction.atomic():
        if checked:
            LanguageTick.objects.get_or_create(language=language, defaults={"by": actor, "at": clock.now()})
        else:
            LanguageTick.objects.filter(language=language).delete()
        said = "read by a native speaker" if checked else "to be read again"
        record(actor=actor, action="language", kind="pack", name=language, said=said)
