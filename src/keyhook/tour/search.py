"""The best tour in the time there is to look for it: a start, a bound, better orders, and a proof where one is wanted.

1. The greedy tour is the start.
2. The round trip that ignores which block waits for which gives a bound; when its blocks happen to stand in an order
   that holds, and without waiting across stations they do, it is the best tour.
3. Else orders are tried one after another: keep the one order of two blocks that the last choice did not need, let
   :func:`keyhook.tour.select.choose_along` choose, shorten the walk, choose again.
4. Where there are few enough blocks and time enough, the proof: shortest walks of all sets of blocks, pairs of blocks
   that wait for one another left out at first. The best choice on that table either keeps its pairs, then it is the
   best tour, or breaks one; then there are two cases, the pair kept, or no point shown that asks for it.

5. Where that did not prove it, the model that says everything has the time that is left.

Worked example of step 4: B waits for A because of point b2 alone. The table without the pair says walk B, A. Case
one, A before B, costs two more seconds and b2 stays; case two leaves b2 out and walks B, A. The better one is best.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from keyhook.tour.checker import complaints
from keyhook.tour.greedy import Route, greedy_tour, moved_back
from keyhook.tour.plan import TourPlan, timed
from keyhook.tour.problem import TourProblem
from keyhook.tour.select import (
    MOST_FREE_BLOCKS,
    SOLVER_THERE,
    STEPS,
    Choice,
    Search,
    choose_along,
    choose_by_walks,
    choose_in_order,
    choose_on_round,
    forced_mask,
    leg_ticks,
    shortest_round,
    value_steps,
)
from keyhook.tour.visits import Ground, ground_of
from keyhook.tour.walks import MOST_BLOCKS, Legs, WalkTable, walk_table

#: Shares of the time: the round trip, and trying orders.
ROUND_SHARE, ORDERS_SHARE = 0.5, 0.3
#: Seconds to build a model, and seconds that a table of walks takes for a block squared and a set (measured).
BUILD_S, TABLE_S = 0.03, 5e-9

#: With less time left the model that says everything is not begun: it needs seconds to find its feet (measured).
SAY_ALL_S = 2.0

Pair = tuple[int, int]


def best_tour(problem: TourProblem, search: Search | None = None, *, start: TourPlan | None = None) -> TourPlan:
    """Return the tour that saves most in the time, or the best found when the search had to stop.

    ``start`` is a plan to begin from, for example that of the same tour with fewer minutes. What must be said is said
    even when it does not fit; then nothing else is shown, on a short walk. Every plan returned has passed
    :func:`keyhook.tour.checker.complaints`; the greedy tour stands in where another does not, where there is no time
    to search, and where there is no solver.
    """
    finder = Finder(ground_of(problem), search or Search(), greedy_tour(problem))
    if start is not None:
        finder.take(frozenset(start.points), finder.order_of(start))
    if not SOLVER_THERE or finder.search.limit_s <= 0:
        return replace(finder.best, how="greedy")
    if finder.too_long():
        finder.shorten()
    if finder.too_long() or not finder.ground.visits:
        finder.bound_steps = finder.best_steps
        return finder.verified(proven=finder.walk_proven or not finder.ground.visits)
    finder.look()
    return finder.verified(proven=finder.proven)


@dataclass(slots=True)
class Finder:
    """The search for one tour: what is the best so far, what bounds it, and how long it took."""

    ground: Ground
    search: Search
    best: TourPlan
    order: list[int] = field(default_factory=list)
    bound_steps: float = math.inf
    spent_s: float = 0.0
    walk_proven: bool = False

    def __post_init__(self) -> None:
        """Take the order of the start, and the bound that knows of no walking."""
        self.order = self.order_of(self.best)
        self.bound_steps = talk_bound_steps(self.ground)

    @property
    def best_steps(self) -> int:
        """What the best so far saves, in the whole steps in which bounds are known."""
        return self._steps(self.best.points)

    @property
    def proven(self) -> bool:
        """Whether nothing can save more than the best so far."""
        return self.bound_steps < self.best_steps + 1

    @property
    def left_s(self) -> float:
        """Seconds of the search that are left [s]."""
        return max(self.search.limit_s - self.spent_s, 0.0)

    def order_of(self, plan: TourPlan) -> list[int]:
        """Return the blocks of a plan in its order."""
        return list(dict.fromkeys(self.ground.home[name] for name in plan.points))

    def too_long(self) -> bool:
        """Tell whether even the best so far is longer than the time available."""
        return self.best.end_s > max(60.0 * self.ground.problem.available_min, self.ground.problem.elapsed_s)

    def look(self) -> None:
        """Go through the steps until the best is proven or the time is up."""
        if not self.proven:
            self._go_round()
        if not self.proven and self.ground.crossing:
            self._try_orders()
            self._prove()
            self._say_all()
        self.shorten()

    def _go_round(self) -> None:
        """Bound by the round trip in any order; take its choice when it happens to keep the order."""
        rounds = self.timed(choose_on_round(self.ground, self.limit(ROUND_SHARE), self.best.points))
        self.bound_steps = min(self.bound_steps, rounds.bound_cost * STEPS)
        if rounds.there and all(keeps(rounds.order, pair) for pair in self.ground.active(rounds.names)):
            self.take(rounds.names, rounds.order)

    def shorten(self) -> None:
        """Walk the best so far by the shortest way that can be known in the time."""
        if self.best.stops:
            names = frozenset(self.best.points)
            self.take(names, self._shortened(names, self.order))

    def verified(self, *, proven: bool) -> TourPlan:
        """Return the best plan with what is known of it, when it passes the check; else the greedy one."""
        bound_cost = max(self.bound_steps / STEPS, self.best.value_cost)
        plan = replace(self.best, how="exact", proven=proven, bound_cost=bound_cost)
        return greedy_tour(self.ground.problem) if complaints(self.ground.problem, plan) else plan

    def take(self, names: frozenset[str], order: Iterable[int]) -> bool:
        """Keep a choice when it passes the check and saves more, or as much with less walking."""
        walked = list(order)
        plan = timed(self.ground.problem, self.ground.blocks(walked, names), "exact")
        gain = self._steps(plan.points) - self.best_steps
        better = gain > 0 or (gain == 0 and plan.end_s < self.best.end_s)
        if better and not complaints(self.ground.problem, plan):
            self.best, self.order = plan, walked
            return True
        return False

    def table(self, inside: Sequence[int], pairs: Iterable[Pair], always: int = 0) -> WalkTable:
        """Return the walks of all sets of these blocks; the seconds it takes go on the account."""
        self.spent_s += table_s(len(inside))
        ground, place = self.ground, {number: rank for rank, number in enumerate(inside)}
        between = [[0 if a == b else leg_ticks(ground, a, b) for b in inside] for a in inside]
        legs = Legs(
            np.array([leg_ticks(ground, None, b) for b in inside], dtype=np.int32),
            np.array(between, dtype=np.int32).reshape(len(inside), len(inside)),
            np.array([leg_ticks(ground, a, None) for a in inside], dtype=np.int32),
            leg_ticks(ground, None, None),
        )
        return walk_table(legs, {(place[a], place[b]) for a, b in pairs}, always)

    def limit(self, share: float) -> Search:
        """Return a search with a share of the time, no more than is left."""
        return replace(self.search, limit_s=max(min(share * self.search.limit_s, self.left_s), 0.05))

    def timed(self, found: Choice) -> Choice:
        """Put the seconds of a model on the account."""
        self.spent_s += found.spent_s + BUILD_S
        return found

    def _steps(self, names: Iterable[str]) -> int:
        return sum(value_steps(self.ground, name) for name in names)

    def _shortened(self, names: frozenset[str], order: list[int]) -> list[int]:
        pairs = self.ground.active(names)
        if not pairs:
            found = self.timed(shortest_round(self.ground, names, self.limit(0.5), order))
            self.walk_proven = found.status == "best"
            return list(found.order) if found.there else order
        inside = [number for number in order if not self.ground.visits[number].closing]
        if table_s(len(inside)) <= self.left_s:
            self.walk_proven = True
            walked = [inside[place] for place in self.table(inside, pairs).route(2 ** len(inside) - 1)]
            return [*walked, *(number for number in order if number not in inside)]
        route = Route(self.ground, order, set(names))
        route.shorten()
        return route.order

    def _try_orders(self) -> None:
        """Improve choice and order in turn; then once more for every pair that the choice does not keep."""
        until_s = self.spent_s + ORDERS_SHARE * self.search.limit_s
        crossing = self.ground.crossing
        self._climb(self.order, until_s)
        self._climb(moved_back(self.order, crossing), until_s)
        improved = True
        while improved and self.spent_s < until_s:
            active = self.ground.active(self.best.points)
            others = sorted(crossing.keys() - active)
            improved = any(self._climb(moved_back(self.order, {*active, pair}), until_s) for pair in others)

    def _climb(self, order: list[int], until_s: float) -> bool:
        """Choose along an order, shorten, choose again, while it gets better; tell whether it did."""
        improved = False
        while self.spent_s < until_s:
            along = self._completed(order)
            broken = [asking for pair, asking in self.ground.crossing.items() if not keeps(along, pair)]
            without = frozenset().union(*broken) - self.ground.forced
            found = self.timed(choose_along(self.ground, along, self.limit(0.2), without, self.best.points))
            used = self.ground.used(found.names)
            route = Route(self.ground, [number for number in along if number in used], set(found.names))
            route.shorten()
            if not found.there or not self.take(found.names, route.order):
                return improved
            order, improved = self.order, True
        return improved

    def _completed(self, order: list[int]) -> list[int]:
        """Return the order with all blocks in it, so that any of them may be used."""
        pairs = {pair for pair in self.ground.crossing if keeps(order, pair)}
        return Route(self.ground, list(order)).with_blocks(range(len(self.ground.visits)), pairs)

    def _prove(self) -> None:
        """Look at cases until nothing can be better, where there are few enough blocks."""
        inside = [number for number, visit in enumerate(self.ground.visits) if not visit.closing]
        free = len(inside) - forced_mask(self.ground).bit_count()
        if not self.proven and len(inside) <= MOST_BLOCKS and free <= MOST_FREE_BLOCKS:
            self.bound_steps = min(self.bound_steps, _Cases(self, inside).bound_after_search())

    def _say_all(self) -> None:
        """Give what is left of the time to the model with everything in it."""
        if not self.proven and self.left_s > SAY_ALL_S:
            found = self.timed(choose_in_order(self.ground, self.limit(1.0), self.order, self.best.points))
            self.bound_steps = min(self.bound_steps, found.bound_cost * STEPS)
            if found.there:
                self.take(found.names, found.order)


def talk_bound_steps(ground: Ground) -> float:
    """Return what no choice can exceed were there no walking and could a point be shown in part, in steps.

    Dantzig's bound of the knapsack: what must be said, then what saves most a second, the last point in part.
    """
    room_s = ground.problem.left_s - sum(ground.problem.talk_s(ground.points[name]) for name in ground.forced)
    bound_steps = float(sum(value_steps(ground, name) for name in ground.forced))
    free = [
        (value_steps(ground, name), ground.problem.talk_s(ground.points[name]))
        for name in ground.home
        if name not in ground.forced
    ]
    for steps, talk_s in sorted(free, key=lambda pair: -pair[0] / pair[1]):
        if room_s <= 0:
            break
        bound_steps += steps * min(1.0, room_s / talk_s)
        room_s -= talk_s
    return bound_steps


def keeps(order: Iterable[int], pair: Pair) -> bool:
    """Tell whether the first of two blocks stands before the second; true when one of them is not there."""
    place = {number: rank for rank, number in enumerate(order)}
    return not {*pair} <= place.keys() or place[pair[0]] < place[pair[1]]


def table_s(blocks: int) -> float:
    """Return the seconds that a table of walks takes, roughly [s]; without end where it would not fit in memory."""
    return TABLE_S * blocks * blocks * 2.0**blocks if blocks <= MOST_BLOCKS else math.inf


@dataclass(frozen=True, slots=True, order=True)
class _Case:
    """One case: pairs of blocks kept in any case, points that stay out because of a pair; highest bound first."""

    below_steps: float
    number: int
    kept: frozenset[Pair] = field(compare=False)
    without: frozenset[str] = field(compare=False)


@dataclass(slots=True)
class _Cases:
    """Best-first search over the cases; see step 4 of the module."""

    finder: Finder
    inside: list[int]
    waiting: list[_Case] = field(default_factory=list)
    unresolved_steps: float = -math.inf

    def bound_after_search(self) -> float:
        """Go through the cases; return what nothing can exceed, in steps."""
        finder, crossing = self.finder, self.finder.ground.crossing
        always = frozenset(pair for pair, asking in crossing.items() if asking & finder.ground.forced)
        self._wait(finder.bound_steps, always, frozenset())
        while self.waiting and -self.waiting[0].below_steps >= finder.best_steps + 1:
            if table_s(len(self.inside)) > finder.left_s:
                return max(-self.waiting[0].below_steps, self.unresolved_steps)
            self._resolve(heapq.heappop(self.waiting))
        return max(float(finder.best_steps), self.unresolved_steps)

    def _resolve(self, case: _Case) -> None:
        """Choose on the table of a case; a choice that holds is taken, one that breaks a pair splits the case."""
        finder, ground = self.finder, self.finder.ground
        table = finder.table(self.inside, case.kept, forced_mask(ground))
        found = finder.timed(choose_by_walks(ground, table.walk, finder.limit(0.5), case.without, finder.best.points))
        bound_steps = min(found.bound_cost * STEPS, -case.below_steps)
        if not found.there:
            self.unresolved_steps = max(self.unresolved_steps, bound_steps)
            return
        order = self._route(table, found.names)
        broken = sorted(pair for pair in ground.active(found.names) if not keeps(order, pair))
        if broken:
            self._wait(bound_steps, case.kept | {broken[0]}, case.without)
            self._wait(bound_steps, case.kept, case.without | ground.crossing[broken[0]])
            return
        finder.take(found.names, order)
        if found.status != "best":
            self.unresolved_steps = max(self.unresolved_steps, bound_steps)

    def _route(self, table: WalkTable, names: frozenset[str]) -> list[int]:
        used = self.finder.ground.used(names)
        mask = sum(1 << place for place, number in enumerate(self.inside) if number in used)
        return [*(self.inside[place] for place in table.route(mask)), *sorted(used - set(self.inside))]

    def _wait(self, bound_steps: float, kept: frozenset[Pair], without: frozenset[str]) -> None:
        heapq.heappush(self.waiting, _Case(-bound_steps, len(self.waiting) + 1, kept, without))
