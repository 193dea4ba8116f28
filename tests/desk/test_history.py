"""Every mutation leaves one line: who, when, what, and the hash of the record before and after."""

from __future__ import annotations

import datetime as dt
import hashlib
import importlib
import inspect
import io
import json
import pkgutil
import uuid

import pytest
from django.apps import apps
from PIL import Image

import keyhook_desk
from keyhook.catalogue import load_catalogue
from keyhook.depot.depot import Counted
from keyhook_desk.fleet import services as fleet
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires import services as hires
from keyhook_desk.hires.giving import Gift
from keyhook_desk.hires.models import HireRow, VehiclesGiven
from keyhook_desk.pack import services as pack
from keyhook_desk.people import services as people
from keyhook_desk.people.models import Role
from keyhook_desk.walkround import services as walk
from keyhook_desk.walkround.wishes import Settings
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.web.pictures import read_picture
from keyhook_desk.yard import count_services as counts
from keyhook_desk.yard import gate_services as gates
from keyhook_desk.yard import services as yard

DAY = dt.date(2026, 7, 10)
#: How each mutation of the desk is done once; a mutation that is not here fails the test that walks them.
CASES = {
    "add_hire": lambda c: hires.add_hire(actor=c.own, hire=c.hire.model_copy(update={"vehicle": None})),
    "save_hire": lambda c: hires.save_hire(
        actor=c.own, hire=c.hire.model_copy(update={"note": "other words"}), seen_version=1
    ),
    "give_vehicles": lambda c: hires.give_vehicles(actor=c.own, day=DAY, gifts=[Gift("H15", 1, "")]),
    "take_vehicles_back": lambda c: hires.take_vehicles_back(actor=c.own, given_id=c.given),
    "add_ticket": lambda c: fleet.add_ticket(actor=c.own, vehicle="V2-05", ticket=c.ticket),
    "tick_gate": lambda c: gates.tick_gate(actor=c.own, hire=c.row, task=c.gate, done=True),
    "prove_gate": lambda c: gates.prove_gate(actor=c.own, hire=c.row, vehicle=c.van, task=c.gate, done=True),
    "count_point": lambda c: counts.count_point(
        actor=c.own, point="aw_wind", counted=Counted(hires=40, harmed=3), seen=None
    ),
    "add_person": lambda c: people.add_person(
        actor=c.manager, username="nell", full_name="Nell Reedy", role=Role.YARD, password="three-old-kettles"
    ),
    "set_role": lambda c: people.set_role(actor=c.manager, person=c.own, role=Role.YARD, active=True),
    "make_link": lambda c: pack.make_link(actor=c.own, hire=c.row),
    "renew_link": lambda c: pack.renew_link(actor=c.own, hire=c.linked),
    "withdraw_link": lambda c: pack.withdraw_link(actor=c.own, hire=c.linked),
    "add_photo": lambda c: pack.add_photo(actor=c.own, vehicle=c.van, fitting="hookup", picture=c.picture),
    "take_photo_off": lambda c: pack.take_photo_off(actor=c.own, vehicle=c.van, fitting="hob", digest=c.photo),
    "tick_language": lambda c: pack.tick_language(actor=c.manager, language="de", checked=True),
    "keep_wishes": lambda c: walk.keep_wishes(actor=c.own, hire=c.row, settings=Settings(available_min=30)),
    "hand_over": lambda c: walk.hand_over(actor=c.own, hire=c.row, said=_acknowledged()),
    "drop_person": lambda c: walk.drop_person(actor=c.manager, entry=c.entry),
}
#: What is a line of its own that nobody ever changes needs no other; the tests of walks and lists count them.
OWN_LINES = {"tick", "take_mark"}
#: Parts of an import; the tests of depot folders count their lines.
IMPORTS = {"take_in_all", "take_in_folder", "take_in_sheet", "take_in_vehicle"}


def _picture(colour):
    body = io.BytesIO()
    Image.new("RGB", (6, 4), colour).save(body, "PNG")
    return read_picture(body.getvalue())


def _acknowledged():
    at = dt.datetime(2026, 7, 10, 15, tzinfo=dt.UTC)
    return walk.Acknowledgement(uuid.uuid4(), "Cordelia Quibblethorpe", "", (), (), "Replaces no licence.", at, 40)


@pytest.fixture
def cast(own, manager, h25, folder):
    class Cast:
        pass

    cast = Cast()
    cast.own, cast.manager, cast.row, cast.hire = own, manager, h25, hires.hire_of(h25)
    cast.ticket = folder.built("V2-05").tickets[0].model_copy(update={"id": "NEW-1"})
    cast.linked, cast.van = HireRow.objects.get(name="H13"), VehicleRow.objects.get(name="W4-02")
    pack.make_link(actor=own, hire=cast.linked)
    cast.picture = _picture("teal")
    cast.photo = pack.add_photo(actor=own, vehicle=cast.van, fitting="hob", picture=_picture("plum")).digest
    cast.entry = walk.hand_over(actor=own, hire=cast.linked, said=_acknowledged())
    hires.give_vehicles(actor=own, day=DAY, gifts=[Gift("H14", 1, "")])
    cast.given = VehiclesGiven.objects.get().pk
    cast.gate = next(task.id for task in load_catalogue().tasks.values() if task.gate)
    return cast


def mutations():
    found = set()
    for module in pkgutil.walk_packages(keyhook_desk.__path__, "keyhook_desk."):
        if module.name.endswith("services"):
            for name, function in inspect.getmembers(importlib.import_module(module.name), inspect.isfunction):
                if function.__module__ == module.name and "actor" in inspect.signature(function).parameters:
                    found.add(name)
    return {name for name in found if not name.startswith("_")}


def test_every_mutation_of_the_desk_is_tried_here():
    assert mutations() - IMPORTS - OWN_LINES <= set(CASES), "add the new mutation to CASES"


def test_a_service_takes_its_arguments_by_name_alone():
    for module in (fleet, gates, hires, people, yard):
        for name, function in inspect.getmembers(module, inspect.isfunction):
            parameters = inspect.signature(function).parameters
            if function.__module__ == module.__name__ and name in mutations():
                assert {p.kind for p in parameters.values()} == {inspect.Parameter.KEYWORD_ONLY}, name


@pytest.mark.parametrize("name", CASES)
def test_a_mutation_leaves_one_line(cast, name):
    before = set(HistoryLine.objects.values_list("pk", flat=True))
    CASES[name](cast)
    (line,) = HistoryLine.objects.exclude(pk__in=before)
    assert line.by in {cast.own, cast.manager}
    assert line.at.isoformat() == "2026-07-10T07:00:00+00:00", "the clock of the desk, not of the machine"
    assert line.said


def canonical(document):
    """The hash by its definition: SHA-256 (FIPS 180-4) over JSON with sorted keys and no spaces, UTF-8."""
    return hashlib.sha256(
        json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    ).hexdigest()


def test_the_hashes_are_those_of_the_record_before_and_after(cast):
    before = canonical(cast.row.document)
    CASES["save_hire"](cast)
    line = HistoryLine.objects.filter(kind="hire", name="H25").first()
    after = canonical(HireRow.objects.get(name="H25").document)
    assert (line.before_hash, line.after_hash) == (before, after)
    assert before != after


def test_a_new_record_has_nothing_before(cast):
    row = CASES["add_hire"](cast)
    line = HistoryLine.objects.get(kind="hire", name=row.name)
    assert (line.before_hash, line.after_hash) == ("", canonical(row.document))


def test_the_lines_of_one_record_hang_together(cast):
    CASES["add_ticket"](cast)
    CASES["add_ticket"](type("Again", (), {"own": cast.own, "ticket": cast.ticket.model_copy(update={"id": "NEW-2"})}))
    last, middle, first = HistoryLine.objects.filter(kind="vehicle", name="V2-05")[:3]
    assert (last.before_hash, middle.before_hash) == (middle.after_hash, first.after_hash)
    row = VehicleRow.objects.get(name="V2-05")
    assert last.after_hash == row.digest == canonical(row.document)


def test_a_mutation_that_fails_leaves_no_line(cast):
    lines = HistoryLine.objects.count()
    with pytest.raises(Exception, match="while you had it open"):
        hires.save_hire(actor=cast.own, hire=cast.hire, seen_version=7)
    assert HistoryLine.objects.count() == lines


def test_every_row_of_the_desk_lives_in_a_slice_of_its_own():
    ours = {model._meta.app_label for model in apps.get_models() if model.__module__.startswith("keyhook_desk")}
    assert {"web", "people", "fleet", "hires", "yard"} <= ours
