"""The hirer's pack: what its link opens, what it never shows, and what a stranger learns (nothing)."""

from __future__ import annotations

import datetime as dt
import re
from html.parser import HTMLParser

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from keyhook.catalogue import load_catalogue
from keyhook.vehicle.composition import symptoms, teach_points
from keyhook_desk import clock
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.links import OPENS_AFTER_RETURN, token_of
from keyhook_desk.pack.models import PackConfirmation, PackLink
from keyhook_desk.pack.selectors import confirmed_points
from keyhook_desk.pack.services import make_link, renew_link, tick_language, withdraw_link
from keyhook_desk.yard.models import DepotRow

BEFORE = dt.datetime(2026, 7, 10, 7, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def _clock_stands(settings):
    settings.NOW = BEFORE


@pytest.fixture
def h12(depot):
    return HireRow.objects.select_related("vehicle__sheet").get(name="H12")


@pytest.fixture
def token(manager, h12):
    return token_of(make_link(actor=manager, hire=h12))


def _text(response):
    return response.content.decode()


def test_the_link_opens_the_pack_without_an_account(stranger, token, h12):
    response = stranger.get(f"/pack/{token}/")
    assert response.status_code == 200
    assert "Hello Hector" in _text(response)
    assert h12.vehicle.name in _text(response)


def test_every_fitting_and_symptom_of_the_vehicle_is_there_and_of_no_other(stranger, token, h12):
    text = _text(stranger.get(f"/pack/{token}/"))
    sheet = built_of(h12.vehicle)
    assert set(re.findall(r'id="n(\d+)"', text)) == {str(one.find_it) for one in sheet.fittings}
    says = {placed.entry.says for placed in symptoms(sheet, load_catalogue())}
    known = {one.says for one in load_catalogue().symptoms.values()}
    shown = {words for words in known if f">{_escaped(words)}<" in text}
    assert shown == says


def _escaped(words):
    return words.replace("&", "&amp;").replace("'", "&#x27;").replace('"', "&quot;")


@pytest.mark.parametrize("place", range(0, 48, 3))
def test_a_link_altered_by_one_character_opens_nothing_and_says_so_kindly(stranger, token, place):
    place %= len(token)
    other = "A" if token[place] != "A" else "B"
    response = stranger.get(f"/pack/{token[:place]}{other}{token[place + 1 :]}/")
    assert response.status_code == 404
    assert "This link is not complete or has been changed." in _text(response)
    assert 'href="tel:+441632960207"' in _text(response)
    assert "Hector" not in _text(response)


def test_a_link_opens_until_two_weeks_after_the_return_to_the_second(stranger, token, h12, settings):
    settings.NOW = h12.return_at + OPENS_AFTER_RETURN - dt.timedelta(seconds=1)
    assert stranger.get(f"/pack/{token}/").status_code == 200
    settings.NOW = h12.return_at + OPENS_AFTER_RETURN
    response = stranger.get(f"/pack/{token}/")
    assert response.status_code == 410
    assert "This link has run out" in _text(response)


def test_a_return_that_moves_moves_the_end_of_the_link(stranger, token, h12, settings):
    HireRow.objects.filter(pk=h12.pk).update(return_at=h12.return_at + dt.timedelta(days=3))
    settings.NOW = h12.return_at + OPENS_AFTER_RETURN + dt.timedelta(days=2)
    assert stranger.get(f"/pack/{token}/").status_code == 200


def test_a_renewed_link_ends_the_one_before(stranger, manager, token, h12):
    newer = token_of(renew_link(actor=manager, hire=h12))
    assert newer != token
    assert stranger.get(f"/pack/{newer}/").status_code == 200
    response = stranger.get(f"/pack/{token}/")
    assert response.status_code == 410
    assert "This link has been withdrawn" in _text(response)


def test_a_withdrawn_link_opens_nothing_until_another_is_made(stranger, manager, token, h12):
    withdraw_link(actor=manager, hire=h12)
    for address in (f"/pack/{token}/", f"/pack/{token}/en/dates.ics", f"/pack/{token}/pack.webmanifest"):
        assert stranger.get(address).status_code == 410
    again = token_of(make_link(actor=manager, hire=h12))
    assert stranger.get(f"/pack/{again}/").status_code == 200
    assert stranger.get(f"/pack/{token}/").status_code == 410


def test_the_link_of_a_cancelled_hire_opens_nothing(stranger, token, h12):
    HireRow.objects.filter(pk=h12.pk).update(status="cancelled")
    response = stranger.get(f"/pack/{token}/")
    assert response.status_code == 410
    assert "the hire was cancelled" in _text(response)


def test_while_the_vehicle_is_being_chosen_the_link_says_so(stranger, token, h12):
    HireRow.objects.filter(pk=h12.pk).update(vehicle=None)
    response = stranger.get(f"/pack/{token}/")
    assert response.status_code == 409
    assert "Your vehicle is being chosen" in _text(response)


def test_nothing_of_a_person_but_the_first_name_leaves_the_desk(stranger, token, h12):
    hire = h12.document
    everything = _text(stranger.get(f"/pack/{token}/")) + _text(stranger.get(f"/pack/{token}/en/dates.ics"))
    for secret in ("Grobblestock", hire["drivers"][0]["born_on"], "1993-01-03", "96 kg", "Moorland"):
        assert secret not in everything


def test_what_people_typed_is_shown_as_text(stranger, token, h12):
    document = {**h12.document, "lead": "<b>Eve</b> X", "party": [{**h12.document["party"][0], "name": "<b>Eve</b> X"}]}
    h12.put(document)
    h12.save()
    vehicle = h12.vehicle
    vehicle.put(
        {**vehicle.document, "quirks": [{"text": "<img src=x onerror=y>", "fitting": None, "tell_hirer": True}]}
    )
    vehicle.save()
    text = _text(stranger.get(f"/pack/{token}/"))
    assert "&lt;b&gt;Eve&lt;/b&gt;" in text
    assert "<b>Eve" not in text
    assert "&lt;img src=x" in text


def test_no_search_engine_keeps_it_and_no_proxy_shares_it(stranger, token):
    for address in ("/pack/find/W4-06/7/", f"/pack/{token}/", f"/pack/{token}x/"):
        response = stranger.get(address)
        assert "noindex" in response["X-Robots-Tag"]
        assert '<meta name="robots" content="noindex' in _text(response)
        assert "private" in response["Cache-Control"]


def test_looking_writes_nothing_and_the_page_tells_a_look_by_itself(stranger, token, h12):
    with CaptureQueriesContext(connection) as seen:
        stranger.get(f"/pack/{token}/")
    assert [query["sql"] for query in seen if not query["sql"].startswith(("SELECT", "SAVEPOINT", "RELEASE"))] == []
    assert len(seen) <= 6
    assert PackLink.objects.get(hire=h12).looks == 0
    assert stranger.post(f"/pack/{token}/looked/").status_code == 204
    link = PackLink.objects.get(hire=h12)
    assert (link.looks, link.last_look_at) == (1, BEFORE)


def test_the_depot_looking_it_over_counts_nothing(desk, token, h12):
    assert desk.post(f"/pack/{token}/looked/").status_code == 204
    assert PackLink.objects.get(hire=h12).looks == 0


def test_what_was_read_reaches_the_desk_once(stranger, token, h12):
    point = next(placed.entry.id for placed in teach_points(built_of(h12.vehicle), load_catalogue()))
    sent = {"points": f"{point},no_such_point,{point}", "at": "2026-07-09T20:00:00+02:00"}
    for _ in range(2):
        assert stranger.post(f"/pack/{token}/read/", sent, headers={"X-Requested-With": "pack"}).status_code == 204
    assert confirmed_points(h12) == frozenset({point})
    assert PackConfirmation.objects.get(hire=h12).at == dt.datetime(2026, 7, 9, 18, tzinfo=dt.UTC)


def test_without_script_the_form_itself_confirms_a_card_and_comes_back_to_it(stranger, token, h12):
    text = _text(stranger.get(f"/pack/{token}/de/"))
    points = re.search(r'name="points" value="([^"]+)"[^>]*><input[^>]*value="de"[^>]*><input[^>]*value="1"', text)[1]
    response = stranger.post(f"/pack/{token}/read/", {"points": points, "language": "de", "number": "1"})
    assert response["Location"] == f"/pack/{token}/de/#n1"
    assert confirmed_points(h12) == frozenset(points.split(","))
    assert 'class="card read" id="n1"' in _text(stranger.get(f"/pack/{token}/de/"))


@pytest.mark.parametrize("at", ["", "yesterday", "2026-07-09T20:00:00", "2099-01-01T00:00:00+00:00"])
def test_a_moment_that_cannot_be_is_taken_as_now(stranger, token, h12, at):
    point = next(placed.entry.id for placed in teach_points(built_of(h12.vehicle), load_catalogue()))
    stranger.post(f"/pack/{token}/read/", {"points": point, "at": at})
    assert PackConfirmation.objects.get(hire=h12).at == BEFORE


def test_a_dead_link_takes_no_confirmation(stranger, manager, token, h12):
    withdraw_link(actor=manager, hire=h12)
    assert stranger.post(f"/pack/{token}/read/", {"points": "hd_exit"}).status_code == 410
    assert not PackConfirmation.objects.filter(hire=h12).exists()


@pytest.mark.parametrize(
    ("accepts", "language"),
    [
        ("de-AT,de;q=0.9,en;q=0.5", "de"),
        ("pt-PT,fr;q=0.8", "fr"),
        ("pl", "en"),
        ("", "en"),
        ("en;q=0.3,nl;q=0.9", "nl"),
    ],
)
def test_the_browser_says_the_language_first(stranger, token, accepts, language):
    response = stranger.get(f"/pack/{token}/", headers={"Accept-Language": accepts})
    assert f'<html lang="{language}">' in _text(response)
    assert "Accept-Language" in response["Vary"]


def test_the_hirer_chooses_another_language_whatever_the_browser_says(stranger, token):
    response = stranger.get(f"/pack/{token}/es/", headers={"Accept-Language": "de"})
    assert '<html lang="es">' in _text(response)
    assert stranger.get(f"/pack/{token}/xx/").status_code == 404


def test_a_translation_is_marked_until_the_depot_has_had_it_read(stranger, manager, token):
    assert 'id="unchecked"' not in _text(stranger.get(f"/pack/{token}/en/"))
    assert 'id="unchecked"' in _text(stranger.get(f"/pack/{token}/de/"))
    tick_language(actor=manager, language="de", checked=True)
    assert 'id="unchecked"' not in _text(stranger.get(f"/pack/{token}/de/"))
    tick_language(actor=manager, language="de", checked=False)
    assert 'id="unchecked"' in _text(stranger.get(f"/pack/{token}/de/"))


def test_a_sticker_opens_the_card_in_the_pack_this_phone_holds(stranger, token, h12):
    stranger.get(f"/pack/{token}/")
    cookie = stranger.cookies["pack"]
    assert (cookie["path"], cookie["httponly"], cookie["samesite"]) == ("/pack/", True, "Lax")
    response = stranger.get(f"/pack/find/{h12.vehicle.name}/7/")
    assert (response.status_code, response["Location"]) == (302, f"/pack/{token}/#n7")


def test_a_sticker_tells_a_phone_without_a_pack_how_to_get_it_and_nothing_else(stranger, depot):
    there, nowhere = (stranger.get(f"/pack/find/{name}/7/") for name in ("W4-06", "Z9-99"))
    assert there.status_code == nowhere.status_code == 200
    assert _text(there) == _text(nowhere)
    assert "it is in the message we sent you" in _text(there)


def test_a_sticker_of_another_kind_of_vehicle_says_that_the_pack_is_for_another(stranger, token):
    stranger.get(f"/pack/{token}/")
    response = stranger.get("/pack/find/V2-03/7/")
    assert response.status_code == 200
    assert "for another vehicle" in _text(response)


def test_a_phone_whose_link_has_ended_is_told_how_to_get_the_new_one(stranger, manager, token, h12):
    stranger.get(f"/pack/{token}/")
    withdraw_link(actor=manager, hire=h12)
    assert "Open the link to your pack once" in _text(stranger.get("/pack/find/W4-06/7/"))


def test_the_worker_rules_the_packs_and_nothing_of_the_desk(stranger, depot):
    response = stranger.get("/pack/worker.js")
    assert response["Content-Type"].startswith("text/javascript")
    assert "Service-Worker-Allowed" not in response.headers
    assert "no-cache" in response["Cache-Control"]


def test_the_manifest_starts_at_the_pack_and_stays_in_it(stranger, token):
    told = stranger.get(f"/pack/{token}/pack.webmanifest").json()
    assert (told["start_url"], told["scope"], told["display"]) == (f"/pack/{token}/", "/pack/", "standalone")


class Inline(HTMLParser):
    """Collects whatever a strict policy would refuse, and ids that stand twice."""

    def __init__(self):
        super().__init__()
        self.found, self.ids = [], []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.found += [f"{tag} {key}" for key in given if key == "style" or key.startswith("on")]
        if tag == "style" or (tag == "script" and "src" not in given):
            self.found.append(tag)
        self.ids += [given["id"]] if given.get("id") else []


@pytest.mark.parametrize("language", ["en", "de", "fr", "nl", "es"])
def test_the_page_stays_within_the_policy_in_every_language(stranger, token, language):
    response = stranger.get(f"/pack/{token}/{language}/")
    page = Inline()
    page.feed(_text(response))
    assert page.found == []
    assert len(page.ids) == len(set(page.ids))
    assert "unsafe" not in response["Content-Security-Policy"]


@pytest.mark.parametrize("name", ["H01", "H05", "H09", "H14", "H19", "H22", "H25"])
def test_every_kind_of_hire_has_a_pack(stranger, manager, depot, name):
    row = HireRow.objects.get(name=name)
    response = stranger.get(f"/pack/{token_of(make_link(actor=manager, hire=row))}/")
    assert response.status_code == (200 if row.vehicle_id and row.status != "cancelled" else response.status_code)
    assert response.status_code in {200, 409, 410}


def test_the_link_says_nothing_that_only_the_clock_would_change(manager, h12):
    first = token_of(make_link(actor=manager, hire=h12))
    assert token_of(make_link(actor=manager, hire=h12)) == first
    assert clock.now() == BEFORE


@pytest.mark.parametrize(
    ("language", "height"), [("en", "2.92 m"), ("de", "2,92 m"), ("fr", "2,92 m"), ("nl", "2,92 m"), ("es", "2,92 m")]
)
def test_the_height_is_written_as_on_the_road_signs_of_the_language(stranger, token, language, height):
    # Source: traffic signs of height in Germany, France and the Netherlands carry a comma, those of Britain a point.
    assert height in _text(stranger.get(f"/pack/{token}/{language}/"))


def test_the_depot_s_own_words_are_read_in_the_language_of_the_hirer(stranger, token):
    text = _text(stranger.get(f"/pack/{token}/de/"))
    assert "Über der Aufbautür; Kurbel im Kleiderschrank" in text
    assert "Above the living door; crank in the wardrobe" not in text
    assert "Above the living door; crank in the wardrobe" in _text(stranger.get(f"/pack/{token}/en/"))


def test_where_the_depot_has_no_words_of_a_language_the_usual_place_stands_before_its_own(stranger, token):
    row = DepotRow.objects.get()
    row.put({**row.document, "words": {}})
    row.save()
    text = _text(stranger.get(f"/pack/{token}/de/"))
    assert "Außen, über der Aufbautür" in text
    assert '<span class="small" lang="en">Above the living door; crank in the wardrobe</span>' in text
