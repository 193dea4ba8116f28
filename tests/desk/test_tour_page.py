"""The tour on the desk: what fits, what falls off and where it goes, what more time would buy, and the film of it."""

from __future__ import annotations

import html
import re

import pytest
from django.core.exceptions import PermissionDenied

from keyhook.catalogue import load_catalogue
from keyhook.tour.recording import read_recording
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.models import HireRow
from keyhook_desk.walkround.models import TourWish
from keyhook_desk.walkround.planned import tour_of
from keyhook_desk.walkround.services import keep_wishes
from keyhook_desk.walkround.wishes import Settings, read_form
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard.services import the_depot

H01, H13 = "/hires/H01/tour/", "/hires/H13/tour/"


@pytest.fixture
def h13(depot):
    return HireRow.objects.select_related("vehicle__sheet").get(name="H13")


def words_of(response):
    assert response.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


def test_the_page_holds_every_point_of_the_plan_in_its_order_with_its_station(desk, h13):
    text = desk.get(H13).content.decode()
    stations = re.findall(r'<span class="stop-name">([^<]+)</span>', text)
    answer = tour_of(h13, Settings(), the_depot()).answer
    assert len(stations) == len(answer.stops)
    assert text.count('class="line-text"') == len(answer.lines)


def test_every_point_that_must_be_said_is_marked_in_words(desk, h13):
    text = desk.get(H13).content.decode()
    rows = re.findall(r'<p class="line-head">(.*?)</p>\s*<p class="line-text">(.*?)</p>', text, re.DOTALL)
    marked = {html.unescape(words): "must be said" in head for head, words in rows}
    points = [point for fitting in load_catalogue().fittings.values() for point in fitting.teach]
    shown = {point.text: point.must for point in points if point.text in marked}
    shown |= {quirk["text"]: True for quirk in h13.vehicle.document["quirks"] if quirk["tell_hirer"]}
    assert shown == marked
    assert set(shown.values()) == {True, False}


def test_nothing_that_applies_is_lost_it_is_on_the_tour_or_goes_elsewhere(desk, h13):
    answer = tour_of(h13, Settings(available_min=20), the_depot()).answer
    page = desk.post(H13, {"minutes": "20", "try": "yes"}).content.decode()
    composed = answer.composed
    assert {line.id for line in answer.lines} | {entry.id for entry in answer.elsewhere} == set(composed.known)
    words = {one.id: one.text for one in (*answer.lines, *answer.elsewhere)}
    assert [name for name, text in words.items() if text not in html.unescape(page)] == []
    alone = {point.id: point.alone for point in load_catalogue().teach_points.values() if point.alone}
    read = {one.id: one.text for one in answer.elsewhere if one.id in alone}
    assert read  # what is only read is shown in the words for whoever reads it alone
    assert read == {name: alone[name] for name in read}


def test_too_little_time_says_by_how_much_and_leaves_nothing_out_that_must_be_said(desk, h13):
    said = words_of(desk.post(H13, {"minutes": "10", "try": "yes"}))
    assert "minutes too short for what must be said" in said
    answer = tour_of(h13, Settings(available_min=10), the_depot()).answer
    assert all(line.mandatory or line.id in _waited_for(answer) for line in answer.lines)
    needs = float(answer.figures["mandatory_min"].value)
    assert f"{needs - 10:.0f} minutes too short" in said


def _waited_for(answer):
    points = answer.composed.problem.by_id()
    return {name for line in answer.lines for name in points[line.id].after}


def test_a_slow_party_is_shown_less_in_the_same_time_and_the_figures_say_so(h13):
    usual, slow = (tour_of(h13, Settings(slow=slow), the_depot()).answer for slow in (False, True))
    assert len(slow.lines) < len(usual.lines)
    inputs = {given.name: given.value for given in slow.figures["talk_min"].because.inputs}
    assert inputs["pace of this party"] > 1


def test_somebody_who_comes_for_the_first_time_gets_more_minutes(h13):
    usual, first = (tour_of(h13, Settings(first_time=first), the_depot()).answer for first in (False, True))
    assert first.figures["available_min"].value > usual.figures["available_min"].value


def test_what_they_confirmed_in_their_pack_saves_less_on_the_tour(h13):
    usual = tour_of(h13, Settings(), the_depot()).answer
    dearest = max(usual.lines, key=lambda line: line.value_cost)
    confirmed = tour_of(h13, Settings(confirmed=(dearest.id,)), the_depot()).answer
    known = confirmed.composed.known[dearest.id]
    assert 0 <= known.value_cost < dearest.value_cost


@pytest.mark.parametrize(
    ("typed", "seen"), [("0", "saw 0"), ("-5", "saw -5"), ("soon", "saw soon"), ("1e9", "saw 1e9")]
)
def test_minutes_that_cannot_be_are_refused_in_one_sentence_and_nothing_is_kept(desk, h13, typed, seen):
    said = words_of(desk.post(H13, {"minutes": typed, "save": "yes"}))
    assert seen in said
    assert "Give 1 to 240" in said
    assert not TourWish.objects.exists()


def test_a_comma_is_a_decimal_point_and_an_unknown_point_is_not_confirmed():
    form = read_form({"minutes": "32,5"}, ["hu_order", "nonsense"], ["hu_order"])
    assert (form.settings.available_min, form.settings.confirmed, dict(form.errors)) == (32.5, ("hu_order",), {})


def test_kept_minutes_stand_on_the_page_and_in_the_history(desk, own, h13):
    response = desk.post(H13, {"minutes": "35", "slow": "yes", "confirmed": ["hu_order"], "save": "yes"})
    assert response.status_code == 302
    wish = TourWish.objects.get()
    assert (wish.available_min, wish.first_time, wish.slow, wish.confirmed, wish.by) == (
        35,
        False,
        True,
        ["hu_order"],
        own,
    )
    assert 'value="35"' in desk.get(H13).content.decode()
    assert HistoryLine.objects.filter(name="H13", action="tour").count() == 1


def test_trying_other_minutes_keeps_nothing(desk, h13):
    assert desk.post(H13, {"minutes": "20", "try": "yes"}).status_code == 200
    assert desk.post(H13, {"minutes": "20", "save": "yes"}, headers={"HX-Request": "true"}).status_code == 200
    assert not TourWish.objects.exists()


def test_the_answer_alone_comes_back_to_a_page_that_asks_while_somebody_types(desk, h13):
    text = desk.post(H13, {"minutes": "20"}, headers={"HX-Request": "true"}).content.decode()
    assert text.lstrip().startswith('<div id="tour"')
    assert "<html" not in text


def test_a_technician_sees_the_tour_and_may_not_set_it(browser_of, technician, h13):
    assert "Keep it" not in browser_of(technician).get(H13).content.decode()
    with pytest.raises(PermissionDenied, match="Ask a manager"):
        keep_wishes(actor=technician, hire=h13, settings=Settings())


def test_a_hire_without_a_vehicle_says_what_to_do(desk, depot):
    row = HireRow.objects.filter(vehicle=None).first() or HireRow.objects.get(name="H25")
    HireRow.objects.filter(pk=row.pk).update(vehicle=None)
    assert "no vehicle yet" in words_of(desk.get(f"/hires/{row.name}/tour/"))
    assert desk.get(f"/hires/{row.name}/walk/").status_code == 400
    assert desk.get(f"/hires/{row.name}/tour/autocue.txt").status_code == 400


def test_the_film_of_the_tour_is_webvtt_that_reads_back_as_the_tour(desk, h13):
    answer = tour_of(h13, Settings(), the_depot()).answer
    response = desk.get(f"{H13}subtitles.vtt")
    assert response["Content-Type"].startswith("text/vtt")
    heard = read_recording(response.content.decode())
    assert [round(said.start_s) for said in heard.utterances] == [round(line.start_s) for line in answer.lines]
    chapters = desk.get(f"{H13}chapters.vtt").content.decode()
    assert chapters.startswith("WEBVTT\n")
    assert chapters.count("-->") == len(answer.stops)
    script = desk.get(f"{H13}autocue.txt").content.decode()
    assert all(stop.name in script for stop in answer.stops)


def test_hostile_words_of_a_quirk_stay_words(desk, h13):
    vehicle = h13.vehicle
    vehicle.document["quirks"] = [
        {"text": "<script>alert(1)</script> & the step sticks", "fitting": None, "tell_hirer": True}
    ]
    vehicle.put(vehicle.document)
    vehicle.save()
    for address in (H13, "/hires/H13/walk/"):
        text = desk.get(address).content.decode()
        assert "the step sticks" in text
        assert "<script>alert(1)" not in text


def test_a_vehicle_leads_to_the_film_of_its_sheet_and_the_film_says_for_whom_it_is(desk, depot):
    assert 'href="/vehicles/W4-02/film/"' in desk.get("/vehicles/W4-02/").content.decode()
    page = words_of(desk.get("/vehicles/W4-02/film/"))
    for name in VehicleRow.objects.filter(sheet__name="W4").values_list("name", flat=True):
        assert name in page
    assert "first time in a motorhome, nights on hook-up" in page
    chosen = desk.get("/vehicles/W4-02/film/", {"minutes": "14", "tag": ["children", "frost"]}).content.decode()
    link = re.search(r'href="(/vehicles/W4-02/film/autocue/[^"]+)"', chosen)[1]
    text = desk.get(html.unescape(link)).content.decode()
    assert "(children, frost) in 14 minutes" in " ".join(text.split())


@pytest.mark.parametrize("piece", ["chapters", "subtitles"])
def test_the_files_of_a_film_are_webvtt_to_be_kept(desk, depot, piece):
    response = desk.get(f"/vehicles/V2-03/film/{piece}/")
    assert response["Content-Type"].startswith("text/vtt")
    assert response["Content-Disposition"] == f'attachment; filename="film-V2-{piece}.vtt"'
    assert response.content.startswith(b"WEBVTT - Nettlecan")


@pytest.mark.parametrize(("data", "said"), [({"minutes": "0"}, "saw 0"), ({"minutes": "9", "tag": "moon"}, "saw moon")])
def test_a_film_that_cannot_be_says_what_was_wrong(desk, depot, data, said):
    page = desk.get("/vehicles/W4-02/film/", data)
    assert page.status_code == 200
    assert said in page.content.decode()
    assert desk.get("/vehicles/W4-02/film/autocue/", data).status_code == 400
    assert desk.get("/vehicles/W4-02/film/poster/").status_code == 404
