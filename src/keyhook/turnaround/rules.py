"""What a day must be before anybody plans it; each broken rule is one clear sentence (``BadInput``)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

from keyhook.errors import BadInput
from keyhook.turnaround.plan import tasks_meant
from keyhook.turnaround.problem import After, Departure, NotBy, Person, Problem, Task

#: Pace factors outside these are typing slips, not people.
QUICKEST, SLOWEST = 0.2, 5.0
Complaint = tuple[str, object, str]
Rule = Callable[[Problem], Iterator[Complaint]]


def verify_problem(problem: Problem) -> None:
    """Raise ``BadInput`` for the first thing that is wrong with a day."""
    for rule in (_names, _hours, _people, _places, _tasks, _links, _departures, _loops):
        for wrong, seen, todo in rule(problem):
            raise BadInput(wrong, seen=seen, todo=todo)


def _names(problem: Problem) -> Iterator[Complaint]:
    for what in ("people", "places", "vehicles", "tasks", "departures"):
        names = [item.id for item in getattr(problem, what)]
        for name in sorted({name for name in names if names.count(name) > 1} if len(set(names)) < len(names) else ()):
            yield f"Two {what} have one id", name, "Give each its own"


def _hours(problem: Problem) -> Iterator[Complaint]:
    if problem.closing_min <= problem.opening_min:
        yield "The day closes before it opens", problem.closing_min, "Give a later closing"


def _people(problem: Problem) -> Iterator[Complaint]:
    for person in problem.people:
        if person.shift[1] <= person.shift[0]:
            yield f"The shift of {person.id} ends before it begins", person.shift, "Give from and to"
        if not QUICKEST <= person.pace_factor <= SLOWEST:
            yield (
                f"The pace of {person.id} is out of range",
                person.pace_factor,
                f"Give a factor from {QUICKEST} to {SLOWEST}",
            )
        if person.overtime_max_min < 0:
            yield f"The overtime of {person.id} is negative", person.overtime_max_min, "Give 0 or more minutes"
        yield from _breaks(person)


def _breaks(person: Person) -> Iterator[Complaint]:
    for rest in person.breaks:
        whole = person.shift[0] <= rest.earliest_min <= rest.latest_min <= person.shift[1] - rest.length_min
        if rest.length_min <= 0 or not whole:
            yield f"A break of {person.id} does not fit into the shift", rest, "Give a window inside the shift"
    for one, two in pairwise(person.breaks):
        if two.earliest_min < one.latest_min + one.length_min:
            yield f"Two break windows of {person.id} run into each other", two, "Set the windows apart"


def _places(problem: Problem) -> Iterator[Complaint]:
    for place in problem.places:
        if place.slots < 1:
            yield f"Place {place.id} has no slot", place.slots, "Give 1 or more, or leave the place out"


def _tasks(problem: Problem) -> Iterator[Complaint]:
    slots = {place.id: place.slots for place in problem.places}
    for task in problem.tasks:
        if not task.modes:
            yield f"Task {task.id} has no way of doing it", "no mode", "Give a crew and a duration"
        for mode in task.modes:
            if mode.duration_min < 1 or mode.crew < 0:
                yield f"Task {task.id} has a mode that cannot be", mode, "Give 1 minute or more, and 0 people or more"
        if task.vehicle is not None and task.departure is not None:
            yield f"Task {task.id} names a vehicle and a departure", task.vehicle, "Name one of them"
        if task.place is not None and not 1 <= task.slot_use <= slots.get(task.place, 0):
            yield f"Task {task.id} does not fit its place", task.place, "Name a place with enough slots"
        yield from _task_belongs(problem, task)


def _task_belongs(problem: Problem, task: Task) -> Iterator[Complaint]:
    if task.vehicle is not None and task.vehicle not in problem.vehicle_by_id:
        yield f"Task {task.id} names an unknown vehicle", task.vehicle, "Name one of the day"
    if task.departure is not None and task.departure not in problem.departure_by_id:
        yield f"Task {task.id} names an unknown departure", task.departure, "Name one of the day"
    for name in task.fixed.people if task.fixed is not None else ():
        if name not in problem.person_by_id:
            yield f"Task {task.id} has begun with somebody unknown", name, "Name somebody on shift"


def _links(problem: Problem) -> Iterator[Complaint]:
    known = problem.task_by_id
    for task in problem.tasks:
        for link in _links_of(task):
            if link.on_vehicle and task.vehicle is None and task.departure is None:
                yield f"Task {task.id} speaks of a vehicle it does not have", link.what, "Name a task instead"
            if not link.on_vehicle and link.what not in known:
                yield f"Task {task.id} waits for a task that is not there", link.what, "Name one of the day"
        for link in task.after:
            if link.lag_min < 0:
                yield f"Task {task.id} has a negative lag", link.lag_min, "Give 0 or more minutes"


def _departures(problem: Problem) -> Iterator[Complaint]:
    for departure in problem.departures:
        for name in (*(suits.vehicle for suits in departure.vehicles), departure.allotted):
            if name is not None and name not in problem.vehicle_by_id:
                yield f"Departure {departure.id} names an unknown vehicle", name, "Name one of the day"
        costs = [suits.cost for suits in departure.vehicles]
        costs += [departure.weight, departure.swap_cost, departure.postpone_cost or 0]
        if min(costs) < 0:
            yield f"Departure {departure.id} has a negative cost", min(costs), "Give 0 or more"
        if not departure.vehicles and departure.postpone_cost is None:
            yield f"No vehicle suits departure {departure.id}", "none", "Name one, or allow it to be put off"
        yield from _begun(problem, departure)


def _begun(problem: Problem, departure: Departure) -> Iterator[Complaint]:
    begun = any(task.fixed is not None for task in problem.tasks_of_departure[departure.id])
    if begun and (len(departure.vehicles) != 1 or departure.postpone_cost is not None):
        todo = "Leave it the one vehicle it has begun with, and do not allow it to be put off"
        yield f"Departure {departure.id} has begun, and its vehicle is still open", len(departure.vehicles), todo


def _loops(problem: Problem) -> Iterator[Complaint]:
    graph = {task.id: set(_looked_back_at(problem, task)) for task in problem.tasks}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as loop:
        yield "Tasks wait for each other in a ring", " -> ".join(loop.args[1]), "Take one of the waits out"


def _looked_back_at(problem: Problem, task: Task) -> Iterable[str]:
    vehicles: tuple[str | None, ...] = (task.vehicle,)
    if task.departure is not None:
        vehicles = tuple(suits.vehicle for suits in problem.departure_by_id[task.departure].vehicles)
    for link in _links_of(task):
        for vehicle in vehicles:
            yield from (other.id for other in tasks_meant(problem, task, link, vehicle))


def _links_of(task: Task) -> tuple[After | NotBy, ...]:
    return (*task.after, *task.not_by)
