"""One person's day as a list: what is next, what runs, what is done, and the breaks between."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from keyhook.catalogue import load_catalogue
from keyhook.turnaround.brief import Brief, brief_of
from keyhook.turnaround.plan import PlannedTask, vehicle_under
from keyhook.turnaround.problem import Task
from keyhook.turnaround.reasons import all_reasons
from keyhook.turnaround.telling import because_text
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.selectors import hire_of, returns_on
from keyhook_desk.web.document import document_hash
from keyhook_desk.yard.models import HeldPlan, WorkMark
from keyhook_desk.yard.plan_reading import Laid, clock_of, marks_of, read_held
from keyhook_desk.yard.services import the_depot

TODO, RUNS, DONE = "todo", "runs", "done"


@dataclass(frozen=True, slots=True)
class Line:
    """One task or break of a list; ``brief`` says with what it is done.

    ``state`` is ``todo``, ``runs`` or ``done``; ``told`` the marks so far in words; ``by_other`` who else marked it
    done, ``ticked_by`` who ticked its gate on the page of the hire; ``late`` whether its end has passed and nobody has
    said that it is done.
    """

    task: str
    start: dt.datetime
    end: dt.datetime
    name: str = ""
    vehicle: str = ""
    place: str = ""
    minutes: int = 0
    why: str = ""
    with_whom: str = ""
    brief: Brief = field(default_factory=Brief)
    is_gate: bool = False
    state: str = TODO
    told: tuple[WorkMark, ...] = ()
    by_other: str = ""
    ticked_by: str = ""
    late: bool = False

    @property
    def is_break(self) -> bool:
        """Whether this is a break."""
        return not self.task


@dataclass(frozen=True, slots=True)
class MyDay:
    """A person's day: what to do now, the rest in order, and a stamp that changes when anything does."""

    person: str
    name: str
    now: tuple[Line, ...]
    rest: tuple[Line, ...]
    done: tuple[Line, ...]
    stamp: str


def day_of_person(row: HeldPlan, person: str, now: dt.datetime) -> MyDay:
    """Return the list of one person under the plan people hold."""
    laid, marks = read_held(row), marks_of(row.day)
    needs = _needs_of(row.day, laid, person)
    lines = sorted([*_tasks(row.day, laid, marks, person, now, needs), *_breaks(row.day, laid, person)], key=_when)
    open_lines = [line for line in lines if line.state != DONE and not (line.is_break and line.end <= now)]
    running = tuple(line for line in open_lines if line.state == RUNS)
    following = [line for line in open_lines if line.state != RUNS]
    first = running or tuple(following[:1])
    who = laid.problem.person_by_id.get(person)
    return MyDay(
        person,
        (who.name if who is not None else "") or person,
        first,
        tuple(line for line in following if line not in first),
        tuple(line for line in lines if line.state == DONE),
        document_hash([row.version, [str(mark.uid) for mark in marks], needs.stamp])[:16],
    )


# ---------------------------------------------------------------- with what


@dataclass(frozen=True, slots=True)
class _Needs:
    """Hires and vehicles that somebody's tasks are about, and which hire came back in which vehicle."""

    hires: Mapping[str, HireRow]
    vehicles: Mapping[str, VehicleRow]
    back_in: Mapping[str, HireRow]

    @property
    def stamp(self) -> list[str]:
        """What changes when one of the hires does."""
        return sorted(row.digest for row in {**self.hires, **self.back_in}.values())

    def brief(self, task: Task, vehicle: str) -> Brief:
        """Return with what a task in a vehicle is done."""
        row = self.hires.get(task.departure or "") or self.back_in.get(vehicle)
        there = self.vehicles.get(vehicle)
        return brief_of(
            task.kind,
            load_catalogue(),
            built_of(there) if there is not None else None,
            hire_of(row) if row is not None else None,
        )


def _needs_of(day: dt.date, laid: Laid, person: str) -> _Needs:
    mine = [laid.problem.task_by_id[one.task] for one in laid.plan.tasks if person in one.people]
    names = {vehicle for task in mine if (vehicle := vehicle_under(task, laid.plan.vehicle_of))}
    vehicles = {row.name: row for row in VehicleRow.objects.filter(name__in=names).select_related("sheet")}
    hires = {row.name: row for row in HireRow.objects.filter(name__in={task.departure for task in mine} - {None})}
    back = returns_on(day, the_depot().zone)
    return _Needs(hires, vehicles, {row.vehicle.name: row for row in back if row.vehicle and row.vehicle.name in names})


def _when(line: Line) -> tuple[dt.datetime, str]:
    return line.start, line.task


def _tasks(day: dt.date, laid: Laid, marks: list[WorkMark], person: str, now: dt.datetime, needs: _Needs) -> list[Line]:
    clock, reasons = clock_of(day), all_reasons(laid.problem, laid.plan)
    said: dict[str, list[WorkMark]] = {}
    for mark in marks:
        said.setdefault(mark.task, []).append(mark)
    lines = []
    for one in laid.plan.tasks:
        if person in one.people:
            because = because_text(laid.problem, laid.plan, reasons[one.task], clock)
            line = _line(laid, one, person, said.get(one.task, []), because, day, now)
            lines.append(replace(line, brief=needs.brief(laid.problem.task_by_id[one.task], line.vehicle)))
    return lines


def _line(
    laid: Laid, one: PlannedTask, person: str, told: list[WorkMark], because: str, day: dt.date, now: dt.datetime
) -> Line:
    clock, task = clock_of(day), laid.problem.task_by_id[one.task]
    kinds = {mark.kind for mark in told}
    state = DONE if "done" in kinds else RUNS if "started" in kinds else TODO
    names = laid.problem.person_by_id
    others = [mark.person for mark in told if mark.kind == "done" and mark.person != person and not mark.from_gate]
    ticked = [mark.person for mark in told if mark.kind == "done" and mark.from_gate]
    return Line(
        task=one.task,
        start=clock.moment(one.start_min),
        end=clock.moment(one.end_min),
        name=task.name or task.kind,
        vehicle=vehicle_under(task, laid.plan.vehicle_of) or "",
        place=(task.place or "").replace("_", " "),
        minutes=one.end_min - one.start_min,
        why=because,
        with_whom=", ".join(names[other].name or other for other in one.people if other != person),
        is_gate=task.gate,
        state=state,
        told=tuple(told),
        by_other=", ".join(names[other].name if other in names else other for other in others),
        ticked_by=", ".join(names[one].name if one in names else one for one in ticked),
        late=state != DONE and clock.moment(one.end_min) < now,
    )


def _breaks(day: dt.date, laid: Laid, person: str) -> list[Line]:
    clock, found = clock_of(day), []
    for rest in laid.plan.breaks:
        if rest.person == person:
            length = laid.problem.person_by_id[person].breaks[rest.index].length_min
            end = rest.start_min + length
            found.append(Line("", clock.moment(rest.start_min), clock.moment(end), name="Break", minutes=length))
    return found
