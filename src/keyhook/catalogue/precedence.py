"""Order given by 'this after that'."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter


def first_cycle(after: Mapping[str, Iterable[str]]) -> list[str]:
    """Return the names of one cycle, first one repeated at the end; empty when there is none."""
    try:
        TopologicalSorter({name: tuple(before) for name, before in after.items()}).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []
