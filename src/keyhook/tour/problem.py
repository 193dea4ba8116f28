"""What can be shown on a tour, where, how long it takes and what it saves; and where the tour stands now.

A problem knows nothing of catalogues or solvers: points at stations, seconds between stations, minutes to spend.
Everything is checked when it is made, so whoever plans can trust it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

from keyhook.errors import BadInput, NoPlan, UnknownName

#: Telling once to a silent listener, times this, is telling a party that asks and tries (common practice).
TALK_FACTOR = 1.6


@dataclass(frozen=True, slots=True)
class TourPoint:
    """One thing to show.

    Parameters
    ----------
    duration_s
        Seconds to say and show it once to a silent listener, above 0 [s].
    value_cost
        Expected loss avoided by showing it, in the catalogue's currency, for ranking; 0 or more.
    mandatory
        Said whatever the clock.
    after
        Points that must have been shown before; ids that are not in the problem do not count.
    closing
        Said at the end of the tour, at the wheel.
    """

    id: str
    station: str
    duration_s: float
    value_cost: float
    mandatory: bool = False
    after: tuple[str, ...] = ()
    closing: bool = False
    title: str = ""
    text: str = ""
    find_it: int = 0


@dataclass(frozen=True, slots=True)
class TourProblem:
    """Points, stations, walking and minutes; what is done and skipped so far.

    Parameters
    ----------
    stations
        Ids in the order in which one would go round; the fixed talk goes by it.
    walking_s
        Seconds from one station to another by the quickest way; both directions, itself too.
    start_station
        Where the party stands now.
    end_station
        Where the tour ends: the driver's seat.
    available_min
        Minutes for the whole tour, elapsed ones included [min].
    talk_factor, pace_factor
        Both multiply ``duration_s``: questions and own hands, and this party's own pace.
    elapsed_s
        Seconds already spent [s].
    done, skipped
        Ids shown already, and ids somebody passed over. A mandatory one that was passed over stays open.
    """

    points: tuple[TourPoint, ...]
    stations: tuple[str, ...]
    walking_s: Mapping[tuple[str, str], float]
    start_station: str
    end_station: str
    available_min: float
    talk_factor: float = TALK_FACTOR
    pace_factor: float = 1.0
    elapsed_s: float = 0.0
    done: frozenset[str] = frozenset()
    skipped: frozenset[str] = frozenset()
    station_names: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse what cannot be planned, with the first thing that is wrong."""
        _check_numbers(self)
        _check_points(self)
        _check_stations(self)
        _check_order(self)

    def by_id(self) -> dict[str, TourPoint]:
        """Return the points by id."""
        return {point.id: point for point in self.points}

    def talk_s(self, point: TourPoint) -> float:
        """Return the seconds that showing it to this party takes [s]."""
        return point.duration_s * self.talk_factor * self.pace_factor

    @property
    def left_s(self) -> float:
        """Seconds left of those available; 0 when they are used up [s]."""
        return max(60.0 * self.available_min - self.elapsed_s, 0.0)

    def name_of(self, station: str) -> str:
        """Return what people call a station."""
        return self.station_names.get(station, station)

    def needed_before(self) -> dict[str, tuple[str, ...]]:
        """Return for every open point those of its ``after`` that are in the problem and not done."""
        known = {point.id for point in self.points} - self.done
        return {
            point.id: tuple(name for name in point.after if name in known)
            for point in self.points
            if point.id not in self.done
        }


def forced_points(problem: TourProblem) -> frozenset[str]:
    """Return the ids that are shown whatever the clock: the mandatory ones not done and all they have to wait for."""
    before = problem.needed_before()
    return with_all_before([point.id for point in problem.points if point.mandatory and point.id in before], before)


def open_points(problem: TourProblem) -> tuple[TourPoint, ...]:
    """Return the points that may still be shown, in the order of the problem.

    A skipped point is out, and so is what has to wait for it, unless a mandatory point needs them.
    """
    before, forced = problem.needed_before(), forced_points(problem)
    out = {name for name in problem.skipped if name in before and name not in forced}
    return tuple(
        point
        for point in problem.points
        if point.id in before and (point.id in forced or not out & with_all_before([point.id], before))
    )


def with_minutes(problem: TourProblem, available_min: float) -> TourProblem:
    """Return the same problem with other minutes available [min]."""
    return replace(problem, available_min=available_min)


def with_all_before(names: Iterable[str], before: Mapping[str, tuple[str, ...]]) -> frozenset[str]:
    """Return the names with everything they wait for, directly or through others."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting.extend(before.get(name, ()))
    return frozenset(found)


def _check_numbers(problem: TourProblem) -> None:
    numbers = {
        "The minutes for the tour": (problem.available_min, 0.0),
        "The seconds already spent": (problem.elapsed_s, 0.0),
        "The talk factor": (problem.talk_factor, 0.1),
        "The pace of the party": (problem.pace_factor, 0.1),
    }
    for what, (value, least) in numbers.items():
        if not math.isfinite(value) or value < least:
            raise BadInput(f"{what} cannot be this", seen=value, todo=f"Give a number of {least:g} or more")


def _check_points(problem: TourProblem) -> None:
    twice = [name for name, count in Counter(point.id for point in problem.points).items() if count > 1]
    if twice:
        raise BadInput("A teach point stands twice in the tour", seen=twice[0], todo="Name each once")
    for point in problem.points:
        if not math.isfinite(point.duration_s) or point.duration_s <= 0:
            raise BadInput(f"Showing {point.id} takes no time", seen=point.duration_s, todo="Give seconds above 0")
        if not math.isfinite(point.value_cost) or point.value_cost < 0:
            raise BadInput(f"{point.id} cannot save this", seen=point.value_cost, todo="Give 0 or more")


def _check_stations(problem: TourProblem) -> None:
    places = {problem.start_station, problem.end_station, *(point.station for point in problem.points)}
    for place in sorted(places):
        if place not in problem.stations:
            raise UnknownName("This station has no place in the vehicle", seen=place, todo="Put it on the build sheet")
    for one in sorted(places):
        for other in sorted(places):
            walk_s = problem.walking_s.get((one, other), math.nan)
            if not math.isfinite(walk_s) or walk_s < 0:
                ways = f"{problem.name_of(one)} to {problem.name_of(other)}"
                raise BadInput("There is no way between two stations", seen=ways, todo="Mend the doors or the station")
    for point in problem.points:
        if point.closing and point.station != problem.end_station:
            raise BadInput(f"{point.id} is said last but not where the tour ends", seen=point.station, todo="Move it")


def _check_order(problem: TourProblem) -> None:
    """Name the first circle of points that wait for one another, or a point that waits for the end of the tour."""
    before, points = problem.needed_before(), problem.by_id()
    for name, waits_for in before.items():
        for earlier in waits_for:
            if points[earlier].closing and not points[name].closing:
                raise NoPlan(
                    f"{name} waits for {earlier}, but {earlier} is said last, at the wheel",
                    todo=f"Take {earlier} out of 'after' of {name}, or move one of them",
                )
    try:
        TopologicalSorter(before).prepare()
    except CycleError as error:
        circle = list(reversed(error.args[1]))
        chain = ", ".join(f"{name} after {earlier}" for name, earlier in pairwise(circle))
        raise NoPlan(
            f"These teach points wait for one another in a circle: {chain}",
            todo="Take one 'after' out of the catalogue",
        ) from error
