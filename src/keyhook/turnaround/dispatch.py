"""The rule of the yard: the earliest promise goes first, and whoever is free takes the next ready task.

This is what a depot does without a plan. It needs milliseconds, looks at nothing that is to come except the
next break and the end of the shift, and serves as a start for the annealer, as a fallback, and as the
measure that every better plan is compared with.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from keyhook.turnaround.blank import first_gap_among, joined, work_begun
from keyhook.turnaround.plan import (
    Plan,
    PlannedBreak,
    PlannedTask,
    earliest_start_min,
    tasks_meant,
    tasks_to_do,
    vehicle_under,
    waits,
)
from keyhook.turnaround.problem import ALL_ZONES, Mode, Person, Problem, Stretch, Task, crew_minutes

Allotment = Mapping[str, str | None]


@dataclass(frozen=True)
class Stuck:
    """What the rule could not do: tasks nobody could begin before the day ended."""

    tasks: tuple[str, ...]


@dataclass
class _Hand:
    """One person in the run of the day."""

    person: Person
    off: list[Stretch]
    busy_to: int
    to_rest: list[int]
    rests: list[PlannedBreak] = field(default_factory=list)


@dataclass
class _Run:
    """The run of the day up to a minute."""

    problem: Problem
    allotment: Allotment
    hands: list[_Hand]
    planned: dict[str, PlannedTask] = field(default_factory=dict)
    at_place: dict[str, list[tuple[int, int, int]]] = field(default_factory=dict)
    on_vehicle: dict[str, list[tuple[int, Task]]] = field(default_factory=dict)
    events: list[int] = field(default_factory=list)


def dispatch(problem: Problem) -> Plan | Stuck:
    """Return the plan of the rule, putting departures off when their work does not fit into the day."""
    allotment = first_allotment(problem)
    while True:
        plan = dispatch_allotted(problem, allotment)
        if isinstance(plan, Plan):
            return plan
        dropped = _to_put_off(problem, allotment, plan.tasks)
        if dropped is None:
            return plan
        allotment = {**allotment, dropped: None}


def first_allotment(problem: Problem) -> dict[str, str | None]:
    """Return who serves whom by habit: as promised, else the cheapest free vehicle that comes in first."""
    taken: set[str] = set()
    allotment: dict[str, str | None] = {}
    by_promise = sorted(problem.departures, key=lambda departure: (departure.promised_min, departure.id))
    for departure in by_promise:
        if departure.allotted is not None and departure.cost_of(departure.allotted) is not None:
            if departure.allotted not in taken:
                allotment[departure.id] = departure.allotted
                taken.add(departure.allotted)
    for departure in by_promise:
        if departure.id not in allotment:
            free = [suits.vehicle for suits in departure.vehicles if suits.vehicle not in taken]
            free.sort(key=lambda name: (departure.cost_of(name), problem.vehicle_by_id[name].arrives_min, name))
            allotment[departure.id] = free[0] if free else None
            taken.update(free[:1])
    return allotment


def dispatch_allotted(problem: Problem, allotment: Allotment) -> Plan | Stuck:
    """Return the plan of the rule under an allotment."""
    run = _begin(problem, allotment)
    waiting = _by_promise(problem, allotment)
    before: dict[str, list[tuple[str, int]]] = {}
    for wait in waits(problem, allotment):
        before.setdefault(wait.after, []).append((wait.before, wait.lag_min))
    release = {task.id: earliest_start_min(problem, task, vehicle_under(task, allotment)) for task in waiting}
    run.events.extend({problem.opening_min, *release.values()})
    heapq.heapify(run.events)
    while waiting and run.events:
        minute = heapq.heappop(run.events)
        while run.events and run.events[0] == minute:
            heapq.heappop(run.events)
        _send_to_rest(run, minute)
        waiting = [task for task in waiting if not _try(run, task, minute, release[task.id], before.get(task.id, ()))]
    if waiting or any(hand.to_rest and not _rest_late(run, hand) for hand in run.hands):
        return Stuck(tuple(task.id for task in waiting))
    planned = sorted(run.planned.values(), key=lambda one: (one.start_min, one.task))
    rests = tuple(rest for hand in run.hands for rest in hand.rests)
    return Plan(tuple(planned), tuple((d.id, allotment.get(d.id)) for d in problem.departures), rests)


def _by_promise(problem: Problem, allotment: Allotment) -> list[Task]:
    """Return tasks to be done in the order in which the rule looks at them."""
    due = {departure.id: departure.due for departure in problem.departures}
    due_of_vehicle = {vehicle: due[departure] for departure, vehicle in allotment.items() if vehicle is not None}
    order = {task.id: k for k, task in enumerate(problem.tasks)}

    def promise(task: Task) -> tuple[int, int]:
        if task.departure is not None:
            return due[task.departure], order[task.id]
        return due_of_vehicle.get(task.vehicle or "", problem.closing_min), order[task.id]

    todo = [task for task in tasks_to_do(problem, allotment) if task.fixed is None]
    return sorted(todo, key=promise)


def _begin(problem: Problem, allotment: Allotment) -> _Run:
    run = _Run(problem, allotment, [_hand(problem, person) for person in problem.people])
    run.hands.sort(key=lambda hand: (len(hand.person.skills), hand.person.pace_factor))
    for task in problem.tasks:
        if task.fixed is not None:
            fixed = task.fixed
            _enter(
                run, task, PlannedTask(task.id, fixed.start_min, fixed.end_min, fixed.mode, tuple(sorted(fixed.people)))
            )
    for place in problem.places:
        run.events.extend(end for _, end in place.closed)
    for hand in run.hands:
        run.events.extend([hand.person.shift[0], *(end for _, end in hand.off)])
        run.events.extend(rest.earliest_min for rest in hand.person.breaks)
    run.events = [minute for minute in run.events if minute >= problem.opening_min]
    return run


def _hand(problem: Problem, person: Person) -> _Hand:
    """Return a person at the opening, with the breaks that are still owed."""
    off = joined([*person.away, *work_begun(problem, person.id)])
    owed = [
        index
        for index, rest in enumerate(person.breaks)
        if first_gap_among(off, max(rest.earliest_min, problem.opening_min), rest.latest_min, rest.length_min)
        is not None
    ]
    return _Hand(person, off, person.shift[0], owed)


# ---------------------------------------------------------------- one minute of the day


def _send_to_rest(run: _Run, minute: int) -> None:
    """Whoever is free and may rest goes."""
    for hand in run.hands:
        if hand.to_rest and hand.busy_to <= minute:
            rest = hand.person.breaks[hand.to_rest[0]]
            span = (minute, minute + rest.length_min)
            if rest.earliest_min <= minute <= rest.latest_min and not _is_off(hand, span):
                _rest(run, hand, minute)


def _rest(run: _Run, hand: _Hand, minute: int) -> None:
    index = hand.to_rest.pop(0)
    hand.rests.append(PlannedBreak(hand.person.id, index, minute))
    hand.busy_to = minute + hand.person.breaks[index].length_min
    heapq.heappush(run.events, hand.busy_to)


def _rest_late(run: _Run, hand: _Hand) -> bool:
    """Let somebody who had nothing left to do take the breaks that are still owed."""
    while hand.to_rest:
        rest = hand.person.breaks[hand.to_rest[0]]
        first = max(rest.earliest_min, hand.busy_to, run.problem.opening_min)
        start = first_gap_among(hand.off, first, rest.latest_min, rest.length_min)
        if start is None:
            return False
        _rest(run, hand, start)
    return True


def _try(run: _Run, task: Task, minute: int, release: int, before: Iterable[tuple[str, int]]) -> bool:
    """Begin a task at this minute if everything it needs is there."""
    if minute < release:
        return False
    for other, lag in before:
        done = run.planned.get(other)
        if done is None or done.end_min + lag > minute:
            return False
    for number, mode in enumerate(task.modes):
        crew = _crew(run, task, mode, minute)
        if crew is None:
            continue
        end = minute + crew_minutes(mode, tuple(hand.person.pace_factor for hand in crew))
        if end <= run.problem.closing_min and _is_clear(run, task, minute, end):
            people = tuple(sorted(hand.person.id for hand in crew))
            _enter(run, task, PlannedTask(task.id, minute, end, number, people))
            for hand in crew:
                hand.busy_to = end
            return True
    return False


def _crew(run: _Run, task: Task, mode: Mode, minute: int) -> list[_Hand] | None:
    """Return the first free people who may do a task in a mode; None when there are too few."""
    if mode.crew == 0:
        return []
    barred = _barred(run, task)
    crew: list[_Hand] = []
    for hand in run.hands:
        able = mode.skill in hand.person.skills and hand.person.id not in barred
        if able and _can(hand, minute, minute + crew_minutes(mode, (hand.person.pace_factor,))):
            crew.append(hand)
            if len(crew) == mode.crew:
                break
    if len(crew) < mode.crew:
        return None
    end = minute + crew_minutes(mode, tuple(hand.person.pace_factor for hand in crew))
    return crew if all(_can(hand, minute, end) for hand in crew) else None


def _barred(run: _Run, task: Task) -> set[str]:
    vehicle = vehicle_under(task, run.allotment)
    others = [other for link in task.not_by for other in tasks_meant(run.problem, task, link, vehicle)]
    barred = {name for other in others if other.id in run.planned for name in run.planned[other.id].people}
    for other in run.problem.tasks:
        if other.id in run.planned and any(not link.on_vehicle and link.what == task.id for link in other.not_by):
            barred.update(run.planned[other.id].people)
    return barred


def _can(hand: _Hand, start: int, end: int) -> bool:
    """Return whether somebody can work for this stretch and still take the next break in time."""
    person = hand.person
    if hand.busy_to > start or start < person.shift[0] or end > person.shift[1] + person.overtime_max_min:
        return False
    if _is_off(hand, (start, end)):
        return False
    for index in hand.to_rest:
        rest = person.breaks[index]
        if first_gap_among(hand.off, max(rest.earliest_min, end), rest.latest_min, rest.length_min) is None:
            return False
    return True


def _is_off(hand: _Hand, span: Stretch) -> bool:
    return any(begin < span[1] and span[0] < end for begin, end in hand.off)


def _is_clear(run: _Run, task: Task, start: int, end: int) -> bool:
    """Return whether zones and place are free from now to the end of a task."""
    vehicle = vehicle_under(task, run.allotment)
    for until, other in run.on_vehicle.get(vehicle or "", ()) if task.zones else ():
        if until > start and (task.zones & other.zones or ALL_ZONES in task.zones | other.zones):
            return False
    if task.place is None:
        return True
    place = next(place for place in run.problem.places if place.id == task.place)
    end += task.place_tail_min
    if any(begin < end and start < shut for begin, shut in place.closed):
        return False
    used = sum(slots for _, until, slots in run.at_place.get(task.place, ()) if until > start)
    return used + task.slot_use <= place.slots


def _enter(run: _Run, task: Task, planned: PlannedTask) -> None:
    run.planned[task.id] = planned
    vehicle = vehicle_under(task, run.allotment)
    if vehicle is not None and task.zones:
        run.on_vehicle.setdefault(vehicle, []).append((planned.end_min + task.zone_tail_min, task))
    if task.place is not None:
        stay = (planned.start_min, planned.end_min + task.place_tail_min, task.slot_use)
        run.at_place.setdefault(task.place, []).append(stay)
    ends = {planned.end_min, planned.end_min + task.zone_tail_min, planned.end_min + task.place_tail_min}
    ends.update(
        planned.end_min + link.lag_min for other in run.problem.tasks for link in other.after if link.lag_min > 0
    )
    for minute in ends:
        heapq.heappush(run.events, minute)


def _to_put_off(problem: Problem, allotment: Allotment, stuck: tuple[str, ...]) -> str | None:
    """Return the cheapest departure to put off among those whose work got stuck; None when there is none."""
    departures = {problem.task_by_id[name].departure for name in stuck}
    serving = {vehicle: departure for departure, vehicle in allotment.items() if vehicle is not None}
    departures |= {serving.get(problem.task_by_id[name].vehicle or "") for name in stuck}
    able = [
        (departure.postpone_cost, departure.id)
        for departure in problem.departures
        if departure.id in departures and departure.postpone_cost is not None and allotment.get(departure.id)
    ]
    return min(able)[1] if able else None
