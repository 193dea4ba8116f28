"""Problems told at the desk in the name of whoever has them: note, photo, open until the task goes on or is done."""

from __future__ import annotations

import datetime as dt
import io
import re
import uuid

import pytest
from PIL import Image

from keyhook_desk.mywork.models import WorkPhoto
from keyhook_desk.yard.models import WorkMark
from keyhook_desk.yard.plan_reading import clock_of, events_of, marks_of, read_held

DAY = dt.date(2026, 7, 10)
BOARD = "/day/2026-07-10/plan/"


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def photo():
    body = io.BytesIO()
    Image.new("RGB", (60, 40), "teal").save(body, "JPEG")
    body.name, _ = "photo.jpg", body.seek(0)
    return body


@pytest.fixture
def task(friday):
    """The first task that one person does."""
    tasks = read_held(friday).plan.tasks
    return min((one for one in tasks if len(one.people) == 1), key=lambda one: (one.start_min, one.task))


def told(client, task, kind="problem", **more):
    fields = {"uid": str(uuid.uuid4()), "task": task.task, "kind": kind, "person": task.people[0], **more}
    return client.post(f"{BOARD}mark/", fields, follow=True)


def test_a_problem_rung_in_is_written_down_in_that_persons_name_with_its_photo(desk, task):
    answer = text_of(told(desk, task, note="The drain is blocked", photo=photo()))
    assert "Written down." in answer
    mark = WorkMark.objects.get()
    assert (mark.person, mark.by.get_username(), mark.note) == (task.people[0], "fenwick", "The drain is blocked")
    assert WorkPhoto.objects.get().digest == mark.photo
    part = answer[answer.index("Open problems") :]
    assert "The drain is blocked" in part
    assert "written down by Fenwick" in part
    assert f'<a class="shot" href="/my-work/photo/{mark.photo}/">' in part
    assert f"task={task.task}" in part


def test_the_panel_offers_it_for_every_task_and_says_what_was_told(desk, task):
    panel = text_of(desk.get(f"{BOARD}task/?task={task.task}"))
    assert 'name="kind" value="problem"' in panel
    assert 'enctype="multipart/form-data"' in panel
    told(desk, task, note="No key for the locker", photo=photo())
    panel = text_of(desk.get(f"{BOARD}task/?task={task.task}"))
    assert "No key for the locker" in panel
    assert panel.count(">photo</a>") == 1


@pytest.mark.parametrize("kind", ["started", "done"])
def test_a_problem_is_open_until_its_task_goes_on_or_is_done(desk, task, kind):
    told(desk, task, note="The drain is blocked")
    page = text_of(desk.get(BOARD))
    assert re.search(r'class="bar problem[^"]*" id="[^"]*' + re.escape(task.task), page)
    page = text_of(told(desk, task, kind))
    assert "Open problems" not in page
    assert "Problems that are over" in page
    assert "The drain is blocked" in page[page.index("Problems that are over") :]
    told(desk, task, note="And again")
    page = text_of(desk.get(BOARD))
    assert page.index("And again") < page.index("Problems that are over") < page.index("The drain is blocked")


def test_what_the_desk_writes_down_makes_nobody_else_the_one_who_did_it(friday, desk, task):
    told(desk, task, note="The drain is blocked")
    page = desk.get(BOARD).content.decode()
    part = page[page.index("Open problems") :]
    fields = dict(re.findall(r'<input type="hidden" name="(uid|task|person)" value="([^"]*)"', part)[:3])
    assert fields["person"] == task.people[0]
    desk.post(f"{BOARD}mark/", {**fields, "kind": "done"})
    done = events_of(read_held(friday), marks_of(DAY), clock_of(DAY), 600)
    assert next(event for event in done if event.task == task.task).people in {task.people, ()}


def test_a_task_of_two_asks_whose_word_it_is(friday, desk):
    laid = read_held(friday)
    shared = next((one for one in laid.plan.tasks if len(one.people) > 1), None)
    if shared is None:
        pytest.skip("nobody works in pairs in this plan")
    panel = text_of(desk.get(f"{BOARD}task/?task={shared.task}"))
    for name in shared.people:
        assert f'<option value="{name}">' in panel[panel.index("Said by") :]


@pytest.mark.parametrize(
    ("more", "says"),
    [({"person": "nobody-here"}, "Nobody of that name works here"), ({"note": "x" * 501}, "at most 500 letters"),
     ({"uid": "seven"}, "no number of its own"), ({"photo": io.BytesIO(b"no photo")}, "")],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_a_sentence_and_nothing_is_written(desk, task, more, says):
    answer = text_of(told(desk, task, **more))
    assert says in answer
    assert "Written down." not in answer
    assert not WorkMark.objects.exists()


def test_the_yard_sees_open_problems_and_may_say_that_it_goes_on(browser_of, yardhand, desk, task):
    told(desk, task, note="The drain is blocked")
    page = text_of(browser_of(yardhand).get(BOARD))
    assert "The drain is blocked" in page
    assert "It goes on" in page
