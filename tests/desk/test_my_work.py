"""People's own lists: what is next, marks that are written once, photos, and nothing lost when the plan moves on."""

from __future__ import annotations

import datetime as dt
import io
import uuid

import pytest
from django.urls import reverse
from PIL import Image

from keyhook_desk import clock
from keyhook_desk.hires.models import HireRow
from keyhook_desk.mywork.lists import day_of_person
from keyhook_desk.mywork.models import WorkPhoto
from keyhook_desk.people.models import Role, User
from keyhook_desk.yard.models import GateTick, WorkMark
from keyhook_desk.yard.plan_reading import clock_of, read_held

FRIDAY = dt.date(2026, 7, 10)
WHO = "hob"


@pytest.fixture
def hob(depot):
    """The yard hand of the demo: his login is his name on the plan."""
    return User.objects.create_user("hob", password="kettle-on-the-hob", role=Role.YARD)


def _tasks(row, person=WHO):
    plan = read_held(row).plan
    return sorted((one for one in plan.tasks if person in one.people), key=lambda one: (one.start_min, one.task))


def _list(row, person=WHO):
    return day_of_person(row, person, clock.now())


def _mark(client, task, kind="done", person=WHO, **more):
    told = {"uid": str(uuid.uuid4()), "task": task, "kind": kind, "at": clock.now().isoformat(), **more}
    return client.post(reverse("mywork:mark", args=[FRIDAY.isoformat(), person]), told)


def _photo(kind="JPEG"):
    body = io.BytesIO()
    Image.new("RGB", (60, 40), "teal").save(body, kind)
    body.name, _ = "photo.jpg", body.seek(0)
    return body


def test_my_work_goes_to_ones_own_list_of_today(friday, hob, browser_of):
    answer = browser_of(hob).get("/my-work/")
    assert answer.headers["Location"] == "/my-work/2026-07-10/hob/"


def test_somebody_who_is_not_on_the_plan_chooses_whose_list(friday, desk):
    answer = desk.get("/my-work/")
    assert b"Hob Puddlethwack" in answer.content


def test_the_list_holds_the_tasks_of_the_plan_in_order_the_first_one_large(friday):
    mine, planned = _list(friday), _tasks(friday)
    shown = [line.task for line in (*mine.now, *mine.rest) if line.task]
    assert shown == [one.task for one in planned]
    assert mine.now[0].why
    assert mine.now[0].start == clock_of(FRIDAY).moment(planned[0].start_min)


def test_every_page_of_a_list_names_task_vehicle_and_minutes(friday, hob, browser_of):
    body = browser_of(hob).get(f"/my-work/{FRIDAY}/hob/").content.decode()
    first = _list(friday).now[0]
    assert first.name in body
    assert first.vehicle in body
    assert f"{first.minutes} min" in body


def test_started_runs_done_makes_place_for_the_next(friday, hob, browser_of):
    one, two = _tasks(friday)[:2]
    client = browser_of(hob)
    assert _mark(client, one.task, "started").status_code == 200
    assert _list(friday).now[0].state == "runs"
    _mark(client, one.task, "done")
    assert _list(friday).now[0].task == two.task
    assert [line.task for line in _list(friday).done] == [one.task]


def test_a_gate_task_done_on_the_list_is_a_gate_of_the_hire_in_the_vehicle_of_the_plan(friday, hob, browser_of):
    laid = read_held(friday)
    departure, vehicle = next((name, its) for name, its in laid.plan.allotment if its)
    client = browser_of(hob)
    assert _mark(client, f"{departure}.fin_quality").status_code == 200
    tick = HireRow.objects.get(name=departure).gates.get()
    assert (tick.task, tick.vehicle.name, tick.by) == ("fin_quality", vehicle, hob)
    leaves = {its: name for name, its in laid.plan.allotment}
    back = next(one.vehicle for one in laid.problem.tasks if one.kind == "tech_belts" and one.vehicle in leaves)
    assert _mark(client, f"{back}.tech_belts").status_code == 200
    assert HireRow.objects.get(name=leaves[back]).gates.filter(task="tech_belts", vehicle__name=back).count() == 1
    _mark(client, f"{departure}.pack_welcome")
    _mark(client, f"{departure}.fin_photos", "started")
    assert GateTick.objects.count() == 2


@pytest.mark.parametrize("order", [("done", "problem"), ("problem", "done")])
def test_a_problem_told_after_a_gate_was_done_opens_it_in_whatever_order_the_two_arrive(friday, hob, browser_of, order):
    departure = next(name for name, its in read_held(friday).plan.allotment if its)
    now = clock.now()
    when = {"done": now - dt.timedelta(minutes=9), "problem": now - dt.timedelta(minutes=2)}
    gates = HireRow.objects.get(name=departure).gates
    for kind in order:
        _mark(browser_of(hob), f"{departure}.fin_quality", kind, at=when[kind].isoformat(), note="a crack in the step")
    assert gates.count() == 0
    _mark(browser_of(hob), f"{departure}.fin_quality", "done", at=now.isoformat())
    assert gates.count() == 1


def test_a_mark_sent_twice_is_written_once(friday, hob, browser_of):
    client, uid = browser_of(hob), str(uuid.uuid4())
    for _ in range(2):
        assert _mark(client, _tasks(friday)[0].task, uid=uid).json() == {"uid": uid}
    assert WorkMark.objects.count() == 1


def test_what_another_one_did_meanwhile_is_said_and_both_marks_stay(friday, hob, own, browser_of):
    task = _tasks(friday)[0].task
    _mark(browser_of(own), task, person="wilf")
    _mark(browser_of(hob), task)
    assert WorkMark.objects.filter(task=task).count() == 2
    assert _list(friday).done[0].by_other == "Wilf Anglethorn"


def test_a_problem_with_a_photo_reaches_the_desk(friday, hob, own, browser_of):
    task = _tasks(friday)[0].task
    assert _mark(browser_of(hob), task, "problem", note="the drain is blocked", photo=_photo()).status_code == 200
    mark = WorkMark.objects.get()
    assert WorkPhoto.objects.get().digest == mark.photo
    board = browser_of(own).get(f"/day/{FRIDAY}/plan/").content.decode()
    assert "the drain is blocked" in board
    assert f"/my-work/photo/{mark.photo}/" in board
    shown = browser_of(own).get(f"/my-work/photo/{mark.photo}/")
    assert shown.headers["Content-Type"] == "image/jpeg"
    assert Image.open(io.BytesIO(shown.content)).size == (60, 40)


def test_the_same_photo_is_kept_once(friday, hob, browser_of):
    tasks = _tasks(friday)[:2]
    for one in tasks:
        _mark(browser_of(hob), one.task, "problem", note="look", photo=_photo())
    assert WorkPhoto.objects.count() == 1
    assert WorkMark.objects.count() == 2


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"kind": "perhaps"}, "started, done or has a problem"),
        ({"uid": "seven"}, "no number of its own"),
        ({"at": "half past nine"}, "no moment"),
        ({"at": "2026-07-10T09:00:00"}, "no offset"),
        ({"task": "no.such"}, "no such task"),
    ],
)
def test_a_wrong_mark_is_refused_in_one_sentence_and_nothing_is_written(friday, hob, browser_of, told, says):
    answer = _mark(browser_of(hob), told.pop("task", _tasks(friday)[0].task), **{"kind": "done", **told})
    assert answer.status_code == 422
    assert says in answer.json()["said"]
    assert not WorkMark.objects.exists()


def test_a_file_that_is_no_photo_is_refused_with_its_mark(friday, hob, browser_of):
    file = io.BytesIO(b"<svg onload='alert(1)'/>")
    file.name = "photo.jpg"
    answer = _mark(browser_of(hob), _tasks(friday)[0].task, "problem", note="x", photo=file)
    assert answer.status_code == 422
    assert not WorkMark.objects.exists()
    assert not WorkPhoto.objects.exists()


def test_the_list_is_sent_again_only_when_something_changed(friday, hob, browser_of):
    client, stamp = browser_of(hob), _list(friday).stamp
    address = f"/my-work/{FRIDAY}/hob/state/?seen="
    assert client.get(address + stamp).status_code == 204
    _mark(client, _tasks(friday)[0].task)
    assert client.get(address + stamp).status_code == 200


def test_a_page_without_script_marks_too(friday, hob, browser_of):
    answer = _mark(browser_of(hob), _tasks(friday)[0].task, "started", by_hand="1", at="")
    assert answer.headers["Location"] == f"/my-work/{FRIDAY}/hob/"
    assert WorkMark.objects.get().kind == "started"


def test_a_day_nobody_planned_says_so(hob, browser_of):
    assert b"Nobody holds a plan" in browser_of(hob).get("/my-work/2026-07-12/hob/").content


@pytest.mark.parametrize("address", ["/my-work/never/hob/", "/my-work/2026-07-10/nobody/", "/my-work/photo/abc/"])
def test_an_address_of_nothing_is_not_found(friday, hob, browser_of, address):
    assert browser_of(hob).get(address).status_code == 404


def test_a_stranger_sees_no_list_and_no_photo(friday, stranger):
    for address in (f"/my-work/{FRIDAY}/hob/", "/my-work/photo/abc/"):
        assert stranger.get(address).status_code == 302
