"""Counting a teach point on the desk, from the tour that weighs it and back."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_from_a_tour_to_a_point_its_count_a_slip_and_taken_back(open_page, size):
    page = open_page("desk", size=size)
    page.goto("/hires/H12/tour/")
    page.get_by_role("link", name="What we have counted of each point").click()
    page.get_by_label("Find a point").fill("step out somebody")
    page.get_by_role("button", name="Show", exact=True).click()
    page.get_by_role("link", name=re.compile("^Look before you step out")).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("step")
    page.get_by_label("Hires counted").fill("12")
    page.get_by_label("Of them, came back with it").fill("13")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("alert")).to_contain_text("saw 13 of 12")
    expect(page.get_by_label("Of them, came back with it")).to_have_value("13")
    page.get_by_label("Of them, came back with it").fill("3")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_role("status")).to_contain_text("Every tour from now on weighs it")
    expect(page.locator("main")).to_contain_text("3 of 12 hires, counted on the desk: this holds")
    page.get_by_role("button", name="Take the desk's count back").click()
    expect(page.locator("main")).to_contain_text("Nothing yet, here or in the depot's folder")
