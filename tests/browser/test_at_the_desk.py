"""What people do: by keyboard alone, with and without script, two at once, on paper."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from .waiting import until

pytestmark = pytest.mark.browser
#: Whoever hears the page is told the verdict that is seen.
SAID_AS_SHOWN = """() => document.querySelector('[role=status]').textContent.trim()
  === document.querySelector('#panel .verdict').textContent.trim()"""
GROUND = "() => getComputedStyle(document.documentElement).backgroundColor"


def test_the_way_in_by_keyboard_alone(open_page, served):
    page = open_page(None)
    page.goto("/hires/")
    expect(page).to_have_url(re.compile("/people/login/"))
    page.keyboard.type("odo")
    page.keyboard.press("Tab")
    page.keyboard.type(served.password)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Hires")


def test_the_first_tab_leads_to_the_content(open_page):
    page = open_page()
    page.goto("/day/2026-07-10/")
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="To the content")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.locator("main a").first).to_be_focused()


@pytest.mark.parametrize("address", ["/day/2026-07-10/", "/hires/", "/hires/H12/", "/vehicles/W4-02/"])
def test_everything_can_be_reached_by_tab_and_the_focus_is_seen(open_page, address):
    page = open_page()
    page.goto(address)
    wanted = page.evaluate(
        "() => [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')]"
        ".filter(e => e.checkVisibility() && !e.disabled).length"
    )
    seen = set()
    for _ in range(2 * wanted):  # a date takes several
        page.keyboard.press("Tab")
        found = page.evaluate(
            """() => { const e = document.activeElement; if (!e || e === document.body) return null;
            const s = getComputedStyle(e); e.dataset.seen ??= String(performance.now() + Math.random());
            return [e.dataset.seen, s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2,
                    e.matches('a[href], button, input, select, textarea, summary'), e.outerHTML.slice(0, 80)]; }"""
        )
        if found is None:
            break
        assert found[1], f"no focus to be seen on {found[3]}"
        if found[2]:
            seen.add(found[0])
    radios = page.locator("input[type=radio]").count()
    assert len(seen) >= wanted - radios


def test_the_verdict_follows_what_is_typed_and_nothing_is_saved(open_page):
    page = open_page("desk")
    page.goto("/hires/H11/")
    verdict = page.locator("#panel .verdict")
    expect(verdict).to_have_text("Fits")
    page.get_by_label("Person 1, mass in kilograms").fill("290")
    page.get_by_label("Person 2, mass in kilograms").fill("290")
    expect(verdict).not_to_have_text("Fits")
    expect(page.get_by_label("Person 2, mass in kilograms")).to_be_focused()
    until(page, SAID_AS_SHOWN)
    page.reload()
    expect(page.locator("#panel .verdict")).to_have_text("Fits")


def test_a_slip_is_said_while_typing(open_page):
    page = open_page("desk")
    page.goto("/hires/H11/")
    page.get_by_label("Person 1, age in years").fill("old")
    expect(page.locator("#panel")).to_contain_text("Person 1, age is not a number (saw old)")


def test_another_vehicle_brings_its_seats_at_once(open_page):
    page = open_page("desk")
    page.goto("/hires/H11/")
    page.get_by_label("Vehicle", exact=True).select_option("O6-01")
    expect(page.get_by_label("Person 1, seat").locator("option", has_text="row3 a")).to_have_count(1)
    expect(page.locator("#panel .verdict")).to_be_visible()


def test_what_is_typed_while_another_vehicle_is_fetched_is_not_lost(open_page):
    page = open_page("desk")
    page.goto("/hires/H11/")
    page.route("**/hires/H11/", lambda route: (page.wait_for_timeout(400), route.continue_()))
    page.get_by_label("Vehicle", exact=True).select_option("O6-01")
    page.get_by_label("Note").fill("typed in between")
    page.get_by_label("Person 1, age in years").fill("47")
    expect(page.get_by_label("Person 1, seat").locator("option", has_text="row3 a")).to_have_count(1)
    expect(page.get_by_label("Note")).to_have_value("typed in between")
    expect(page.get_by_label("Person 1, age in years")).to_have_value("47")
    expect(page.get_by_label("Kitchen")).to_be_visible()
    page.unroute_all(behavior="wait")


def test_the_swap_table_comes_when_it_is_scrolled_to(open_page):
    page = open_page("desk")
    page.goto("/hires/H12/")
    page.locator("#swap-section").scroll_into_view_if_needed()
    expect(page.locator("#swap table")).to_be_visible()
    page.get_by_role("link", name="Try V2-05").click()
    expect(page.get_by_label("Vehicle", exact=True)).to_have_value("V2-05")


def test_without_script_the_same_by_pressing_a_button(open_page):
    page = open_page("desk", script=False)
    page.goto("/hires/H11/")
    page.get_by_label("Person 1, mass in kilograms").fill("290")
    page.get_by_label("Person 2, mass in kilograms").fill("290")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator("#panel .verdict")).not_to_have_text("Fits")
    expect(page.get_by_label("Person 2, mass in kilograms")).to_have_value("290")
    page.locator("#panel details.why summary").first.click()
    expect(page.locator("#panel details.why .formula").first).to_be_visible()
    page.get_by_role("link", name="Every vehicle of the yard for this hire").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("another vehicle?")


def test_a_hire_is_written_saved_and_found(open_page):
    page = open_page("desk")
    page.goto("/hires/")
    page.get_by_role("link", name="New hire").click()
    page.get_by_label("Name on the contract").fill("Quenby Farthingale")
    page.get_by_label("Class wanted").select_option("W4")
    page.get_by_label("Collection", exact=True).fill("2027-05-01T14:00")
    page.get_by_label("Return", exact=True).fill("2027-05-08T10:00")
    page.get_by_label("Person 1, age in years").fill("41")
    expect(page.locator("#panel .verdict")).to_be_visible()
    page.get_by_role("button", name="Save the hire").click()
    expect(page.locator(".messages")).to_contain_text("is written down")
    page.goto("/hires/?q=quenby")
    expect(page.get_by_role("link", name="Quenby Farthingale")).to_have_count(1)


def test_a_double_click_writes_one_hire(open_page):
    page = open_page("desk")
    page.goto("/hires/new/")
    page.get_by_label("Name on the contract").fill("Wilmot Duskwater")
    page.get_by_label("Collection", exact=True).fill("2027-07-01T14:00")
    page.get_by_label("Return", exact=True).fill("2027-07-08T10:00")
    page.get_by_label("Person 1, age in years").fill("52")
    page.get_by_role("button", name="Save the hire").dblclick()
    expect(page.locator(".messages")).to_contain_text("is written down")
    page.goto("/hires/?q=wilmot")
    expect(page.get_by_role("link", name="Wilmot Duskwater")).to_have_count(1)


def test_a_why_is_opened_with_the_keyboard(open_page):
    page = open_page()
    page.goto("/hires/H12/")
    first = page.locator("#panel details.why summary").first
    first.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#panel details.why[open] table").first).to_be_visible()
    expect(page.locator("#panel details.why[open]").first).to_contain_text("Basis:")


def test_two_at_once_each_see_the_other(open_page):
    mine, theirs = open_page("desk"), open_page("manager")
    for page in (mine, theirs):
        page.goto("/hires/H18/")
    theirs.get_by_label("Note").fill("ring before ten")
    theirs.get_by_label("Fresh water on the road").fill("44")
    theirs.get_by_role("button", name="Save the hire").click()
    expect(theirs.locator(".messages")).to_contain_text("is saved")
    mine.get_by_label("Fresh water on the road").fill("55")
    mine.get_by_label("Where to").fill("Another coast")
    mine.get_by_role("button", name="Save the hire").click()
    expect(mine.get_by_role("alert")).to_contain_text("Mabs Quillfeather saved this hire while you had it open")
    expect(mine.get_by_role("alert")).to_contain_text("Note: ring before ten")
    mine.get_by_label("Mabs Quillfeather: 44").check()
    mine.get_by_role("button", name="Save the hire").click()
    expect(mine.locator(".messages")).to_contain_text("is saved")
    expect(mine.get_by_label("Fresh water on the road")).to_have_value("44")
    expect(mine.get_by_label("Where to")).to_have_value("Another coast")
    expect(mine.get_by_label("Note")).to_have_value("ring before ten")


def test_a_gate_is_ticked_on_a_phone_with_a_thumb(open_page):
    page = open_page("yard", size="phone")
    page.goto("/hires/H19/#gates")
    gate = page.locator("#gates button").first
    name = gate.inner_text()
    gate.tap()
    expect(page.get_by_role("button", name=name)).to_have_attribute("aria-pressed", "true")


def test_bookings_come_in_from_a_file(open_page, tmp_path):
    file = tmp_path / "june.csv"
    file.write_text(
        "Lead,Vehicle,Collect date,Collect time,Return date,Return time,Adults\n"
        "Osric Penhallow,V2-05,2027-06-01,14:00,2027-06-08,10:00,2\n"
        "Nobody,V2-99,2027-06-01,14:00,2027-06-08,10:00,2\n"
    )
    page = open_page("desk")
    page.goto("/hires/import/")
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Look at it").click()
    expect(page.locator("main")).to_contain_text("V2-99")
    page.get_by_role("button", name="Write down 1 hire").click()
    expect(page.locator(".messages")).to_contain_text("written down")


def test_dark_and_light_are_kept_by_a_form(open_page):
    page = open_page(script=False)
    page.goto("/hires/?show=all")
    page.get_by_role("button", name="Dark").click()
    expect(page).to_have_url(re.compile(r"/hires/\?show=all"))
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    page.goto("/vehicles/")
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")


def test_the_system_decides_until_somebody_does(open_page):
    def ground(page):
        page.goto("/hires/")
        return page.evaluate(GROUND)

    light, dark = ground(open_page(scheme="light")), ground(open_page(scheme="dark"))
    assert light != dark
    page = open_page(scheme="light")
    page.goto("/hires/")
    with page.expect_navigation():
        page.get_by_role("button", name="Dark").click()
    assert page.evaluate(GROUND) == dark


def test_paper_shows_the_answer_and_leaves_the_buttons_away(open_page):
    page = open_page()
    page.goto("/hires/H12/")
    page.emulate_media(media="print")
    expect(page.locator("nav[aria-label=Main]")).to_be_hidden()
    expect(page.get_by_role("button", name="Save the hire")).to_be_hidden()
    expect(page.locator("#panel .verdict")).to_be_visible()


def test_a_number_is_shown_at_its_place_in_the_drawing(open_page):
    page = open_page()
    page.goto("/vehicles/W4-02/")
    page.get_by_role("link", name="Show number 7").click()
    expect(page.locator(".find.on")).to_have_text(re.compile("7"))
    expect(page.locator(".kd-mark-on").first).to_be_attached()


def test_the_start_says_where_and_who(served):
    assert f"{served.url}/" in served.said
    for login in ("mabs (manager)", "odo (desk)", "hob (yard)", "juniper (technician)"):
        assert login in served.said
    assert "Hector Grobblestock" in served.said
