"""Tours without a solver: value per second with insertion, and the fixed talk that goes round until the time is up.

The greedy tour is the fallback, the start for the solver, and a peer in the bench. The fixed talk is what a person
does who tells everything in one order; it is measured, never shown.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from keyhook.tour.plan import TourPlan, timed
from keyhook.tour.problem import TourProblem
from keyhook.tour.visits import Ground, ground_of

_ROUNDING_S = 1e-9

Pairs = Collection[tuple[int, int]]


def greedy_tour(problem: TourProblem) -> TourPlan:
    """Return the mandatory points and then, one by one, what saves most a second and still fits."""
    route = Route(ground_of(problem))
    route.show(route.ground.forced)
    while found := _best_bundle(route):
        route.show(found)
    return route.plan()


def fixed_talk(problem: TourProblem, *, mandatory_first: bool = False) -> TourPlan:
    """Return the talk that goes round the stations in their order and tells everything until the time is up.

    ``mandatory_first`` keeps the time for the mandatory points free, so that all of them are said.
    """
    ground = ground_of(problem)
    order = moved_back(range(len(ground.visits)), ground.crossing)
    said: set[str] = set(ground.forced) if mandatory_first else set()
    for name in [name for number in order for name in ground.visits[number].points]:
        trial = said | {name}
        if set(ground.before[name]) <= said:
            plan = timed(problem, ground.blocks(order, trial), "fixed talk")
            said = trial if plan.end_s <= 60.0 * problem.available_min else said
    return timed(problem, ground.blocks(order, said), "fixed talk")


def moved_back(order: Iterable[int], pairs: Pairs) -> list[int]:
    """Return the order with every block moved behind those that must come before it, else as it was."""
    wanted, result = list(order), list[int]()
    earlier: dict[int, list[int]] = {}
    for first, second in sorted(pairs):
        earlier.setdefault(second, []).append(first)

    def place(number: int) -> None:
        if number in result:
            return
        for first in earlier.get(number, ()):
            if first in wanted:
                place(first)
        result.append(number)

    for number in wanted:
        place(number)
    return result


@dataclass(slots=True)
class Route:
    """Blocks in walking order with the points chosen so far."""

    ground: Ground
    order: list[int] = field(default_factory=list)
    chosen: set[str] = field(default_factory=set)

    def show(self, names: Iterable[str]) -> None:
        """Choose points, bring their blocks into the order, and shorten the walk."""
        self.chosen |= set(names)
        self.order = self.with_blocks(self.ground.used(self.chosen), self.ground.active(self.chosen))
        self.shorten()

    def with_blocks(self, blocks: Iterable[int], pairs: Pairs) -> list[int]:
        """Return the order with each missing block at its cheapest allowed place."""
        order = moved_back(self.order, pairs)
        for number in sorted(set(blocks) - set(order)):
            order = self._inserted(number, order, pairs)
        return order

    def walk_s(self, order: Sequence[int]) -> float:
        """Return the seconds of walking of an order, to the end station [s]."""
        problem, visits = self.ground.problem, self.ground.visits
        stands = [problem.start_station, *(visits[number].station for number in order), problem.end_station]
        return sum(problem.walking_s[one, other] for one, other in pairwise(stands))

    def talk_s(self, names: Iterable[str]) -> float:
        """Return the seconds of talking [s]."""
        return sum(self.ground.problem.talk_s(self.ground.points[name]) for name in names)

    def plan(self) -> TourPlan:
        """Return the plan with its times."""
        return timed(self.ground.problem, self.ground.blocks(self.order, self.chosen), "greedy")

    def shorten(self) -> None:
        """Move one block at a time while that saves walking."""
        pairs = self.ground.active(self.chosen)
        best_s, improved = self.walk_s(self.order), True
        while improved:
            improved = False
            for number in tuple(self.order):
                trial = self._inserted(number, [other for other in self.order if other != number], pairs)
                trial_s = self.walk_s(trial)
                if trial_s < best_s - _ROUNDING_S:
                    self.order, best_s, improved = trial, trial_s, True

    def _inserted(self, number: int, order: list[int], pairs: Pairs) -> list[int]:
        """Return the order with a block at its cheapest place between what must come before and after it.

        What must come before may itself stand behind what must come after; then the order is moved back.
        """
        closing = [rank for rank, other in enumerate(order) if self.ground.visits[other].closing]
        first, last = 0, closing[0] if closing else len(order)
        if self.ground.visits[number].closing:
            return [*order, number]
        place = {other: rank for rank, other in enumerate(order)}
        first = max((place[one] + 1 for one, other in pairs if other == number and one in place), default=0)
        last = min((place[other] for one, other in pairs if one == number and other in place), default=last)
        if first > last:
            return moved_back([*order[:last], number, *order[last:]], pairs)
        trials = [[*order[:rank], number, *order[rank:]] for rank in range(first, last + 1)]
        return min(trials, key=self.walk_s)


def _best_bundle(route: Route) -> frozenset[str] | None:
    """Return the point with all it waits for that saves most a second among those that fit; None when none does."""
    ground = route.ground
    spent_s = route.talk_s(route.chosen)
    now_s = route.walk_s(route.order)
    here, kept = set(route.order), ground.active(route.chosen)
    ways: dict[tuple[frozenset[int], frozenset[tuple[int, int]]], float] = {}
    best, best_rate = None, 0.0
    for name in ground.home:
        if name in route.chosen:
            continue
        bundle = ground.with_all_before([name]) - route.chosen
        blocks = frozenset(ground.used(bundle) - here)
        pairs = frozenset(ground.active(bundle) - kept)
        if (blocks, pairs) not in ways:
            ways[blocks, pairs] = route.walk_s(route.with_blocks(blocks, kept | pairs)) if blocks or pairs else now_s
        talk_s, walk_s = route.talk_s(bundle), ways[blocks, pairs]
        rate = sum(ground.points[one].value_cost for one in bundle) / max(talk_s + walk_s - now_s, _ROUNDING_S)
        if spent_s + talk_s + walk_s <= ground.problem.left_s and rate > best_rate:
            best, best_rate = bundle, rate
    return best
