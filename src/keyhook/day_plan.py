"""The day of a depot planned: who serves whom, who does what when, how surely each promise holds, what would help.

Joins the loading answer (which vehicle may serve which party) with the turnaround. Nothing unverified is returned: a
plan that breaks a rule of the checker, or whose recount differs from what the engine says, is an error of ours.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from keyhook.basis import Finding, Level
from keyhook.catalogue import Catalogue
from keyhook.depot.day import departures_on
from keyhook.depot.depot import WEEKDAYS
from keyhook.depot.folder import DepotFolder
from keyhook.errors import NoPlan
from keyhook.hire.hire import Hire
from keyhook.loading.swap import SwapLine, swap_table
from keyhook.phrases import say
from keyhook.turnaround.anneal import Annealer, Limits, anneal
from keyhook.turnaround.around import left_over
from keyhook.turnaround.bottleneck import Bottleneck, bottlenecks
from keyhook.turnaround.chances import DayChances, day_chances
from keyhook.turnaround.checker import violations
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.compose import DayNews, day_problem
from keyhook.turnaround.decoder import lay_out
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.problem import Departure, Problem
from keyhook.turnaround.recount import objective
from keyhook.turnaround.remedy import Lack, lacks, unskilled
from keyhook.turnaround.rules import verify_problem
from keyhook.turnaround.solve import Solved, Status, solve
from keyhook.turnaround.telling import lack_what, remedies_text, task_text

#: What another class costs in level two, beside the swap itself.
OTHER_CLASS_COST = 2
#: What stops a hire whatever it packs: said before anything about its load.
PLAINEST = frozenset({"loading.too_few_belts", "loading.too_few_berths", "loading.driver_no"})
#: Statuses that hold a vehicle.
HOLDS = frozenset({"booked", "out"})


FULL_DAY_MIN = 24 * 60
#: A safer plan may cost so many weighted minutes more on paper than the cheapest, or this share more.
DEARER_MIN, DEARER_SHARE = 20, 0.05
#: Safer plans are looked for as if every party came so much earlier, with the vehicles kept or free.
EARLIER = ((45, True), (80, True), (60, False), (90, False))
#: One more level-two point (a swap) has to spare so many minutes on average.
SWAP_SPARES_MIN = 10
#: One more person would be there from then on.
MORE_FROM = dt.time(10)


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
    what that means for the cheapest one. ``stops`` says of hires why they may not leave as they stand. For the rest
    of a day that is planned again ``rule`` is None.
    """

    clock: Clock
    problem: Problem
    plan: Plan
    objective: Objective
    rule: Objective | None
    chances: DayChances
    choices: tuple[Choice, ...] = ()
    cheapest: Choice | None = None
    bottlenecks: tuple[Bottleneck, ...] = ()
    bound: int = 0
    status: Status = "no bound known"
    lacks: tuple[Lack, ...] = ()
    findings: tuple[Finding, ...] = ()
    stops: Mapping[str, str] = field(default_factory=dict)


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


def unsuitable_vehicles(folder: DepotFolder, day: dt.date, hire: Hire, catalogue: Catalogue) -> dict[str, str]:
    """Return why each vehicle that may not serve a hire may not: what stops it, or the hire that holds it then.

    The vehicles are in the order in which they would carry it, the best first.
    """
    leaves_today = {found.hire.vehicle for found in departures_on(folder, day)}
    found = {}
    for line in swap_table({name: folder.built(name) for name in folder.vehicles}, hire, catalogue, on_day=day):
        if stop := _what_stops(line):
            found[line.vehicle] = stop
        elif (other := _holder(folder, line.vehicle, hire, leaves_today)) is not None:
            zone = ZoneInfo(folder.depot.zone)
            values = {"hire": other.id, "until": f"{other.return_at.astimezone(zone):%-d %b %H:%M}"}
            found[line.vehicle] = say("day_plan.held", values)
    return found


def stops_of(folder: DepotFolder, day: dt.date, plan: Plan, catalogue: Catalogue) -> dict[str, str]:
    """Return, for each hire that may not leave as it stands in the vehicle a plan gives it, the first reason why.

    A departure for which no vehicle of the yard is right keeps its own in the plan: whoever reads it must be told.
    """
    found = {}
    for name, vehicle in plan.allotment:
        if vehicle is not None and vehicle in folder.vehicles and name in folder.hires:
            (line,) = swap_table({vehicle: folder.built(vehicle)}, folder.hires[name], catalogue, on_day=day)
            found[name] = _what_stops(line)
    return {name: stop for name, stop in found.items() if stop}


def _what_stops(line: SwapLine) -> str:
    stops = [one for one in line.answer.findings if one.level is Level.STOP]
    stop = next((one for one in stops if one.code in PLAINEST), stops[0] if stops else None)
    return say(stop.code, stop.values) if stop is not None else ""


def _class_of(hire: Hire, folder: DepotFolder) -> str | None:
    return folder.vehicles[hire.vehicle].sheet if hire.vehicle else hire.wanted_sheet


def _is_free(folder: DepotFolder, vehicle: str, hire: Hire, leaves_today: set[str | None]) -> bool:
    return _holder(folder, vehicle, hire, leaves_today) is None


def _holder(folder: DepotFolder, vehicle: str, hire: Hire, leaves_today: set[str | None]) -> Hire | None:
    """Return the hire that holds a vehicle in the time of this one and cannot give it away."""
    for other in folder.hires.values():
        if other.vehicle != vehicle or other.id == hire.id or other.status not in HOLDS:
            continue
        overlaps = other.collect_at < hire.return_at and hire.collect_at < other.return_at
        exchanged = vehicle in leaves_today and other.collect_at.date() == hire.collect_at.date()
        if overlaps and not exchanged:
            return other
    return None


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

    ``news`` is :func:`known_news` when it is not given.

    Raises
    ------
    BadInput, NoPlan
        The day is wrong, or even the rule of the yard cannot lay it out: see :func:`first_plan`.
    """
    chosen = suitable_vehicles(folder, day, catalogue) if suits is None else suits
    problem = day_problem(folder, day, catalogue, suits=chosen, news=news or known_news(folder, day))
    if not problem.people and not problem.departures:
        problem = dataclasses.replace(problem, tasks=())  # what comes back is looked at when the yard opens
    clock = Clock(day, folder.depot.zone)
    start = first_plan(problem, clock)
    rule = objective(problem, start)
    if problem.departures:
        solved = solve(problem, limits, seed=seed, start=start)
        plans = [solved.plan, *safer_plans(problem, solved.plan, limits, seed)]
    else:  # nothing can be late, so nothing is searched for
        solved, plans = Solved(start, rule, 0, "proven", 0.0, 0), [start]
    choices = ranked(problem, [one for one in plans if objective(problem, one) <= rule], draws=draws, seed=seed)
    best = choices[0].plan
    return PlannedDay(
        clock=clock,
        problem=problem,
        plan=best,
        objective=choices[0].objective,
        rule=rule,
        chances=day_chances(
            problem, best, draws=draws, seed=seed, what_if=True, more_from_min=more_from_min(clock, problem)
        ),
        choices=choices,
        cheapest=min(choices, key=lambda choice: choice.objective),
        bottlenecks=bottlenecks(problem, best, draws=max(1, draws // 2), seed=seed),
        bound=solved.bound,
        status=solved.status,
        lacks=lacks(problem, best),
        findings=day_findings(folder, problem, clock),
        stops=stops_of(folder, day, best, catalogue),
    )


def more_from_min(clock: Clock, problem: Problem) -> int:
    """Return the minute from which one more person would be there: ten o'clock, or now when that is over."""
    return max(clock.at(MORE_FROM), problem.opening_min)


def first_plan(problem: Problem, clock: Clock) -> Plan:
    """Return the plan of the rule of the yard, from which a search begins.

    Raises
    ------
    BadInput
        The day itself is wrong: a place without a slot, a name that is not there.
    NoPlan
        Nobody works, nobody can do what has to be done, or the day does not fit into its hours; the error names the
        departure or the task and the smallest thing that would be enough.
    """
    verify_problem(problem)
    start = dispatch(problem)
    if isinstance(start, Plan):
        return start
    if not problem.people:
        names = ", ".join(departure.id for departure in problem.departures)
        wrong = say("day_plan.lack.nobody", {"day": f"{clock.day:%A %d %B}", "departures": names})
        raise NoPlan(wrong.rstrip("."), todo="Put somebody on shift, or promise another day")
    for skill, task in unskilled(problem):
        name = task_text(problem, Plan((), ()), task)
        wrong = say("day_plan.lack.skill", {"task": name, "skill": skill})
        raise NoPlan(wrong.rstrip("."), seen=skill, todo="Put somebody with that skill on shift, or mend the skill")
    lack = lacks(problem, None)[0]
    wrong = lack_what(problem, lack)
    seen = ", ".join(task_text(problem, Plan((), ()), task) for task in lack.tasks[:3])
    raise NoPlan(wrong.rstrip("."), seen=seen, todo=remedies_text(lack.remedies).rstrip("."))


def day_findings(folder: DepotFolder, problem: Problem, clock: Clock) -> tuple[Finding, ...]:
    """Return what is odd about the promises and the hours of a day, though it can be planned."""
    hours = folder.depot.hours.get(WEEKDAYS[clock.day.weekday()])
    found = []
    length = clock.minute(Clock(clock.day + dt.timedelta(days=1), clock.zone).midnight)
    if length != FULL_DAY_MIN:
        found.append(Finding("day_plan.finding.clocks", Level.NOTE, {"hours": length // 60}))
    if not problem.people:
        found.append(Finding("day_plan.finding.nobody", Level.NOTE, {"day": f"{clock.day:%A %d %B}"}))
    if hours is None:
        if problem.departures:
            values = {"day": f"{clock.day:%A}", "departures": ", ".join(one.id for one in problem.departures)}
            found.append(Finding("day_plan.finding.closed", Level.WARN, values))
        return tuple(found)
    opens, closes = clock.at(hours.opens), clock.at(hours.closes)
    for departure in problem.departures:
        values = {
            "departure": departure.id,
            "at": clock.says(departure.promised_min),
            "opens": clock.says(opens),
            "closes": clock.says(closes),
        }
        if departure.promised_min < opens:
            found.append(Finding("day_plan.finding.before_opening", Level.WARN, values))
        elif departure.promised_min >= closes:
            found.append(Finding("day_plan.finding.after_closing", Level.WARN, values))
    return tuple(found)


def searched(problem: Problem, start: Plan, limits: Limits, seed: int) -> Plan:
    """Return the best plan the annealer finds within the limits, from a start; not verified."""
    return anneal(problem, start, limits, seed=seed)


def safer_plans(problem: Problem, plan: Plan, limits: Limits, seed: int) -> tuple[Plan, ...]:
    """Return verified plans of the day that were searched as if every party came earlier.

    Such a plan leaves room where lateness hurts. Its order, its people and its vehicles are then laid out anew for the
    day as it is. Each search has a quarter of the limits.
    """
    part = dataclasses.replace(
        limits,
        step_count=None if limits.step_count is None else max(1, limits.step_count // 4),
        seconds=None if limits.seconds is None else limits.seconds / 4,
    )
    found = []
    for minutes, kept in EARLIER:
        stricter = searched(_earlier(problem, minutes, plan if kept else None), plan, part, seed)
        found.append(laid_anew(problem, stricter))
    return tuple(one for one in found if not violations(problem, one))


def laid_anew(problem: Problem, plan: Plan) -> Plan:
    """Return a plan of a stricter day laid out for this one: the same order, people and vehicles; not verified."""
    walker = Annealer(lay_out(problem), plan, 0)
    return walker.plan() if walker.is_plan else plan


def _earlier(problem: Problem, minutes: int, kept: Plan | None) -> Problem:
    """Return the day as if every party came, and had to leave, so much earlier; with the vehicles of a plan to keep."""
    vehicle_of = kept.vehicle_of if kept is not None else {}

    def changed(one: Departure) -> Departure:
        keeps = vehicle_of.get(one.id)
        return dataclasses.replace(
            one,
            hirer_from_min=one.hirer_from - minutes,
            due_min=one.due - minutes,
            vehicles=tuple(suits for suits in one.vehicles if keeps in {None, suits.vehicle}),
        )

    return dataclasses.replace(problem, departures=tuple(changed(one) for one in problem.departures))


def ranked(problem: Problem, plans: Sequence[Plan], *, draws: int, seed: int) -> tuple[Choice, ...]:
    """Return those plans that are good on paper, the one that is late least on average first.

    Good is one that is late on paper by little more than the cheapest; a swap more has to spare what it is worth.
    """
    choices = [_choice(problem, plan, draws, seed) for plan in plans]
    best = min(choice.objective for choice in choices)
    room = best.lateness + max(DEARER_MIN, DEARER_SHARE * best.lateness)
    good = [one for one in choices if one.objective.lateness <= room]
    return tuple(
        sorted(good, key=lambda one: (one.expected_min + SWAP_SPARES_MIN * one.objective.swaps, one.objective))
    )


def _choice(problem: Problem, plan: Plan, draws: int, seed: int) -> Choice:
    chances = day_chances(problem, plan, draws=draws, seed=seed)
    put_off = sum(problem.departure_by_id[name].postpone_cost or 0 for name, vehicle in plan.allotment if not vehicle)
    on_time = [chance.on_time_probability for chance in chances.departures]
    served = sum(on_time) / len(problem.departures) if problem.departures else 1.0
    return Choice(plan, objective(problem, plan), chances.lateness_min + put_off, served)


def known_news(folder: DepotFolder, day: dt.date) -> DayNews:
    """Return what is known at the start of the day: returns that rang to say when they will come.

    On a day without hand-overs the vehicles that came back since the depot was last open are taken to stand undone.
    """
    clock = Clock(day, folder.depot.zone)
    rang = {name: news for name, news in folder.returns.items() if news.announced_late and clock.holds(news.at)}
    undone = frozenset[str]() if departures_on(folder, day) else left_over(folder, day)
    return DayNews(arrivals={name: clock.minute(news.at) for name, news in rang.items()}, undone=undone)
