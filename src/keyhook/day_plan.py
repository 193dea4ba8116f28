"""The day of a depot planned: who serves whom, who does what when, how surely each promise holds, what would help.

Joins the loading answer (which vehicle may serve which party) with the turnaround. Nothing unverified is returned: a
plan that breaks a rule of the checker, or whose recount differs from what the engine says, is an error of ours.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from keyhook.basis import Level
from keyhook.catalogue import Catalogue
from keyhook.depot.day import departures_on
from keyhook.depot.folder import DepotFolder
from keyhook.errors import NoPlan
from keyhook.hire.hire import Hire
from keyhook.loading.swap import swap_table
from keyhook.turnaround.anneal import Limits, anneal
from keyhook.turnaround.around import left_over
from keyhook.turnaround.bottleneck import Bottleneck, bottlenecks
from keyhook.turnaround.chances import DayChances, day_chances
from keyhook.turnaround.checker import violations
from keyhook.turnaround.compose import Clock, DayNews, day_problem
from keyhook.turnaround.dispatch import Stuck, dispatch
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.recount import objective
from keyhook.turnaround.solve import Status, solve

#: What another class costs in level two, beside the swap itself.
OTHER_CLASS_COST = 2
#: Statuses that hold a vehicle.
HOLDS = frozenset({"booked", "out"})


#: A safer plan may cost so many weighted minutes more on paper than the cheapest, or this share more.
DEARER_MIN, DEARER_SHARE = 20, 0.05
#: Safer plans are looked for by due minutes that lie earlier by so much.
EARLIER_MIN = (15, 30)


@dataclass(frozen=True, slots=True)
class Choice:
    """One verified plan: what it costs on paper, and how late the day becomes on average when it is carried out.

    ``expected_min`` counts weighted minutes of lateness over many days, and what is put off at its cost.
    """

    plan: Plan
    objective: Objective
    expected_min: float
    promises_probability: float


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """A verified plan of a day: the problem, the plan, what it costs, what the rule of the yard would have cost.

    ``plan`` is the one of ``choices`` that is late least on average; ``choices[0]`` is that one and ``cheapest`` the
    one that costs least on paper. They are often the same. No plan has less lateness than ``bound``; ``status`` says
    what that means for the cheapest one.
    """

    clock: Clock
    problem: Problem
    plan: Plan
    objective: Objective
    rule: Objective
    chances: DayChances
    choices: tuple[Choice, ...] = ()
    cheapest: Choice | None = None
    bottlenecks: tuple[Bottleneck, ...] = ()
    bound: int = 0
    status: Status = "no bound known"


def suitable_vehicles(folder: DepotFolder, day: dt.date, catalogue: Catalogue) -> dict[str, dict[str, int]]:
    """Return, for each departure of a day, the vehicles that may serve it with their cost of level two.

    A vehicle may serve when nothing of the loading answer stops it and no other hire holds it in that time; vehicles
    that leave today with one another may be exchanged.
    """
    leaving = [found.hire for found in departures_on(folder, day)]
    leaves_today = {hire.vehicle for hire in leaving}
    sheets = {name: folder.built(name) for name in folder.vehicles}
    found: dict[str, dict[str, int]] = {}
    for hire in leaving:
        lines = swap_table(sheets, hire, catalogue, on_day=day)
        found[hire.id] = {
            line.vehicle: 0 if line.sheet == _class_of(hire, folder) else OTHER_CLASS_COST
            for line in lines
            if line.answer.level is not Level.STOP and _is_free(folder, line.vehicle, hire, leaves_today)
        }
    return found


def _class_of(hire: Hire, folder: DepotFolder) -> str | None:
    return folder.vehicles[hire.vehicle].sheet if hire.vehicle else hire.wanted_sheet


def _is_free(folder: DepotFolder, vehicle: str, hire: Hire, leaves_today: set[str | None]) -> bool:
    for other in folder.hires.values():
        if other.vehicle != vehicle or other.id == hire.id or other.status not in HOLDS:
            continue
        overlaps = other.collect_at < hire.return_at and hire.collect_at < other.return_at
        exchanged = vehicle in leaves_today and other.collect_at.date() == hire.collect_at.date()
        if overlaps and not exchanged:
            return False
    return True


def planned_day(
    folder: DepotFolder,
    day: dt.date,
    catalogue: Catalogue,
    limits: Limits,
    *,
    news: DayNews | None = None,
    seed: int = 0,
    draws: int = 2000,
    suits: Mapping[str, Mapping[str, int]] | None = None,
) -> PlannedDay:
    """Return the best plan found within the limits, verified, with its chances.

    On a day without hand-overs the vehicles that came back since the depot was last open are worked on, unless
    ``news.undone`` names others.

    Raises
    ------
    NoPlan
        Even the rule of the yard cannot lay the day out; the error names what does not fit.
    """
    chosen = suitable_vehicles(folder, day, catalogue) if suits is None else suits
    known = news or DayNews()
    if not departures_on(folder, day) and not known.undone:
        known = dataclasses.replace(known, undone=left_over(folder, day))
    problem = day_problem(folder, day, catalogue, suits=chosen, news=known)
    start = dispatch(problem)
    if isinstance(start, Stuck):
        raise NoPlan(
            "The day does not fit into its hours",
            seen=", ".join(start.tasks[:4]),
            todo="Put a departure off, add hands, or keep people longer",
        )
    solved = solve(problem, limits, seed=seed)
    plans = [solved.plan, *safer_plans(problem, solved.plan, limits, seed)]
    choices = ranked(problem, plans, draws=draws, seed=seed)
    best = choices[0].plan
    clock = Clock(day, folder.depot.zone)
    return PlannedDay(
        clock=clock,
        problem=problem,
        plan=best,
        objective=choices[0].objective,
        rule=objective(problem, start),
        chances=day_chances(problem, best, draws=draws, seed=seed, what_if=True, more_from_min=clock.at(dt.time(10))),
        choices=choices,
        cheapest=min(choices, key=lambda choice: choice.objective),
        bottlenecks=bottlenecks(problem, best, draws=max(1, draws // 2), seed=seed),
        bound=solved.bound,
        status=solved.status,
    )


def searched(problem: Problem, start: Plan, limits: Limits, seed: int) -> Plan:
    """Return the best plan the annealer finds within the limits, from a start; not verified."""
    return anneal(problem, start, limits, seed=seed)


def safer_plans(problem: Problem, plan: Plan, limits: Limits, seed: int) -> tuple[Plan, ...]:
    """Return verified plans of the day that were searched as if every vehicle had to leave earlier.

    They leave room where lateness hurts; a third of the limits each.
    """
    part = dataclasses.replace(
        limits,
        step_count=None if limits.step_count is None else max(1, limits.step_count // 3),
        seconds=None if limits.seconds is None else limits.seconds / 3,
    )
    found = []
    for earlier in EARLIER_MIN:
        departures = tuple(dataclasses.replace(one, due_min=one.due - earlier) for one in problem.departures)
        found.append(searched(dataclasses.replace(problem, departures=departures), plan, part, seed))
    return tuple(one for one in found if not violations(problem, one))


def ranked(problem: Problem, plans: Sequence[Plan], *, draws: int, seed: int) -> tuple[Choice, ...]:
    """Return those plans that are good on paper, the one that is late least on average first.

    Good is one that puts off and swaps no more than the cheapest, and is late on paper by little more.
    """
    choices = [_choice(problem, plan, draws, seed) for plan in plans]
    best = min(choice.objective for choice in choices)
    room = best.lateness + max(DEARER_MIN, DEARER_SHARE * best.lateness)
    good = [one for one in choices if one.objective.lateness <= room and one.objective.swaps <= best.swaps]
    return tuple(sorted(good, key=lambda one: (one.expected_min, one.objective)))


def _choice(problem: Problem, plan: Plan, draws: int, seed: int) -> Choice:
    chances = day_chances(problem, plan, draws=draws, seed=seed)
    put_off = sum(problem.departure_by_id[name].postpone_cost or 0 for name, vehicle in plan.allotment if not vehicle)
    on_time = [chance.on_time_probability for chance in chances.departures]
    served = sum(on_time) / len(problem.departures) if problem.departures else 1.0
    return Choice(plan, objective(problem, plan), chances.lateness_min + put_off, served)


def known_news(folder: DepotFolder, day: dt.date) -> DayNews:
    """Return what is known at the start of the day: returns that rang to say when they will come."""
    clock = Clock(day, folder.depot.zone)
    rang = {name: news for name, news in folder.returns.items() if news.announced_late and clock.holds(news.at)}
    return DayNews(arrivals={name: clock.minute(news.at) for name, news in rang.items()})
