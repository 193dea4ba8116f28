"""Every page: sound for those who hear it or tap it, at every width, light and dark, within the policy."""

from __future__ import annotations

from pathlib import Path

import pytest

AXE = (Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PAGES = {
    "login": (None, "/people/login/"),
    "day": ("manager", "/day/2026-07-10/"),
    "empty day": ("manager", "/day/2026-12-25/"),
    "around a day": ("desk", "/day/2026-07-10/around/"),
    "plan of a quiet day": ("manager", "/day/2026-12-25/plan/"),
    "hires": ("manager", "/hires/"),
    "nothing found": ("manager", "/hires/?q=nobody+at+all"),
    "hire over": ("manager", "/hires/H12/"),
    "hire read only": ("yard", "/hires/H12/"),
    "new hire": ("desk", "/hires/new/"),
    "another vehicle": ("desk", "/hires/H12/swap/"),
    "import": ("desk", "/hires/import/"),
    "vehicles": ("manager", "/vehicles/"),
    "vehicle": ("technician", "/vehicles/W4-02/?show=7"),
    "film of a vehicle": ("desk", "/vehicles/W4-02/film/?minutes=25&tag=children"),
    "what was counted": ("desk", "/teach-points/"),
    "one point counted": ("desk", "/teach-points/aw_wind/"),
    "one point counted, read only": ("yard", "/teach-points/aw_wind/"),
    "languages": ("manager", "/languages/"),
    "people": ("manager", "/people/"),
    "not allowed": ("yard", "/people/"),
    "no such page": ("manager", "/nowhere/"),
}
pytestmark = pytest.mark.browser

OVERFLOW = """() => {
  const wide = document.scrollingElement.clientWidth;
  if (document.scrollingElement.scrollWidth <= wide) return [];
  return [...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > wide + 1
    && !e.closest('.scroll')).slice(0, 5).map(e => e.tagName + '.' + e.className);
}"""
SMALL = """() => [...document.querySelectorAll('a.button, a.quiet, a.tag, nav a, button, summary, select, a.find, '
    + 'input:not([type=hidden]):not([type=checkbox]):not([type=radio]), label.tick')]
  .filter(e => e.checkVisibility() && !e.disabled)
  .map(e => [e.getBoundingClientRect(), e])
  .filter(([box]) => box.height < 43.5 || box.width < 43.5)
  .slice(0, 8).map(([box, e]) => e.tagName + '.' + e.className + ' ' + e.textContent.trim().slice(0, 20)
    + ' ' + Math.round(box.width) + 'x' + Math.round(box.height))"""


def seen(open_page, name, **how):
    role, address = PAGES[name]
    page = open_page(role, **how)
    page.goto(address)
    return page


FOUND = """rules => axe.run(document, {runOnly: {type: 'tag', values: rules}}).then(r => r.violations.map(
  v => v.id + ': ' + v.nodes.slice(0, 4).map(n => n.target.join(' ') + ' ' + (n.failureSummary || '').slice(0, 160))
    .join(' | ')))"""


def whole(page):
    """Show a page from top to bottom at once: what lies under a fixed bar is scrolled to, so it is not out of reach."""
    height = page.evaluate("() => document.documentElement.scrollHeight")
    page.set_viewport_size({"width": page.viewport_size["width"], "height": height})


def axe(page):
    """What the accessibility checker finds; the whole source goes through evaluate, a script tag would be refused."""
    whole(page)
    page.evaluate(AXE)
    return page.evaluate(FOUND, RULES)


@pytest.mark.parametrize(("size", "scheme"), [("desk", "light"), ("desk", "dark"), ("phone", "light")])
@pytest.mark.parametrize("name", PAGES)
def test_a_page_has_nothing_that_axe_finds(open_page, name, size, scheme):
    page = seen(open_page, name, size=size, scheme=scheme)
    for why in page.locator("details > summary").all()[:3]:
        why.click()
    assert axe(page) == []


@pytest.mark.parametrize("size", ["phone", "tablet", "desk", "wide"])
@pytest.mark.parametrize("name", PAGES)
def test_a_page_fits_its_screen_and_what_is_tapped_is_large_enough(open_page, name, size):
    page = seen(open_page, name, size=size)
    assert page.evaluate(OVERFLOW) == []
    assert page.evaluate(SMALL) == []
    assert page.title().endswith("Keyhook")
    assert page.locator("h1").count() == 1
