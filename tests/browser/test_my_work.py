"""A person's own list on a phone in Chromium: readable for everybody, without a signal, reloaded, on two phones."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from .test_day_board import at_the_board
from .test_every_page import OVERFLOW, SMALL, axe
from .waiting import kept_for_offline

pytestmark = pytest.mark.browser
DAY = "/my-work/2026-07-10"


@pytest.fixture
def planned(open_page):
    """The changeover Friday with a plan that people hold."""
    at_the_board(open_page)


def sent(page):
    expect(page.locator("#link")).to_have_text("")


def my_list(open_page, person, **how):
    page = open_page("yard", size="phone", **how)
    page.goto(f"{DAY}/{person}/")
    expect(page.locator(".next-up")).to_be_visible()
    return page


def next_task(page):
    return page.locator(".next-up").first.get_attribute("data-task")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_list_has_nothing_that_axe_finds_and_fits_a_phone(planned, open_page, scheme):
    page = my_list(open_page, "hob", scheme=scheme)
    page.locator(".trouble summary").first.click()
    assert axe(page) == []
    assert page.evaluate(OVERFLOW) == []
    assert page.evaluate(SMALL) == []


def test_done_without_a_signal_survives_a_reload_and_reaches_the_desk_once(planned, open_page):
    page = my_list(open_page, "wilf", expect=("ERR_INTERNET_DISCONNECTED", "Failed to fetch"))
    kept_for_offline(page)
    task = next_task(page)
    page.context.set_offline(True)
    page.get_by_role("button", name="Done").first.click()
    expect(page.locator("#link")).to_contain_text("1 kept on this phone")
    page.reload()
    expect(page.locator("#link")).to_contain_text("1 kept on this phone")
    expect(page.locator(".next-up .told").first).to_contain_text("Done")
    page.context.set_offline(False)
    sent(page)
    expect(page.locator(".next-up").first).not_to_have_attribute("data-task", task)
    page.reload()
    expect(page.locator(".past li")).to_have_count(1)


def test_task_after_task_is_marked_without_a_signal(planned, open_page):
    page = my_list(open_page, "perkin", expect=("ERR_INTERNET_DISCONNECTED", "Failed to fetch"))
    kept_for_offline(page)
    page.context.set_offline(True)
    page.locator(".next-up").get_by_role("button", name="Done").click()
    second = page.locator(".later[open]")
    expect(second).to_have_count(1)
    expect(second.locator(".facts")).to_contain_text("Where")
    second.get_by_role("button", name="Done").click()
    expect(page.locator("#link")).to_contain_text("2 kept on this phone")
    third = page.locator(".later[open]")
    expect(third).to_have_count(1)
    third.get_by_role("button", name="Started").click()
    expect(page.locator("#link")).to_contain_text("3 kept on this phone")
    page.reload()
    expect(page.locator("#link")).to_contain_text("3 kept on this phone")
    expect(page.locator("[data-told]")).to_have_count(2)
    page.context.set_offline(False)
    sent(page)
    expect(page.locator(".past li")).to_have_count(2)
    expect(page.locator(".next-up .kicker").first).to_contain_text("Running")


def test_the_list_says_with_what_and_a_later_task_opens_where_it_stands(planned, open_page):
    page = my_list(open_page, "hob")
    expect(page.locator(".next-up .facts")).to_contain_text("Where")
    later = page.locator(".later[data-task$='.pack_child']").first
    for person in ("juniper", "wilf", "perkin", "fenn", "mabs"):  # whoever it is by this plan
        if later.count():
            break
        page.goto(f"{DAY}/{person}/")
    later.locator("summary").first.focus()
    page.keyboard.press("Enter")
    expect(later.locator(".what-with")).to_contain_text("Child of")
    assert axe(page) == []
    assert page.evaluate(OVERFLOW) == []
    assert page.evaluate(SMALL) == []


def test_a_closed_page_loses_nothing(planned, open_page):
    page = my_list(open_page, "pansy", expect=("ERR_INTERNET_DISCONNECTED", "Failed to fetch"))
    kept_for_offline(page)
    task = next_task(page)
    page.context.set_offline(True)
    page.get_by_role("button", name="Done").first.click()
    expect(page.locator("#link")).to_contain_text("1 kept")
    context = page.context
    page.close()
    context.set_offline(False)
    again = context.new_page()
    again.goto(f"{DAY}/pansy/")
    sent(again)
    expect(again.locator(".next-up").first).not_to_have_attribute("data-task", task)


def test_two_phones_see_each_other_and_a_problem_stands_on_the_board(planned, open_page):
    one, two = my_list(open_page, "tolly"), my_list(open_page, "tolly")
    task = next_task(one)
    one.locator(".trouble summary").first.click()
    one.get_by_label("What is it?").first.fill("the tap drips in the washroom")
    one.get_by_role("button", name="Tell the desk").first.click()
    sent(one)
    one.get_by_role("button", name="Done").first.click()
    sent(one)
    expect(two.locator(".next-up").first).not_to_have_attribute("data-task", task, timeout=40_000)
    board = at_the_board(open_page)
    expect(board.locator("main")).to_contain_text("the tap drips in the washroom")
