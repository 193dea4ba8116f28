"""Planning again, the choice, on small generated days: each plan offered is sound and none outdoes another."""

from __future__ import annotations

from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st

from keyhook.errors import NoPlan
from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.checker import violations
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.events import PersonAway, ReturnsAt
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.recount import objective
from keyhook.turnaround.replan import day_from_now
from keyhook.turnaround.solve import solve
from keyhook.turnaround.tradeoff import MOST_NOTED, Front

SMALL = settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
LEVEL = st.integers(0, 6)
COSTS = st.lists(st.tuples(LEVEL, LEVEL, LEVEL, st.integers(0, 30)), min_size=1, max_size=MOST_NOTED)


@st.composite
def broken_days(draw):
    """A day from some minute on, after somebody has left or a return is late."""
    problem = generate_day(
        draw(st.integers(3, 6)), draw(st.sampled_from(["normal", "tight"])), draw(st.integers(0, 99))
    )
    plan = dispatch(problem)
    assume(isinstance(plan, Plan))
    now = draw(st.integers(problem.opening_min + 60, problem.opening_min + 300))
    running = {name for one in plan.tasks if one.start_min <= now < one.end_min for name in one.people}
    away = [PersonAway(one.id, (now, 1440)) for one in problem.people if one.id not in running]
    back = [ReturnsAt(one.id, now + draw(st.integers(5, 120))) for one in problem.vehicles if one.arrives_min > now]
    assume(away or back)
    return day_from_now(problem, plan, now, [draw(st.sampled_from([*away, *back]))])


@SMALL
@given(broken_days(), st.integers(0, 9))
def test_each_plan_offered_passes_the_checker_and_none_outdoes_another(day, seed):
    try:
        found = solve(day, Limits(step_count=600), seed=seed)
    except NoPlan:
        event("the day does not fit any more")
        return
    event(f"{len(found.choices)} plans")
    assert len(found.choices) != 1
    costs = []
    for one in found.choices:
        assert violations(day, one.plan) == ()
        costs.append(objective(day, one.plan))
    for cost in costs:
        others = [other for other in costs if other is not cost]
        assert not any(o[:3] <= cost[:3] and o.moved <= cost.moved for o in others)
    if costs:
        assert found.choices[-1].plan == found.plan
        assert costs[-1] == min(costs)


@given(COSTS)
def test_a_front_is_what_brute_force_finds(costs):
    front = Front()
    for cost in costs:
        front.note(Objective(*cost), lambda: Plan((), ()))
    best = {one for one in costs if not any(o[:3] <= one[:3] and o[3] <= one[3] and o != one for o in costs)}
    assert {tuple(one.objective) for one in front.noted} == best
    assert len(front.noted) == len(best)
