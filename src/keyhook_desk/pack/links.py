"""The signed link: what it holds, and whether it still opens anything.

A link carries the number of the hire and the version of the link, signed with the secret of the desk: nobody can
make one up, and one altered by a single character opens nothing. It ends some days after the return, whatever the
return is moved to.
"""

from __future__ import annotations

import datetime as dt

from django.core.signing import BadSignature, Signer

from keyhook.errors import KeyhookError
from keyhook.phrases import say
from keyhook_desk import clock
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.models import PackLink

#: A link opens the pack until so long after the return.
OPENS_AFTER_RETURN = dt.timedelta(days=14)
_SIGNER = Signer(salt="keyhook.pack.link", sep="~")
_LONGEST = 200


class DeadLink(KeyhookError):
    """A link that opens nothing: ``why`` is a key of the phrases ``pack.dead``, ``status`` what a browser is told."""

    code = "dead-link"

    def __init__(self, why: str, status: int) -> None:
        self.why, self.status = why, status
        super().__init__(say(f"pack.dead.{why}").rstrip("."))


def token_of(link: PackLink) -> str:
    """Return the token of a link; ``link.hire`` should be loaded."""
    return _SIGNER.sign(f"{link.hire.name}.{link.version}")


def ends_at(hire: HireRow) -> dt.datetime:
    """Return when the link of a hire ends."""
    return hire.return_at + OPENS_AFTER_RETURN


def opened(token: str) -> HireRow:
    """Return the hire that a token opens, its vehicle, sheet and link loaded.

    Raises
    ------
    DeadLink
        It was altered, has run out or was withdrawn, the hire was cancelled, or no vehicle is chosen yet.
    """
    name, version = _read(token)
    row = HireRow.objects.select_related("vehicle__sheet", "pack_link").filter(name=name).first()
    link: PackLink | None = getattr(row, "pack_link", None)
    if row is None or link is None or link.version != version or link.withdrawn_at is not None:
        raise DeadLink("withdrawn", 410)
    if row.status == "cancelled":
        raise DeadLink("cancelled", 410)
    if clock.now() >= ends_at(row):
        raise DeadLink("expired", 410)
    if row.vehicle is None:
        raise DeadLink("no_vehicle", 409)
    return row


def _read(token: str) -> tuple[str, int]:
    try:
        name, _, version = _SIGNER.unsign(token[:_LONGEST]).rpartition(".")
    except BadSignature:
        raise DeadLink("altered", 404) from None
    return name, int(version)
