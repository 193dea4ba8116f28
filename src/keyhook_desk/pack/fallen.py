"""Points that the tour of a hire has no time for, asked of whoever plans tours: a pack itself plans none."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from keyhook.errors import KeyhookError
from keyhook.pack.messages import SLOTS, Slot
from keyhook_desk.hires.models import HireRow

#: Gives the points that did not fit, each with the message that carries it instead.
Source = Callable[[HireRow], Mapping[str, str]]
_SOURCES: list[Source] = []


def ask_for_fallen(source: Source) -> Source:
    """Let a slice that plans tours tell what falls off them."""
    _SOURCES.append(source)
    return source


def fallen_of(row: HireRow) -> dict[str, Slot]:
    """Return the points of a hire that go into a message because the tour has no time for them.

    A tour that cannot be planned drops nothing; the desk is told why on the page of the tour.
    """
    found: dict[str, Slot] = {}
    for source in _SOURCES:
        try:
            told = source(row)
        except KeyhookError:
            continue
        found |= {point: slot for point, where in told.items() for slot in SLOTS if slot == where}
    return found
