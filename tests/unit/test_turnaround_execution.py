"""The compiled event loop against a plain one written here from the rules alone: equal to the last digit.

The plain loop knows no bits, words or buckets: at every minute at which anything may happen it walks over all tasks in
plan order and begins what can begin.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.execution import carry_out
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.laid import lay, room_for
from keyhook.turnaround.plan import Plan, earliest_start_min, tasks_meant, vehicle_under, waits
from keyhook.turnaround.problem import ALL_ZONES, Fixed

NEVER = float("inf")


class PlainDay:
    """One day by the rules, looked at minute by minute of what may happen."""

    def __init__(self, problem, plan, took, arrive):
        self.problem, self.plan, self.took = problem, plan, took
        self.tasks = [
            problem.task_by_id[one.task]
            for one in sorted(plan.tasks, key=lambda one: (one.start_min, one.end_min, one.task))
        ]
        self.on = {task.id: vehicle_under(task, plan.vehicle_of) for task in self.tasks}
        late = dataclasses.replace(
            problem, vehicles=tuple(dataclasses.replace(v, arrives_min=arrive[v.id]) for v in problem.vehicles)
        )
        self.first = {task.id: earliest_start_min(late, task, self.on[task.id]) for task in self.tasks}
        self.waits = waits(problem, plan.vehicle_of)
        self.end, self.people = {}, {}
        for task in self.tasks:
            if task.fixed:
                self.end[task.id] = float(task.fixed.end_min)
                self.people[task.id] = ()
        self.back = {}
        for person in problem.people:
            busy = [t.fixed.end_min for t in self.tasks if t.fixed and person.id in t.fixed.people]
            self.back[person.id] = float(max([person.shift[0], problem.opening_min, *busy]))
        self.offs = {person.id: self._offs(person) for person in problem.people}

    def _offs(self, person):
        offs = [(float(a), float(b), None) for a, b in person.away]
        for rest in self.plan.breaks:
            if rest.person == person.id:
                length = person.breaks[rest.index].length_min
                offs.append((float(rest.start_min), rest.start_min + length, length))
        offs.append((float(person.shift[1] + person.overtime_max_min), NEVER, None))
        return sorted(offs, key=lambda off: off[0])

    def _rest(self, minute):
        for person in self.problem.people:
            while self.back[person.id] <= minute and self.offs[person.id] and self.offs[person.id][0][0] <= minute:
                _, end, length = self.offs[person.id].pop(0)
                self.back[person.id] = max(minute, end) if length is None else minute + length

    def _ready(self, task):
        minutes = [self.first[task.id]]
        for wait in self.waits:
            if wait.after == task.id:
                if wait.before not in self.end:
                    return NEVER
                minutes.append(self.end[wait.before] + wait.lag_min)
        return max(minutes)

    def _zones_free(self, task, minute):
        for other in self.tasks:
            shared = ALL_ZONES in task.zones | other.zones or task.zones & other.zones
            same = self.on[other.id] is not None and self.on[other.id] == self.on[task.id]
            both = task.zones and other.zones and shared and same
            if both and other.id in self.end and self.end[other.id] + other.zone_tail_min > minute:
                return False
        return True

    def _room(self, task, minute):
        if task.place is None:
            return True
        place = next(place for place in self.problem.places if place.id == task.place)
        used = sum(
            other.slot_use
            for other in self.tasks
            if other.place == task.place and other.id in self.end and self.end[other.id] + other.place_tail_min > minute
        )
        return used + task.slot_use <= place.slots and not any(a <= minute < b for a, b in place.closed)

    def _crew(self, task, minute):
        planned = self.plan.by_task[task.id]
        mode = task.modes[planned.mode]
        barred = {
            name
            for link in task.not_by
            for other in tasks_meant(self.problem, task, link, self.on[task.id])
            for name in self.people.get(other.id, ())
        }
        able = [
            person.id
            for person in self.problem.people
            if mode.skill in person.skills and self.back[person.id] <= minute and person.id not in barred
        ]
        able.sort(key=lambda name: name not in planned.people)
        return able[: mode.crew] if len(able) >= mode.crew else None

    def _begin(self, minute):
        for task in self.tasks:
            if task.id in self.end or self._ready(task) > minute:
                continue
            if not self._zones_free(task, minute) or not self._room(task, minute):
                continue
            crew = self._crew(task, minute)
            if crew is None:
                continue
            pace = max([self.problem.person_by_id[name].pace_factor for name in crew], default=1.0)
            self.people[task.id] = tuple(crew)
            self.end[task.id] = minute + float(self.took[task.id]) * pace
            for name in crew:
                self.back[name] = self.end[task.id]

    def _later(self, minute):
        times = [
            end + tail
            for task in self.tasks
            if task.id in self.end
            for end, tail in (
                (self.end[task.id], 0),
                (self.end[task.id], task.zone_tail_min),
                (self.end[task.id], task.place_tail_min),
            )
        ]
        times += [self._ready(task) for task in self.tasks if task.id not in self.end]
        times += list(self.back.values())
        times += [offs[0][0] for offs in self.offs.values() if offs]
        times += [edge for place in self.problem.places for span in place.closed for edge in span]
        return min((time for time in times if time > minute), default=NEVER)

    def run(self):
        minute = float(self.problem.opening_min)
        while len(self.end) < len(self.tasks) and minute < NEVER:
            self._rest(minute)
            self._begin(minute)
            minute = self._later(minute)
        return self.end


def _compare(problem, plan, seed):
    rng = np.random.default_rng(seed)
    laid = lay(problem, plan)
    means = np.array([mode.duration_min for mode in laid.modes], float)
    took = (means * np.exp(rng.normal(0, 0.3, len(means)))).astype(np.float32)
    arrive = np.array([v.arrives_min + rng.normal(0, 15) for v in problem.vehicles], np.float32)
    leaves, ends = np.empty((1, len(laid.departures))), np.empty((1, len(laid.tasks)))
    carry_out(laid.tables, room_for(laid.tables), took[None, :], arrive[None, :], leaves, ends)
    plain = PlainDay(
        problem,
        plan,
        dict(zip([task.id for task in laid.tasks], took.tolist(), strict=True)),
        dict(zip([v.id for v in problem.vehicles], arrive.tolist(), strict=True)),
    ).run()
    assert {task.id: ends[0, n] for n, task in enumerate(laid.tasks)} == pytest.approx(plain, abs=1e-9)
    for n, name in enumerate(laid.departures):
        counted = [
            plain[task.id]
            for task in laid.tasks
            if task.counts
            and (task.departure == name or (not task.departure and task.vehicle == plan.vehicle_of[name]))
        ]
        assert leaves[0, n] == pytest.approx(max(counted))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("turnarounds", "staffing"), [(5, "tight"), (10, "normal")])
def test_the_compiled_loop_is_the_plain_loop(turnarounds, staffing, seed):
    problem = generate_day(turnarounds, staffing, seed)
    # nobody is sent home in the plain loop's days: people here may stay as long as it takes
    people = tuple(dataclasses.replace(person, overtime_max_min=2000) for person in problem.people)
    problem = dataclasses.replace(problem, people=people)
    plan = dispatch(problem)
    assert isinstance(plan, Plan)
    _compare(problem, plan, seed)


def test_closed_places_absences_and_what_has_begun_are_kept():
    problem = generate_day(5, "normal", 3)
    first = problem.people[0]
    people = tuple(
        dataclasses.replace(person, overtime_max_min=2000, away=((600, 700),) if person is first else ())
        for person in problem.people
    )
    places = tuple(dataclasses.replace(place, closed=((560, 640), (700, 730))) for place in problem.places)
    problem = dataclasses.replace(problem, people=people, places=places)
    plan = dispatch(problem)
    assert isinstance(plan, Plan)
    _compare(problem, plan, 1)
    now = sorted(one.start_min for one in plan.tasks if one.end_min - one.start_min > 5)[len(plan.tasks) // 2] + 2
    begun = {one.task: one for one in plan.tasks if one.start_min < now}
    tasks = tuple(
        dataclasses.replace(t, fixed=Fixed(b.start_min, b.end_min, b.people, b.mode)) if (b := begun.get(t.id)) else t
        for t in problem.tasks
    )
    late = dataclasses.replace(problem, opening_min=now, tasks=tasks)
    assert any(one.end_min > now for one in begun.values())
    _compare(late, plan, 2)


def test_when_everybody_has_gone_they_stay_on_and_the_work_is_done():
    problem = generate_day(5, "tight", 1)
    people = tuple(dataclasses.replace(person, overtime_max_min=0) for person in problem.people)
    problem = dataclasses.replace(problem, people=people)
    plan = dispatch(
        dataclasses.replace(
            problem, people=tuple(dataclasses.replace(person, overtime_max_min=600) for person in problem.people)
        )
    )
    assert isinstance(plan, Plan)
    laid = lay(problem, plan)
    took = np.full((1, len(laid.tasks)), 60, np.float32)  # an hour each: nobody can be through by the evening
    arrive = np.array([[v.arrives_min for v in problem.vehicles]], np.float32)
    leaves, ends = np.empty((1, len(laid.departures))), np.empty((1, len(laid.tasks)))
    carry_out(laid.tables, room_for(laid.tables), took, arrive, leaves, ends)
    last_shift = max(person.shift[1] for person in problem.people)
    assert last_shift < ends.max() < 5 * 24 * 60
