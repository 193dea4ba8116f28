"""What every page carries: a strict policy, no inline style or script, guarded cookies."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest

PAGES = ["/people/login/", "/day/2026-07-10/", "/hires/", "/hires/H01/", "/hires/new/", "/hires/import/", "/vehicles/",
         "/vehicles/W4-02/?show=3", "/people/", "/no/such/page/"]  # fmt: skip


class Inline(HTMLParser):
    """Collects whatever a strict policy would refuse."""

    def __init__(self):
        super().__init__()
        self.found, self.scripts = [], 0

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.found += [f"{tag} {key}" for key in given if key == "style" or key.startswith(("on", "hx-on"))]
        if tag == "style" or (tag == "script" and "src" not in given):
            self.found.append(tag)
        self.scripts += tag == "script"


@pytest.fixture
def seen(browser_of, manager):
    return browser_of(manager)


@pytest.mark.parametrize("address", PAGES)
def test_no_page_needs_more_than_its_own_files(seen, stranger, address):
    response = (stranger if "login" in address else seen).get(address)
    policy = dict(part.strip().split(" ", 1) for part in response["Content-Security-Policy"].split(";") if part.strip())
    assert policy["default-src"] == "'none'"
    assert (policy["script-src"], policy["style-src"]) == ("'self'", "'self'")
    assert (policy["frame-ancestors"], policy["base-uri"], policy["form-action"]) == ("'none'", "'none'", "'self'")
    assert "unsafe" not in response["Content-Security-Policy"]
    page = Inline()
    page.feed(response.content.decode())
    assert page.found == []
    assert page.scripts == 1


@pytest.mark.parametrize("address", PAGES[:3])
def test_browsers_are_told_to_be_careful(seen, address):
    response = seen.get(address)
    assert response["X-Frame-Options"] == "DENY"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Referrer-Policy"] == "same-origin"
    assert response["Cross-Origin-Opener-Policy"] == "same-origin"


def test_htmx_is_told_to_evaluate_and_inject_nothing(seen):
    text = seen.get("/hires/").content.decode()
    assert '"includeIndicatorStyles": false' in text
    assert '"allowEval": false' in text


def test_pages_of_people_are_not_kept_by_the_browser(seen):
    assert "no-store" in seen.get("/hires/H01/")["Cache-Control"]


def test_the_theme_is_kept_in_a_cookie_by_a_form_alone(desk):
    assert desk.get("/theme/").status_code == 405
    response = desk.post("/theme/", {"theme": "dark", "back": "/hires/"})
    assert response["Location"] == "/hires/"
    cookie = response.cookies["theme"]
    assert (cookie.value, cookie["httponly"], cookie["samesite"]) == ("dark", True, "Lax")
    assert 'data-theme="dark"' in desk.get("/hires/").content.decode()
    assert desk.post("/theme/", {"theme": "system"}).cookies["theme"].value == ""


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_the_theme_form_never_leads_elsewhere(desk, back):
    assert desk.post("/theme/", {"theme": "dark", "back": back})["Location"] == "/"


def test_what_people_type_is_shown_as_text(desk, h25, typed):
    response = desk.post("/hires/H25/", typed(h25, lead="<script>alert(1)</script>", note="<img src=x onerror=y>"))
    text = response.content.decode()
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert(1)" in text
    assert "<img src=x" not in text


def test_a_form_from_elsewhere_is_refused(own):
    from django.test import Client  # noqa: PLC0415

    careful = Client(enforce_csrf_checks=True)
    careful.force_login(own)
    assert careful.post("/hires/new/", {"lead": "x"}).status_code == 403
