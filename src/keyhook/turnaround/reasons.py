"""Why does this task begin then? What binds each start of a plan, found from the plan and the day alone.

A task that begins the minute it is ready is bound by what made it ready: the opening, a return, the hirer, the end of
another task. A task that begins later is bound by what stood in its way one minute earlier: its zones, its place, or
the people with its skill. A task that nothing holds back is said to be free, with the minute from which it could begin
and end no later.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from keyhook.turnaround.plan import Plan, PlannedTask, tasks_meant, vehicle_under, waits
from keyhook.turnaround.problem import ALL_ZONES, Person, Problem, Task, crew_minutes

#: Nobody works later than this minute.
NIGHT = 1 << 20
#: So many people are named when all with a skill are busy.
NAMED = 3


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that binds a start.

    ``code`` ends a phrase key ``day_plan.because.*``: ``opening``, ``release``, ``arrival``, ``hirer``, ``after``,
    ``lag``, ``zone``, ``place``, ``closed``, ``busy``, ``break``, ``away``, ``shift``, ``gap``, ``late``, ``slow``,
    ``barred``, ``free``, ``begun``. ``minute`` is the minute it speaks of [min of the day]; ``task``, ``person``,
    ``place`` and ``vehicle`` are ids, empty where they do not matter.
    """

    code: str
    minute: int
    task: str = ""
    person: str = ""
    place: str = ""
    vehicle: str = ""
    lag_min: int = 0


def why_then(problem: Problem, plan: Plan, task: str) -> tuple[Reason, ...]:
    """Return what binds the start of one task of a plan; at least one reason.

    Raises
    ------
    KeyError
        The plan does not do this task.
    """
    return _Diary(problem, plan).why(plan.by_task[task])


def all_reasons(problem: Problem, plan: Plan) -> dict[str, tuple[Reason, ...]]:
    """Return what binds the start of every task of a plan, by task."""
    diary = _Diary(problem, plan)
    return {planned.task: diary.why(planned) for planned in plan.tasks}


def chain_to(problem: Problem, plan: Plan, departure: str) -> tuple[tuple[str, Reason], ...]:
    """Return the tasks that decide when a departure leaves, from the last back to the first, each with its reason.

    The first reason of each that names another task leads on; the chain ends at an arrival, the opening, a shift or a
    task that nothing holds back. Empty for one that is put off.
    """
    vehicle = plan.vehicle_of.get(departure)
    counted = [
        planned
        for planned in plan.tasks
        if (task := problem.task_by_id[planned.task]).counts
        and vehicle is not None
        and (task.departure == departure or (task.departure is None and task.vehicle == vehicle))
    ]
    if not counted:
        return ()
    diary, chain = _Diary(problem, plan), []
    at: PlannedTask | None = max(counted, key=lambda planned: (planned.end_min, planned.start_min))
    while at is not None:
        why = diary.why(at)
        lead = next((reason for reason in why if reason.task in plan.by_task), why[0])
        chain.append((at.task, lead))
        before = plan.by_task.get(lead.task)
        at = before if before is not None and before.start_min < at.start_min and lead.code != "free" else None
    return tuple(chain)


@dataclass(frozen=True, slots=True)
class _Entry:
    """Something that takes a person, a zone or a slot: from, to, and how to name it."""

    start: int
    end: int
    code: str
    task: str = ""


@dataclass(frozen=True)
class _Diary:
    """Who and what is taken when."""

    problem: Problem
    plan: Plan

    def why(self, planned: PlannedTask) -> tuple[Reason, ...]:
        task = self.problem.task_by_id[planned.task]
        if task.fixed is not None:
            return (Reason("begun", planned.start_min),)
        ready = list(self._ready(task))
        latest = max(reason.minute for reason in ready)
        if planned.start_min <= latest:
            return tuple(reason for reason in ready if reason.minute == latest and not _is_dull(reason, ready, latest))
        blockers = tuple(self._blockers(task, planned, planned.start_min - 1))
        if blockers:
            return blockers
        minute = planned.start_min - 1
        while minute > latest and not any(True for _ in self._blockers(task, planned, minute - 1)):
            minute -= 1
        return (Reason("free", minute),)

    # ------------------------------------------------------------ ready

    def _ready(self, task: Task) -> Iterator[Reason]:
        problem = self.problem
        vehicle = vehicle_under(task, self.plan.vehicle_of)
        yield Reason("opening", problem.opening_min)
        if task.release_min > problem.opening_min:
            yield Reason("release", task.release_min)
        if vehicle is not None and (task.vehicle is not None or task.zones):
            yield Reason("arrival", problem.vehicle_by_id[vehicle].arrives_min, vehicle=vehicle)
        if task.needs_hirer and task.departure is not None:
            yield Reason("hirer", problem.departure_by_id[task.departure].hirer_from)
        for before, lag in self._waits.get(task.id, ()):
            other = self.plan.by_task[before]
            yield Reason("lag" if lag else "after", other.end_min + lag, task=before, lag_min=lag)

    @cached_property
    def _waits(self) -> Mapping[str, list[tuple[str, int]]]:
        found: dict[str, list[tuple[str, int]]] = {}
        for wait in waits(self.problem, self.plan.vehicle_of):
            if wait.before in self.plan.by_task:
                found.setdefault(wait.after, []).append((wait.before, wait.lag_min))
        return found

    # ------------------------------------------------------------ blocked

    def _blockers(self, task: Task, planned: PlannedTask, minute: int) -> Iterator[Reason]:
        """Yield what would stand in the way of a task that begins at this minute, instead of when it is planned."""
        span = (minute, minute + planned.end_min - planned.start_min)
        yield from self._zones_taken(task, span)
        yield from self._place_taken(task, span)
        yield from self._hands_taken(task, planned, minute)

    def _zones_taken(self, task: Task, span: tuple[int, int]) -> Iterator[Reason]:
        vehicle = vehicle_under(task, self.plan.vehicle_of)
        if vehicle is None or not task.zones:
            return
        until = span[1] + task.zone_tail_min
        for other, planned in self._on_vehicle.get(vehicle, ()):
            end = planned.end_min + other.zone_tail_min
            shared = ALL_ZONES in task.zones | other.zones or task.zones & other.zones
            if other.id != task.id and shared and planned.start_min < until and span[0] < end:
                yield Reason("zone", end, task=other.id, vehicle=vehicle)

    def _place_taken(self, task: Task, span: tuple[int, int]) -> Iterator[Reason]:
        if task.place is None:
            return
        place = next(place for place in self.problem.places if place.id == task.place)
        until = span[1] + task.place_tail_min
        for start, end in place.closed:
            if start < until and span[0] < end:
                yield Reason("closed", end, place=place.id)
        here = [entry for entry in self._at_place.get(place.id, ()) if entry.task != task.id]
        for minute in sorted({span[0], *(entry.start for entry in here if span[0] < entry.start < until)}):
            present = [entry for entry in here if entry.start <= minute < entry.end]
            used = sum(self.problem.task_by_id[entry.task].slot_use for entry in present)
            if used + task.slot_use > place.slots:
                first = min(present, key=lambda entry: entry.end)
                yield Reason("place", first.end, task=first.task, place=place.id)
                return

    def _hands_taken(self, task: Task, planned: PlannedTask, minute: int) -> Iterator[Reason]:
        mode = task.modes[planned.mode]
        barred = self._barred(task)
        able, taken = 0, []
        for person in self.problem.people:
            if mode.skill not in person.skills:
                continue
            until = minute + crew_minutes(mode, (person.pace_factor,))
            reason = self._person_taken(person, (minute, until), task.id)
            if reason is None and until > planned.end_min:
                reason = Reason("slow", until, person=person.id)
            if person.id in barred:
                reason = Reason("barred", minute, task=barred[person.id], person=person.id)
            if reason is None:
                able += 1
            else:
                taken.append(reason)
        if able < mode.crew:
            named = [reason for reason in taken if reason.code != "barred"] or taken
            named.sort(key=lambda reason: (reason.person not in planned.people, reason.code == "late", reason.minute))
            yield from named[:NAMED]

    def _person_taken(self, person: Person, span: tuple[int, int], task: str) -> Reason | None:
        for entry in self._diary_of[person.id]:
            if entry.task == task or entry.end <= span[0] or entry.start >= span[1]:
                continue
            if entry.code == "late":
                return Reason("late", entry.start, person=person.id)
            if entry.start > span[0]:
                return Reason("gap", entry.start, task=entry.task, person=person.id)
            return Reason(entry.code, entry.end, task=entry.task, person=person.id)
        return None

    def _barred(self, task: Task) -> Mapping[str, str]:
        by_task = self.plan.by_task
        return {name: other for other in self._eyes.get(task.id, ()) for name in by_task[other].people}

    @cached_property
    def _eyes(self) -> Mapping[str, set[str]]:
        """Tasks that other eyes have to do, both ways."""
        found: dict[str, set[str]] = {}
        for planned in self.plan.tasks:
            task = self.problem.task_by_id[planned.task]
            vehicle = vehicle_under(task, self.plan.vehicle_of)
            for link in task.not_by:
                for other in tasks_meant(self.problem, task, link, vehicle):
                    if other.id in self.plan.by_task:
                        found.setdefault(task.id, set()).add(other.id)
                        found.setdefault(other.id, set()).add(task.id)
        return found

    @cached_property
    def _on_vehicle(self) -> Mapping[str, list[tuple[Task, PlannedTask]]]:
        found: dict[str, list[tuple[Task, PlannedTask]]] = {}
        for planned in self.plan.tasks:
            task = self.problem.task_by_id[planned.task]
            vehicle = vehicle_under(task, self.plan.vehicle_of)
            if vehicle is not None and task.zones:
                found.setdefault(vehicle, []).append((task, planned))
        return found

    @cached_property
    def _at_place(self) -> Mapping[str, list[_Entry]]:
        found: dict[str, list[_Entry]] = {}
        for planned in self.plan.tasks:
            task = self.problem.task_by_id[planned.task]
            if task.place is not None:
                end = planned.end_min + task.place_tail_min
                found.setdefault(task.place, []).append(_Entry(planned.start_min, end, "place", planned.task))
        return found

    @cached_property
    def _diary_of(self) -> Mapping[str, list[_Entry]]:
        found: dict[str, list[_Entry]] = {}
        for person in self.problem.people:
            last = person.shift[1] + person.overtime_max_min
            found[person.id] = [_Entry(-NIGHT, person.shift[0], "shift"), _Entry(last, NIGHT, "late")]
            found[person.id] += [_Entry(start, end, "away") for start, end in person.away]
        for planned in self.plan.tasks:
            for name in planned.people:
                found[name].append(_Entry(planned.start_min, planned.end_min, "busy", planned.task))
        for rest in self.plan.breaks:
            breaks = self.problem.person_by_id[rest.person].breaks
            length = breaks[rest.index].length_min if rest.index < len(breaks) else 0
            found[rest.person].append(_Entry(rest.start_min, rest.start_min + length, "break"))
        return {name: sorted(entries, key=lambda entry: entry.start) for name, entries in found.items()}


def _is_dull(reason: Reason, ready: list[Reason], latest: int) -> bool:
    """Tell whether a reason goes without saying: the opening, where something else binds at the same minute."""
    return reason.code == "opening" and any(other.minute == latest and other.code != "opening" for other in ready)
