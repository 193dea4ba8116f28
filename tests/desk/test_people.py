"""People, their roles, and the way in."""

from __future__ import annotations

import pytest
from django.test import Client

from keyhook.errors import BadInput
from keyhook_desk.people.models import Role, User
from keyhook_desk.people.services import add_person, set_role
from keyhook_desk.web.models import HistoryLine

GOOD = "three-old-kettles"


def test_the_way_in_and_out(own, stranger):
    own.set_password(GOOD)
    own.save()
    response = stranger.post("/people/login/", {"username": own.username, "password": GOOD, "next": "/hires/"})
    assert response["Location"] == "/hires/"
    assert stranger.get("/hires/").status_code == 200
    assert stranger.get("/people/logout/").status_code == 405, "looking at an address never logs anybody out"
    assert stranger.post("/people/logout/")["Location"] == "/people/login/"
    assert stranger.get("/hires/").status_code == 302


def test_a_wrong_password_says_so_and_gives_nothing_away(own, stranger):
    texts = []
    for name in (own.username, "nobody-here"):
        response = stranger.post("/people/login/", {"username": name, "password": "wrong"})
        assert response.status_code == 200
        texts.append("Name and password do not match" in response.content.decode())
    assert texts == [True, True]


def test_the_login_leads_nowhere_else(own, stranger):
    own.set_password(GOOD)
    own.save()
    sent = {"username": own.username, "password": GOOD, "next": "https://elsewhere.example/"}
    assert stranger.post("/people/login/", sent)["Location"] == "/"


def test_somebody_who_left_is_out_at_once(browser_of, colleague, manager):
    browser = browser_of(colleague)
    assert browser.get("/hires/").status_code == 200
    set_role(actor=manager, person=colleague, role=Role.DESK, active=False)
    assert browser.get("/hires/").status_code == 302


def test_a_manager_adds_somebody_from_the_page(browser_of, manager):
    sent = {"add": "yes", "username": "nell", "full_name": "Nell Reedy", "role": "technician", "password": GOOD}
    response = browser_of(manager).post("/people/", sent, follow=True)
    assert "nell may log in now" in response.content.decode()
    person = User.objects.get(username="nell")
    assert (person.role, person.get_full_name(), person.check_password(GOOD)) == (Role.TECHNICIAN, "Nell Reedy", True)
    line = HistoryLine.objects.get(kind="person", name="nell")
    assert (line.by, line.action) == (manager, "add")
    assert GOOD not in line.said


@pytest.mark.parametrize(
    ("username", "password", "sentence"),
    [("nell", "short", "too easy"), ("nell", "password1234", "too easy"), ("fenwick", GOOD, "taken or empty"),
     ("", GOOD, "taken or empty"), ("Fenwick", GOOD, "taken or empty"), ("no spaces here", GOOD, "letters, digits")],
)  # fmt: skip
def test_what_cannot_be_is_said(own, manager, username, password, sentence):
    with pytest.raises(BadInput, match=sentence):
        add_person(actor=manager, username=username, full_name="Nell", role=Role.YARD, password=password)


def test_a_strange_role_is_refused_rather_than_guessed(browser_of, manager, own):
    response = browser_of(manager).post("/people/", {"username": own.username, "role": "captain", "active": "yes"})
    assert response.status_code == 400
    own.refresh_from_db()
    assert own.role == Role.DESK


def test_the_last_manager_stays(manager):
    for role, active in ((Role.DESK, True), (Role.MANAGER, False)):
        with pytest.raises(BadInput, match="Somebody has to stay manager"):
            set_role(actor=manager, person=manager, role=role, active=active)
    manager.refresh_from_db()
    assert (manager.role, manager.is_active) == (Role.MANAGER, True)


def test_a_second_manager_may_take_over(manager, own):
    set_role(actor=manager, person=own, role=Role.MANAGER, active=True)
    set_role(actor=manager, person=manager, role=Role.YARD, active=True)
    assert HistoryLine.objects.filter(kind="person", action="edit").count() == 2


def test_guessing_passwords_is_slowed_down(own, settings):
    own.set_password(GOOD)
    own.save()
    guesser = Client(REMOTE_ADDR="203.0.113.7")
    for _ in range(settings.LOGIN_TRIES):
        guesser.post("/people/login/", {"username": own.username, "password": "wrong"})
    response = guesser.post("/people/login/", {"username": own.username, "password": GOOD})
    assert response.status_code == 429
    assert "Too many tries" in response.content.decode()
    elsewhere = Client(REMOTE_ADDR="203.0.113.8")
    assert elsewhere.post("/people/login/", {"username": own.username, "password": GOOD}).status_code == 302
