"""The Day board in Chromium: sound at every width, tasks moved by keys, mouse and finger, two desks at one board."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from .test_every_page import OVERFLOW, SMALL, axe
from .waiting import until

BOARD = "/day/2026-07-10/plan/"
PLANNED_MS = 280_000  # the first search on a machine compiles its loops
#: A finger that stays so long grabs.
RESTS_MS = 400
pytestmark = pytest.mark.browser


def at_the_board(open_page, role="desk", address=BOARD, **how):
    """The board with a plan that is held; the first who comes plans the day."""
    page = open_page(role, **how)
    page.goto(address)
    if page.get_by_text("Nobody has planned this day yet").count():
        page.get_by_role("button", name="Plan this day").click()
    if not page.locator(".tools .hint").count():
        page.locator(".proposal.ready").wait_for(timeout=PLANNED_MS)
        keep(page)
        page.locator(".tools .hint").wait_for()
        page.goto(address)
    page.locator(".tools .hint").wait_for()
    return page


def keep(page):
    """Keep the plan that is proposed; with others to choose from, the button has another name."""
    page.locator(".proposal button[value=accept]").click()


def version(page):
    return int(re.search(r"Version (\d+)", page.locator(".tools .hint").inner_text())[1])


def bars_from_the_last(page):
    """The tasks of people that have not begun, the one that begins last first."""
    numbers = page.evaluate("""() => {
      const bars = [...document.querySelectorAll('a.bar:not(.begun)')].filter(bar => bar.dataset.people);
      return bars.sort((one, other) => other.dataset.start - one.dataset.start).map(bar => bar.id);
    }""")
    return [page.locator(f'[id="{number}"]') for number in numbers]


def last_bar(page):
    """The task that begins last: after it nothing waits."""
    return bars_from_the_last(page)[0]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["phone", "tablet", "desk"])
@pytest.mark.parametrize("by", ["person", "vehicle"])
def test_the_board_has_nothing_that_axe_finds_and_fits_its_screen(open_page, size, scheme, by):
    page = at_the_board(open_page, size=size, scheme=scheme, address=f"{BOARD}?by={by}")
    if size == "phone":
        page.locator(".listed summary").first.click()
        page.locator(".listed li a").first.click()
    else:
        last_bar(page).click()
    page.locator(".picked").wait_for()
    assert axe(page) == []
    assert page.evaluate(OVERFLOW) == []
    assert page.evaluate(SMALL) == []


def test_a_task_is_moved_by_keys_shown_first_and_let_go(open_page):
    page = at_the_board(open_page)
    before, bar = version(page), last_bar(page)
    bar.focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    page.locator(".effect").wait_for()
    expect(bar.locator("rect")).to_have_attribute("transform", re.compile("translate"))
    page.keyboard.press("Escape")
    expect(page.locator("#said")).to_have_text("Let go. It is where it was.")
    expect(bar.locator("rect[transform]")).to_have_count(0)
    expect(bar).to_be_focused()
    assert version(page) == before


def later_by_a_step(page):
    """Move by keys a task that may begin five minutes later: of those that end last the first that breaks no rule."""
    for bar in bars_from_the_last(page):
        bar.focus()
        page.keyboard.press("ArrowRight")
        page.locator(".effect").wait_for()
        if page.locator(".effect.holds").count():
            return bar
        page.keyboard.press("Escape")
        expect(page.locator(".effect")).to_have_count(0)
    return pytest.fail("every task of this plan breaks a rule when it begins five minutes later")


def test_enter_keeps_what_breaks_no_rule_and_undo_takes_it_back(open_page):
    page = at_the_board(open_page)
    before, bar = version(page), later_by_a_step(page)
    task, start = bar.get_attribute("data-task"), int(bar.get_attribute("data-start"))
    page.keyboard.press("Enter")
    page.get_by_text("Moved and pinned there.").wait_for()
    assert version(page) == before + 1
    moved = page.locator(f'a.bar[data-task="{task}"]').first
    expect(moved).to_have_attribute("data-start", str(start + 5))
    expect(moved).to_have_class(re.compile("pinned"))
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("Undone.").wait_for()
    expect(moved).to_have_attribute("data-start", str(start))


def test_a_task_is_dragged_by_the_mouse_and_the_broken_rule_is_said(open_page):
    page = at_the_board(open_page)
    before, bar = version(page), page.locator('a.bar:not(.begun)[data-people]:not([data-people=""])').first
    bar.scroll_into_view_if_needed()
    box = bar.locator("rect").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 600, y, steps=6)
    page.mouse.up()
    page.locator(".effect.breaks li").first.wait_for()
    expect(page.get_by_role("button", name="Plan the rest around it")).to_be_visible()
    page.locator(".effect .drop").click()
    expect(page.locator(".effect")).to_have_count(0)
    assert version(page) == before


def test_a_finger_that_rests_grabs_and_one_that_slides_scrolls(open_page):
    page = at_the_board(open_page, size="tablet")
    page.clock.install()
    page.reload()
    bar = last_bar(page)
    bar.scroll_into_view_if_needed()
    box = bar.locator("rect").bounding_box()
    spot = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}
    touch = page.context.new_cdp_session(page)

    def finger(kind, dx=0):
        points = [] if kind == "touchEnd" else [{"x": spot["x"] + dx, "y": spot["y"]}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    page.clock.pause_at(dt.datetime.now(dt.UTC) + dt.timedelta(seconds=2))  # how long a finger rests is up to the test
    finger("touchStart")
    finger("touchMove", -40)
    finger("touchEnd")
    page.clock.run_for(RESTS_MS)
    expect(page.locator(".bar.grabbed")).to_have_count(0)
    box = bar.locator("rect").bounding_box()
    spot = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}
    finger("touchStart")
    page.clock.run_for(RESTS_MS)
    page.locator(".bar.grabbed").wait_for()
    page.clock.resume()
    finger("touchMove", -21)
    finger("touchMove", -41)
    finger("touchEnd")
    page.locator(".effect").wait_for()
    page.locator(".effect .drop").click()
    expect(page.locator(".bar.grabbed")).to_have_count(0)


def test_two_desks_at_one_board_see_what_the_other_keeps_without_loading_again(open_page):
    mine, other = at_the_board(open_page), at_the_board(open_page, role="manager")
    before = version(mine)
    other.get_by_text("A place is closed").click()
    form = other.locator("details[open] form")
    form.get_by_label("Place").select_option("laundry")
    form.get_by_label("Until").fill("09:00")
    form.get_by_role("button", name="Plan again").click()
    mine.locator(".proposal").wait_for()
    other.locator(".proposal.ready").wait_for(timeout=PLANNED_MS)
    expect(other.locator(".changes li")).not_to_have_count(0)
    keep(other)
    mine.get_by_text(f"Version {before + 1}").wait_for()
    mine.locator(".proposal").wait_for(state="detached")


def test_a_board_that_is_drawn_again_keeps_the_focus_and_leaves_what_is_held_in_the_hand(open_page):
    page = at_the_board(open_page)
    bar, first = last_bar(page), page.locator("#live").element_handle()
    asked, waits = [], []

    def drawn_again(route):
        """Answer as if the board had changed, at once or when the test says so."""
        if waits:
            asked.append(route)
        else:
            route.continue_(url=re.sub(r"seen=[^&]*", "seen=0", route.request.url))

    bar.focus()
    page.route("**/live/**", drawn_again)
    until(page, "one => !one.isConnected", first)
    expect(bar).to_be_focused()

    waits.append("for a task in the hand")
    with page.expect_request("**/live/**"):
        pass
    page.keyboard.press("ArrowLeft")
    held = page.locator(".bar.grabbed").element_handle()
    waits.clear()
    with page.expect_event("requestfinished", lambda request: request == asked[0].request):
        drawn_again(asked[0])
    page.locator(".effect").wait_for()
    assert held.evaluate("one => one.isConnected && one.matches('.grabbed') && document.activeElement === one")
    page.keyboard.press("Escape")
    until(page, "one => !one.isConnected", held)
    expect(bar).to_be_focused()


@pytest.mark.parametrize("size", ["phone", "tablet", "desk"])
def test_the_desk_writes_a_problem_down_for_somebody_and_it_is_open_until_it_goes_on(open_page, tmp_path, size):
    page = at_the_board(open_page, size=size)
    if size == "phone":
        page.locator(".listed summary").first.click()
        page.locator(".listed li a").first.click()
    else:
        last_bar(page).click()
    page.locator(".picked").wait_for()
    page.get_by_text("There is a problem").click()
    page.get_by_label("What is it?").fill(f"Water stands on the slab ({size})")
    Image.new("RGB", (80, 60), "teal").save(tmp_path / "slab.jpg")
    page.get_by_label("Photo").set_input_files(tmp_path / "slab.jpg")
    assert axe(page) == []
    assert page.evaluate(SMALL) == []
    page.get_by_role("button", name="Write it down").click()
    trouble = page.locator(".troubles li", has_text=f"({size})")
    trouble.wait_for()
    expect(trouble).to_contain_text("Odo")  # as the one who has it, or as the one who wrote it down
    assert trouble.locator("img").evaluate("one => one.decode().then(() => one.naturalWidth)") == 80
    assert axe(page) == []
    assert page.evaluate(OVERFLOW) == []
    assert page.evaluate(SMALL) == []
    trouble.get_by_role("button", name="It goes on").click()
    page.get_by_text("Written down.").wait_for()
    expect(page.locator(".troubles li", has_text=f"({size})")).to_have_count(0)


def test_vehicles_of_the_plan_are_given_to_the_hires_by_one_button_and_taken_back(open_page):
    page = at_the_board(open_page)
    apart = page.locator(".apart li")
    if not apart.count():
        pytest.skip("this plan leaves every hire the vehicle it has")
    hire, old, new = (apart.first.locator(f) for f in (".name small", ".tag >> nth=0", ".tag >> nth=1"))
    name, old, new = hire.inner_text(), old.inner_text(), new.inner_text()
    assert axe(page) == []
    page.get_by_role("button", name="Give the hires these vehicles").click()
    page.get_by_text("of the plan.").wait_for()
    page.goto(f"/hires/{name}/")
    expect(page.get_by_label("Vehicle", exact=True)).to_have_value(new)
    expect(page.locator(".history")).to_contain_text(f"{new} instead of {old}, as the plan of 10 Jul has it")
    page.goto(BOARD)
    assert axe(page) == []
    assert page.evaluate(SMALL) == []
    page.get_by_role("button", name="Take it back").click()
    page.get_by_text("Taken back:").wait_for()
    expect(page.locator(".apart li", has_text=name)).to_have_count(1)


def test_without_script_the_board_is_links_and_forms(open_page):
    at_the_board(open_page)
    page = open_page("desk", script=False)
    page.goto(BOARD)
    page.locator("a.bar:not(.begun)").first.click()  # what a gate has proved stays where it is
    expect(page.get_by_text("Why then?")).to_be_visible()
    page.get_by_role("button", name="See what it does").click()
    expect(page.locator(".effect")).to_have_count(1)
