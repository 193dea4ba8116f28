"""What of a plan has begun by now: as it is planned, unless what has happened stands against it.

A vehicle that has not come back is not being cleaned, whatever the plan says; who has been away since nine began
nothing at ten; and what waits for a task that goes on still waits. Whatever a task that has begun waits for is over.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from keyhook.errors import BadInput
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.events import Event, PartyAt, PersonAway, PlaceClosed, ReturnsAt, TaskDone, TaskRuns, apply
from keyhook.turnaround.plan import Plan, PlannedTask, tasks_meant, vehicle_under, waits
from keyhook.turnaround.problem import Problem, Task
from keyhook.turnaround.telling import task_text


def all_before(problem: Problem, plan: Plan, task: str) -> set[str]:
    """Return everything a task waits for under a plan, directly or not."""
    found: set[str] = set()
    to_see = [task]
    while to_see:
        one = problem.task_by_id[to_see.pop()]
        vehicle = vehicle_under(one, plan.vehicle_of)
        for link in one.after:
            for other in tasks_meant(problem, one, link, vehicle):
                if other.id not in found:
                    found.add(other.id)
                    to_see.append(other.id)
    return found


def over_before(
    problem: Problem, plan: Plan, now_min: int, told: Iterable[TaskDone | TaskRuns]
) -> tuple[TaskDone, ...]:
    """Return what must be over because a task that was told of waits for it, though its plan ends after now."""
    known = {event.task: event for event in told}
    found: dict[str, TaskDone] = {}
    for name, event in known.items():
        started = begun_min(event)
        for before in sorted(all_before(problem, plan, name)):
            planned = plan.by_task.get(before)
            if before not in known and before not in found and planned is not None and planned.end_min > now_min:
                found[before] = TaskDone(before, max(1, started))
    return tuple(found.values())


def begun_min(event: TaskDone | TaskRuns) -> int:
    """Return the minute at which a task that was told of had begun at the latest."""
    return event.start_min if isinstance(event, TaskRuns) else event.minute


def not_begun(problem: Problem, plan: Plan, now_min: int, events: Sequence[Event]) -> frozenset[str]:
    """Return the tasks that should have begun by now and cannot have, given what has happened.

    What was told of a task itself counts more: it is never among them.
    """
    told = {event.task: event for event in events if isinstance(event, TaskDone | TaskRuns)}
    due = {
        one.task: one
        for one in plan.tasks
        if one.start_min < now_min and one.task not in told and one.task in problem.task_by_id
    }
    goes_on = {name: event for name, event in told.items() if isinstance(event, TaskRuns) and event.end_min > now_min}
    found = {
        name
        for name, planned in due.items()
        if any(_stands_against(problem, plan, planned, event) for event in events)
        or any(_is_kept_busy(planned, _people(plan, event), event) for event in goes_on.values())
    }
    following: dict[str, list[str]] = {}
    for wait in waits(problem, plan.vehicle_of):
        following.setdefault(wait.before, []).append(wait.after)
    to_see = [*found, *goes_on]
    while to_see:
        for name in following.get(to_see.pop(), ()):
            if name in due and name not in found:
                found.add(name)
                to_see.append(name)
    return frozenset(found)


def _people(plan: Plan, event: TaskRuns) -> tuple[str, ...]:
    planned = plan.by_task.get(event.task)
    return event.people or (planned.people if planned is not None else ())


def _is_kept_busy(planned: PlannedTask, people: Sequence[str], event: TaskRuns) -> bool:
    """Tell whether somebody who should have begun a task is still at another that was told to go on."""
    return planned.start_min >= event.start_min and bool({*people} & {*planned.people})


def _stands_against(problem: Problem, plan: Plan, planned: PlannedTask, event: Event) -> bool:
    task, start = problem.task_by_id[planned.task], planned.start_min
    match event:
        case ReturnsAt():
            return vehicle_under(task, plan.vehicle_of) == event.vehicle and touches(task) and start < event.minute
        case PersonAway():
            return event.person in planned.people and event.away[0] <= start < event.away[1]
        case PlaceClosed():
            return task.place == event.place and event.closed[0] <= start < event.closed[1]
        case PartyAt():
            return task.departure == event.departure and task.needs_hirer and start < event.minute
        case _:
            return False


def touches(task: Task) -> bool:
    """Tell whether a task is done at the vehicle itself, so that the vehicle has to be there."""
    return task.vehicle is not None or bool(task.zones)


# ---------------------------------------------------------------- news that cannot be


def check_news(problem: Problem, plan: Plan, clock: Clock, now_min: int, events: Sequence[Event]) -> None:
    """Raise for news that contradicts itself, the clock or where the vehicles are.

    Raises
    ------
    UnknownName
        The day has no such vehicle, person, task, place or departure.
    BadInput
        The error names what does not go together.
    """
    for event in events:
        apply(problem, event)  # names what the day has not
    _told_once(problem, plan, events)
    told = [event for event in events if isinstance(event, TaskDone | TaskRuns)]
    for one in told:
        _goes_with_now(problem, plan, clock, now_min, one)
        _vehicle_is_there(problem, plan, clock, one, events)
        _is_let_begin(problem, plan, clock, one, told)
    for event in events:
        if isinstance(event, ReturnsAt) and problem.vehicle_by_id[event.vehicle].arrives_min <= 0:
            wrong = f"{event.vehicle} stands in the yard, so it cannot come back"
            raise BadInput(wrong, seen=clock.says(event.minute), todo="Name a vehicle that is out")


def _told_once(problem: Problem, plan: Plan, events: Sequence[Event]) -> None:
    seen: dict[tuple[str, str], Event] = {}
    for event in events:
        match event:
            case ReturnsAt():
                about = ("return", event.vehicle)
            case PartyAt():
                about = ("party", event.departure)
            case TaskDone() | TaskRuns():
                about = ("task", event.task)
            case _:
                continue
        if seen.setdefault(about, event) != event:
            name = task_text(problem, plan, about[1]) if about[0] == "task" else about[1]
            raise BadInput("Two things are told of this that cannot both be true", seen=name, todo="Leave one out")


def _goes_with_now(problem: Problem, plan: Plan, clock: Clock, now_min: int, event: TaskDone | TaskRuns) -> None:
    name, now = task_text(problem, plan, event.task), clock.says(now_min)
    if begun_min(event) > now_min:
        wrong = f"{name} cannot have been done or begun later than now, {now}"
        raise BadInput(
            wrong, seen=clock.says(begun_min(event)), todo="Give an earlier time, or say that it is later by now"
        )
    if isinstance(event, TaskRuns) and event.end_min <= now_min:
        wrong = f"{name} is said to be over before now, {now}"
        raise BadInput(wrong, seen=clock.says(event.end_min), todo="Tell it as done, or give a later time")


def _vehicle_is_there(
    problem: Problem, plan: Plan, clock: Clock, event: TaskDone | TaskRuns, events: Sequence[Event]
) -> None:
    task = problem.task_by_id[event.task]
    vehicle = vehicle_under(task, plan.vehicle_of)
    if vehicle is None or not touches(task):
        return
    told = [one.minute for one in events if isinstance(one, ReturnsAt) and one.vehicle == vehicle]
    back = told[-1] if told else problem.vehicle_by_id[vehicle].arrives_min
    if begun_min(event) < back:
        wrong = f"{task_text(problem, plan, event.task)} cannot have begun before {vehicle} is back"
        raise BadInput(wrong, seen=f"back at {clock.says(back)}", todo="Tell when it came back, or leave one out")


def _is_let_begin(
    problem: Problem, plan: Plan, clock: Clock, event: TaskDone | TaskRuns, told: Sequence[TaskDone | TaskRuns]
) -> None:
    before = all_before(problem, plan, event.task)
    for other in told:
        if other.task in before and isinstance(other, TaskRuns) and other.end_min > begun_min(event):
            name, first = task_text(problem, plan, event.task), task_text(problem, plan, other.task)
            wrong = f"{name} waits for {first}, which goes on until {clock.says(other.end_min)}"
            raise BadInput(wrong, seen="told as begun or done", todo="Leave one out")
