"""The checker tested by mutation: one good plan, a slip for every rule, caught by it alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from keyhook.errors import NoPlan
from keyhook.tour.checker import complaints, verified
from keyhook.tour.plan import TourLine, TourPlan, TourStop
from keyhook.tour.problem import TourPoint, TourProblem

#: From the door to the locker 10 s, on to the seat 15 s, from the door to the seat 20 s; twice the seconds of talk.
PROBLEM = TourProblem(
    points=(
        TourPoint("step", "door", 10, 4.0),
        TourPoint("valve", "locker", 30, 6.5, mandatory=True),
        TourPoint("hob", "seat", 20, 3.0, after=("valve",)),
        TourPoint("height", "seat", 5, 8.0, mandatory=True, closing=True),
        TourPoint("blind", "seat", 5, 1.0),
        TourPoint("lamp", "door", 5, 1.0),
        TourPoint("known", "locker", 5, 2.0),
    ),
    stations=("door", "locker", "seat"),
    walking_s={
        ("door", "door"): 0.0, ("locker", "locker"): 0.0, ("seat", "seat"): 0.0,
        ("door", "locker"): 10.0, ("locker", "door"): 10.0, ("locker", "seat"): 15.0,
        ("seat", "locker"): 15.0, ("door", "seat"): 20.0, ("seat", "door"): 20.0,
    },
    start_station="door",
    end_station="seat",
    available_min=3.0,
    talk_factor=2.0,
    skipped=frozenset({"lamp"}),
    done=frozenset({"known"}),
)  # fmt: skip
#: 20 s at the door, 10 s on foot, 60 s at the locker, 15 s on foot, 40 s and 10 s at the seat.
GOOD = TourPlan(
    stops=(
        TourStop("door", 0.0, 0.0, (TourLine("step", 0.0, 20.0),)),
        TourStop("locker", 10.0, 30.0, (TourLine("valve", 30.0, 60.0),)),
        TourStop("seat", 15.0, 105.0, (TourLine("hob", 105.0, 40.0), TourLine("height", 145.0, 10.0))),
    ),
    end_s=155.0,
    value_cost=21.5,
    how="exact",
)


def _stop(number: int, **changed: object) -> TourPlan:
    stops = list(GOOD.stops)
    stops[number] = replace(stops[number], **changed)
    return replace(GOOD, stops=tuple(stops))


def _with(point: str, **changed: object) -> TourProblem:
    points = tuple(replace(one, **changed) if one.id == point else one for one in PROBLEM.points)
    return replace(PROBLEM, points=points)


def test_the_good_plan_passes():
    assert complaints(PROBLEM, GOOD) == ()
    assert verified(PROBLEM, GOOD) is GOOD


SLIPS: dict[str, tuple[Callable[[], tuple[TourProblem, TourPlan]], str]] = {
    "a point that does not exist": (
        lambda: (PROBLEM, _stop(0, lines=(TourLine("moon", 0.0, 20.0),))),
        "moon is no point of this tour",
    ),
    "the end too early": (lambda: (PROBLEM, replace(GOOD, end_s=154.0)), "the tour ends after 155.00 s, not 154.00 s"),
    "talk cut short": (
        lambda: (PROBLEM, _stop(0, lines=(TourLine("step", 0.0, 10.0),))),
        "step runs from 0.00 s for 20.00 s",
    ),
    "a line that starts early": (
        lambda: (PROBLEM, _stop(1, lines=(TourLine("valve", 29.0, 60.0),))),
        "valve runs from 30.00 s for 60.00 s",
    ),
    "a walk cut short": (lambda: (PROBLEM, _stop(1, walk_s=9.0)), "the walk to locker is 10.00 s, not 9.00 s"),
    "there before they are there": (lambda: (PROBLEM, _stop(2, arrive_s=100.0)), "they are at seat after 105.00 s"),
    "more saved than saved": (lambda: (PROBLEM, replace(GOOD, value_cost=22.0)), "the points save 21.5000 together"),
    "a must left out": (
        lambda: (
            PROBLEM,
            replace(
                GOOD,
                stops=(*GOOD.stops[:2], replace(GOOD.stops[2], lines=GOOD.stops[2].lines[:1])),
                end_s=145.0,
                value_cost=13.5,
            ),
        ),
        "height must be said and is missing",
    ),
    "something after the last word": (
        lambda: (
            PROBLEM,
            _stop(2, lines=(TourLine("height", 105.0, 10.0), TourLine("hob", 115.0, 40.0))),
        ),
        "hob comes after height, which is said last, at the wheel",
    ),
    "before what it waits for": (
        lambda: (
            _with("step", after=("hob",)),
            GOOD,
        ),
        "step is shown before hob",
    ),
    "without what it waits for": (
        lambda: (
            _with("hob", after=("blind",)),
            GOOD,
        ),
        "hob needs blind before it, which is not shown",
    ),
    "at another station": (
        lambda: (
            _with("step", station="locker"),
            GOOD,
        ),
        "step is shown at door, it belongs to locker",
    ),
    "twice": (
        lambda: (
            PROBLEM,
            replace(
                GOOD,
                stops=(
                    replace(GOOD.stops[0], lines=(TourLine("step", 0.0, 20.0), TourLine("step", 20.0, 20.0))),
                    TourStop("locker", 10.0, 50.0, (TourLine("valve", 50.0, 60.0),)),
                    TourStop("seat", 15.0, 125.0, (TourLine("hob", 125.0, 40.0), TourLine("height", 165.0, 10.0))),
                ),
                end_s=175.0,
                value_cost=25.5,
            ),
        ),
        "step is shown 2 times",
    ),
    "done already": (lambda: (replace(PROBLEM, done=frozenset({"step", "known"})), GOOD), "step is done already"),
    "passed over": (lambda: (replace(PROBLEM, skipped=frozenset({"step"})), GOOD), "step was passed over"),
    "over time with something to spare": (
        lambda: (replace(PROBLEM, available_min=2.5), GOOD),
        "the tour is 5.00 s too long and still shows step, which may be left out",
    ),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_each_slip_is_caught_and_named_alone(slip):
    problem, plan = SLIPS[slip][0]()
    found = complaints(problem, plan)
    assert len(found) == 1, found
    assert SLIPS[slip][1] in found[0]
    with pytest.raises(NoPlan, match="did not pass its own check"):
        verified(problem, plan)


def test_what_must_be_said_may_be_over_time_and_passed_over():
    alone = replace(
        GOOD,
        stops=(
            TourStop("locker", 10.0, 10.0, (TourLine("valve", 10.0, 60.0),)),
            TourStop("seat", 15.0, 85.0, (TourLine("height", 85.0, 10.0),)),
        ),
        end_s=95.0,
        value_cost=14.5,
    )
    assert complaints(replace(PROBLEM, available_min=1.0, skipped=frozenset({"valve"})), alone) == ()
