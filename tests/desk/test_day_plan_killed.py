"""As it really runs: the process of a search killed in the middle, and two people who press at the same moment."""

from __future__ import annotations

import datetime as dt
import os
import re
import signal
import subprocess
import threading
import time
from pathlib import Path

import pytest
from django.db import connection

from keyhook.turnaround.checker import violations
from keyhook.turnaround.events import Damage, PersonAway
from keyhook_desk.hires.models import HireRow
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard import plan_reading, plan_runs
from keyhook_desk.yard.models import Proposal
from keyhook_desk.yard.plan_page import proposed
from keyhook_desk.yard.plan_reading import held, read_held, taken_along
from keyhook_desk.yard.plan_vehicles import otherwise

DAY = dt.date(2026, 7, 10)
BOARD = "/day/2026-07-10/plan/"
CHANGE = f"{BOARD}change/"
LONGEST_S, OFTEN_S = 280, 0.2


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


def until(what):
    """Wait until something is so."""
    end = time.monotonic() + LONGEST_S
    while not (found := what()):
        assert time.monotonic() < end, "it took too long"
        time.sleep(OFTEN_S)
    return found


@pytest.fixture
def in_a_process(transactional_db, settings, monkeypatch, tmp_path):
    """Searches run in processes of their own on the same database, as on a desk that is served; these are they."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor == "sqlite":
        (tmp_path / "desk.sqlite3").symlink_to(Path(name))
    else:
        monkeypatch.setenv("PGDATABASE", name)
    monkeypatch.setenv("KEYHOOK_HOME", str(tmp_path))
    settings.PLAN_IN_A_PROCESS = True
    started, real = [], subprocess.Popen

    def popen(words, **how):
        started.append(real(words, **how))
        return started[-1]

    monkeypatch.setattr(plan_runs.subprocess, "Popen", popen)
    yield started
    for process in started:
        if process.poll() is None:
            process.kill()
        process.wait(timeout=20)


def test_a_search_that_is_killed_leaves_the_plan_says_so_and_can_be_begun_again(
    transactional_db, friday, own, desk, in_a_process, monkeypatch
):
    before = read_held(held(DAY))
    asked = text_of(desk.post(CHANGE, {"act": "again"}, follow=True))
    assert "being planned again" in asked
    (search,) = in_a_process
    row = Proposal.objects.get(day=DAY, answer="")

    def has_a_plan():
        row.refresh_from_db()
        assert row.state in {"queued", "running"}, (row.state, row.said)
        return row.document is not None

    until(has_a_plan)
    os.kill(search.pid, signal.SIGKILL)
    assert search.wait(timeout=20) == -signal.SIGKILL
    row.refresh_from_db()
    assert row.state == "running", "it had no time to say anything"
    monkeypatch.setattr(plan_reading, "SILENCE", dt.timedelta(seconds=1))
    until(lambda: plan_runs.has_stopped(row))

    assert held(DAY).version == 1
    assert read_held(held(DAY)).plan == before.plan
    last = proposed(row)
    assert violations(last.problem, last.plan) == (), "what it had found is whole"
    page = text_of(desk.get(BOARD))
    assert "The search has stopped before its end: its process was ended. The plan people hold stays." in page
    assert '<button class="button" name="act" value="again">Plan again</button>' in page
    assert "Version 1, kept by Fenwick" in page
    on_it = set(re.findall(r'data-task="([^"]+)"', page))
    assert {one.task for one in before.plan.tasks} <= on_it

    desk.post(CHANGE, {"act": "again"})
    fresh = Proposal.objects.get(day=DAY, answer="")
    assert fresh.pk != row.pk
    monkeypatch.setattr(plan_reading, "SILENCE", dt.timedelta(seconds=60))
    assert "has stopped" not in text_of(desk.get(BOARD))
    assert until(lambda: Proposal.objects.get(pk=fresh.pk).document) is not None


def at_once(*acts):
    """Do things in threads that start together; what each brought."""
    gate, brought = threading.Barrier(len(acts)), [None] * len(acts)

    def run(number, act):
        gate.wait()
        try:
            brought[number] = act()
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
    return brought


def test_two_who_plan_again_at_once_get_one_search_and_one_of_them_is_told(
    transactional_db, friday, desk, browser_of, colleague
):
    theirs = browser_of(colleague)
    answers = at_once(
        lambda: text_of(desk.post(CHANGE, {"act": "again"}, follow=True)),
        lambda: text_of(theirs.post(CHANGE, {"act": "again"}, follow=True)),
    )
    row = Proposal.objects.get(day=DAY, answer="")
    assert Proposal.objects.filter(day=DAY).exclude(answer="accepted").count() == 1
    told = [answer for answer in answers if f"{row.made_by} asked for a new plan a moment ago" in answer]
    began = [answer for answer in answers if "is being planned again from how things stand" in answer]
    assert len(told) == len(began) == 1
    assert "one for everybody" in told[0]


def test_two_pieces_of_news_at_once_come_together_in_one_plan(
    transactional_db, friday, own, colleague, desk, browser_of
):
    theirs = browser_of(colleague)
    ill = {"act": "news", "kind": "person", "person": "tolly", "from": "09:00"}
    damage = {"act": "news", "kind": "damage", "vehicle": "W4-02", "minutes": "60"}
    answers = at_once(
        lambda: text_of(desk.post(CHANGE, ill, follow=True)),
        lambda: text_of(theirs.post(CHANGE, damage, follow=True)),
    )
    row = Proposal.objects.get(day=DAY, answer="")
    assert {event["kind"] for event in row.events} == {PersonAway.__name__, Damage.__name__}
    assert sum("is taken along in one plan" in answer for answer in answers) == 1
    assert sum("The rest of the day is being planned again." in answer for answer in answers) == 1
    assert taken_along(row, 1).made_by != row.made_by


def test_two_who_give_the_hires_their_vehicles_at_once_do_it_once(
    transactional_db, friday, desk, browser_of, colleague
):
    theirs = browser_of(colleague)
    apart = otherwise(read_held(friday))
    can = [one for one in apart if not one.why_not]
    if not can:
        pytest.skip("this plan leaves every hire the vehicle it has")
    sent = {"act": "give", "version": 1, "seen": [one.seen for one in apart]}
    answers = at_once(
        lambda: text_of(desk.post(CHANGE, sent, follow=True)),
        lambda: text_of(theirs.post(CHANGE, sent, follow=True)),
    )
    assert sum("the vehicle of the plan." in answer for answer in answers) == 1
    assert sum("since you looked at it; nothing of yours was written" in answer for answer in answers) == 1
    for one in can:
        row = HireRow.objects.select_related("vehicle").get(name=one.hire)
        assert (row.vehicle.name, row.version) == (one.new, one.version + 1)
        assert HistoryLine.objects.filter(kind="hire", name=one.hire, action="edit").count() == 1
