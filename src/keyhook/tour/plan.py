"""A planned tour: stops in walking order, what is said at each, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from keyhook.tour.problem import TourProblem

How = Literal["exact", "greedy", "fixed talk"]
Block = tuple[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class TourLine:
    """One point as planned: from when, counted from the start of the tour, and for how long [s]."""

    point: str
    start_s: float
    talk_s: float


@dataclass(frozen=True, slots=True)
class TourStop:
    """One stop: the walk to it [s], when they are there [s], and what is shown."""

    station: str
    walk_s: float
    arrive_s: float
    lines: tuple[TourLine, ...]


@dataclass(frozen=True, slots=True)
class TourPlan:
    """A tour in order.

    ``end_s`` counts from the start of the tour, the walk to the end station included. ``value_cost`` is what the
    points of the plan save together; ``proven`` that nothing saves more in the time; ``bound_cost`` what no plan
    can exceed, where it is known.
    """

    stops: tuple[TourStop, ...]
    end_s: float
    value_cost: float
    how: How
    proven: bool = False
    bound_cost: float | None = None

    @property
    def points(self) -> tuple[str, ...]:
        """The ids in the order in which they are shown."""
        return tuple(line.point for stop in self.stops for line in stop.lines)

    @property
    def walk_s(self) -> float:
        """Seconds on the way between stops, the one to the end station left out [s]."""
        return sum(stop.walk_s for stop in self.stops)

    @property
    def blocks(self) -> tuple[Block, ...]:
        """Stations in order with the ids shown there."""
        return tuple((stop.station, tuple(line.point for line in stop.lines)) for stop in self.stops)


def timed(
    problem: TourProblem,
    blocks: Sequence[Block],
    how: How,
    *,
    proven: bool = False,
    bound_cost: float | None = None,
) -> TourPlan:
    """Return the plan of these blocks in this order; neighbours at one station become one stop."""
    points = problem.by_id()
    clock_s, here, value = problem.elapsed_s, problem.start_station, 0.0
    stops: list[TourStop] = []
    for station, names in _joined(blocks):
        walk_s = problem.walking_s[here, station]
        clock_s, here = clock_s + walk_s, station
        arrive_s, lines = clock_s, list[TourLine]()
        for name in names:
            talk_s = problem.talk_s(points[name])
            lines.append(TourLine(name, clock_s, talk_s))
            clock_s, value = clock_s + talk_s, value + points[name].value_cost
        stops.append(TourStop(station, walk_s, arrive_s, tuple(lines)))
    clock_s += problem.walking_s[here, problem.end_station]
    return TourPlan(tuple(stops), clock_s, value, how, proven, bound_cost)


def _joined(blocks: Sequence[Block]) -> list[Block]:
    joined: list[Block] = []
    for station, names in blocks:
        if names and joined and joined[-1][0] == station:
            joined[-1] = (station, (*joined[-1][1], *names))
        elif names:
            joined.append((station, names))
    return joined
