"""The pack on a phone, as a hirer holds it: no account, no signal, one hand, five languages, bright and dark."""

from __future__ import annotations

import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from keyhook.phrases import LANGUAGES

from .test_every_page import axe

OVERFLOW = """() => document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"""
SMALL = """() => [...document.querySelectorAll('a.button, button, summary, nav a, a.spot, a.show, .places a,'
    + ' label.tick, input:not([type=hidden]):not([type=checkbox])')]
  .filter(e => e.checkVisibility()).map(e => [e.getBoundingClientRect(), e])
  .filter(([box]) => box.height < 43.5 || box.width < 43.5)
  .map(([box, e]) => e.tagName + ' ' + e.textContent.trim().slice(0, 20) + ' ' + box.width + 'x' + box.height)"""
PARTS = ("start", "emergency", "find", "how", "trip", "leave", "stopped")
MOST_FIRST_LOAD_KB = 300
pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def token(served, browser, keys):
    """A link that the desk made on its page."""
    context = browser.new_context(base_url=served.url, storage_state=keys["manager"])
    page = context.new_page()
    page.goto("/hires/H12/pack/")
    if page.get_by_role("button", name="Make the link").count():
        page.get_by_role("button", name="Make the link").click()
    address = page.get_by_label("Address").input_value()
    context.close()
    return re.search(r"/pack/([^/]+)/", address)[1]


def _settled(page):
    page.wait_for_load_state("networkidle")


def _kept(page):
    """Wait until the phone has its copy."""
    expect(page.locator("#state")).to_have_text("Kept on this phone: it now works without a signal.")


@pytest.mark.parametrize(
    ("size", "scheme"), [("phone", "light"), ("phone", "dark"), ("tablet", "light"), ("desk", "dark")]
)
@pytest.mark.parametrize("part", PARTS)
def test_no_part_of_the_pack_has_anything_that_axe_finds(open_page, token, part, size, scheme):
    page = open_page(None, size=size, scheme=scheme)
    page.goto(f"/pack/{token}/#{part}")
    expect(page.locator(f"#{part}")).to_be_visible()
    for summary in page.locator(f"#{part} details > summary").all()[:3]:
        summary.click()
    assert axe(page) == []


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_every_part_fits_a_small_phone_in_every_language_and_is_large_enough_to_tap(open_page, token, language):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/{language}/")
    for part in PARTS:
        page.evaluate("part => { location.hash = part }", part)
        expect(page.locator(f"#{part}")).to_be_visible()
        assert page.evaluate(OVERFLOW) <= 0, part
        assert page.evaluate(SMALL) == [], part


def test_the_desk_pages_of_packs_have_nothing_that_axe_finds(open_page, token):
    page = open_page("manager", size="desk")
    for address in ("/hires/H12/pack/", "/vehicles/W4-06/photos/", "/languages/"):
        page.goto(address)
        assert axe(page) == [], address


def test_the_first_load_stays_below_three_hundred_kilobytes(open_page, token):
    page = open_page(None, size="phone")
    client = page.context.new_cdp_session(page)
    client.send("Network.enable")
    sizes = []
    client.on("Network.loadingFinished", lambda seen: sizes.append(seen["encodedDataLength"]))
    page.goto(f"/pack/{token}/", wait_until="networkidle")
    assert len(sizes) >= 5
    pages = [page.request.get(f"/pack/{token}/{language}/") for language in LANGUAGES if language != "en"]
    kept = sum(int(answer.headers["content-length"]) for answer in pages)  # fetched by the worker, out of sight here
    assert (sum(sizes) + kept) / 1000 < MOST_FIRST_LOAD_KB


def test_after_the_first_look_everything_works_without_a_signal(open_page, token):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/")
    _kept(page)
    page.context.set_offline(True)
    page.reload()
    expect(page.get_by_role("heading", name="Hello Hector")).to_be_visible()
    expect(page.locator("#state")).to_contain_text("No signal")
    for part in PARTS[1:]:
        page.locator(f"nav.tabs a[href='#{part}']").click()
        expect(page.locator(f"#{part}")).to_be_visible()
        expect(page.locator("#start")).to_be_hidden()
    page.get_by_role("link", name="Deutsch").click()
    expect(page.locator("html")).to_have_attribute("lang", "de")
    page.goto(f"/pack/{token}/")
    expect(page.locator("nav.tabs")).to_be_visible()
    page.context.set_offline(False)


def test_a_phone_that_thinks_it_has_a_signal_but_reaches_nobody_says_so(open_page, token):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/")
    _kept(page)
    page.add_init_script("Object.defineProperty(Navigator.prototype, 'onLine', {get: () => true})")
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("#state")).to_contain_text("No signal")
    page.context.set_offline(False)


def test_a_sticker_opens_its_card_without_a_signal(open_page, token):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/")
    _kept(page)
    page.context.set_offline(True)
    page.goto("/pack/find/W4-06/7/")
    expect(page.locator("#n7")).to_have_attribute("open", "")
    page.context.set_offline(False)


def test_what_is_read_without_a_signal_reaches_the_desk_when_there_is_one(open_page, token):
    page = open_page(None, size="phone", expect=["ERR_INTERNET_DISCONNECTED"])
    page.goto(f"/pack/{token}/#n9")
    _kept(page)
    page.context.set_offline(True)
    card = page.locator("#n9")
    card.get_by_role("button", name="I have read this").click()
    expect(card.locator(".done")).to_contain_text("as soon as there is a signal")
    page.reload()
    expect(page.locator("#n9 .done")).to_contain_text("as soon as there is a signal")
    page.context.set_offline(False)
    page.reload()
    expect(page.locator("#n9 .done")).to_have_text("Read and sent")
    desk = open_page("desk")
    desk.goto("/hires/H12/pack/")
    desk.get_by_text("What they have read").click()
    expect(desk.get_by_role("listitem").filter(has_text="Grey tank")).to_be_visible()


def test_a_tap_on_a_number_of_the_drawing_opens_its_card(open_page, token):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/#find")
    page.locator("#plan [data-find-it='19'] .kd-number").click()
    expect(page.locator("#n19")).to_be_visible()
    expect(page.locator("#n19")).to_have_attribute("open", "")
    page.locator("#n19 a.show").click()
    expect(page.locator("#plan [data-find-it='19'] .kd-mark-on")).to_be_visible()
    page.go_back()
    expect(page.locator("#n19")).to_be_visible()


@pytest.mark.parametrize(("words", "number"), [("fresh water", "19"), ("12", "12"), ("CO alarm", "42")])
def test_search_finds_by_word_and_by_number(open_page, token, words, number):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/en/#find")
    page.locator("#seek").fill(words)
    expect(page.locator(f"#places li[data-number='{number}']")).to_be_visible()
    assert page.locator("#places li:visible").count() < 12
    page.locator("#seek").fill("zzz")
    expect(page.get_by_role("status").filter(has_text="Nothing found")).to_be_visible()


def test_search_minds_neither_accents_nor_capitals(open_page, token):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/de/#find")
    for words in ("Aufbautür", "AUFBAUTUR", "aufbautu\u0308r"):
        page.locator("#seek").fill(words)
        expect(page.locator("#places li[data-number='7']")).to_be_visible()
        expect(page.locator("#places li[data-number='34']")).to_be_hidden()


def test_without_script_everything_stands_on_one_page(open_page, token):
    page = open_page(None, size="phone", script=False)
    page.goto(f"/pack/{token}/")
    for part in PARTS:
        expect(page.locator(f"#{part}")).to_be_visible()
    expect(page.get_by_role("link", name="Ring 112")).to_be_visible()
    card = page.locator("#n9")
    card.locator("summary").click()
    expect(card.locator(".points")).to_be_visible()


def test_the_emergency_is_one_tap_away_from_everywhere(open_page, token):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/")
    for part in PARTS:
        page.evaluate("part => { location.hash = part }", part)
        page.locator("nav.tabs").get_by_role("link", name="Emergency").click()
        expect(page.get_by_role("link", name="Ring 112")).to_be_in_viewport()
        assert page.get_by_role("link", name="Ring 112").get_attribute("href") == "tel:112"


def test_the_ticks_of_the_list_for_the_return_stay(open_page, token):
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/#leave")
    page.get_by_label("Gas shut at the cylinders").check()
    page.reload()
    expect(page.get_by_label("Gas shut at the cylinders")).to_be_checked()


def test_a_photo_of_the_depot_is_made_smaller_and_kept_for_the_road(open_page, token, tmp_path):
    large = tmp_path / "large.jpg"
    Image.effect_noise((2600, 1900), 40).convert("RGB").save(large, quality=95)
    desk = open_page("manager")
    desk.goto("/vehicles/W4-06/photos/")
    line = desk.locator("#f-step")
    line.locator("input[type=file]").set_input_files(large)
    line.get_by_role("button", name="Add").click()
    expect(line.locator("img")).to_have_count(1)
    assert line.locator("img").evaluate("photo => photo.decode().then(() => photo.naturalWidth)") == 1280
    page = open_page(None, size="phone")
    page.goto(f"/pack/{token}/en/#n6")
    _kept(page)
    page.context.set_offline(True)
    page.reload()
    photo = page.locator("#n6 img.photo")
    expect(photo).to_be_visible()
    assert photo.evaluate("photo => photo.decode().then(() => photo.naturalWidth)") == 1280
    page.context.set_offline(False)
    line.get_by_role("button", name="Take off").click()
    expect(desk.locator("#f-step img")).to_have_count(0)


def test_a_look_is_counted_once_a_sitting(open_page, token):
    desk = open_page("desk")

    def looks():
        desk.goto("/hires/H12/pack/")
        return int(desk.locator("dd").first.inner_text().split()[0])

    before = looks()
    page = open_page(None, size="phone")
    with page.expect_response("**/looked/"):
        page.goto(f"/pack/{token}/")
    page.reload()
    page.goto(f"/pack/{token}/de/")
    _settled(page)
    assert looks() == before + 1


def test_a_browser_that_allows_no_memory_shows_and_sends_all_the_same(open_page, token):
    page = open_page(None, size="phone")
    page.add_init_script(
        """Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('no'); }});"""
    )
    page.goto(f"/pack/{token}/en/#n19")
    page.locator("#n19").get_by_role("button", name="I have read this").click()
    expect(page.locator("#n19 .done")).to_have_text("Read and sent")


def test_bright_or_dark_is_chosen_and_stays(open_page, token):
    page = open_page(None, size="phone", scheme="light")
    page.goto(f"/pack/{token}/en/")
    bright = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    page.get_by_role("button", name="Dark").click()
    dark = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert dark != bright
    page.reload()
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == dark
    page.get_by_role("button", name="As the phone").click()
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == bright


def test_a_withdrawn_link_takes_its_copy_off_the_phone(open_page, token, served, browser, keys):
    context = browser.new_context(base_url=served.url, storage_state=keys["manager"])
    desk = context.new_page()
    desk.goto("/hires/H14/pack/")
    if not desk.get_by_role("button", name="Make the link").count():
        pytest.skip("the demo's hire has no vehicle")
    desk.get_by_role("button", name="Make the link").click()
    address = desk.get_by_label("Address").input_value()
    page = open_page(None, size="phone")
    page.goto(address)
    _kept(page)
    with desk.expect_navigation():
        desk.get_by_role("button", name="Withdraw it").click()
    context.close()
    page.reload()
    expect(page.get_by_role("heading", name="This link opens nothing")).to_be_visible()
    kept = page.evaluate("caches.open('pack-pages').then(c => c.keys()).then(k => k.map(r => r.url))")
    assert [url for url in kept if "~" in url] == []
