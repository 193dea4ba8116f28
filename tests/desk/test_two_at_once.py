"""Two people edit one hire: nobody's work is lost, and whoever saves second sees both and chooses."""

from __future__ import annotations

import html
import re

import pytest

from keyhook_desk.hires.hire_form import form_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of, save_hire
from keyhook_desk.hires.two_at_once import snapshot
from keyhook_desk.web.errors import EditedMeanwhile


@pytest.fixture
def address(h25):
    return f"/hires/{h25.name}/"


@pytest.fixture
def opened(h25, typed):
    """What both had on their screens, as each page sends it back."""
    return lambda **changes: typed(h25, save="yes", opened=snapshot(form_of(hire_of(h25))), **changes)


def now(row):
    row.refresh_from_db()
    return hire_of(row)


def sent_back(response):
    """The fields of the page as a browser would send them again, radios as they stand."""
    text = response.content.decode()
    form = text[text.index('id="hire"') :]
    found = dict(re.findall(r'<input[^>]*name="(\w+)"[^>]*value="([^"]*)"', form))
    found |= {name: value for value, name in re.findall(r'<input[^>]*value="([^"]*)"[^>]*name="(\w+)"', form)}
    return {name: html.unescape(value) for name, value in found.items()}


def test_what_only_one_of_them_changed_is_merged_without_a_question(desk, browser_of, colleague, h25, address, opened):
    assert browser_of(colleague).post(address, opened(note="ring before ten")).status_code == 302
    response = desk.post(address, opened(where="Moor and lake"))
    text = response.content.decode()
    assert "Two people at once" in text
    assert "Orla saved this hire while you had it open" in text
    assert "Note: ring before ten" in text
    assert "Which shall stand?" not in text
    assert now(h25).trip.where != "Moor and lake", "nothing is saved before they say so"
    again = opened(where="Moor and lake", note="ring before ten")
    assert (
        desk.post(address, again | {key: sent_back(response)[key] for key in ("version", "opened")}).status_code == 302
    )
    assert (now(h25).note, now(h25).trip.where) == ("ring before ten", "Moor and lake")


@pytest.mark.parametrize(("choice", "stands"), [("mine", "60"), ("theirs", "80")])
def test_what_both_changed_is_chosen(desk, browser_of, colleague, h25, address, opened, choice, stands):
    browser_of(colleague).post(address, opened(fresh_l="80"))
    response = desk.post(address, opened(fresh_l="60"))
    text = response.content.decode()
    assert "Fresh water: you both changed it. Which shall stand?" in text
    assert "Yours: 60" in text
    assert "Orla: 80" in text
    again = opened(fresh_l="60", take_fresh_l=choice)
    response = desk.post(address, again | {key: sent_back(response)[key] for key in ("version", "opened")})
    assert response.status_code == 302
    assert now(h25).fresh_l == float(stands)


def test_the_same_change_twice_needs_no_choice(desk, browser_of, colleague, address, opened):
    browser_of(colleague).post(address, opened(note="same words"))
    text = desk.post(address, opened(note="same words")).content.decode()
    assert "Which shall stand?" not in text


def test_a_third_one_in_between_is_noticed_again(desk, browser_of, colleague, manager, h25, address, opened):
    browser_of(colleague).post(address, opened(note="first"))
    response = desk.post(address, opened(where="Second"))
    fields = {key: sent_back(response)[key] for key in ("version", "opened")}
    browser_of(manager).post(address, opened(note="first", fresh_l="33") | fields)
    response = desk.post(address, opened(where="Second", note="first") | fields)
    assert "Ines saved this hire while you had it open" in response.content.decode()
    assert now(h25).fresh_l == 33


def test_options_ticked_by_both_are_a_choice_too(desk, browser_of, colleague, address, opened):
    browser_of(colleague).post(address, opened(options=["bedding", "towels"]))
    text = desk.post(address, opened(options=["bedding", "satnav"])).content.decode()
    assert "Options: you both changed it" in text
    assert "bedding, towels" in text


def test_a_page_that_lost_its_memory_loses_no_work(desk, browser_of, colleague, h25, address, opened):
    browser_of(colleague).post(address, opened(note="theirs"))
    text = desk.post(address, opened(note="mine") | {"opened": "not json"}).content.decode()
    assert "Note: you both changed it" in text
    assert now(h25).note == "theirs"


def test_the_service_refuses_an_old_version_by_itself(own, h25):
    hire = hire_of(h25)
    save_hire(actor=own, hire=hire, seen_version=h25.version)
    with pytest.raises(EditedMeanwhile, match="while you had it open"):
        save_hire(actor=own, hire=hire, seen_version=h25.version)
    assert HireRow.objects.get(pk=h25.pk).version == h25.version + 1


def test_nobody_is_bothered_when_nobody_else_saved(desk, h25, address, opened):
    assert desk.post(address, opened(note="alone")).status_code == 302
    assert now(h25).note == "alone"
