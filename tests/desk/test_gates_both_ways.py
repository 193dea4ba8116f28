"""A gate ticked on the page of a hire is the task of the day's plan done, in that vehicle, and taken back with it."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from keyhook_desk import clock
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.selectors import departures_on
from keyhook_desk.mywork.lists import day_of_person
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard import gate_services, plan_runs, plan_services
from keyhook_desk.yard.gate_services import tick_gate
from keyhook_desk.yard.models import GateTick, WorkMark
from keyhook_desk.yard.plan_board import states_of
from keyhook_desk.yard.plan_reading import clock_of, marks_of, minute_now, problem_now, read_held
from keyhook_desk.yard.services import the_depot

FRIDAY = dt.date(2026, 7, 10)
LAST_LOOK = "fin_quality"


def agreed(row):
    """Hires that the plan leaves in the vehicle they have, each with the people of its last look."""
    laid = read_held(row)
    rows = HireRow.objects.filter(name__in=laid.plan.vehicle_of).select_related("vehicle")
    return [
        (hire, laid.plan.by_task[f"{hire.name}.{LAST_LOOK}"].people)
        for hire in rows
        if hire.vehicle is not None and laid.plan.vehicle_of[hire.name] == hire.vehicle.name
    ]


@pytest.fixture
def hire(friday):
    return agreed(friday)[0][0]


def post_gate(client, hire, done, task=LAST_LOOK):
    address = reverse("hires:gate", args=[hire.name])
    return client.post(address, {"task": task, "vehicle": hire.vehicle.name, "done": "yes" if done else "no"})


def state(row, task):
    return states_of(read_held(row), marks_of(FRIDAY), minute_now(FRIDAY), clock_of(FRIDAY)).get(task)


def test_a_gate_ticked_on_the_page_is_done_on_board_and_list(friday, hire, desk):
    task, person = f"{hire.name}.{LAST_LOOK}", agreed(friday)[0][1][0]
    assert state(friday, task) is None
    assert post_gate(desk, hire, done=True).status_code == 302
    assert state(friday, task) == "done"
    line = next(one for one in day_of_person(friday, person, clock.now()).done if one.task == task)
    assert (line.by_other, line.ticked_by) == ("", "fenwick")
    assert "done: fenwick ticked the gate" in desk.get(f"/my-work/{FRIDAY}/{person}/").content.decode()
    assert [mark.note for mark in line.told] == [f"as a gate of {hire.name}"]


def test_one_line_of_the_history_says_both(hire, own):
    tick_gate(actor=own, hire=hire, task=LAST_LOOK, done=True)
    tick_gate(actor=own, hire=hire, task=LAST_LOOK, done=False)
    lines = [one.said for one in HistoryLine.objects.filter(kind="hire", name=hire.name, action="gate").order_by("pk")]
    head, also = f"Second pair of eyes in {hire.vehicle.name}", "; its task on the plan of 10.07. too"
    assert lines == [f"{head}: done{also}", f"{head}: open again{also}"]


def test_the_task_is_to_do_again_when_the_gate_is_opened(friday, hire, desk):
    task, person = f"{hire.name}.{LAST_LOOK}", agreed(friday)[0][1][0]
    for _ in range(2):
        post_gate(desk, hire, done=True)
        post_gate(desk, hire, done=False)
        assert state(friday, task) is None
        day = day_of_person(friday, person, clock.now())
        assert task in [line.task for line in (*day.now, *day.rest)]
    assert [mark.kind for mark in WorkMark.objects.filter(task=task)] == ["done", "reopened"] * 2


def test_what_somebody_said_themselves_stays_when_the_gate_is_opened(friday, hire, own):
    task = f"{hire.name}.{LAST_LOOK}"
    told = {"day": FRIDAY, "task": task, "person": "hob", "by": own}
    plan_services.mark(uid=uuid.uuid4(), kind="done", at=clock.now(), **told)
    assert GateTick.objects.count() == 1
    tick_gate(actor=own, hire=hire, task=LAST_LOOK, done=True)
    tick_gate(actor=own, hire=hire, task=LAST_LOOK, done=False)
    assert GateTick.objects.count() == 0
    assert state(friday, task) == "done"
    assert WorkMark.objects.count() == 1
    plan_services.mark(uid=uuid.uuid4(), kind="started", at=clock.now() - dt.timedelta(minutes=9), **told)
    assert GateTick.objects.count() == 0, "what began before proves nothing"


def test_a_gate_of_the_vehicle_itself_marks_the_task_on_it(friday, hire, own):
    laid = read_held(friday)
    for one, _ in agreed(friday):
        task = f"{one.vehicle.name}.tech_belts"
        if task in laid.plan.by_task:
            tick_gate(actor=own, hire=one, task="tech_belts", done=True)
            assert state(friday, task) == "done"
            return
    pytest.fail("no vehicle of the day comes back and leaves with the hire it has")


def test_a_gate_proved_in_another_vehicle_than_the_plans_marks_nothing(friday, own):
    laid = read_held(friday)
    rows = HireRow.objects.filter(name__in=laid.plan.vehicle_of).select_related("vehicle")
    apart = [row for row in rows if row.vehicle and laid.plan.vehicle_of[row.name] != row.vehicle.name]
    assert apart, "the plan of the demo day swaps somebody"
    tick_gate(actor=own, hire=apart[0], task=LAST_LOOK, done=True)
    assert GateTick.objects.count() == 1
    assert not WorkMark.objects.exists()


def test_what_was_ticked_before_the_plan_was_kept_is_done_in_it(own):
    for row in departures_on(FRIDAY, the_depot().zone):
        if row.vehicle is not None:
            tick_gate(actor=own, hire=row, task=LAST_LOOK, done=True)
    assert not WorkMark.objects.exists()
    proposal = plan_services.lay_out(day=FRIDAY, by=own)
    plan_runs.work(proposal.pk, steps=400, beats=False)
    row = plan_services.accept(proposal_id=proposal.pk, seen_version=0, by=own)
    names = {hire.name for hire, _ in agreed(row)}
    assert names
    assert {mark.task for mark in marks_of(FRIDAY)} == {f"{name}.{LAST_LOOK}" for name in names}
    plan_services.pin(day=FRIDAY, seen_version=1, what=min(names), pinned=True, by=own)
    assert WorkMark.objects.count() == len(names), "written once, however often the plan changes"


def test_planned_again_the_task_is_over_with_the_people_of_the_plan(friday, hire, own):
    task, people = f"{hire.name}.{LAST_LOOK}", agreed(friday)[0][1]
    assert problem_now(FRIDAY).task_by_id[task].fixed is None
    tick_gate(actor=own, hire=hire, task=LAST_LOOK, done=True)
    settled = problem_now(FRIDAY).task_by_id[task].fixed
    assert settled is not None
    assert settled.people == people
    tick_gate(actor=own, hire=hire, task=LAST_LOOK, done=False)
    assert problem_now(FRIDAY).task_by_id[task].fixed is None


def test_both_are_written_or_neither(hire, own, monkeypatch):
    def broken(**_):
        raise RuntimeError("the history is full")

    monkeypatch.setattr(gate_services, "record", broken)
    with pytest.raises(RuntimeError):
        tick_gate(actor=own, hire=hire, task=LAST_LOOK, done=True)
    assert not GateTick.objects.exists()
    assert not WorkMark.objects.exists()


def test_nobody_sends_a_mark_that_takes_one_back(friday, hire, desk):
    told = {"uid": str(uuid.uuid4()), "task": f"{hire.name}.{LAST_LOOK}", "kind": "reopened", "at": ""}
    answer = desk.post(reverse("mywork:mark", args=[FRIDAY.isoformat(), "hob"]), told)
    assert answer.status_code == 422
    assert "started, done or has a problem" in answer.json()["said"]
