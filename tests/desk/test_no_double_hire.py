"""One vehicle, one hire at a time: the database itself says no, on either engine, and the page says it kindly."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from collections import Counter
from contextlib import ExitStack
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from keyhook_desk.hires import guard
from keyhook_desk.hires.checks import the_guard_is_up
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import add_hire, hire_of, save_hire
from keyhook_desk.people.models import Role, User
from keyhook_desk.web.errors import DoubleHire
from keyhook_desk.yard.services import take_in_folder

RACERS, LONGEST_S = 8, 240
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def out(h25):
    """A hire that holds its vehicle, with the record to make others from."""
    return hire_of(h25)


def moved(hire, *, start, end, **changes):
    return hire.model_copy(update={"collect_at": start, "return_at": end, **changes})


@pytest.mark.parametrize(
    ("from_start", "from_end"),
    [(0, 0), (-24, -1), (1, 24), (-24, 24), (1, -1)],
    ids=["the same time", "overlapping its end", "overlapping its begin", "around it", "within it"],
)
def test_an_overlap_is_refused_whichever_way_it_lies(own, out, from_start, from_end):
    other = moved(out, start=out.collect_at + from_start * HOUR, end=out.return_at + from_end * HOUR)
    with pytest.raises(DoubleHire):
        add_hire(actor=own, hire=other)
    assert (
        HireRow.objects.filter(vehicle__name=out.vehicle, collect_at=other.collect_at).exclude(name=out.id).count() == 0
    )


def test_the_sentence_names_the_other_hire_in_local_time(own, out):
    with pytest.raises(DoubleHire) as refused:
        add_hire(actor=own, hire=moved(out, start=out.collect_at + HOUR, end=out.return_at + HOUR))
    said = str(refused.value)
    first, last = out.collect_at, out.return_at  # as written in the demo: on the depot's clock
    assert said == (
        f"{out.vehicle} is already given to another hire at that time "
        f"(saw {out.id} {out.lead}, {first:%-d %b %H:%M} to {last:%-d %b %H:%M}). Change the times or the vehicle"
    )


def test_a_vehicle_may_leave_the_minute_it_comes_back(own, out):
    row = add_hire(actor=own, hire=moved(out, start=out.return_at, end=out.return_at + 24 * HOUR))
    assert row.vehicle.name == out.vehicle


@pytest.mark.parametrize("status", ["enquiry", "cancelled"])
def test_what_holds_no_vehicle_stands_in_nobodys_way(own, out, status):
    row = add_hire(actor=own, hire=out.model_copy(update={"status": status}))
    assert row.status == status


@pytest.mark.parametrize("status", ["booked", "out", "returned", "closed"])
def test_a_hire_that_is_taken_up_again_must_find_its_vehicle_free(own, out, status):
    row = add_hire(actor=own, hire=out.model_copy(update={"status": "enquiry"}))
    with pytest.raises(DoubleHire):
        save_hire(actor=own, hire=hire_of(row).model_copy(update={"status": status}), seen_version=row.version)
    row.refresh_from_db()
    assert row.status == "enquiry"


def test_hires_without_a_vehicle_may_overlap(own, out):
    for _ in range(2):
        add_hire(actor=own, hire=out.model_copy(update={"vehicle": None}))
    assert HireRow.objects.filter(vehicle=None, lead=out.lead).count() == 2


def test_nothing_gets_past_the_database_even_without_our_code(h25):
    with pytest.raises(IntegrityError, match=guard.NAME), transaction.atomic():
        HireRow.objects.bulk_create([HireRow(
            name="SLY", lead="Sly", search="", vehicle_id=h25.vehicle_id, status="out", digest="x",
            collect_at=h25.collect_at, return_at=h25.return_at, document={},
        )])  # fmt: skip
    other = HireRow.objects.exclude(vehicle_id=h25.vehicle_id).filter(status="booked").first()
    with pytest.raises(IntegrityError, match=guard.NAME), transaction.atomic():
        HireRow.objects.filter(pk=other.pk).update(
            vehicle_id=h25.vehicle_id, collect_at=h25.collect_at, return_at=h25.return_at
        )


def test_the_page_says_it_and_keeps_what_was_typed(desk, h25, typed):
    other = HireRow.objects.exclude(vehicle_id=h25.vehicle_id).filter(status="booked").exclude(vehicle=None).first()
    times = {key: typed(h25)[key] for key in ("collect_at", "return_at")}
    response = desk.post(
        f"/hires/{other.name}/", typed(other, vehicle=h25.vehicle.name, note="bring the cat", save="yes", **times)
    )
    text = response.content.decode()
    assert f"{h25.vehicle.name} is already given to another hire at that time" in text
    assert "bring the cat" in text
    other.refresh_from_db()
    assert other.version == 1


def test_losing_the_guard_is_noticed(transactional_db):
    with connection.schema_editor() as schema:
        guard.take_down(None, schema)
    try:
        assert [found.id for found in the_guard_is_up(None, databases=["default"])] == ["keyhook.E002"]
    finally:
        with connection.schema_editor() as schema:
            guard.put_up(None, schema)
    assert the_guard_is_up(None, databases=["default"]) == []


def race(vehicle, day, once=""):
    """Let the racers run against this test's database and return what each said."""
    racer = [sys.executable, str(Path(__file__).with_name("racer.py")), str(connection.settings_dict["NAME"])]
    with ExitStack() as stack:
        runners = [
            stack.enter_context(
                subprocess.Popen([*racer, vehicle, day, once], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
            )
            for _ in range(RACERS)
        ]
        assert [runner.stdout.readline() for runner in runners] == ["ready\n"] * RACERS
        for runner in runners:
            runner.stdin.write("go\n")
            runner.stdin.flush()
        return [runner.communicate(timeout=LONGEST_S)[0].strip() for runner in runners]


@pytest.fixture
def racing(transactional_db, folder):
    take_in_folder(actor=None, folder=folder)
    User.objects.create_user("racing", role=Role.DESK)
    connection.close()


def test_of_eight_processes_that_want_one_vehicle_one_gets_it(racing):
    said = race("V2-05", "2031-03-02")
    assert Counter(line.split()[0] for line in said) == {"wrote": 1, "refused": RACERS - 1}
    winner = next(line.split()[1] for line in said if line.startswith("wrote"))
    assert all(
        f"already given to another hire at that time (saw {winner} Racer" in line for line in said if "refused" in line
    )
    assert HireRow.objects.filter(lead="Racer").count() == 1


def test_eight_processes_that_write_at_once_each_get_a_number_of_their_own(racing):
    said = race("", "2031-03-02")
    assert sorted(said) == [f"wrote H{n}" for n in range(26, 26 + RACERS)]


@pytest.mark.parametrize("vehicle", ["V2-05", ""])
def test_one_form_sent_eight_times_at_once_becomes_one_hire(racing, vehicle):
    assert race(vehicle, "2031-03-02", once="the-same-form") == ["wrote H26"] * RACERS
    assert HireRow.objects.filter(lead="Racer").count() == 1


def test_the_guard_stands_after_every_migration(transactional_db):
    call_command("migrate", verbosity=0)
    assert the_guard_is_up(None, databases=["default"]) == []
