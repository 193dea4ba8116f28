"""A day planned again, the choice: fewer tasks moved or a cheaper plan, each in figures and words."""

from __future__ import annotations

from dataclasses import dataclass

from keyhook.phrases import say
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.recount import objective
from keyhook.turnaround.replan import changes
from keyhook.turnaround.retelling import most_changed
from keyhook.turnaround.tradeoff import called
from keyhook_desk.web.kept import Kept
from keyhook_desk.yard.models import Proposal
from keyhook_desk.yard.plan_page import change_lines, proposed, told_of
from keyhook_desk.yard.plan_reading import PROPOSED, Laid

_OFFERED: Kept[tuple[tuple[Offer, ...], int]] = Kept(8)


@dataclass(frozen=True)
class Offer:
    """One plan to choose.

    ``late_min`` is weighted [min], ``over_min`` overtime [min]; ``safe`` of those ``served`` are surely on time;
    ``late_share`` and ``moved_share`` [percent] are what bars show, beside the most of those offered; ``lines`` what it
    changes, the worst first.
    """

    name: str
    words: str
    late_min: int
    moved: int
    people: str
    swapped: int
    over_min: int
    put_off: int
    served: int
    safe: int
    late_share: int
    moved_share: int
    lines: tuple[str, ...]

    @property
    def is_proposed(self) -> bool:
        """Whether this is the plan that is proposed."""
        return self.name == PROPOSED


@dataclass(frozen=True)
class Offers:
    """The plans to choose from, fewest tasks moved first; of how many tasks; which one is looked at."""

    plans: tuple[Offer, ...]
    held_tasks: int
    chosen: str

    def __bool__(self) -> bool:
        """Whether there is a choice."""
        return bool(self.plans)


def offers_of(row: Proposal | None, laid: Laid | None, clock: Clock, version: int, chosen: str = "") -> Offers:
    """Return the plans a proposal lets people choose from, beside the plan that is held; none when it has but one."""
    if row is None or laid is None or row.document is None or not row.document.get("others"):
        return Offers((), 0, PROPOSED)
    key = (row.pk, row.state, row.seconds, version)
    plans, tasks = _OFFERED.answer(key, lambda: _offered(row, laid, clock))
    return Offers(plans, tasks, chosen if chosen in {one.name for one in plans} else PROPOSED)


def _offered(row: Proposal, held: Laid, clock: Clock) -> tuple[tuple[Offer, ...], int]:
    assert row.document is not None, "there is something to choose"
    names = [*(one["name"] for one in row.document["others"]), PROPOSED]
    plans = {name: laid for name in names if (laid := proposed(row, name)) is not None}
    costs = {name: objective(laid.problem, laid.plan) for name, laid in plans.items()}
    most_late = max(1, *(cost.lateness for cost in costs.values()))
    most_moved = max(1, *(cost.moved for cost in costs.values()))
    found = []
    for name, laid in plans.items():
        cost, differs = costs[name], changes(laid.problem, held.plan, laid.plan)
        found.append(
            Offer(
                name=name,
                words=say(f"day_news.choice.{called(name, costs)}"),
                late_min=cost.lateness,
                moved=cost.moved,
                people=most_changed(laid.problem, held.plan, laid.plan, {*differs.moved, *differs.handed}),
                swapped=sum(1 for _, then, now in differs.swapped if then and now),
                over_min=cost.overtime,
                put_off=sum(1 for vehicle in laid.plan.vehicle_of.values() if vehicle is None),
                served=sum(1 for vehicle in laid.plan.vehicle_of.values() if vehicle is not None),
                safe=told_of(laid, clock).safe,
                late_share=round(100 * cost.lateness / most_late),
                moved_share=round(100 * cost.moved / most_moved),
                lines=change_lines(held, laid, clock),
            )
        )
    return tuple(found), len(plans[PROPOSED].problem.held)
