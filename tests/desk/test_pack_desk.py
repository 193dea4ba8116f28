"""Packs at the desk: links made, renewed, withdrawn; messages; stickers; photos; languages ticked by a manager."""

from __future__ import annotations

import datetime as dt
import io
import re
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils.html import escape
from PIL import Image
from pypdf import PdfReader

from keyhook.catalogue import load_catalogue
from keyhook.errors import BadInput
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.links import token_of
from keyhook_desk.pack.models import FittingPhoto, LanguageTick, PackLink
from keyhook_desk.pack.services import MOST_PHOTOS, add_photo, make_link, tick_language, withdraw_link
from keyhook_desk.walkround.models import Kind, TourWish
from keyhook_desk.walkround.services import Tick, tick
from keyhook_desk.walkround.views import held_tour
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.web.pictures import read_picture


@pytest.fixture(autouse=True)
def _clock_stands(settings):
    settings.NOW = dt.datetime(2026, 7, 10, 7, tzinfo=dt.UTC)


@pytest.fixture
def h12(depot):
    return HireRow.objects.select_related("vehicle__sheet").get(name="H12")


@pytest.fixture
def w4(depot):
    return VehicleRow.objects.select_related("sheet").get(name="W4-06")


def _photo(shade=90):
    body = io.BytesIO()
    Image.new("RGB", (64, 48), (shade, shade, shade)).save(body, "JPEG")
    return body.getvalue()


def _text(response):
    return response.content.decode()


def _address(text):
    return re.search(r'id="address" value="[^"]*(/pack/[^"]+)"', text)[1]


def test_the_desk_makes_renews_and_withdraws_a_link(desk, stranger, h12):
    page = "/hires/H12/pack/"
    assert "There is no link yet" in _text(desk.get(page))
    desk.post(f"{page}link/", {"do": "make"})
    first = _address(_text(desk.get(page)))
    assert stranger.get(first).status_code == 200
    desk.post(f"{page}link/", {"do": "make"})
    assert _address(_text(desk.get(page))) == first
    desk.post(f"{page}link/", {"do": "renew"})
    second = _address(_text(desk.get(page)))
    assert (stranger.get(first).status_code, stranger.get(second).status_code) == (410, 200)
    desk.post(f"{page}link/", {"do": "withdraw"})
    assert "The link was withdrawn" in _text(desk.get(page))
    assert stranger.get(second).status_code == 410
    said = HistoryLine.objects.filter(action="pack").order_by("id").values_list("said", flat=True)
    assert [line.rpartition("pack ")[2] for line in said] == [
        "made, version 1",
        "renewed, version 2",
        "withdrawn",
    ]


@pytest.mark.parametrize("who", ["yardhand", "technician"])
def test_who_may_not_send_packs_sees_the_page_without_the_buttons(browser_of, request, h12, who):
    browser = browser_of(request.getfixturevalue(who))
    assert "Make the link" not in _text(browser.get("/hires/H12/pack/"))
    assert browser.post("/hires/H12/pack/link/", {"do": "make"}).status_code == 403
    assert not PackLink.objects.exists()
    with pytest.raises(PermissionDenied):
        make_link(actor=request.getfixturevalue(who), hire=h12)


def test_a_hire_without_a_vehicle_says_that_one_is_chosen_first(desk, h12):
    HireRow.objects.filter(pk=h12.pk).update(vehicle=None)
    response = desk.get("/hires/H12/pack/")
    assert response.status_code == 409
    assert "Choose one first" in _text(response)
    assert "Choose one first" in _text(desk.post("/hires/H12/pack/link/", {"do": "make"}))


def test_the_page_shows_looks_and_what_was_read(desk, stranger, own, h12):
    address = f"/pack/{token_of(make_link(actor=own, hire=h12))}/"
    for _ in range(3):
        stranger.post(f"{address}looked/")
    text = _text(stranger.get(address))
    points = re.search(r'name="points" value="([^"]+)"', text)[1]
    stranger.post(f"{address}read/", {"points": points})
    shown = _text(desk.get("/hires/H12/pack/"))
    assert re.search(r"<dt>Looked at</dt><dd>3 ", shown)
    assert re.search(r"<dt>Cards read</dt><dd>1 ", shown)


def test_messages_are_ready_to_be_copied_in_the_language_of_the_hirer(desk, own, h12):
    make_link(actor=own, hire=h12)
    english, german = (_text(desk.get(f"/hires/H12/pack/?language={code}")) for code in ("en", "de"))
    assert english.count("<textarea") == 4
    assert "Hello Hector, we hope the first miles went well." in english
    assert "Hello Hector" not in german
    assert "19:00" in english
    assert 'lang="de"' in german


def test_what_the_tour_has_no_time_for_goes_into_the_messages(desk, stranger, own, h12):
    token = token_of(make_link(actor=own, hire=h12))
    usual = stranger.get(f"/pack/{token}/en/dates.ics").content
    TourWish.objects.create(hire=h12, available_min=20, by=own, at=dt.datetime(2026, 7, 10, 7, tzinfo=dt.UTC))
    h12.refresh_from_db()
    off = {one.id: one for one in held_tour(h12).answer.elsewhere if one.why == "no_time" and one.slot == "first_night"}
    assert off
    short = _text(desk.get("/hires/H12/pack/"))
    assert any(load_catalogue().teach_point(name).alone for name in off)
    said = {name: f"No. {one.find_it}, {one.title}: {escape(one.text)}" for name, one in off.items()}
    assert [name for name, words in said.items() if words not in short] == []
    assert stranger.get(f"/pack/{token}/en/dates.ics").content != usual


def test_what_the_walk_passed_over_goes_into_the_messages_and_what_it_showed_besides_does_not(desk, own, h12):
    make_link(actor=own, hire=h12)
    TourWish.objects.create(hire=h12, available_min=30, by=own, at=dt.datetime(2026, 7, 10, 7, tzinfo=dt.UTC))
    h12.refresh_from_db()
    answer = held_tour(h12).answer
    shown_at_once = next(one for one in answer.elsewhere if one.why == "no_time" and one.slot == "first_night")
    dear = max((line for line in answer.lines if not line.closing), key=lambda line: line.value_cost)

    def sent():
        return _text(desk.get("/hires/H12/pack/"))

    def ticked(point, kind, minute):
        told = Tick(uuid4(), point, kind, dt.datetime(2026, 7, 10, 8, minute, tzinfo=dt.UTC))
        tick(actor=own, hire=h12, told=told)

    assert escape(shown_at_once.text) in sent()
    passed_over = escape(f"No. {dear.find_it}, {dear.title}: ")
    before = sent().count(passed_over)
    ticked(dear.id, Kind.SKIPPED, 1)
    assert sent().count(passed_over) == before + 1
    ticked(dear.id, Kind.TOLD, 2)
    assert sent().count(passed_over) == before
    ticked(shown_at_once.id, Kind.TOLD, 3)
    assert escape(shown_at_once.text) not in sent()


def test_a_tour_that_cannot_be_planned_leaves_the_messages_as_they_are(desk, own, h12, monkeypatch):
    def no_tour(row):
        raise BadInput("No tour", seen=row.name)

    monkeypatch.setattr("keyhook_desk.pack.fallen._SOURCES", [no_tour])
    make_link(actor=own, hire=h12)
    assert _text(desk.get("/hires/H12/pack/")).count("<textarea") == 4


def test_the_code_and_the_calendar_are_files_of_their_own(desk, own, h12):
    assert desk.get("/hires/H12/pack/code.svg").status_code == 404
    make_link(actor=own, hire=h12)
    code, dates = desk.get("/hires/H12/pack/code.svg"), desk.get("/hires/H12/pack/dates.ics?language=fr")
    assert code["Content-Type"] == "image/svg+xml"
    assert b"<svg" in code.content
    assert dates.content.startswith(b"BEGIN:VCALENDAR")


def test_stickers_carry_every_number_once(browser_of, technician, w4):
    response = browser_of(technician).get("/vehicles/W4-06/stickers.pdf")
    assert response["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(response.content)).pages
    numbers = {one.find_it for one in built_of(w4).fittings}
    assert len(pages) == -(-len(numbers) // 21)  # three across and seven down
    words = "\n".join(page.extract_text() for page in pages).split()
    assert numbers <= {int(word) for word in words if word.isdecimal()}
    skipped = browser_of(technician).get("/vehicles/W4-06/stickers.pdf?skip=20")
    assert len(PdfReader(io.BytesIO(skipped.content)).pages) == len(pages) + 1


def test_a_photo_of_the_depot_stands_on_the_card_and_only_there(desk, stranger, own, h12, w4):
    sent = {"fitting": "grey_tank", "photo": SimpleUploadedFile("lever.jpg", _photo(), "image/jpeg")}
    assert desk.post("/vehicles/W4-06/photos/", sent).status_code == 302
    photo = FittingPhoto.objects.get()
    token = token_of(make_link(actor=own, hire=h12))
    assert f"/pack/{token}/photo/{photo.digest}/" in _text(stranger.get(f"/pack/{token}/"))
    given = stranger.get(f"/pack/{token}/photo/{photo.digest}/")
    assert (given["Content-Type"], given.content) == ("image/jpeg", bytes(photo.content))
    assert given["X-Content-Type-Options"] == "nosniff"
    other = HireRow.objects.exclude(vehicle=w4).filter(vehicle__isnull=False, status="booked").first()
    elsewhere = token_of(make_link(actor=own, hire=other))
    assert stranger.get(f"/pack/{elsewhere}/photo/{photo.digest}/").status_code in {404, 410}
    desk.post("/vehicles/W4-06/photos/", {"fitting": "grey_tank", "off": photo.digest})
    assert stranger.get(f"/pack/{token}/photo/{photo.digest}/").status_code == 404


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"fitting": "grey_tank"}, "No photo was chosen"),
        ({"fitting": "awning_of_another", "photo": b"x"}, "This vehicle has no such fitting (saw awning_of_another)"),
        ({"fitting": "grey_tank", "photo": b"GIF89a------"}, "This is no photo that a phone can show"),
    ],
)
def test_a_photo_that_cannot_be_taken_says_why_and_keeps_the_page(desk, w4, fields, said):
    sent = {k: SimpleUploadedFile("x.jpg", v) if isinstance(v, bytes) else v for k, v in fields.items()}
    response = desk.post("/vehicles/W4-06/photos/", sent)
    assert response.status_code == 422
    assert said in _text(response)
    assert not FittingPhoto.objects.exists()


def test_the_same_photo_again_changes_nothing_and_too_many_are_refused(own, w4):
    for shade in (10, 10, 20, 30, 40):
        add_photo(actor=own, vehicle=w4, fitting="grey_tank", picture=read_picture(_photo(shade)))
    assert FittingPhoto.objects.count() == MOST_PHOTOS
    with pytest.raises(BadInput, match="Take one of them off first"):
        add_photo(actor=own, vehicle=w4, fitting="grey_tank", picture=read_picture(_photo(50)))


def test_only_a_manager_says_that_a_native_speaker_has_read_a_language(browser_of, manager, own):
    assert browser_of(own).get("/languages/").status_code == 403
    with pytest.raises(PermissionDenied):
        tick_language(actor=own, language="de", checked=True)
    browser_of(manager).post("/languages/", {"language": "de", "checked": "yes"})
    assert LanguageTick.objects.get().by == manager
    browser_of(manager).post("/languages/", {"language": "de", "checked": "no"})
    assert not LanguageTick.objects.exists()


@pytest.mark.parametrize("language", ["en", "xx", ""])
def test_a_language_there_is_no_pack_in_cannot_be_ticked(manager, language):
    with pytest.raises(BadInput):
        tick_language(actor=manager, language=language, checked=True)


def test_withdrawing_what_is_not_there_changes_nothing(own, h12):
    withdraw_link(actor=own, hire=h12)
    assert not HistoryLine.objects.filter(action="pack").exists()
