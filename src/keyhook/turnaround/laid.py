"""A plan laid out for :mod:`keyhook.turnaround.execution`: tasks in plan order, as tables, with room to work in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from keyhook.turnaround.execution_tables import BUCKETS, F64, FAR, I64, KINDS, Tables, Work
from keyhook.turnaround.plan import Plan, PlannedTask, tasks_meant, vehicle_under, waits
from keyhook.turnaround.problem import ALL_ZONES, Mode, Person, Problem, Task

WORD = 64
Off = tuple[float, float, float]


@dataclass(frozen=True)
class Laid:
    """Tasks in plan order with the mode each is done in, the departures served, and the tables."""

    tasks: tuple[Task, ...]
    modes: tuple[Mode, ...]
    departures: tuple[str, ...]
    tables: Tables


def lay(problem: Problem, plan: Plan) -> Laid:
    """Return a plan as tables."""
    order = sorted(plan.tasks, key=lambda one: (one.start_min, one.end_min, one.task))
    tasks = tuple(problem.task_by_id[one.task] for one in order)
    modes = tuple(task.modes[one.mode] for task, one in zip(tasks, order, strict=True))
    departures = tuple(name for name, vehicle in plan.allotment if vehicle is not None)
    tables = _Layer(problem, plan, order, tasks, modes, departures).tables()
    return Laid(tasks, modes, departures, tables)


def room_for(tables: Tables) -> Work:
    """Return room to run days of these tables in, one at a time."""
    tasks, people = len(tables.hand), len(tables.pace)
    words, hands = _words(tasks), _words(people)
    events = KINDS * tasks + len(tables.off_from) + people + 2 * len(tables.shut_place)
    whole = np.int64
    return Work(
        ready_min=np.zeros(tasks),
        waiting=np.zeros(tasks, whole),
        who=np.zeros((tasks, hands), whole),
        parked=np.zeros(tasks, whole),
        ready=np.zeros(words, whole),
        hand_ok=np.zeros(words, whole),
        spot_ok=np.zeros(words, whole),
        hand_is=np.zeros(len(tables.hand_crew), whole),
        spot_is=np.zeros(len(tables.spot_place), whole),
        taken=np.zeros(max(1, len(tables.vehicle_ptr) - 1), whole),
        used=np.zeros(max(1, len(tables.slots)), whole),
        shut=np.zeros(max(1, len(tables.slots)), whole),
        free=np.zeros(hands, whole),
        off_at=np.zeros(people, whole),
        when=np.zeros(events),
        following=np.zeros(events, whole),
        head=np.zeros(BUCKETS, whole),
        filled=np.zeros(BUCKETS // WORD, whole),
        stretched=np.zeros(1, whole),
        look=np.zeros(1, whole),
    )


@dataclass(frozen=True)
class _Layer:
    """What the tables are made of."""

    problem: Problem
    plan: Plan
    order: list[PlannedTask]
    tasks: tuple[Task, ...]
    modes: tuple[Mode, ...]
    departures: tuple[str, ...]

    def tables(self) -> Tables:
        problem, tasks, modes = self.problem, self.tasks, self.modes
        row = {task.id: n for n, task in enumerate(tasks)}
        vehicles = {vehicle.id: n for n, vehicle in enumerate(problem.vehicles)}
        people = {person.id: n for n, person in enumerate(problem.people)}
        served = [vehicle_under(task, self.plan.vehicle_of) for task in tasks]
        of = [vehicles[name] if name is not None else -1 for name in served]
        release, waiting, following = self._waits(row)
        next_ptr, after = _flat([[other for other, _ in links] for links in following])
        bars = [
            [
                row[other.id]
                for link in task.not_by
                for other in tasks_meant(problem, task, link, name)
                if other.id in row
            ]
            for task, name in zip(tasks, served, strict=True)
        ]
        bar_ptr, barred = _flat(bars)
        vehicle_ptr, of_vehicle = _flat([[n for n, one in enumerate(of) if one == v] for v in range(len(vehicles))])
        hands = sorted({(mode.skill, mode.crew) for mode in modes})
        spots = sorted({(task.place, task.slot_use) for task in tasks if task.place is not None})
        hand = [hands.index((mode.skill, mode.crew)) for mode in modes]
        spot = [spots.index((task.place, task.slot_use)) if task.place is not None else -1 for task in tasks]
        places = [place.id for place in problem.places]
        offs = [_offs(person, self.plan) for person in problem.people]
        off = [one for person in offs for one in person]
        shuts = [(n, *span) for n, place in enumerate(problem.places) for span in place.closed]
        touched = [task.vehicle is not None or bool(task.zones) for task in tasks]
        return Tables(
            release=np.array(release),
            touches=_whole(one if touches else -1 for one, touches in zip(of, touched, strict=True)),
            of=_whole(of),
            zones=_whole(_zone_bits(problem, task) for task in tasks),
            zone_tail=np.array([float(task.zone_tail_min) for task in tasks]),
            place_tail=np.array([float(task.place_tail_min) for task in tasks]),
            hand=_whole(hand),
            spot=_whole(spot),
            end=np.array([float(task.fixed.end_min) if task.fixed is not None else -1.0 for task in tasks]),
            leaves=_whole(self._leaves(task, name) for task, name in zip(tasks, served, strict=True)),
            waiting=_whole(waiting),
            next_ptr=next_ptr,
            next=after,
            next_lag=np.array([lag for links in following for _, lag in links] or [0.0]),
            bar_ptr=bar_ptr,
            bars=barred,
            asked=_bits([[people[name] for name in one.people] for one in self.order], len(people)),
            vehicle_ptr=vehicle_ptr,
            vehicle_tasks=of_vehicle,
            hand_crew=_whole(crew for _, crew in hands),
            hand_people=_bits(
                [[n for n, person in enumerate(problem.people) if skill in person.skills] for skill, _ in hands],
                len(people),
            ),
            hand_tasks=_bits([[n for n, k in enumerate(hand) if k == one] for one in range(len(hands))], len(tasks)),
            spot_place=_whole(places.index(place) for place, _ in spots),
            spot_use=_whole(use for _, use in spots),
            spot_tasks=_bits([[n for n, k in enumerate(spot) if k == one] for one in range(len(spots))], len(tasks)),
            slots=_whole(place.slots for place in problem.places),
            pace=np.array([person.pace_factor for person in problem.people]),
            from_min=np.array([_from(problem, person, tasks) for person in problem.people]),
            off_ptr=_pointers(offs),
            off_person=_whole(n for n, person in enumerate(offs) for _ in person),
            off_from=_minutes(start for start, _, _ in off),
            off_to=_minutes(end for _, end, _ in off),
            off_length=_minutes(length for _, _, length in off),
            shut_place=_whole(place for place, _, _ in shuts),
            shut_from=_minutes(start for _, start, _ in shuts),
            shut_to=_minutes(end for _, _, end in shuts),
            opening=float(problem.opening_min),
        )

    def _waits(self, row: Mapping[str, int]) -> tuple[list[float], list[int], list[list[tuple[int, float]]]]:
        """Return the first minute of each task as far as it is settled, how many it waits for, and who waits for it."""
        release = [float(_release(self.problem, task)) for task in self.tasks]
        waiting = [0] * len(row)
        following: list[list[tuple[int, float]]] = [[] for _ in row]
        for wait in waits(self.problem, self.plan.vehicle_of):
            if wait.before not in row or wait.after not in row:
                continue
            before, after = row[wait.before], row[wait.after]
            settled = self.tasks[before].fixed
            if self.tasks[after].fixed is not None:
                continue
            if settled is not None:
                release[after] = max(release[after], float(settled.end_min + wait.lag_min))
            else:
                following[before].append((after, float(wait.lag_min)))
                waiting[after] += 1
        return release, waiting, following

    def _leaves(self, task: Task, vehicle: str | None) -> int:
        """Return the served departure whose leaving a task counts for, -1 when for none."""
        name = task.departure or self.plan.departure_of.get(vehicle or "")
        return self.departures.index(name) if task.counts and name in self.departures else -1


def _release(problem: Problem, task: Task) -> int:
    hirer = problem.departure_by_id[task.departure].hirer_from if task.needs_hirer and task.departure else 0
    return max(problem.opening_min, task.release_min, hirer)


def _zone_bits(problem: Problem, task: Task) -> int:
    """Return the zones of a task as bits; a moved vehicle has all of them."""
    if ALL_ZONES in task.zones:
        return -1
    names = _zone_names(problem)
    return sum(1 << names[zone] for zone in task.zones)


def _zone_names(problem: Problem) -> Mapping[str, int]:
    return {name: n for n, name in enumerate(sorted({zone for task in problem.tasks for zone in task.zones}))}


def _from(problem: Problem, person: Person, tasks: Sequence[Task]) -> float:
    """Return the minute from which somebody can take a task: the shift, and what they are in the middle of."""
    busy = [task.fixed.end_min for task in tasks if task.fixed is not None and person.id in task.fixed.people]
    return float(max([person.shift[0], problem.opening_min, *busy]))


def _offs(person: Person, plan: Plan) -> list[Off]:
    """Return when somebody is not there, in order: from, to, length (0: until ``to`` by the clock)."""
    found: list[Off] = [(float(start), float(end), 0.0) for start, end in person.away]
    for rest in plan.breaks:
        if rest.person == person.id and rest.index < len(person.breaks):
            length = person.breaks[rest.index].length_min
            found.append((float(rest.start_min), float(rest.start_min + length), float(length)))
    found.append((float(person.shift[1] + person.overtime_max_min), FAR, 0.0))
    return sorted(found)


def _words(bits: int) -> int:
    return max(1, -(-bits // WORD))


def _bits(rows: Sequence[Iterable[int]], width: int) -> I64:
    """Return rows of numbers as rows of bits."""
    found = np.zeros((max(1, len(rows)), _words(width)), np.uint64)
    for n, numbers in enumerate(rows):
        for number in numbers:
            found[n, number // WORD] |= np.uint64(1 << (number % WORD))
    return found.view(np.int64)


def _whole(numbers: Iterable[int]) -> I64:
    return np.array(list(numbers), np.int64)


def _minutes(numbers: Iterable[float]) -> F64:
    return np.array(list(numbers), np.float64)


def _pointers(lists: Sequence[Sequence[object]]) -> I64:
    """Return where each of these lists begins when they lie end to end, and where the last ends."""
    return np.concatenate([[0], np.cumsum([len(items) for items in lists])]).astype(np.int64)


def _flat(lists: Sequence[Sequence[int]]) -> tuple[I64, I64]:
    """Return the pointers of lists of numbers, and the numbers end to end."""
    return _pointers(lists), np.array([item for items in lists for item in items] or [0], np.int64)
