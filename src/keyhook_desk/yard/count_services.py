"""What the desk counts of teach points; it comes before what the folder of the depot says."""

from __future__ import annotations

from django.db import transaction

from keyhook.catalogue import load_catalogue
from keyhook.depot.depot import Counted
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.web.history import record
from keyhook_desk.yard.models import DepotRow
from keyhook_desk.yard.services import depot_row


def counts_of_desk() -> tuple[dict[str, Counted], dict[str, Counted]]:
    """Return what was counted of teach points on the desk, and what the folder of the depot says, each by point."""
    row = depot_row()
    own, told = row.counted, row.document.get("learnt", {})
    return (
        {point: Counted.model_validate(one) for point, one in own.items()},
        {point: Counted.model_validate(one) for point, one in told.items()},
    )


def count_point(*, actor: User, point: str, counted: Counted | None, seen: Counted | None) -> None:
    """Write down what was counted of a teach point; with None take it back, so that the folder's word holds again.

    ``seen`` is what the desk had counted on the page where it was written.

    Raises
    ------
    UnknownName
        The catalogue has no such point, or nothing has been imported yet.
    EditedMeanwhile
        Somebody else has counted meanwhile; nothing is written.
    """
    require(actor, "tour.count")
    load_catalogue().teach_point(point)
    with transaction.atomic():
        row = DepotRow.objects.select_for_update().get(pk=depot_row().pk)
        before, stood = row.counted.get(point), seen.model_dump() if seen else None
        if before != stood:
            wrong = "Somebody else wrote down what was counted of this meanwhile; nothing was written"
            raise EditedMeanwhile(wrong, seen=_in_words(before), todo="Look at it again")
        after = counted.model_dump() if counted else None
        if after == before:
            return
        others = {name: one for name, one in row.counted.items() if name != point}
        row.counted = others if after is None else {**others, point: after}
        row.save(update_fields=["counted"])
        record(
            actor=actor, action="count", kind="teach point", name=point, said=_in_words(after), before=before,
            after=after,
        )  # fmt: skip


def _in_words(counted: dict[str, int] | None) -> str:
    return f"{counted['harmed']} of {counted['hires']} hires" if counted else "nothing counted on the desk"
