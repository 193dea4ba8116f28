"""The plan of a day that people hold, with the day it was made for, as a document; read back only when it is sound."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from keyhook.errors import BadInput
from keyhook.turnaround.checker import violations
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.documents import day_document, day_of, plan_document, plan_of
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.rules import verify_problem
from keyhook.turnaround.telling import broken_text

#: What a document of a held plan says of itself.
KIND = "keyhook.held_plan"
#: What to do about a document that is none.
HOW = "Name a file that --keep has written"


@dataclass(frozen=True, slots=True)
class Heard:
    """What has happened, as people read it, and the minute at which it was told."""

    said: str
    minute: int


@dataclass(frozen=True, slots=True)
class HeldPlan:
    """The plan of a day that people hold, and the day it was made for.

    ``now_min`` is the minute of the day from which it was planned again, None for the first plan of a day; ``version``
    counts from 1; ``news`` is what the plan rests on, the first first.
    """

    depot: str
    clock: Clock
    problem: Problem
    plan: Plan
    now_min: int | None = None
    version: int = 1
    news: tuple[Heard, ...] = ()


def held_document(held: HeldPlan) -> dict[str, Any]:
    """Return a held plan as a document; nothing is lost."""
    return {
        "kind": KIND,
        "depot": held.depot,
        "day": held.clock.day.isoformat(),
        "zone": held.clock.zone,
        "version": held.version,
        "now_min": held.now_min,
        "news": [{"said": one.said, "minute": one.minute} for one in held.news],
        "problem": day_document(held.problem),
        "plan": plan_document(held.plan),
    }


def held_of(document: object) -> HeldPlan:
    """Return the held plan of a document.

    Raises
    ------
    BadInput
        It is not the document of a held plan, or what it holds is not a plan for its day; the error says which rule
        it breaks.
    """
    if not isinstance(document, Mapping) or document.get("kind") != KIND:
        raise BadInput("This is not a plan that was kept", todo=HOW)
    held = _read(document)
    verify_problem(held.problem)
    if broken := violations(held.problem, held.plan):
        said = broken_text(held.problem, held.plan, broken[0], held.clock).rstrip(".")
        more = f", and {len(broken) - 1} more" if len(broken) > 1 else ""
        raise BadInput("This plan breaks a rule of its day", seen=said + more, todo="Take the file as it was written")
    return held


def _read(document: Mapping[str, Any]) -> HeldPlan:
    try:
        day, now_min, version = dt.date.fromisoformat(document["day"]), document["now_min"], int(document["version"])
        clock = Clock(day, str(document["zone"]))
        _ = clock.midnight
        news = tuple(Heard(str(one["said"]), int(one["minute"])) for one in document["news"])
        held = HeldPlan(
            depot=str(document["depot"]),
            clock=clock,
            problem=day_of(document["problem"]),
            plan=plan_of(document["plan"]),
            now_min=None if now_min is None else int(now_min),
            version=version,
            news=news,
        )
    except (KeyError, TypeError, ValueError) as error:
        wrong = "Something is missing from this plan, or is not what it should be"
        raise BadInput(wrong, seen=str(error).strip("'")[:80], todo=HOW) from error
    return held
