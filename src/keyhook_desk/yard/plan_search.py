"""From a proposal to plans: the day composed, pins in it, the search, the check, the figures."""

from __future__ import annotations

import dataclasses
import datetime as dt
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from keyhook.catalogue import load_catalogue
from keyhook.day_plan import day_findings, first_plan, known_news, ranked, safer_plans, suitable_vehicles
from keyhook.depot.day import departures_on
from keyhook.depot.folder import DepotFolder
from keyhook.errors import BadInput, NoPlan
from keyhook.phrases import say
from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.around import left_over
from keyhook.turnaround.bottleneck import bottlenecks
from keyhook.turnaround.chances import DayChances, day_chances
from keyhook.turnaround.checker import Violation, violations
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.compose import day_problem
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.documents import day_document, day_of, event_of, plan_document
from keyhook.turnaround.events import Event, TaskDone, TaskRuns, WalkIn
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Departure, Fixed, Problem
from keyhook.turnaround.recount import objective
from keyhook.turnaround.remedy import lacks
from keyhook.turnaround.replan import day_from_now
from keyhook.turnaround.solve import Progress, solve
from keyhook.turnaround.telling import lack_what, remedies_text
from keyhook_desk import clock
from keyhook_desk.yard.models import HeldPlan, Proposal
from keyhook_desk.yard.plan_reading import Laid, all_before, as_it_stands, marks_of, read
from keyhook_desk.yard.services import folder_of_desk, the_depot

DRAWS = 2000
MOST_TRIES = 3


@dataclass(frozen=True)
class DayToPlan:
    """A day to search a plan for: as it is, the plan held so far, and what is pinned."""

    problem: Problem
    laid: Laid | None
    pins: Mapping[str, Any]
    clock: Clock
    findings: tuple[str, ...] = ()

    @property
    def document(self) -> dict[str, Any]:
        """The day as a document."""
        return day_document(self.problem)


@dataclass(frozen=True)
class Best:
    """The best verified plan so far as documents, what it costs, what is known of the bound, and a word about pins.

    ``others`` are plans that move fewer tasks of a day that is planned again, each with its name and its figures.
    """

    plan: dict[str, Any]
    figures: dict[str, Any]
    lateness: int
    bound: int | None
    pins: dict[str, Any]
    says: str = ""
    others: tuple[dict[str, Any], ...] = ()


# ---------------------------------------------------------------- the day


def day_to_plan(row: Proposal, held: HeldPlan | None) -> DayToPlan:
    """Return the day a proposal is about."""
    laid = read(held.document) if held else None
    pins = row.task.get("pins", {})
    if row.task.get("problem"):
        findings = tuple(laid.figures.get("findings", ())) if laid else ()
        return DayToPlan(day_of(row.task["problem"]), laid, pins, Clock(row.day, the_depot().zone), findings)
    told = [*(held.document.get("events", []) if held else []), *row.events]
    folder = folder_of_desk()
    day_clock = Clock(row.day, folder.depot.zone)
    problem = _composed(folder, row.day, laid, [event_of(one) for one in told])
    findings = tuple(say(found.code, found.values) for found in day_findings(folder, problem, day_clock))
    return DayToPlan(problem, laid, pins, day_clock, findings)


def _composed(folder: DepotFolder, day: dt.date, laid: Laid | None, told: list[Event]) -> Problem:
    """Return the day from the rows of the desk, with what has happened since and what people hold carried along."""
    catalogue = load_catalogue()
    suits = suitable_vehicles(folder, day, catalogue)
    news = known_news(folder, day)
    if not departures_on(folder, day):
        news = dataclasses.replace(news, undone=left_over(folder, day))
    fresh = day_problem(folder, day, catalogue, suits=suits, news=news)
    day_clock = Clock(day, folder.depot.zone)
    now_min = day_clock.minute(clock.now())
    if not fresh.departures and not fresh.tasks:
        raise NoPlan("Nobody comes or goes on this day, so there is nothing to plan", todo="Look at another day")
    if now_min >= fresh.closing_min:
        raise NoPlan("This day is over", seen=f"{day}", todo="Plan a day that is still to come")
    if not fresh.people and not fresh.departures:
        raise NoPlan("Nobody works on this day", todo="What comes back is looked at when the yard opens")
    known = {task.id for task in fresh.tasks}
    still = [
        event
        for event in told
        if not isinstance(event, TaskDone | TaskRuns)
        and not (isinstance(event, WalkIn) and event.departure.id in fresh.departure_by_id)
    ]
    plan = _part_of(laid.plan, known, fresh) if laid else Plan((), ())
    if laid is None:
        return day_from_now(fresh, plan, now_min, still)
    return as_it_stands(Laid(fresh, plan), marks_of(day), day_clock, now_min, tuple(still))


def _part_of(plan: Plan, known: set[str], fresh: Problem) -> Plan:
    """Return what a plan says about tasks, departures and people that are still there."""
    people = fresh.person_by_id
    tasks = tuple(one for one in plan.tasks if one.task in known and all(name in people for name in one.people))
    allotment = tuple((name, vehicle) for name, vehicle in plan.allotment if name in fresh.departure_by_id)
    breaks = tuple(
        rest for rest in plan.breaks if rest.person in people and rest.index < len(people[rest.person].breaks)
    )
    return Plan(tasks, allotment, breaks)


# ---------------------------------------------------------------- pins


def with_pins(day: DayToPlan, pins: Mapping[str, Any]) -> Problem:
    """Return the day with what is pinned settled: the task, and whatever it waits for, stay as they are planned."""
    if day.laid is None:
        return day.problem
    settled = _settled(day.problem, day.laid, pins)
    begun = {day.problem.task_by_id[name].departure for name in settled}
    vehicles = {**pins.get("vehicles", {}), **{name: day.laid.plan.vehicle_of.get(name) for name in begun if name}}
    return dataclasses.replace(
        day.problem,
        tasks=tuple(
            dataclasses.replace(task, fixed=settled[task.id]) if task.id in settled else task
            for task in day.problem.tasks
        ),
        departures=tuple(
            _only(departure, vehicles.get(departure.id), begun=departure.id in begun)
            for departure in day.problem.departures
        ),
    )


def _settled(problem: Problem, laid: Laid, pins: Mapping[str, Any]) -> dict[str, Fixed]:
    """Return the settled place of every pinned task that has not begun, and of what it waits for."""
    known = {task.id for task in problem.tasks}
    wish = pins.get("wish")
    names = [name for name in pins.get("tasks", ()) if name in known and name in laid.problem.task_by_id]
    before = {other for name in names for other in all_before(laid, name)}
    found: dict[str, Fixed] = {}
    for name in {*names, *before}:
        planned = laid.plan.by_task.get(name)
        if planned is None or name not in known or problem.task_by_id[name].fixed is not None:
            continue
        found[name] = Fixed(planned.start_min, planned.end_min, planned.people, planned.mode)
    if wish and wish["task"] in found:
        mode, length = found[wish["task"]].mode, wish["end_min"] - wish["start_min"]
        start = wish["start_min"]
        found[wish["task"]] = Fixed(start, start + length, tuple(wish["people"]), mode)
    return found


def _only(departure: Departure, vehicle: str | None, *, begun: bool) -> Departure:
    """Return a departure with this vehicle alone; what is pinned of it counts as begun, and so it is not put off."""
    mine = tuple(suits for suits in departure.vehicles if suits.vehicle == vehicle)
    if not mine:
        return departure
    cost = None if begun else departure.postpone_cost
    return dataclasses.replace(departure, vehicles=mine, postpone_cost=cost)


# ---------------------------------------------------------------- the search


def search(day: DayToPlan, *, seconds: float, steps: int | None, report: Callable[[Best], None]) -> Best:
    """Return the best plan found; each verified against the day without pins before it is told.

    Raises
    ------
    NoPlan
        Nothing fits; the error names what stands in the way.
    """
    pins, says = dict(day.pins), ""
    for _ in range(MOST_TRIES):
        try:
            return _search(day, pins, says, seconds, steps, report)
        except _PinnedApart as apart:
            pins, says = _without(pins, apart.broken, day)
    return _search(day, {}, "Every pin had to be let go: the day no longer allows them.", seconds, steps, report)


class _PinnedApart(Exception):
    """What is pinned does not go together with the day any more."""

    def __init__(self, broken: tuple[Violation, ...]) -> None:
        self.broken = broken
        super().__init__()


def _search(
    day: DayToPlan, pins: dict[str, Any], says: str, seconds: float, steps: int | None, report: Callable[[Best], None]
) -> Best:
    problem = with_pins(day, pins)
    rule = _rule_cost(day.problem, problem)
    kept = {key: value for key, value in pins.items() if key != "wish"}

    def figures_of(plan: Plan, bound: int, spent: float) -> dict[str, Any]:
        found = list(objective(day.problem, plan))
        known = {"objective": found, "rule": rule, "bound": bound, "seconds": round(spent, 1)}
        return {**known, "findings": list(day.findings)}

    def best_of(plan: Plan, bound: int, spent: float, more: Mapping[str, Any]) -> Best:
        figures = {**figures_of(plan, bound, spent), **more}
        return Best(plan_document(plan), figures, figures["objective"][0], bound, kept, says)

    def look(progress: Progress) -> None:
        if not violations(day.problem, progress.plan):
            report(best_of(progress.plan, progress.bound, progress.seconds, {}))

    began = time.monotonic()
    limits = Limits(step_count=steps) if steps else Limits(seconds=seconds / 2, clock=time.monotonic)
    try:
        solved = solve(problem, limits, report=look)
    except (NoPlan, BadInput) as error:
        if pins.get("tasks") or pins.get("vehicles"):
            raise _PinnedApart(()) from error
        first_plan(problem, day.clock)  # says what does not fit, and the smallest thing that would be enough
        raise
    if broken := violations(day.problem, solved.plan):
        raise _PinnedApart(broken)
    plan, compared = _safest(day, problem, solved.plan, limits)
    more = {**compared, **chances_figures(Laid(day.problem, plan)), "lacks": _lacks(day.problem, plan)}
    others = tuple(
        {
            "name": one.name,
            "plan": plan_document(one.plan),
            "figures": {
                **figures_of(one.plan, solved.bound, solved.seconds),
                **_promises(day_chances(day.problem, one.plan, draws=DRAWS)),
            },
        }
        for one in solved.choices[:-1]
        if not violations(day.problem, one.plan)
    )
    return dataclasses.replace(best_of(plan, solved.bound, time.monotonic() - began, more), others=others)


def _lacks(problem: Problem, plan: Plan) -> dict[str, str]:
    """Return what each departure that is put off lacks, and what would be enough."""
    found = lacks(problem, plan) if None in plan.vehicle_of.values() else ()
    return {one.departure: f"{lack_what(problem, one)} {remedies_text(one.remedies)}" for one in found}


def _rule_cost(day: Problem, problem: Problem) -> list[int] | None:
    """Return what the rule of the yard would cost, None when it finds no plan."""
    rule = dispatch(problem)
    return list(objective(day, rule)) if isinstance(rule, Plan) and not violations(day, rule) else None


def _safest(day: DayToPlan, problem: Problem, plan: Plan, limits: Limits) -> tuple[Plan, dict[str, Any]]:
    """Return the plan that is late least on average among those as good on paper, and what both would cost.

    A day that is planned again keeps the plan nearest to what people hold.
    """
    if problem.held:
        return plan, {}
    others = safer_plans(problem, plan, limits, 0)
    kept = [other for other in others if not violations(day.problem, other)]
    choices = ranked(day.problem, (plan, *kept), draws=DRAWS // 2, seed=0)
    cheapest = min(choices, key=lambda choice: choice.objective)
    best = choices[0]
    if best.plan == cheapest.plan:
        return plan, {}
    costs = [[one.objective.lateness, round(one.expected_min)] for one in (best, cheapest)]
    return best.plan, {"this_or_cheapest": costs}


def _without(pins: dict[str, Any], broken: tuple[Violation, ...], day: DayToPlan) -> tuple[dict[str, Any], str]:
    """Return the pins less those that a broken rule speaks of (all when none is named), and a word about it."""
    named = {name for found in broken for name in found.about}
    laid = day.laid
    gone = [
        name
        for name in pins.get("tasks", ())
        if laid is None or name in named or (name in laid.plan.by_task and named & all_before(laid, name))
    ]
    if not gone:
        return {}, "The pins had to be let go: the day no longer allows them."
    rest = {**pins, "tasks": [name for name in pins.get("tasks", ()) if name not in gone]}
    if rest.get("wish", {}).get("task") in gone:
        rest.pop("wish")
    names = {task.id: task.name for task in day.problem.tasks}
    said = ", ".join(f"{names.get(name, name)} ({name.split('.')[0]})" for name in gone)
    return rest, f"Let go, because the day no longer allows it there: {said}."


def chances_figures(laid: Laid) -> dict[str, Any]:
    """Return the chances of a plan as figures."""
    found = day_chances(laid.problem, laid.plan, draws=DRAWS, what_if=True)
    tight = bottlenecks(laid.problem, laid.plan, draws=DRAWS // 4)
    return {
        **_promises(found),
        "bottlenecks": [[one.task, round(one.spared_min, 1)] for one in tight],
        "what_if": [[one.what, round(one.spared_min, 1)] for one in found.what_if],
    }


def _promises(found: DayChances) -> dict[str, Any]:
    """Return how surely each promise holds as figures."""
    return {
        "draws": found.draws,
        "mean_lateness": round(found.lateness_min, 1),
        "departures": {
            chance.departure: {
                "on_time": round(chance.on_time_probability, 4),
                "mean_late": round(chance.mean_late_min, 1),
                "leaves_90": round(chance.leaves_90_min),
                "promise_90": round(chance.promise_90_min),
            }
            for chance in found.departures
        },
    }
