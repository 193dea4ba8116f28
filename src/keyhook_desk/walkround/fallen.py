"""What falls off the tour of a hire and goes into a message of its pack instead."""

from __future__ import annotations

from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.fallen import ask_for_fallen
from keyhook_desk.walkround.views import held_tour


@ask_for_fallen
def points_without_time(row: HireRow) -> dict[str, str]:
    """Return the points that did not fit, each with the slot that carries it."""
    return {entry.id: entry.slot for entry in held_tour(row).answer.elsewhere if entry.why == "no_time"}
