"""The plan of a day on the desk: versions, two at once, answers, pins, moves by hand, marks that come twice."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.core.exceptions import PermissionDenied

from keyhook.errors import BadInput, UnknownName
from keyhook.turnaround.checker import violations
from keyhook.turnaround.documents import day_document, day_of, event_document, event_of, plan_document, plan_of
from keyhook.turnaround.events import Damage, PersonAway, ReturnsAt, TaskDone, TaskRuns
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.yard import plan_runs, plan_services
from keyhook_desk.yard.models import HeldPlan, Proposal, WorkMark
from keyhook_desk.yard.plan_reading import held, problem_now, read_held

DAY = dt.date(2026, 7, 10)
NOW = dt.datetime.fromisoformat("2026-07-10T10:00:00+01:00")


def searched(proposal):
    plan_runs.work(proposal.pk, steps=200, beats=False)
    proposal.refresh_from_db()
    return proposal


@pytest.fixture
def planned(friday):
    return friday


def a_task_after(laid, minute, *, people=1):
    """The last task to begin in the plan: nothing comes after it in its chain as a rule."""
    mine = [one for one in laid.plan.tasks if one.start_min >= minute and len(one.people) == people]
    return max(mine, key=lambda one: one.start_min)


def test_what_is_kept_has_passed_the_checker(planned):
    laid = read_held(planned)
    assert violations(laid.problem, laid.plan) == ()
    assert {name for name, _ in laid.plan.allotment} == {f"H{n}" for n in range(10, 20)}
    assert planned.version == 1


def test_documents_of_day_and_plan_read_back_the_same(planned):
    laid = read_held(planned)
    assert day_of(day_document(laid.problem)) == laid.problem
    assert plan_of(plan_document(laid.plan)) == laid.plan
    for event in (ReturnsAt("V2-03", 600), PersonAway("tolly", (600, 700)), TaskDone("x", 9, ("hob",))):
        assert event_of(event_document(event)) == event


def test_a_search_that_is_running_is_not_started_twice(own, colleague):
    first = plan_services.lay_out(day=DAY, by=own)
    assert plan_services.lay_out(day=DAY, by=colleague).pk == first.pk


def test_the_second_of_two_who_plan_takes_the_news_of_the_first_along(planned, own, colleague):
    first = plan_services.propose(day=DAY, events=[PersonAway("tolly", (480, 1080))], by=own, reason="Tolly is ill")
    second = plan_services.propose(day=DAY, events=[Damage("W4-02", 60)], by=colleague, reason="W4-02 dented")
    first.refresh_from_db()
    assert first.answer == "overtaken"
    assert [event["kind"] for event in second.events] == ["PersonAway", "Damage"]
    searched(second)
    kept = plan_services.accept(proposal_id=second.pk, seen_version=1, by=colleague)
    assert [line["said"] for line in kept.document["news"]] == ["Tolly is ill", "W4-02 dented"]
    laid = read_held(kept)
    assert not [one for one in laid.plan.tasks if "tolly" in one.people]
    with pytest.raises(EditedMeanwhile, match="overtaken already by Orla: W4-02 dented"):
        plan_services.accept(proposal_id=first.pk, seen_version=1, by=own)


def test_a_search_ends_when_its_proposal_has_been_answered(planned, own):
    proposal = plan_services.propose(day=DAY, events=[PersonAway("tolly", (480, 1080))], by=own, reason="ill")
    plan_services.refuse(proposal_id=proposal.pk, by=own)
    assert searched(proposal).document is None
    assert held(DAY).version == 1


def test_nobodys_acceptance_is_lost_when_the_plan_changed_meanwhile(planned, own, colleague):
    proposal = searched(plan_services.propose(day=DAY, events=[], by=own))
    task = read_held(planned).plan.tasks[-1].task
    plan_services.pin(day=DAY, seen_version=1, what=task, pinned=True, by=colleague)
    with pytest.raises(EditedMeanwhile, match="changed meanwhile by Orla"):
        plan_services.accept(proposal_id=proposal.pk, seen_version=1, by=own)
    assert held(DAY).version == 2


def test_accepting_twice_keeps_once(planned, own):
    proposal = searched(plan_services.propose(day=DAY, events=[], by=own))
    assert plan_services.accept(proposal_id=proposal.pk, seen_version=1, by=own).version == 2
    assert plan_services.accept(proposal_id=proposal.pk, seen_version=1, by=own).version == 2


def test_a_search_that_broke_off_says_so_and_the_plan_stays(planned, own, monkeypatch):
    proposal = plan_services.propose(day=DAY, events=[], by=own)
    monkeypatch.setattr(plan_runs, "search", lambda *_, **__: 1 / 0)
    assert "broke off" in searched(proposal).said
    assert proposal.state == "failed"
    assert held(DAY).version == 1


def test_a_search_whose_process_was_ended_is_known_by_its_silence(planned, own):
    proposal = plan_services.propose(day=DAY, events=[], by=own)
    assert not plan_runs.has_stopped(proposal)
    proposal.beat_at -= dt.timedelta(minutes=2)
    assert plan_runs.has_stopped(proposal)


def test_a_day_without_anybody_is_said_to_be_one(own):
    proposal = searched(plan_services.lay_out(day=dt.date(2026, 12, 25), by=own))
    assert proposal.state == "failed"
    assert "Nobody comes or goes on this day" in proposal.said


def test_a_move_that_breaks_a_rule_is_refused_in_words(planned, own):
    laid = read_held(planned)
    hand_over = next(one for one in laid.plan.tasks if laid.problem.task_by_id[one.task].needs_hirer and one.people)
    effect = plan_services.try_move(day=DAY, task=hand_over.task, person="", start_min=485)
    assert effect.broken
    with pytest.raises(BadInput) as refused:
        plan_services.move(day=DAY, seen_version=1, task=hand_over.task, person="", start_min=485, by=own)
    assert "minute 4" not in str(refused.value)
    assert held(DAY).version == 1


def test_a_move_within_the_rules_is_kept_pinned_and_undone(planned, own):
    laid = read_held(planned)
    free = next(
        (one, start)
        for one in sorted(laid.plan.tasks, key=lambda one: -one.start_min)
        for start in range(one.start_min + 5, one.start_min + 40, 5)
        if one.people and not plan_services.try_move(day=DAY, task=one.task, person="", start_min=start).broken
    )
    task, start = free[0].task, free[1]
    kept = plan_services.move(day=DAY, seen_version=1, task=task, person="", start_min=start, by=own)
    assert read_held(kept).plan.by_task[task].start_min == start
    assert task in read_held(kept).pinned_tasks
    again = searched(plan_services.propose(day=DAY, events=[], by=own))
    assert {one["task"]: one["start_min"] for one in again.document["plan"]["tasks"]}[task] == start
    back = plan_services.undo(day=DAY, seen_version=2, by=own)
    assert read_held(back).plan == laid.plan
    with pytest.raises(BadInput, match="nothing to undo"):
        plan_services.undo(day=DAY, seen_version=back.version, by=own)


def test_a_pinned_vehicle_stays_with_its_departure(planned, own):
    vehicle = read_held(planned).plan.vehicle_of["H10"]
    plan_services.pin(day=DAY, seen_version=1, what="H10", pinned=True, by=own)
    proposal = searched(plan_services.propose(day=DAY, events=[], by=own))
    assert dict(proposal.document["plan"]["allotment"])["H10"] == vehicle


def test_a_mark_sent_twice_is_written_once(planned, yardhand):
    task = read_held(planned).plan.tasks[0].task
    sent = {"uid": uuid.uuid4(), "day": DAY, "task": task, "kind": "done", "person": "hob", "at": NOW, "by": yardhand}
    assert plan_services.mark(**sent).pk == plan_services.mark(**sent).pk
    assert WorkMark.objects.count() == 1


def test_marks_stand_in_the_day_as_it_is(planned, yardhand, settings):
    settings.NOW = NOW
    laid = read_held(planned)
    late = a_task_after(laid, 700)
    sent = {"day": DAY, "task": late.task, "person": late.people[0], "at": NOW, "by": yardhand}
    plan_services.mark(uid=uuid.uuid4(), kind="started", **sent)
    assert problem_now(DAY).task_by_id[late.task].fixed.start_min == 600
    plan_services.mark(uid=uuid.uuid4(), kind="done", **sent)
    assert problem_now(DAY).task_by_id[late.task].fixed.end_min == 600


def test_the_rest_of_the_day_is_planned_around_what_was_marked(planned, own, yardhand, settings):
    settings.NOW = NOW
    laid = read_held(planned)
    late = a_task_after(laid, 700)
    plan_services.mark(
        uid=uuid.uuid4(), day=DAY, task=late.task, kind="done", person=late.people[0], at=NOW, by=yardhand
    )
    proposal = searched(plan_services.propose(day=DAY, events=[TaskRuns(laid.plan.tasks[0].task, 590, 640)], by=own))
    assert proposal.state == "ready", proposal.said
    tasks = {one["task"]: one for one in proposal.document["plan"]["tasks"]}
    assert tasks[late.task]["end_min"] == 600
    assert tasks[laid.plan.tasks[0].task]["end_min"] == 640


@pytest.mark.parametrize(
    ("change", "says"),
    [({"task": "W4-99.wash"}, "no such task"), ({"kind": "begun"}, "started, done or has a problem"),
     ({"at": NOW.replace(tzinfo=None)}, "no offset"), ({"note": "x" * 501}, "at most 500 letters")],
)  # fmt: skip
def test_a_mark_that_cannot_be_is_refused_in_a_sentence(planned, yardhand, change, says):
    sent = {"day": DAY, "task": read_held(planned).plan.tasks[0].task, "kind": "done", "person": "hob", "at": NOW}
    with pytest.raises((BadInput, UnknownName), match=says):
        plan_services.mark(uid=uuid.uuid4(), by=yardhand, **{**sent, **change})


@pytest.mark.parametrize(
    "event", [ReturnsAt("V9-99", 600), PersonAway("nobody", (1, 2)), PersonAway("hob", (700, 600))]
)
def test_news_about_what_the_day_has_not_opens_no_proposal(planned, own, event):
    with pytest.raises((BadInput, UnknownName)):
        plan_services.propose(day=DAY, events=[event], by=own)
    assert not Proposal.objects.filter(day=DAY, answer="").exists()


def test_only_desk_and_managers_change_plans(planned, yardhand, technician):
    for person in (yardhand, technician):
        for act in (
            lambda by: plan_services.lay_out(day=DAY, by=by),
            lambda by: plan_services.propose(day=DAY, events=[], by=by),
            lambda by: plan_services.undo(day=DAY, seen_version=1, by=by),
        ):
            with pytest.raises(PermissionDenied):
                act(person)
    assert HeldPlan.objects.get(day=DAY).version == 1


def test_a_day_that_does_not_fit_says_what_would_be_enough(planned, own):
    laid = read_held(planned)
    hands = [person.id for person in laid.problem.people if "clean" in person.skills]
    events = [PersonAway(name, (480, 1300)) for name in hands]
    proposal = searched(plan_services.propose(day=DAY, events=events, by=own, reason="No cleaner came"))
    assert proposal.state == "failed"
    assert "it needs the skill clean" in proposal.said
    assert "Put somebody with that skill on shift" in proposal.said


def test_a_search_in_a_process_of_its_own_is_our_own_command(planned, settings, monkeypatch):
    started = []
    monkeypatch.setattr(plan_runs.subprocess, "Popen", lambda words, **how: started.append((words, how)))
    settings.PLAN_IN_A_PROCESS = True
    plan_runs.start(7)
    (words, how) = started[0]
    assert words[1:] == ["-m", "keyhook_desk", "planning", "7"]
    assert how["start_new_session"]
