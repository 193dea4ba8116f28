"""The one place that understands when something applies: tags, fittings, options, reports, levels, intervals.

=================  ==================================================================
``always``         on every hire; ``every`` says the same of a check
a hire tag         ``frost``, ``children`` ... of the hire that goes out
``fitting:ID``     the vehicle has this fitting
``option:ID``      the hire booked this option
``in:TAG``         the hire that came back carried this tag
``report:WORDS``   the return brought this news
``low:GAUGE``      this gauge stands low
``every:N``        N hires have passed since; ``every:N days`` likewise for days
=================  ==================================================================
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass

from keyhook.errors import BadInput

#: Words that are a condition by themselves besides the hire tags. The last two are of checks: when the hire booked
#: the fitting itself, when the return brought news of it.
PLAIN_WORDS = frozenset({"always", "every", "option", "report"})
PREFIXES = ("fitting:", "option:", "report:", "low:", "every:", "in:")
INTERVAL = re.compile(r"[1-9]\d*( days)?")


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


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The names that a condition may use; ``fittings`` is None while not all of them could be read."""

    tags: Collection[str]
    options: Collection[str]
    reports: Collection[str]
    gauges: Collection[str]
    fittings: Collection[str] | None


def applies(when: Collection[str], facts: Facts) -> bool:
    """Tell whether any of the conditions holds.

    Raises
    ------
    BadInput
        A condition begins with a prefix that nobody knows.
    """
    return any(_holds(word, facts) for word in when)


def _holds(word: str, facts: Facts) -> bool:
    if word in {"always", "every"}:
        return True
    prefix, colon, rest = word.partition(":")
    if not colon:
        return word in facts.tags
    told: dict[str, Collection[str]] = {
        "fitting": facts.fittings,
        "option": facts.options,
        "report": facts.reports,
        "low": facts.low,
        "every": facts.due,
        "in": facts.tags_in,
    }
    if prefix not in told:
        raise BadInput("A condition cannot be understood", seen=word, todo=f"Begin it with one of {' '.join(PREFIXES)}")
    return rest in told[prefix]


def unknown_condition(word: str, known: Vocabulary) -> tuple[str, Collection[str]]:
    """Return what is wrong with a condition and the words that may have been meant; ``("", ())`` when nothing is."""
    prefix, colon, rest = word.partition(":")
    if not colon:
        right = word in PLAIN_WORDS or word in known.tags
        return ("", ()) if right else ("no hire tag has this name", [*sorted(PLAIN_WORDS), *known.tags])
    if prefix == "every":
        return (
            ("", ())
            if INTERVAL.fullmatch(rest)
            else ("the interval is not of the form 'every:6' or 'every:90 days'", ())
        )
    named: dict[str, tuple[str, Collection[str] | None]] = {
        "fitting": ("no fitting has this id", known.fittings),
        "option": ("no option has this id", known.options),
        "report": ("no report of a return is called so", known.reports),
        "low": ("no gauge is called so", known.gauges),
        "in": ("no hire tag has this name", known.tags),
    }
    if prefix not in named:
        return "a condition does not begin like this", PREFIXES
    wrong, names = named[prefix]
    if names is None or rest in names:
        return "", ()
    return wrong, [f"{prefix}:{name}" for name in names]
