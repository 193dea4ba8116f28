"""Writing the history line of a mutation."""

from __future__ import annotations

from typing import Any

from keyhook_desk import clock
from keyhook_desk.people.models import User
from keyhook_desk.web.document import document_hash
from keyhook_desk.web.models import HistoryLine


def record(
    *, actor: User | None, action: str, kind: str, name: str, said: str, before: Any = None, after: Any = None
) -> HistoryLine:
    """Write one line; to be called inside the transaction of the mutation itself."""
    return HistoryLine.objects.create(
        at=clock.now(),
        by=actor,
        action=action,
        kind=kind,
        name=name[:80],
        said=said[:300],
        before_hash=document_hash(before),
        after_hash=document_hash(after),
    )
