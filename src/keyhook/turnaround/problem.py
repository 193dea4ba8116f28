"""One day of turnarounds as plain data: who, where, which vehicles, what has to be done, what was promised.

All times are whole minutes from the start of the depot's day; the caller keeps the anchor in UTC. Nothing
here knows a solver, a plan or a row. Every collection is a tuple in the caller's order, and every choice a
computation makes is deterministic in that order.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

#: A half-open stretch of minutes ``[from, to)``.
Stretch = tuple[int, int]

#: The name that stands for every zone of a vehicle: it is driven, jacked up, aired out, or nobody may be inside.
ALL_ZONES = "all"
#: In :class:`After` and :class:`NotBy` with ``on_vehicle``: every task of the vehicle that serves the departure.
EVERY_KIND = "*"


@dataclass(frozen=True, slots=True)
class Break:
    """A break that has to begin between ``earliest_min`` and ``latest_min`` [min of the day], unbroken."""

    earliest_min: int
    latest_min: int
    length_min: int


@dataclass(frozen=True, slots=True)
class Person:
    """One person on shift.

    Parameters
    ----------
    id
        Unique among people.
    skills
        What they may do (``desk``, ``clean``, ``yard``, ``tech`` ... any word the tasks use).
    shift
        From and to [min of the day].
    breaks
        In order, windows apart from each other; each is taken between tasks, never inside one.
    pace_factor
        Minutes they take for one minute by the book: 1.4 is a new person, 0.9 a quick one.
    overtime_max_min
        How long after the end of the shift they may be kept [min].
    away
        Stretches in which they are not there (absence, a break already taken).
    """

    id: str
    skills: frozenset[str]
    shift: Stretch
    breaks: tuple[Break, ...] = ()
    pace_factor: float = 1.0
    overtime_max_min: int = 0
    away: tuple[Stretch, ...] = ()
    name: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """A place with so many vehicles (or jobs) at a time; ``closed`` are stretches with none."""

    id: str
    slots: int
    closed: tuple[Stretch, ...] = ()


@dataclass(frozen=True, slots=True)
class Vehicle:
    """A vehicle that is in the yard or will come in today.

    ``arrives_min`` is the expected minute (0 or less: it stands in the yard at the start of the day).
    The last three describe how uncertain that minute is, and only the chances read them: an everyday
    spread (one standard deviation [min]), and with ``late_probability`` a further delay of
    ``late_mean_min`` on average.
    """

    id: str
    group: str = ""
    attributes: frozenset[str] = frozenset()
    arrives_min: int = 0
    arrival_sd_min: float = 0.0
    late_probability: float = 0.0
    late_mean_min: float = 0.0


@dataclass(frozen=True, slots=True)
class Mode:
    """One way of doing a task: so many people of one skill, for so long at book pace.

    ``crew`` 0 is a task that takes the clock but nobody's hands. The slowest of a crew sets its pace.
    """

    crew: int
    duration_min: int
    skill: str = ""


@dataclass(frozen=True, slots=True)
class After:
    """The task may begin ``lag_min`` after the end of another (drying, cooling, contact time are lags).

    ``what`` is a task id; with ``on_vehicle`` it is a kind of task on the vehicle that serves the task's
    departure (:data:`EVERY_KIND` for all of them). What is not done today is ignored.
    """

    what: str
    lag_min: int = 0
    on_vehicle: bool = False


@dataclass(frozen=True, slots=True)
class NotBy:
    """Nobody who does ``what`` may do this task: the second pair of eyes. Read like :class:`After`.

    It says nothing of order: use :class:`After` for that too.
    """

    what: str
    on_vehicle: bool = False


@dataclass(frozen=True, slots=True)
class Fixed:
    """What has begun or is settled and stays: start, end (as now expected) [min], people and mode index."""

    start_min: int
    end_min: int
    people: tuple[str, ...] = ()
    mode: int = 0


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work.

    Parameters
    ----------
    id
        Unique in the day.
    kind
        The catalogue's task id (or any word); :class:`After` and :class:`NotBy` name it with ``on_vehicle``.
    modes
        At least one way of doing it; which one is part of the plan.
    vehicle
        The vehicle it is done on, when that does not depend on who serves whom.
    departure
        The departure it is done for; then it is done on the vehicle that serves it, and it falls away when
        the departure is put off. At most one of ``vehicle`` and ``departure`` is given.
    zones
        Zones of the vehicle that it needs for itself; :data:`ALL_ZONES` when the vehicle is moved or shut.
        Empty: it does not touch the vehicle.
    place, slot_use
        Where, and how many of its slots it takes.
    place_tail_min, zone_tail_min
        How long the slot and the zones stay taken after the hands have gone (a cushion drying in the hall).
    release_min
        Not before this minute; the arrival of its vehicle counts by itself.
    needs_hirer
        The hirer has to be there: not before ``Departure.hirer_from_min``.
    gate
        The vehicle may not leave without it; such a task is never left out while its vehicle leaves.
    counts
        Its end counts for when the vehicle can leave (a message sent afterwards does not).
    only_if_leaving
        A task of a vehicle that is left for another day when the vehicle serves no departure today.
    sd_min
        One standard deviation of its duration at book pace [min]; only the chances read it.
    """

    id: str
    kind: str
    modes: tuple[Mode, ...]
    name: str = ""
    vehicle: str | None = None
    departure: str | None = None
    zones: frozenset[str] = frozenset()
    place: str | None = None
    slot_use: int = 1
    place_tail_min: int = 0
    zone_tail_min: int = 0
    after: tuple[After, ...] = ()
    not_by: tuple[NotBy, ...] = ()
    release_min: int = 0
    needs_hirer: bool = False
    gate: bool = False
    counts: bool = True
    only_if_leaving: bool = False
    sd_min: float = 0.0
    fixed: Fixed | None = None


@dataclass(frozen=True, slots=True)
class Suits:
    """A vehicle may serve a departure, at this cost of level two (0 as booked, more for an upgrade)."""

    vehicle: str
    cost: int = 0


@dataclass(frozen=True, slots=True)
class Departure:
    """One hand-over of the day.

    Parameters
    ----------
    promised_min
        When the hirer was told to come [min of the day].
    due_min
        When the vehicle should leave at the latest; lateness is counted from here. None: ``promised_min``.
        A caller that promises the beginning of the hand-over adds its usual length.
    weight
        What one minute of lateness costs (level one).
    vehicles
        Which vehicles may serve it; whatever is not named may not (belts, licence, options, verdict ...).
    allotted
        The vehicle they were promised so far.
    swap_cost
        What another vehicle than ``allotted`` costs, besides its own cost (level two).
    hirer_from_min
        When the hirer is there. None: ``promised_min``.
    postpone_cost
        What putting it off to another day costs in level one; None when that is not allowed.
    """

    id: str
    promised_min: int
    vehicles: tuple[Suits, ...]
    weight: int = 1
    due_min: int | None = None
    allotted: str | None = None
    swap_cost: int = 1
    hirer_from_min: int | None = None
    postpone_cost: int | None = None

    @property
    def due(self) -> int:
        """Minute from which lateness counts."""
        return self.promised_min if self.due_min is None else self.due_min

    @property
    def hirer_from(self) -> int:
        """Minute from which the hirer is there."""
        return self.promised_min if self.hirer_from_min is None else self.hirer_from_min

    def cost_of(self, vehicle: str) -> int | None:
        """Return the level-two cost of this vehicle, None when it may not serve."""
        cost = next((suits.cost for suits in self.vehicles if suits.vehicle == vehicle), None)
        if cost is None:
            return None
        return cost + (self.swap_cost if self.allotted not in {None, vehicle} else 0)


@dataclass(frozen=True, slots=True)
class Held:
    """What people already hold in their hands for one task; changing it costs (level four)."""

    task: str
    start_min: int
    people: tuple[str, ...] = ()


@dataclass(frozen=True)
class Problem:
    """A day to plan.

    Parameters
    ----------
    opening_min, closing_min
        Nothing that is not fixed begins before the opening (now, when a day is planned again);
        nothing ends after the closing.
    held, held_tolerance_min
        The plan people hold; a task counts as moved when its start differs by more than the tolerance
        or other people do it.
    """

    opening_min: int
    closing_min: int
    people: tuple[Person, ...]
    places: tuple[Place, ...]
    vehicles: tuple[Vehicle, ...]
    tasks: tuple[Task, ...]
    departures: tuple[Departure, ...]
    held: tuple[Held, ...] = ()
    held_tolerance_min: int = 10
    label: str = field(default="", compare=False)

    @cached_property
    def task_by_id(self) -> Mapping[str, Task]:
        """Tasks by id."""
        return {task.id: task for task in self.tasks}

    @cached_property
    def person_by_id(self) -> Mapping[str, Person]:
        """People by id."""
        return {person.id: person for person in self.people}

    @cached_property
    def vehicle_by_id(self) -> Mapping[str, Vehicle]:
        """Vehicles by id."""
        return {vehicle.id: vehicle for vehicle in self.vehicles}

    @cached_property
    def departure_by_id(self) -> Mapping[str, Departure]:
        """Departures by id."""
        return {departure.id: departure for departure in self.departures}

    @cached_property
    def tasks_of_vehicle(self) -> Mapping[str, tuple[Task, ...]]:
        """Tasks bound to each vehicle (not to a departure)."""
        return {v.id: tuple(task for task in self.tasks if task.vehicle == v.id) for v in self.vehicles}

    @cached_property
    def tasks_of_departure(self) -> Mapping[str, tuple[Task, ...]]:
        """Tasks bound to each departure."""
        return {d.id: tuple(task for task in self.tasks if task.departure == d.id) for d in self.departures}


def minutes_at_pace(duration_min: int, pace_factor: float) -> int:
    """Return how long a book duration takes at a pace, in whole minutes, rounded up."""
    return math.ceil(round(duration_min * pace_factor, 6))


def crew_minutes(mode: Mode, paces: tuple[float, ...]) -> int:
    """Return how long a mode takes a crew with these paces: the slowest sets the pace."""
    return minutes_at_pace(mode.duration_min, max(paces, default=1.0))
