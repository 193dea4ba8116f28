"""A day planned again, as text and as a document: what has happened, what changes, the choices, the new lists."""

from __future__ import annotations

from typing import Any

from keyhook.cli.plan_text import (
    BOUND,
    bottlenecks_text,
    helps_text,
    lists_text,
    promises_text,
    ring_text,
)
from keyhook.day_again import Offer, PlannedAgain
from keyhook.day_plan import PlannedDay
from keyhook.phrases import say
from keyhook.turnaround.documents import event_document
from keyhook.turnaround.held_plan import HeldPlan
from keyhook.turnaround.telling import lack_text


def again_text(found: PlannedAgain, *, why: bool = False) -> str:
    """Return the day planned again; with ``why`` also what the figures rest on and why each task begins then."""
    day, clock = found.day, found.day.clock
    now = clock.says(found.now_min)
    told = found.said or (say("day_again.heard_nothing", {"now": now}),)
    lines = [
        say("day_again.head", {"day": f"{clock.day:%A %d %B %Y}", "now": now}),
        "",
        say("day_again.heard"),
        *(f"  {one}" for one in told),
        "",
        *_choices(found),
        "",
        *_cost(found),
        *_rest(day, why=why, from_min=found.now_min, found=found),
    ]
    if why:
        tolerance = day.problem.held_tolerance_min
        lines += ["", say("day_again.why", {"now": now, "tolerance": tolerance}), _why_chance(day)]
    return "\n".join(lines)


def _cost(found: PlannedAgain) -> list[str]:
    """Return what the plan costs, and of the one proposed what is known of any other; a quiet day has no lateness."""
    day = found.day
    values = {"late_min": day.objective.lateness, "moved": day.objective.moved, "held": found.held_tasks}
    if not day.problem.departures:
        return [say("day_again.cost_quiet", values)]
    bound = say(f"day_plan.{BOUND[day.status]}", {"bound_min": day.bound})
    return [say("day_again.cost", values), *([bound] if found.chosen is found.offers[-1] else []), ""]


def held_text(held: HeldPlan, day: PlannedDay, *, why: bool = False) -> str:
    """Return the plan people hold as it stands, with the news it rests on."""
    clock = day.clock
    values: dict[str, Any] = {"day": f"{clock.day:%A %d %B %Y}", "version": held.version}
    key = "head_held" if held.now_min is None else "head_held_again"
    if held.now_min is not None:
        values["now"] = clock.says(held.now_min)
    lines = [say(f"day_again.{key}", values)]
    if day.problem.departures:
        lines.append(say("day_again.cost_held", {"late_min": day.objective.lateness}))
    if held.news:
        lines += ["", say("day_again.heard_before"), *(f"  {clock.says(one.minute)}  {one.said}" for one in held.news)]
    lines += ["", *_rest(day, why=why)]
    return "\n".join(lines + (["", _why_chance(day)] if why else []))


def _why_chance(day: PlannedDay) -> str:
    return say("day_plan.why.chance", {"draws": day.chances.draws})


def _rest(day: PlannedDay, *, why: bool, from_min: int = 0, found: PlannedAgain | None = None) -> list[str]:
    """Return promises, findings, what would help, and everybody's list."""
    promises = [f"  {say('day_plan.promised')}", *promises_text(day)] if day.problem.departures else []
    helps = (ring_text(day), *helps_text(day), *bottlenecks_text(day)) if day.problem.departures else ()
    return [
        *promises,
        *(f"  {lack_text(day.problem, lack)}" for lack in day.lacks),
        *(f"  {say(finding.code, finding.values)}" for finding in day.findings),
        *([""] if helps else []),
        *(f"  {line}" for line in helps),
        *lists_text(day, why, from_min, found.held.plan if found is not None else None),
    ]


def _choices(found: PlannedAgain) -> list[str]:
    """Return what the plan changes; where there are several to choose from, what each of them does."""
    if len(found.offers) == 1:
        alone = [say("day_again.alone")] if found.chosen.objective.moved and found.day.problem.departures else []
        return [say("day_again.changes"), *(f"  {line}" for line in found.chosen.lines), *alone]
    return [say("day_again.choose"), *(line for one in found.offers for line in _choice(found, one))]


def _choice(found: PlannedAgain, one: Offer) -> list[str]:
    more = [
        say(f"day_again.{key}", {name: count})
        for key, name, count in (
            ("swapped", "count", one.swapped),
            ("overtime", "minutes", one.objective.overtime),
            ("put_off", "count", one.put_off),
        )
        if count
    ]
    values = {
        "name": one.name,
        "words": one.words,
        "late_min": one.objective.lateness,
        "moved": one.objective.moved,
        "held": found.held_tasks,
        "safe": one.safe,
        "served": one.served,
        "more": "".join(more),
    }
    taken = f"  {say('day_again.taken')}" if one is found.chosen else ""
    return [f"  {say('day_again.line', values)}{taken}", *(f"      {line}" for line in one.lines)]


def again_document(found: PlannedAgain) -> dict[str, Any]:
    """Return all of a day planned again."""
    return {
        "day": found.day.clock.day,
        "now": found.day.clock.says(found.now_min),
        "now_min": found.now_min,
        "version": found.held.version,
        "news": [{"said": said, **event_document(event)} for said, event in zip(found.said, found.events, strict=True)],
        "held_tasks": found.held_tasks,
        "choices": found.offers,
        "chosen": found.chosen.name,
        "planned": found.day,
    }
