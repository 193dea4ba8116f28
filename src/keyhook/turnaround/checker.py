"""Is this a plan: every rule of the day, worked out from plain data.

This file knows no solver, decoder or annealer and shares no working with them: it reads a problem and a
plan, and says each broken rule in one sentence. Each family of rules is one function; :data:`FAMILIES`
names them all. What has already happened is not judged: a rule broken among fixed tasks alone is let be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import TypeVar

from keyhook.turnaround.plan import Plan, PlannedTask
from keyhook.turnaround.problem import ALL_ZONES, EVERY_KIND, After, Break, NotBy, Person, Problem, Stretch, Task
from keyhook.turnaround.recount import leaves_at, planned_tasks


@dataclass(frozen=True, slots=True)
class Violation:
    """One broken rule: its family, what it is about (ids) and one plain sentence."""

    family: str
    about: tuple[str, ...]
    says: str


Item = TypeVar("Item")
Finding = tuple[tuple[str, ...], str]
Family = Callable[[Problem, Plan], Iterator[Finding]]
FAMILIES: dict[str, Family] = {}


def _family(function: Family) -> Family:
    FAMILIES[function.__name__.removeprefix("_")] = function
    return function


def violations(problem: Problem, plan: Plan) -> tuple[Violation, ...]:
    """Return every rule the plan breaks; empty when it is a plan for the day."""
    names = tuple(_unknown_names(problem, plan))
    if names:
        return names
    return tuple(
        Violation(name, about, says) for name, family in FAMILIES.items() for about, says in family(problem, plan)
    )


# ---------------------------------------------------------------- what is done


@_family
def _done(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Every task that has to be done today is planned once, and no other."""
    seen = Counter(planned.task for planned in plan.tasks)
    wanted = {task.id for task in problem.tasks if _is_wanted(task, plan)}
    for task in sorted(wanted - seen.keys()):
        yield (task,), f"Task {task} has to be done today and is not in the plan."
    for task in sorted(seen.keys() - wanted):
        yield (task,), f"Task {task} is in the plan, but nothing calls for it today."
    for task, times in sorted(seen.items()):
        if times > 1:
            yield (task,), f"Task {task} is planned {times} times."


@_family
def _crew(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Each task is done in one of its modes, by as many different people as the mode asks, all with its skill."""
    for task, planned in planned_tasks(problem, plan):
        if task.fixed is not None:
            continue
        if not 0 <= planned.mode < len(task.modes):
            yield (task.id,), f"Task {task.id} has no mode number {planned.mode}."
            continue
        mode = task.modes[planned.mode]
        if len(set(planned.people)) != mode.crew or len(planned.people) != mode.crew:
            people = ", ".join(planned.people) or "nobody"
            yield (task.id,), f"Task {task.id} needs {mode.crew} people in this mode; the plan names {people}."
        for name in planned.people:
            if mode.skill not in problem.person_by_id[name].skills:
                yield (task.id, name), f"Task {task.id} needs the skill {mode.skill}, which {name} does not have."


@_family
def _pace(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Each task takes as long as the slowest of its crew needs for the book duration."""
    for task, planned in planned_tasks(problem, plan):
        if task.fixed is not None or not 0 <= planned.mode < len(task.modes):
            continue
        slowest = max((problem.person_by_id[name].pace_factor for name in planned.people), default=1.0)
        exact = task.modes[planned.mode].duration_min * slowest
        takes = planned.end_min - planned.start_min
        if not exact - 1e-6 <= takes < exact + 1 - 1e-7:
            yield (task.id,), f"Task {task.id} takes {exact:g} min at this pace; the plan gives it {takes} min."


@_family
def _fixed(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Whatever has begun stays as it is: start, end, people and mode."""
    for task, planned in planned_tasks(problem, plan):
        fixed = task.fixed
        if fixed is None:
            continue
        same = (fixed.start_min, fixed.end_min, fixed.mode, tuple(sorted(fixed.people)))
        if same != (planned.start_min, planned.end_min, planned.mode, tuple(sorted(planned.people))):
            yield (task.id,), f"Task {task.id} has begun at minute {fixed.start_min} and may not be planned anew."


# ---------------------------------------------------------------- when


@_family
def _not_before(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Nothing begins before the opening, its release, the arrival of its vehicle or of the hirer it needs."""
    for task, planned in planned_tasks(problem, plan):
        if task.fixed is not None:
            continue
        for minute, what in _gates_to_start(problem, plan, task):
            if planned.start_min < minute:
                yield (task.id,), f"Task {task.id} begins at minute {planned.start_min}, before {what} at {minute}."


@_family
def _closing(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Nothing ends after the closing."""
    for task, planned in planned_tasks(problem, plan):
        if task.fixed is None and planned.end_min > problem.closing_min:
            yield (task.id,), f"Task {task.id} ends at minute {planned.end_min}, after closing."


@_family
def _order(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Each task begins after what it waits for has ended, and after the lag between them.

    A task that has begun waits for nothing more: damage found after the last look comes too late for it, and the
    vehicle is held back by its gate instead.
    """
    for task, planned in planned_tasks(problem, plan):
        if task.fixed is not None:
            continue
        for link in task.after:
            for other in _meant(problem, plan, task, link):
                before = plan.by_task[other]
                ready = before.end_min + link.lag_min
                if planned.start_min < ready:
                    yield (other, task.id), f"Task {task.id} begins before minute {ready}, when {other} lets it."


# ---------------------------------------------------------------- who


@_family
def _one_at_a_time(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Everybody does one thing at a time."""
    for person, doing in _by_person(plan).items():
        for one, two in _overlaps(doing, lambda planned: (planned.start_min, planned.end_min)):
            if not _all_fixed(problem, one.task, two.task):
                yield (person, one.task, two.task), f"{person} is on {one.task} and {two.task} at the same time."


@_family
def _shift(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Everybody works within the shift and the overtime allowed, and not while away."""
    for name, doing in _by_person(plan).items():
        person = problem.person_by_id[name]
        last = person.shift[1] + person.overtime_max_min
        for planned in doing:
            if problem.task_by_id[planned.task].fixed is not None:
                continue
            if planned.start_min < person.shift[0] or planned.end_min > last:
                yield (name, planned.task), f"{name} works outside the shift on {planned.task}."
            if any(_meets((planned.start_min, planned.end_min), away) for away in person.away):
                yield (name, planned.task), f"{name} is away while {planned.task} is done."


@_family
def _breaks(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Everybody takes every break in its window, whole, and works at nothing meanwhile."""
    taken = {(rest.person, rest.index): rest.start_min for rest in plan.breaks}
    work = _by_person(plan)
    owed = {(person.id, index) for person in problem.people for index in range(len(person.breaks))}
    for name, _ in sorted(taken.keys() - owed):
        yield (name,), f"{name} takes a break that nobody planned."
    for name, index in sorted(owed):
        person, doing = problem.person_by_id[name], work.get(name, [])
        start = taken.get((name, index))
        if start is not None:
            yield from _break_as_taken(problem, person, person.breaks[index], start, doing)
        elif _is_owed(problem, person, person.breaks[index], doing):
            yield (name,), f"{name} gets no break between minute {person.breaks[index].earliest_min} and the latest."


def _break_as_taken(
    problem: Problem, person: Person, rest: Break, start: int, doing: list[PlannedTask]
) -> Iterator[Finding]:
    if not max(rest.earliest_min, problem.opening_min) <= start <= rest.latest_min:
        yield (person.id,), f"The break of {person.id} begins at minute {start}, outside its window."
    for planned in doing:
        if _meets((start, start + rest.length_min), (planned.start_min, planned.end_min)):
            yield (person.id, planned.task), f"The break of {person.id} at minute {start} falls into {planned.task}."


@_family
def _second_eyes(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Whoever may not have done another task has not done it."""
    for task, planned in planned_tasks(problem, plan):
        for link in task.not_by:
            for other in _meant(problem, plan, task, link):
                both = sorted(set(planned.people) & set(plan.by_task[other].people))
                if both and not _all_fixed(problem, task.id, other):
                    yield (task.id, other), f"{both[0]} does both {other} and {task.id}, which needs other eyes."


# ---------------------------------------------------------------- where


@_family
def _places(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """No place ever holds more than its slots, or anything while it is closed."""
    for place in problem.places:
        here = [(task, planned) for task, planned in planned_tasks(problem, plan) if task.place == place.id]
        spans = {task.id: (planned.start_min, planned.end_min + task.place_tail_min) for task, planned in here}
        for task, planned in here:
            present = [other for other, _ in here if _within(planned.start_min, spans[other.id])]
            if sum(other.slot_use for other in present) > place.slots and not _all_fixed(
                problem, *(other.id for other in present)
            ):
                names = tuple(other.id for other in present)
                yield names, f"{place.id} has {place.slots} slots; too much stands there at {planned.start_min}."
            closed = any(_meets(spans[task.id], shut) for shut in place.closed)
            if closed and task.fixed is None:
                yield (task.id,), f"{place.id} is closed while {task.id} is there."


@_family
def _zones(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Two tasks never need the same zone of a vehicle at once; a moving vehicle needs all of its own."""
    by_vehicle: dict[str, list[tuple[Task, PlannedTask]]] = {}
    for task, planned in planned_tasks(problem, plan):
        vehicle = _vehicle(task, plan)
        if vehicle is not None and task.zones:
            by_vehicle.setdefault(vehicle, []).append((task, planned))
    for vehicle, here in by_vehicle.items():
        pairs = _overlaps(here, lambda pair: (pair[1].start_min, pair[1].end_min + pair[0].zone_tail_min))
        for (one, _), (two, _) in pairs:
            shared = one.zones & two.zones or ALL_ZONES in one.zones | two.zones
            if shared and not _all_fixed(problem, one.id, two.id):
                yield (vehicle, one.id, two.id), f"{one.id} and {two.id} are in each other's way on {vehicle}."


# ---------------------------------------------------------------- whom


@_family
def _allotment(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """Every departure has one vehicle that suits it, or is put off where that is allowed; no vehicle has two."""
    names = [departure for departure, _ in plan.allotment]
    for departure in problem.departures:
        if names.count(departure.id) != 1:
            yield (departure.id,), f"Departure {departure.id} is allotted {names.count(departure.id)} times."
            continue
        vehicle = plan.vehicle_of[departure.id]
        if vehicle is None and departure.postpone_cost is None:
            yield (departure.id,), f"Departure {departure.id} may not be put off."
        if vehicle is not None and vehicle not in {suits.vehicle for suits in departure.vehicles}:
            yield (departure.id, vehicle), f"Vehicle {vehicle} does not suit departure {departure.id}."
    served = Counter(vehicle for _, vehicle in plan.allotment if vehicle is not None)
    for vehicle, times in sorted(served.items()):
        if times > 1:
            yield (vehicle,), f"Vehicle {vehicle} is given to {times} departures."


@_family
def _gate(problem: Problem, plan: Plan) -> Iterator[Finding]:
    """No vehicle leaves before what it may not leave without is finished."""
    for departure, vehicle in plan.allotment:
        leaves = leaves_at(problem, plan, departure)
        if vehicle is None or leaves is None:
            continue
        for task in problem.tasks:
            if task.gate and (task.departure == departure or task.vehicle == vehicle):
                planned = plan.by_task.get(task.id)
                if planned is None or planned.end_min > leaves:
                    yield (departure, task.id), f"Departure {departure} leaves without {task.id}."


# ---------------------------------------------------------------- reading a plan


def _unknown_names(problem: Problem, plan: Plan) -> Iterator[Violation]:
    """Names in the plan that the day does not have."""
    named: list[tuple[str, str, Iterable[str]]] = [
        ("task", "tasks", (planned.task for planned in plan.tasks)),
        ("person", "people", (name for planned in plan.tasks for name in planned.people)),
        ("person", "people", (rest.person for rest in plan.breaks)),
        ("departure", "departures", (departure for departure, _ in plan.allotment)),
        ("vehicle", "vehicles", (vehicle for _, vehicle in plan.allotment if vehicle is not None)),
    ]
    for kind, collection, names in named:
        known = {item.id for item in getattr(problem, collection)}
        for name in sorted(set(names) - known):
            yield Violation("names", (name,), f"The day has no {kind} called {name}.")


def _by_person(plan: Plan) -> dict[str, list[PlannedTask]]:
    work: dict[str, list[PlannedTask]] = {}
    for planned in plan.tasks:
        for person in sorted(set(planned.people)):
            work.setdefault(person, []).append(planned)
    return work


def _is_wanted(task: Task, plan: Plan) -> bool:
    if task.fixed is not None:
        return True
    if task.departure is not None:
        return plan.vehicle_of.get(task.departure) is not None
    return not task.only_if_leaving or task.vehicle in plan.departure_of


def _vehicle(task: Task, plan: Plan) -> str | None:
    return plan.vehicle_of.get(task.departure) if task.departure is not None else task.vehicle


def _meant(problem: Problem, plan: Plan, task: Task, link: After | NotBy) -> list[str]:
    """Ids of planned tasks that a link speaks of."""
    if not link.on_vehicle:
        return [link.what] if link.what in plan.by_task else []
    vehicle = _vehicle(task, plan)
    return [
        other.id
        for other in problem.tasks
        if vehicle is not None
        and other.vehicle == vehicle
        and other.id != task.id
        and link.what in (EVERY_KIND, other.kind)
        and other.id in plan.by_task
    ]


def _gates_to_start(problem: Problem, plan: Plan, task: Task) -> Iterator[tuple[int, str]]:
    yield problem.opening_min, "the opening"
    yield task.release_min, "its release"
    vehicle = _vehicle(task, plan)
    if vehicle is not None and (task.departure is None or task.zones):
        yield problem.vehicle_by_id[vehicle].arrives_min, f"the arrival of {vehicle}"
    if task.needs_hirer and task.departure is not None:
        departure = problem.departure_by_id[task.departure]
        from_min = departure.promised_min if departure.hirer_from_min is None else departure.hirer_from_min
        yield from_min, "the hirer comes"


def _is_owed(problem: Problem, person: Person, rest: Break, doing: Iterable[PlannedTask]) -> bool:
    """Return whether a break is owed: unless what is fixed, absence or the hour leaves no room for it."""
    fixed = [(p.start_min, p.end_min) for p in doing if problem.task_by_id[p.task].fixed is not None]
    taken: list[Stretch] = [*fixed, *person.away]
    starts = range(max(rest.earliest_min, problem.opening_min), rest.latest_min + 1)
    return any(not any(_meets((start, start + rest.length_min), span) for span in taken) for start in starts)


def _all_fixed(problem: Problem, *tasks: str) -> bool:
    return all(problem.task_by_id[task].fixed is not None for task in tasks)


def _meets(one: Stretch, two: Stretch) -> bool:
    return one[0] < two[1] and two[0] < one[1]


def _within(minute: int, span: Stretch) -> bool:
    return span[0] <= minute < span[1]


def _overlaps(items: Iterable[Item], span: Callable[[Item], Stretch]) -> Iterator[tuple[Item, Item]]:
    ordered = sorted(items, key=span)
    return ((one, two) for one, two in combinations(ordered, 2) if _meets(span(one), span(two)))
