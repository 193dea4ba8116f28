"""What falls off the tour of a hire and goes into a message of its pack instead."""

from __future__ import annotations

from keyhook.tour.answer import not_shown
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.fallen import ask_for_fallen
from keyhook_desk.walkround.models import Kind
from keyhook_desk.walkround.planned import Tour
from keyhook_desk.walkround.views import held_tour
from keyhook_desk.walkround.walk import Walk, records_of, ticks_of, walk_of

_SHOWN = {Kind.TOLD, Kind.HIRER_DID}


@ask_for_fallen
def points_without_time(row: HireRow) -> dict[str, str]:
    """Return the points that are not shown on the tour, each with the slot that carries it."""
    tour = held_tour(row)
    walk = walk_of(ticks_of(row))
    shown = _shown(tour, walk, signed=bool(records_of(row)))
    return {known.id: slot for known, slot in not_shown(tour.composed, shown)}


def _shown(tour: Tour, walk: Walk, *, signed: bool) -> set[str]:
    """Return what the hirer is shown: as planned, less what the walk passed over, and what it showed besides.

    Once a walk with ticks is signed, what was not ticked was not shown.
    """
    told = {name for name, state in walk.points.items() if state.kind in _SHOWN}
    if signed and told:
        return told
    passed_over = {name for name, state in walk.points.items() if state.kind not in _SHOWN}
    return (set(tour.answer.plan.points) - passed_over) | told
