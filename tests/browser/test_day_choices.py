"""The day planned again in Chromium: the choice between fewer tasks moved and less lateness, by keys, at any width."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from .conftest import WIDTHS
from .test_day_board import BOARD, PLANNED_MS, at_the_board
from .test_every_page import OVERFLOW, SMALL, axe

pytestmark = pytest.mark.browser


def tell(page, form, **given):
    """Tell the desk what has happened, and wait for the search to end."""
    page.goto(BOARD)
    page.get_by_text(form, exact=True).click()
    for field, value in given.items():
        box = page.locator(f"#{field}")
        if box.evaluate("box => box.tagName") == "SELECT":
            box.select_option(value)
        else:
            box.fill(value)
    box.locator("xpath=ancestor::form").get_by_role("button", name="Plan again").click()
    expect(page.locator(".proposal.ready")).to_be_visible(timeout=PLANNED_MS)


def test_fewer_tasks_moved_or_less_lateness_is_chosen_by_keys_at_every_width(open_page):
    page = at_the_board(open_page)
    tell(page, "Somebody is ill or leaves", **{"n-p1": "pansy", "n-p2": "09:30"})
    tell(page, "Somebody is ill or leaves", **{"n-p1": "tolly", "n-p2": "09:30"})
    tell(page, "A return is late", **{"n-r1": "W4-02", "n-r2": "200"})
    proposed = page.get_by_role("radio", name="proposed")
    if not page.locator(".offers").count():
        pytest.skip("this search found no plan that spares a task and costs more lateness")
    expect(proposed).to_be_checked()
    for width, height in WIDTHS.values():
        page.set_viewport_size({"width": width, "height": height})
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            assert axe(page) == []
        assert page.evaluate(OVERFLOW) == []
        assert page.evaluate(SMALL) == []
    proposed.focus()
    page.keyboard.press("ArrowDown")
    expect(page.get_by_role("radio", name="Fewest tasks moved")).to_be_checked()
    page.get_by_role("link", name="See it on the board: Fewest tasks moved").press("Enter")
    expect(page.get_by_text("The board shows the new plan (fewest tasks moved)")).to_be_visible()
    expect(page.get_by_role("radio", name="Fewest tasks moved")).to_be_checked()
    page.get_by_role("button", name="Leave it as it is").click()
    expect(page.get_by_text("Left as it was.")).to_be_visible()
    expect(page.locator(".offers")).to_have_count(0)
