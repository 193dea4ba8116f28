"""The one place that understands when something applies: tags, fittings, options, reports, levels, intervals."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from keyhook.catalogue.models import Catalogue

#: Words that are a condition by themselves besides the hire tags.
PLAIN_WORDS = frozenset({"always", "every", "report", "option"})
PREFIXES = ("fitting:", "option:", "report:", "low:", "every:", "in:")


@dataclass(frozen=True, slots=True)
class Facts:
    """What is true of one hire and one vehicle when a condition is asked.

    ``tags`` are of the hire that goes out, ``tags_in`` of the one that came back, ``reports`` words of what the
    return brought, ``low`` gauges that stand low, ``due`` the intervals (``90 days``, ``6``) that have run out.
    """

    tags: Collection[str] = ()
    fittings: Collection[str] = ()
    options: Collection[str] = ()
    tags_in: Collection[str] = ()
    reports: Collection[str] = ()
    low: Collection[str] = ()
    due: Collection[str] = ()


def applies(when: Collection[str], facts: Facts) -> bool:
    """Tell whether any of the conditions holds."""
    return any(_holds(word, facts) for word in when)


def _holds(word: str, facts: Facts) -> bool:
    if word in {"always", "every"}:
        return True
    prefix, colon, rest = word.partition(":")
    if not colon:
        return word in facts.tags
    known: dict[str, Collection[str]] = {
        "fitting": facts.fittings,
        "option": facts.options,
        "report": facts.reports,
        "low": facts.low,
        "every": facts.due,
        "in": facts.tags_in,
    }
    return rest in known[prefix]


def unknown_condition(word: str, catalogue: Catalogue) -> str:
    """Return what is wrong with a condition, or nothing when it can be understood."""
    prefix, colon, rest = word.partition(":")
    if not colon:
        known = word in PLAIN_WORDS or word in catalogue.scales.tags
        return "" if known else "no hire tag has this name"
    if f"{prefix}:" not in PREFIXES:
        return "a condition does not begin like this"
    if prefix == "fitting" and rest not in catalogue.fittings:
        return "no fitting has this id"
    if prefix == "in" and rest not in catalogue.scales.tags:
        return "no hire tag has this name"
    return "" if rest else "the condition names nothing"
