"""Who may do what: every address walked, every role, and the stranger outside."""

from __future__ import annotations

import re

import pytest
from django.core.checks import run_checks
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from keyhook.catalogue import load_catalogue
from keyhook_desk.fleet.services import add_ticket
from keyhook_desk.hires.services import add_hire, hire_of, save_hire
from keyhook_desk.people.models import Role, User
from keyhook_desk.people.rights import RIGHTS, may
from keyhook_desk.people.services import add_person, set_role
from keyhook_desk.web.checks import every_view_asks_for_a_right, is_open, views_of
from keyhook_desk.yard.gate_services import tick_gate

ARGUMENTS = {
    "name": {"hires": "H01", "fleet": "W4-02", "papers": "H01", "packs": "H01"},
    "digest": "0" * 64,
    "hire": "H01",
    "vehicle": "W4-02",
    "number": 1,
    "person": "hob",
    "day": "2026-07-10",
    "piece": "autocue",
    "point": "aw_wind",
}
#: What a hirer opens by a signed link, or with the code of a sticker, without an account.
BY_LINK = {
    f"pack:{name}" for name in ("home", "home_in", "looked", "read", "dates", "manifest", "photo", "worker", "find")
}
ADDRESSES = sorted(views_of(), key=lambda pair: pair[0])
#: What no role but these may do; written down apart from the code's own table, as the house decides it.
HOUSE_RULES = {
    "people.edit": {Role.MANAGER},
    "hire.edit": {Role.DESK, Role.MANAGER},
    "hire.import": {Role.DESK, Role.MANAGER},
    "pack.language": {Role.MANAGER},
    "tour.count": {Role.DESK, Role.MANAGER},
}


def address(name, pattern):
    wanted = pattern.pattern.converters | dict.fromkeys(re.findall(r"<\w+:(\w+)>", str(pattern.pattern)))
    given = {key: ARGUMENTS[key] for key in wanted}
    if "name" in given:
        given["name"] = ARGUMENTS["name"][name.split(":")[0]]
    return reverse(name, kwargs=given)


def test_every_address_asks_for_a_right_or_is_open_on_purpose():
    assert every_view_asks_for_a_right(None) == []
    assert {name for name, pattern in ADDRESSES if is_open(pattern)} == {
        "people:login",
        "web:theme",
        "web:alive",
        "web:worker",
        *BY_LINK,
    }


def test_an_address_without_a_right_is_found(monkeypatch):
    _, pattern = next(pair for pair in ADDRESSES if pair[0] == "yard:day")
    monkeypatch.delattr(pattern.callback, "right")
    assert [found.id for found in every_view_asks_for_a_right(None)] == ["keyhook.E001"]


def test_all_checks_of_the_desk_pass(db):
    assert [str(found) for found in run_checks(databases=["default"])] == []


@pytest.mark.parametrize(("name", "pattern"), [pair for pair in ADDRESSES if not is_open(pair[1])])
def test_a_stranger_is_sent_to_the_login_from_everywhere(stranger, depot, name, pattern):
    response = stranger.get(address(name, pattern))
    assert response.status_code == 302
    assert response["Location"].startswith("/people/login/")


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize(("name", "pattern"), [pair for pair in ADDRESSES if hasattr(pair[1].callback, "right")])
def test_a_role_sees_what_its_rights_say(browser_of, depot, role, name, pattern):
    person = User.objects.create_user("somebody", role=role)
    response = browser_of(person).get(address(name, pattern))
    allowed = role in RIGHTS[pattern.callback.right]
    assert (response.status_code == 403) is not allowed
    if not allowed:
        assert "Ask a manager" in response.content.decode()


def test_the_table_of_rights_keeps_the_rules_of_the_house():
    assert {right: RIGHTS[right] for right in HOUSE_RULES} == HOUSE_RULES


def test_somebody_who_left_may_do_nothing(own):
    own.is_active = False
    assert not any(may(own, right) for right in RIGHTS)


def test_services_refuse_by_themselves_whatever_page_called_them(yardhand, technician, own, h25, folder):
    hire = hire_of(h25)
    refused = [
        lambda: save_hire(actor=yardhand, hire=hire, seen_version=h25.version),
        lambda: add_hire(actor=technician, hire=hire),
        lambda: add_person(actor=own, username="x", full_name="X", role=Role.YARD, password="long-enough-words"),
        lambda: set_role(actor=own, person=yardhand, role=Role.MANAGER, active=True),
    ]
    for act in refused:
        with pytest.raises(PermissionDenied, match="Ask a manager"):
            act()
    h25.refresh_from_db()
    assert h25.version == 1


def test_the_yard_may_weigh_and_tick(yardhand, h25, folder):
    sheet = folder.built(h25.vehicle.name)
    ticket = sheet.tickets[0].model_copy(update={"id": "YARD-1"})
    assert add_ticket(actor=yardhand, vehicle=h25.vehicle.name, ticket=ticket).version == 2
    gate = next(task.id for task in load_catalogue().tasks.values() if task.gate)
    tick_gate(actor=yardhand, hire=h25, task=gate, done=True)
    assert h25.gates.get().by == yardhand


def test_a_yard_hand_sees_a_hire_without_a_way_to_save_it(browser_of, yardhand):
    text = browser_of(yardhand).get("/hires/H25/").content.decode()
    assert "Save the hire" not in text
    assert "disabled" in text
    response = browser_of(yardhand).post("/hires/H25/", {"save": "yes", "version": "1"})
    assert response.status_code in {200, 403}
