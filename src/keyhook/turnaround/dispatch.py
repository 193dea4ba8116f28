"""The rule of the yard: the earliest promise goes first, and whoever is free takes the next ready task.

This is what a depot does without a plan. It needs milliseconds, looks at nothing that is to come except the
next break and the end of the shift, and serves as a start for the annealer, as a fallback, and as the
measure that every better plan is compared with.
"""

from __future__ import annotations

import heapq
from bisect import insort
from collections.abc import Mapping
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
from keyhook.turnaround.problem import ALL_ZONES, Mode, Person, Place, Problem, Stretch, Task, crew_minutes

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
    vehicle: dict[str, str | None]
    eyes: dict[str, set[str]]
    ends_with: dict[str, set[int]]
    by_skill: dict[str, list[_Hand]]
    places: dict[str, Place]
    planned: dict[str, PlannedTask] = field(default_factory=dict)
    at_place: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
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
        own = departure.allotted
        if own is not None and own not in taken and departure.cost_of(own) is not None:
            allotment[departure.id] = own
            taken.add(own)
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
    queue = _Queue(run, _by_promise(problem, allotment))
    while run.events:
        minute = heapq.heappop(run.events)
        while run.events and run.events[0] == minute:
            heapq.heappop(run.events)
        _send_to_rest(run, minute)
        for task in queue.ready_at(minute):
            if _try(run, task, minute):
                queue.strike(task)
    stuck = queue.left()
    if stuck or not all(_rest_late(run, hand) for hand in run.hands):
        return Stuck(stuck)
    planned = sorted(run.planned.values(), key=lambda one: (one.start_min, one.task))
    rests = tuple(rest for hand in run.hands for rest in hand.rests)
    return Plan(tuple(planned), tuple((d.id, allotment.get(d.id)) for d in problem.departures), rests)


class _Queue:
    """Tasks in the order of the rule, each let in when what it waits for is over."""

    def __init__(self, run: _Run, tasks: list[Task]) -> None:
        self._run = run
        self._rank = {task.id: k for k, task in enumerate(tasks)}
        self._tasks = tasks
        self._open: list[int] = []
        self._coming: list[tuple[int, int]] = []
        self._waits: dict[str, int] = dict.fromkeys(self._rank, 0)
        self._ready = {task.id: earliest_start_min(run.problem, task, run.vehicle[task.id]) for task in tasks}
        self._next: dict[str, list[tuple[str, int]]] = {}
        for wait in waits(run.problem, run.allotment):
            if wait.after in self._rank:
                self._next.setdefault(wait.before, []).append((wait.after, wait.lag_min))
                self._waits[wait.after] += 1
        for name in run.planned:
            self._let_in_after(name)
        for task in tasks:
            if self._waits[task.id] == 0:
                self._admit(task.id)

    def ready_at(self, minute: int) -> list[Task]:
        """Return the tasks that may begin at a minute, earliest promise first."""
        while self._coming and self._coming[0][0] <= minute:
            insort(self._open, heapq.heappop(self._coming)[1])
        return [self._tasks[rank] for rank in self._open]

    def strike(self, task: Task) -> None:
        """Take out a task that has begun, and let in what waited for it."""
        self._open.remove(self._rank[task.id])
        for name in self._let_in_after(task.id):
            self._admit(name)

    def left(self) -> tuple[str, ...]:
        """Return the tasks that never began."""
        return tuple(task.id for task in self._tasks if task.id not in self._run.planned)

    def _let_in_after(self, name: str) -> list[str]:
        free = []
        for after, lag in self._next.get(name, ()):
            self._waits[after] -= 1
            self._ready[after] = max(self._ready[after], self._run.planned[name].end_min + lag)
            if self._waits[after] == 0:
                free.append(after)
        return free

    def _admit(self, name: str) -> None:
        heapq.heappush(self._coming, (self._ready[name], self._rank[name]))
        heapq.heappush(self._run.events, self._ready[name])


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
    hands = sorted(
        (_hand(problem, person) for person in problem.people),
        key=lambda hand: (len(hand.person.skills), hand.person.pace_factor),
    )
    skills = {mode.skill for task in problem.tasks for mode in task.modes}
    run = _Run(
        problem,
        allotment,
        hands,
        vehicle={task.id: vehicle_under(task, allotment) for task in problem.tasks},
        eyes=_eyes(problem, allotment),
        ends_with={task.id: {0, task.zone_tail_min, task.place_tail_min} for task in problem.tasks},
        by_skill={skill: [hand for hand in hands if skill in hand.person.skills] for skill in skills},
        places={place.id: place for place in problem.places},
    )
    for task in problem.tasks:
        if task.fixed is not None:
            fixed = task.fixed
            people = tuple(sorted(fixed.people))
            _enter(run, task, PlannedTask(task.id, fixed.start_min, fixed.end_min, fixed.mode, people))
    run.events += _turns_of_the_day(problem, hands)
    run.events = [minute for minute in run.events if minute >= problem.opening_min]
    heapq.heapify(run.events)
    return run


def _turns_of_the_day(problem: Problem, hands: list[_Hand]) -> list[int]:
    """Return minutes at which somebody or some place becomes free without anything ending."""
    minutes = [end for place in problem.places for _, end in place.closed]
    for hand in hands:
        minutes += [hand.person.shift[0], *(end for _, end in hand.off)]
        minutes += [max(rest.earliest_min, problem.opening_min) for rest in hand.person.breaks]
    return minutes


def _eyes(problem: Problem, allotment: Allotment) -> dict[str, set[str]]:
    """Return, for each task, the tasks whose people may not do it; it goes both ways."""
    eyes: dict[str, set[str]] = {}
    for task in problem.tasks:
        for link in task.not_by:
            for other in tasks_meant(problem, task, link, vehicle_under(task, allotment)):
                eyes.setdefault(task.id, set()).add(other.id)
                eyes.setdefault(other.id, set()).add(task.id)
    return eyes


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


def _try(run: _Run, task: Task, minute: int) -> bool:
    """Begin a task at this minute if hands, zones and place are there."""
    if not _zones_clear(run, task, minute):
        return False
    for number, mode in enumerate(task.modes):
        crew = _crew(run, task, mode, minute)
        if crew is None:
            continue
        end = minute + crew_minutes(mode, tuple(hand.person.pace_factor for hand in crew))
        if end <= run.problem.closing_min and _place_clear(run, task, minute, end):
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
    for hand in run.by_skill[mode.skill]:
        if (
            hand.busy_to <= minute
            and hand.person.id not in barred
            and _can(hand, minute, minute + crew_minutes(mode, (hand.person.pace_factor,)))
        ):
            crew.append(hand)
            if len(crew) == mode.crew:
                break
    if len(crew) < mode.crew:
        return None
    end = minute + crew_minutes(mode, tuple(hand.person.pace_factor for hand in crew))
    return crew if all(_can(hand, minute, end) for hand in crew) else None


def _barred(run: _Run, task: Task) -> set[str]:
    return {name for o in run.eyes.get(task.id, ()) if o in run.planned for name in run.planned[o].people}


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


def _zones_clear(run: _Run, task: Task, start: int) -> bool:
    """Return whether nobody is in the way on the vehicle; nothing there begins later than now."""
    here = run.on_vehicle.get(run.vehicle[task.id] or "", ()) if task.zones else ()
    return not any(
        until > start and (task.zones & other.zones or ALL_ZONES in task.zones | other.zones) for until, other in here
    )


def _place_clear(run: _Run, task: Task, start: int, end: int) -> bool:
    """Return whether the place has room from now to the end of a task, and stays open."""
    if task.place is None:
        return True
    place = run.places[task.place]
    if any(begin < end + task.place_tail_min and start < shut for begin, shut in place.closed):
        return False
    here = [stay for stay in run.at_place.get(task.place, ()) if stay[0] > start]
    run.at_place[task.place] = here
    return sum(slots for _, slots in here) + task.slot_use <= place.slots


def _enter(run: _Run, task: Task, planned: PlannedTask) -> None:
    run.planned[task.id] = planned
    vehicle = run.vehicle[task.id]
    if vehicle is not None and task.zones:
        run.on_vehicle.setdefault(vehicle, []).append((planned.end_min + task.zone_tail_min, task))
    if task.place is not None:
        run.at_place.setdefault(task.place, []).append((planned.end_min + task.place_tail_min, task.slot_use))
    for tail in run.ends_with[task.id]:
        heapq.heappush(run.events, planned.end_min + tail)


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
