"""The hand-over ledger: signed once, chained by hash, and an altered entry is found."""

from __future__ import annotations

import copy
import hashlib
import json
import uuid

import pytest
from click.testing import CliRunner
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, connection, transaction

from keyhook.errors import BadInput
from keyhook_desk import command
from keyhook_desk.hires.models import HireRow
from keyhook_desk.walkround.ledger import trouble_in
from keyhook_desk.walkround.models import HandOverRecord
from keyhook_desk.walkround.services import drop_person
from keyhook_desk.web.models import HistoryLine

SIGNED = "M10 20 L300 100 M40 50 L41 52"


def fields(**changes):
    whole = {
        "uid": str(uuid.uuid4()),
        "name": "Cordelia Quibblethorpe",
        "signature": SIGNED,
        "shown": json.dumps([{"id": "hu_order", "text": "Vehicle first.", "how": "told"},
                             {"id": "gl_smell", "text": "Smell gas: out.", "how": ""}]),
        "asked": json.dumps([{"point": "hu_order", "text": "Show me the lead.", "answer": "again"}]),
        "caution": "It replaces no licence.",
        "at": "2026-07-10T14:31:00+01:00",
        "minutes": "38",
    }  # fmt: skip
    return whole | changes


def sign(browser, hire="H13", **changes):
    return browser.post(f"/hires/{hire}/walk/hand-over/", fields(**changes))


def records():
    return list(HandOverRecord.objects.select_related("hire"))


@pytest.fixture
def three(desk, depot):
    for hire in ("H13", "H12", "H01"):
        assert sign(desk, hire).status_code == 200
    return records()


def test_what_was_shown_asked_and_signed_stands_in_the_entry_and_on_its_page(desk, own, depot):
    assert sign(desk).json()["number"] == 1
    record = records()[0]
    assert record.entry["vehicle"] == HireRow.objects.get(name="H13").vehicle.name
    assert [point["how"] for point in record.entry["points"]] == ["told", ""]
    assert record.entry["by"] == own.username
    text = desk.get("/hires/H13/hand-over/1/").content.decode()
    for said in ("Cordelia Quibblethorpe", SIGNED, "It replaces no licence.", "Not shown, so not acknowledged",
                 "to be shown again", record.entry_hash, "10 Jul 2026 14:31"):  # fmt: skip
        assert said in text
    assert HistoryLine.objects.filter(name="H13", action="hand-over").count() == 1


def test_the_hire_leads_to_its_own_entries_and_to_no_other(desk, three):
    text = desk.get("/hires/H12/").content.decode()
    assert 'href="/hires/H12/hand-over/2/"' in text
    assert text.count("/hand-over/") == 1
    assert "/hand-over/" not in desk.get("/hires/H02/").content.decode()


def test_the_same_signature_sent_twice_is_one_entry(desk, depot):
    sent = fields()
    answers = [desk.post("/hires/H13/walk/hand-over/", sent).json() for _ in range(3)]
    assert [answer["number"] for answer in answers] == [1, 1, 1]
    assert HandOverRecord.objects.count() == 1
    assert desk.post("/hires/H12/walk/hand-over/", sent).status_code == 422


def test_the_hash_is_sha256_over_the_sorted_compact_json_of_the_entry(three):
    """FIPS 180-4 by the standard library; canonical form as the decision on documents and digests writes it."""
    before = ""
    for record in three:
        text = json.dumps(record.entry, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert hashlib.sha256(text.encode()).hexdigest() == record.entry_hash
        assert record.entry["before"] == record.before_hash == before
        before = record.entry_hash


def test_a_whole_ledger_has_no_trouble(three):
    assert trouble_in(three) == []
    assert trouble_in([]) == []


def _time(record):
    record.entry["at"] = "2026-07-11T09:00:00+01:00"


def _how(record):
    record.entry["points"][1]["how"] = "told"


def _name(record):
    record.personal["name"] = "Somebody Else"


def _signature(record):
    record.personal["signature"] = "M1 1 L2 2"


def _hire(record):
    record.hire = HireRow.objects.get(name="H25")


def _hashed_again(record):
    from keyhook_desk.web.document import document_hash  # noqa: PLC0415

    record.entry["minutes"] = 90
    record.entry_hash = document_hash(record.entry)


@pytest.mark.parametrize("alter", [_time, _how, _name, _signature, _hire, _hashed_again])
@pytest.mark.parametrize("which", [0, 1])
def test_an_altered_entry_is_found(three, alter, which):
    altered = copy.deepcopy(three)
    alter(altered[which])
    found = trouble_in(altered)
    assert found
    place = which + 2 if alter is _hashed_again else which + 1  # hashed anew, it is the next one that does not follow
    assert f"Entry {place} " in found[0]


def test_an_entry_taken_out_put_twice_or_moved_is_found(three):
    assert "lacks entry 2" in trouble_in([three[0], three[2]])[0]
    assert trouble_in([three[1], three[0], three[2]])
    assert trouble_in([three[0], three[0], three[1], three[2]])
    assert trouble_in(three[1:])


def test_the_database_itself_refuses_to_change_or_take_out_an_entry(three):
    statements = [
        "UPDATE walkround_handoverrecord SET number = 9 WHERE number = 1",
        "UPDATE walkround_handoverrecord SET entry = '{}' WHERE number = 2",
        'UPDATE walkround_handoverrecord SET personal = \'{"name": "X"}\' WHERE number = 2',
        "DELETE FROM walkround_handoverrecord WHERE number = 3",
    ]
    for statement in statements:
        with (
            pytest.raises(DatabaseError, match="hand_over_stays"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(statement)
    with pytest.raises(BadInput, match="stays as it is"):
        three[0].save()
    assert trouble_in(records()) == []


def test_name_and_signature_can_be_dropped_and_the_chain_still_holds(three, manager, own, desk):
    with pytest.raises(PermissionDenied):
        drop_person(actor=own, entry=three[1])
    drop_person(actor=manager, entry=three[1])
    again = records()
    assert again[1].personal is None
    assert "Cordelia" not in json.dumps(again[1].entry)
    assert trouble_in(again) == []
    assert "were dropped" in desk.get(f"/hires/{again[1].hire.name}/hand-over/2/").content.decode()


def test_the_digest_of_a_person_is_salted_so_that_a_name_cannot_be_tried_out(desk, depot):
    for hire in ("H13", "H12"):
        sign(desk, hire)
    one, other = records()
    assert one.personal["name"] == other.personal["name"]
    assert one.entry["personal"] != other.entry["personal"]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": "   "}, "has no name"),
        ({"name": "x" * 121}, "saw 121 letters"),
        ({"signature": '"/><script>'}, "signature cannot be read"),
        ({"signature": "M1 1" * 10000}, "signature cannot be read"),
        ({"shown": "{}"}, "cannot be read"),
        ({"shown": '[{"id": "hu_order", "how": "sung"}]'}, "saw sung"),
        ({"asked": '[{"point": "hu_order", "answer": "7"}]'}, "saw 7"),
        ({"at": "today"}, "saw today"),
        ({"uid": ""}, "cannot be read"),
    ],
)
def test_what_cannot_be_signed_is_refused_in_words_and_nothing_is_written(desk, depot, changes, said):
    answer = sign(desk, **changes)
    assert answer.status_code == 422
    assert said in answer.json()["said"]
    assert not HandOverRecord.objects.exists()


def test_a_typed_name_alone_is_enough(desk, depot):
    assert sign(desk, signature="").status_code == 200
    assert "Signed by typing the name" in desk.get("/hires/H13/hand-over/1/").content.decode()


def test_without_script_what_the_desk_has_ticked_is_what_is_acknowledged(desk, depot):
    desk.post("/hires/H13/walk/tick/", {"by_hand": "yes", "point": "hu_order", "kind": "told"})
    answer = desk.post("/hires/H13/walk/hand-over/", {"by_hand": "yes", "name": "Cordelia"})
    assert answer.status_code == 302
    entry = records()[0].entry
    assert {point["id"] for point in entry["points"] if point["how"]} == {"hu_order"}
    assert len(entry["points"]) > 10
    assert "replaces no licence" in entry["caution"]


def test_whoever_cannot_see_a_hire_that_is_not_there_gets_no_entry(desk, depot):
    sign(desk)
    assert desk.get("/hires/H12/hand-over/1/").status_code == 404
    assert desk.get("/hires/H13/hand-over/2/").status_code == 404


def _behind_the_back(statement):
    """Change a row with the guard taken down, as somebody with the database in their hands could."""
    if connection.vendor == "postgresql":
        down, up = (f"ALTER TABLE walkround_handoverrecord {what} TRIGGER ALL" for what in ("DISABLE", "ENABLE"))
    else:
        down, up = "DROP TRIGGER hand_over_stays_changed", "SELECT 1"
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE" if connection.vendor == "postgresql" else "SELECT 1")
        for one in (down, statement, up):
            cursor.execute(one)


def test_the_audit_finds_what_was_altered_behind_the_back_of_the_desk(three, monkeypatch):
    monkeypatch.setattr(command, "_migrate", lambda: None)
    whole = CliRunner().invoke(command.calculators, ["audit"])
    assert whole.exit_code == 0
    assert "whole: 3 entries" in whole.output
    assert three[2].entry_hash in whole.output
    _behind_the_back(
        "UPDATE walkround_handoverrecord SET hire_id = (SELECT max(id) FROM hires_hirerow) WHERE number = 2"
    )
    altered = CliRunner().invoke(command.calculators, ["audit"])
    assert altered.exit_code == 1
    assert "Entry 2 of the hand-over ledger was altered" in altered.output
