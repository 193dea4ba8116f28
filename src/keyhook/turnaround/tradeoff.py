"""Planning again, the choice: few tasks moved and a dearer plan, or a cheaper plan and more tasks moved.

A search goes through many plans on its way to the one it proposes. Kept are those of which no other is as cheap (in
lateness, then swaps, then overtime) and moves as few: the front of the two. Up to three are offered, each verified
and recounted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from keyhook.turnaround.checker import violations
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.recount import objective

ChoiceName: TypeAlias = Literal["fewest_moved", "in_between", "least_late"]
#: So many plans are kept of one walk; when there are more, every second one goes.
MOST_NOTED = 64
#: A plan lies between when it is so far from either end, as a share of what the ends differ by, in either measure.
APART_SHARE = 0.1
#: A plan that spares fewer moved tasks than this is not worth the asking.
LEAST_SPARED = 3


@dataclass(frozen=True, slots=True)
class Choice:
    """One plan to choose: what it is among those offered, and what it costs by the recount."""

    name: ChoiceName
    plan: Plan
    objective: Objective


@dataclass(frozen=True, slots=True)
class Noted:
    """A plan that a search went through: what it costs as far as is known, and how to write it out."""

    objective: Objective
    plan: Callable[[], Plan]


def outdoes(one: Objective, other: Objective) -> bool:
    """Tell whether a plan is as cheap as another, level by level, and moves no more tasks."""
    return price(one) <= price(other) and one.moved <= other.moved


def price(cost: Objective) -> tuple[int, ...]:
    """Return what a plan costs apart from the tasks it moves; the levels are compared in their order."""
    return cost[:-1]


def called(name: str, costs: Mapping[Any, Objective]) -> str:
    """Return what a plan of those offered is called, as a key of ``day_news.choice``.

    ``costs`` are those of the plans offered, the one that moves fewest tasks first and the one proposed last. That one
    is called by what it has least of beside the first: lateness, else other vehicles, else overtime.
    """
    first, (proposed, last) = next(iter(costs.values())), list(costs.items())[-1]
    if name != proposed or last.lateness < first.lateness:
        return name
    return "fewest_swaps" if last.swaps < first.swaps else "least_overtime"


class Front:
    """What a walk went through that no other plan of it outdoes."""

    def __init__(self) -> None:
        self.noted: list[Noted] = []

    def takes(self, cost: Objective) -> bool:
        """Tell whether no plan that was noted outdoes one of this cost."""
        return not any(outdoes(one.objective, cost) for one in self.noted)

    def note(self, cost: Objective, plan: Callable[[], Plan]) -> None:
        """Take a plan in, unless another outdoes it, and leave out those it outdoes."""
        if not self.takes(cost):
            return
        self.noted = [one for one in self.noted if not outdoes(cost, one.objective)]
        self.noted.append(Noted(cost, plan))
        self.noted.sort(key=lambda one: one.objective.moved)
        if len(self.noted) > MOST_NOTED:
            del self.noted[1:-1:2]


def choices(problem: Problem, best: Plan, fronts: Iterable[Front]) -> tuple[Choice, ...]:
    """Return up to three plans to choose from, the one that moves fewest tasks first and ``best`` last.

    Parameters
    ----------
    problem
        The day from now on, with the plan people hold.
    best
        The plan that is proposed, verified: nothing that was found costs less.
    fronts
        What the walks went through. Only what keeps every rule, and costs what it was noted with, is offered; nothing
        at all when nothing spares enough.
    """
    whole, last = Front(), Noted(objective(problem, best), lambda: best)
    for front in fronts:
        for one in front.noted:
            whole.note(one.objective, one.plan)
    left = [one for one in whole.noted if _spares(one, last)]
    while left:
        named = _picked([*left, last])
        found = [_verified(problem, name, one, last) for name, one in named]
        if None not in found:
            return tuple(choice for choice in found if choice is not None)
        wrong = [one for (_, one), choice in zip(named, found, strict=True) if choice is None]
        left = [one for one in left if one not in wrong]
    return ()


def _spares(one: Noted, last: Noted) -> bool:
    """Tell whether a plan moves so many tasks fewer that it is worth the asking."""
    return last.objective.moved - one.objective.moved >= LEAST_SPARED


def _picked(front: list[Noted]) -> list[tuple[ChoiceName, Noted]]:
    """Return both ends of a front, and of what lies between that which saves most of what the ends differ by."""
    first, last = front[0], front[-1]
    late = first.objective.lateness - last.objective.lateness
    spared = last.objective.moved - first.objective.moved

    def saves(one: Noted) -> tuple[float, float]:
        sooner = first.objective.lateness - one.objective.lateness
        return sooner / late, (last.objective.moved - one.objective.moved) / spared

    between = [one for one in front[1:-1] if min(saves(one)) >= APART_SHARE] if late > 0 else []
    if not between:
        return [("fewest_moved", first), ("least_late", last)]
    middle = max(between, key=lambda one: sum(saves(one)))
    return [("fewest_moved", first), ("in_between", middle), ("least_late", last)]


def _verified(problem: Problem, name: ChoiceName, noted: Noted, last: Noted) -> Choice | None:
    """Return a plan written out; None when it breaks a rule, costs otherwise than noted, or no more than the last.

    The search leaves overtime that people were told already out of its count, so that level is compared as recounted.
    """
    plan = noted.plan()
    cost = objective(problem, plan)
    if (cost.lateness, cost.moved) != (noted.objective.lateness, noted.objective.moved) or violations(problem, plan):
        return None
    if noted is not last and price(cost) <= price(last.objective):
        return None
    return Choice(name, plan, cost)
