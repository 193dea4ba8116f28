"""The day of a depot planned again from what people hold: what has happened, what changes, the plans to choose from.

Nothing unverified is returned: every plan offered has passed the checker and is recounted.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from keyhook.basis import Finding, Level
from keyhook.catalogue import Catalogue
from keyhook.day_plan import (
    PlannedDay,
    day_findings,
    first_plan,
    known_news,
    more_from_min,
    stops_of,
    suitable_vehicles,
    unsuitable_vehicles,
)
from keyhook.depot.day import departures_on
from keyhook.depot.folder import DepotFolder
from keyhook.errors import BadInput, NoPlan
from keyhook.phrases import say
from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.around import left_over
from keyhook.turnaround.begun import check_news, not_begun, over_before
from keyhook.turnaround.bottleneck import bottlenecks
from keyhook.turnaround.chances import DayChances, day_chances
from keyhook.turnaround.checker import violations
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.compose import day_problem
from keyhook.turnaround.events import Event, TaskDone, TaskRuns, WalkIn
from keyhook.turnaround.held_plan import Heard, HeldPlan
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.recount import objective
from keyhook.turnaround.remedy import Lack, lacks
from keyhook.turnaround.replan import Changes, changes, day_from_now
from keyhook.turnaround.retelling import change_lines, event_text, most_changed
from keyhook.turnaround.rules import verify_problem
from keyhook.turnaround.solve import Solved, solve
from keyhook.turnaround.telling import lack_text
from keyhook.turnaround.tradeoff import ChoiceName, called

#: The plan that is proposed; those beside it move fewer tasks.
PROPOSED: ChoiceName = "least_late"
#: A promise is safe when it holds so often.
SAFE_PROBABILITY = 0.9


@dataclass(frozen=True, slots=True)
class Offer:
    """One plan to choose, in figures and words.

    ``words`` is how it is called; ``people`` whose list changes most; ``safe`` of those ``served`` hold nine times in
    ten; ``lines`` what it changes, the worst first.
    """

    name: ChoiceName
    words: str
    plan: Plan
    objective: Objective
    chances: DayChances
    changes: Changes
    lines: tuple[str, ...]
    people: str
    served: int
    put_off: int
    safe: int
    swapped: int


@dataclass(frozen=True, slots=True)
class PlannedAgain:
    """The rest of a day planned again.

    ``said`` is what has happened as people read it, and ``day`` the plan that was ``chosen`` of those offered, the one
    that moves fewest tasks first; ``held_tasks`` counts those that have not begun of the plan people hold.
    """

    held: HeldPlan
    now_min: int
    events: tuple[Event, ...]
    said: tuple[str, ...]
    offers: tuple[Offer, ...]
    chosen: Offer
    day: PlannedDay
    held_tasks: int

    def to_hold(self) -> HeldPlan:
        """Return the plan that was chosen as the next version people hold."""
        heard = tuple(Heard(said, self.now_min) for said in self.said)
        return dataclasses.replace(
            self.held,
            problem=self.day.problem,
            plan=self.chosen.plan,
            now_min=self.now_min,
            version=self.held.version + 1,
            news=(*self.held.news, *heard),
        )


def first_held(folder: DepotFolder, found: PlannedDay) -> HeldPlan:
    """Return the first plan of a day as people hold it."""
    return HeldPlan(folder.depot.name, found.clock, found.problem, found.plan)


def verify_depot(folder: DepotFolder, held: HeldPlan) -> None:
    """Raise ``BadInput`` when a held plan is of another depot."""
    if (held.depot, held.clock.zone) != (folder.depot.name, folder.depot.zone):
        wrong = f"This plan is of another depot than {folder.depot.name}"
        raise BadInput(wrong, seen=f"{held.depot}, {held.clock.zone}", todo="Name its folder with --depot")


def held_day(
    folder: DepotFolder, held: HeldPlan, catalogue: Catalogue, *, draws: int = 2000, seed: int = 0
) -> PlannedDay:
    """Return the plan people hold with its chances, as it stands; nothing is searched for."""
    verify_depot(folder, held)
    return _told(folder, held.clock, held.problem, held.plan, catalogue, None, draws=draws, seed=seed)


def planned_again(  # noqa: PLR0913  # a day, what has happened, and how to search
    folder: DepotFolder,
    held: HeldPlan,
    catalogue: Catalogue,
    limits: Limits,
    *,
    now_min: int,
    events: Sequence[Event] = (),
    choose: ChoiceName = PROPOSED,
    seed: int = 0,
    draws: int = 2000,
) -> PlannedAgain:
    """Return the day planned again from now on.

    Raises
    ------
    BadInput
        The news contradicts itself or the day, the plan is of another depot, or there is no such choice.
    UnknownName
        The news names what the day has not.
    NoPlan
        What is left of the day does not fit; the error says what stands in the way.
    """
    verify_depot(folder, held)
    problem = day_now(held, now_min, events)
    solved = _solved(problem, held.clock, limits, seed)
    plans = {one.name: one.plan for one in solved.choices[:-1]} | {PROPOSED: solved.plan}
    costs = {name: objective(problem, plan) for name, plan in plans.items()}
    offers = tuple(
        _offer(held, problem, name, plan, say(f"day_news.choice.{called(name, costs)}"), draws=draws, seed=seed)
        for name, plan in plans.items()
    )
    chosen = _chosen(offers, choose)
    day = _told(folder, held.clock, problem, chosen.plan, catalogue, solved, draws=draws, seed=seed)
    said = tuple(event_text(held.problem, held.plan, event, held.clock) for event in events)
    return PlannedAgain(held, now_min, tuple(events), said, offers, chosen, day, len(problem.held))


def day_now(held: HeldPlan, now_min: int, events: Sequence[Event]) -> Problem:
    """Return the rest of a day as it stands: what has ended stays, what has begun goes on, the rest may move.

    Raises
    ------
    BadInput
        The news contradicts itself or the day.
    UnknownName
        The news names what the day has not.
    """
    check_news(held.problem, held.plan, held.clock, now_min, events)
    told = [event for event in events if isinstance(event, TaskDone | TaskRuns)]
    heard = (*over_before(held.problem, held.plan, now_min, told), *events)
    waiting = not_begun(held.problem, held.plan, now_min, heard)
    problem = day_from_now(held.problem, held.plan, now_min, heard, waiting)
    verify_problem(problem)
    return problem


def _solved(problem: Problem, clock: Clock, limits: Limits, seed: int) -> Solved:
    try:
        return solve(problem, limits, seed=seed)
    except NoPlan:
        first_plan(problem, clock)  # says what does not fit, and the smallest thing that would be enough
        raise


def _offer(
    held: HeldPlan, problem: Problem, name: ChoiceName, plan: Plan, words: str, *, draws: int, seed: int
) -> Offer:
    if broken := violations(problem, plan):
        raise NoPlan("A plan was found that breaks a rule of the day", seen=broken[0].says, todo="Try another --seed")
    chances, differs = day_chances(problem, plan, draws=draws, seed=seed), changes(problem, held.plan, plan)
    served = [vehicle for vehicle in plan.vehicle_of.values() if vehicle is not None]
    missing = {one.departure: lack_text(problem, one) for one in _lacks(problem, plan)}
    return Offer(
        name=name,
        words=words,
        plan=plan,
        objective=objective(problem, plan),
        chances=chances,
        changes=differs,
        lines=change_lines(problem, held.plan, plan, held.clock, missing),
        people=most_changed(problem, held.plan, plan, {*differs.moved, *differs.handed}),
        served=len(served),
        put_off=len(plan.allotment) - len(served),
        safe=sum(1 for one in chances.departures if one.on_time_probability >= SAFE_PROBABILITY),
        swapped=sum(1 for _, then, now in differs.swapped if then and now),
    )


def _lacks(problem: Problem, plan: Plan) -> tuple[Lack, ...]:
    return lacks(problem, plan) if None in plan.vehicle_of.values() else ()


def _chosen(offers: Sequence[Offer], name: ChoiceName) -> Offer:
    """Return the plan of that name; when there is but one it has every name."""
    if len(offers) == 1:
        return offers[0]
    found = next((one for one in offers if one.name == name), None)
    if found is None:
        names = " or ".join(one.name for one in offers)
        raise BadInput("No plan worth offering lies there", seen=name, todo=f"Choose {names}")
    return found


def _told(
    folder: DepotFolder,
    clock: Clock,
    problem: Problem,
    plan: Plan,
    catalogue: Catalogue,
    solved: Solved | None,
    *,
    draws: int,
    seed: int,
) -> PlannedDay:
    """Return a plan with all that is told of it; what the search knows of its bound is said of the plan proposed."""
    is_best = solved is not None and solved.plan == plan
    return PlannedDay(
        clock=clock,
        problem=problem,
        plan=plan,
        objective=objective(problem, plan),
        rule=None,
        chances=day_chances(
            problem, plan, draws=draws, seed=seed, what_if=True, more_from_min=more_from_min(clock, problem)
        ),
        bottlenecks=bottlenecks(problem, plan, draws=max(1, draws // 2), seed=seed),
        bound=solved.bound if solved is not None else 0,
        status=solved.status if solved is not None and is_best else "no bound known",
        lacks=_lacks(problem, plan),
        findings=(*day_findings(folder, problem, clock), *_apart(folder, problem, clock.day)),
        stops=stops_of(folder, clock.day, plan, catalogue),
    )


def _apart(folder: DepotFolder, problem: Problem, day: dt.date) -> tuple[Finding, ...]:
    """Return where the plan and the hires of the depot have come apart since it was made."""
    leaving = {found.hire.id for found in departures_on(folder, day)}
    planned = set(problem.departure_by_id)
    found = [Finding("day_again.not_planned", Level.WARN, {"departure": name}) for name in sorted(leaving - planned)]
    found += [Finding("day_again.gone", Level.WARN, {"departure": name}) for name in sorted(planned - leaving)]
    return tuple(found)


# ---------------------------------------------------------------- walk-in


def walk_in(folder: DepotFolder, day: dt.date, catalogue: Catalogue, problem: Problem, name: str) -> WalkIn:
    """Return a hire that was entered after the day was planned, with every vehicle that suits the party.

    Tried are those of the plan and those that stand free and are in nobody's plan. What is free and came back since
    the depot was last open has to be made ready first; what has stood for longer is taken to be ready, as everywhere
    in the plan.

    Parameters
    ----------
    problem
        The day as it was planned.
    name
        The number of the hire.

    Raises
    ------
    BadInput
        There is no such hire on this day, or no vehicle of the yard can serve it; the error says why none.
    """
    news = known_news(folder, day)
    known = problem.vehicle_by_id
    news = dataclasses.replace(news, undone=news.undone | (left_over(folder, day) - set(known)))
    fresh = day_problem(folder, day, catalogue, suits=suitable_vehicles(folder, day, catalogue), news=news)
    departure = fresh.departure_by_id.get(name)
    if departure is None:
        wrong = "This hire does not leave on this day" if name in folder.hires else "There is no hire of this number"
        raise BadInput(wrong, seen=name[:20], todo="Enter the hire first, with its day and status")
    tried = {one.vehicle for one in departure.vehicles}
    if not tried:
        wrong = "No vehicle of the yard can serve that hire"
        raise BadInput(wrong, seen=name[:20], todo=_why_none(folder, day, name, catalogue))
    free = tuple(vehicle for vehicle in fresh.vehicles if vehicle.id in tried and vehicle.id not in known)
    names = {vehicle.id for vehicle in free}
    tasks = tuple(task for task in fresh.tasks if task.departure == name or task.vehicle in names)
    return WalkIn(departure, tasks, free)


def _why_none(folder: DepotFolder, day: dt.date, name: str, catalogue: Catalogue) -> str:
    """Return what stands against every vehicle, those with the same reason together."""
    alike: dict[str, list[str]] = {}
    for vehicle, why in unsuitable_vehicles(folder, day, folder.hire(name), catalogue).items():
        alike.setdefault(why.rstrip("."), []).append(vehicle)
    told = [say("day_news.walk_in_none", {"vehicles": ", ".join(names), "why": why}) for why, names in alike.items()]
    return " ".join(f"{one}." for one in told)
