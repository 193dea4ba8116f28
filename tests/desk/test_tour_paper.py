"""The hand-over sheet: the tour on one page in walking order, every word of it on request."""

from __future__ import annotations

import io

import page
import pytest
from pypdf import PdfReader

from keyhook.tour.outcome import TourAnswer
from keyhook_desk.hires.models import HireRow
from keyhook_desk.papers.hand_over_paper import MOST_LATER, first_sentence, hand_over_paper
from keyhook_desk.walkround.views import held_tour, row_of

SHEET = "/hires/{}/hand-over.pdf"


def pages_of(browser, hire, query=""):
    response = browser.get(SHEET.format(hire) + query)
    assert response["Content-Type"] == "application/pdf"
    return [" ".join(leaf.extract_text().split()) for leaf in PdfReader(io.BytesIO(response.content)).pages]


def flat(text):
    """Words without the spaces that a line's end leaves or takes."""
    return "".join(text.split()).replace("\u200b", "").replace("-", "")


def in_order(parts, text):
    place = 0
    for part in parts:
        place = text.index(part, place)
    return True


@pytest.mark.parametrize("hire", ["H01", "H05", "H12", "H13", "H25"])
def test_the_hand_over_sheet_takes_one_page_with_every_stop_in_walking_order(desk, depot, hire):
    pages = pages_of(desk, hire)
    assert len(pages) == 1
    answer: TourAnswer = held_tour(row_of(hire)).answer
    text = flat(pages[0][pages[0].index("Round the vehicle") :])
    assert in_order([flat(stop.name) for stop in answer.stops], text)
    assert all(flat(line.title) in text for line in answer.lines)
    for said in ("Seen and understood", "licensed people", "replaces no licence", "Odometer"):
        assert flat(said) in flat(pages[0])


def test_every_word_of_the_tour_stands_on_the_long_sheet_in_its_order(desk, depot):
    text = flat(" ".join(pages_of(desk, "H13", "?whole=yes")))
    lines = held_tour(row_of("H13")).answer.lines
    assert [line.id for line in lines if flat(line.text) not in text and flat(line.text)[:40] not in text] == []


def test_what_must_be_said_is_marked_in_words_on_paper(desk, depot):
    answer = held_tour(row_of("H13")).answer
    fittings = {(stop.station, line.title) for stop in answer.stops for line in stop.lines if line.mandatory}
    assert pages_of(desk, "H13")[0].count("always") >= len(fittings)


def test_what_fell_off_is_named_or_counted(depot):
    tour = held_tour(row_of("H13"))
    import datetime as dt  # noqa: PLC0415

    from keyhook_desk.papers.documents import Imprint  # noqa: PLC0415

    imprint = Imprint("A paper", "A depot", "GB", dt.date(2026, 7, 10), "O6-02")
    later = hand_over_paper(tour.answer, tour.hire, tour.sheet, imprint).later
    titles = {entry.title for entry in tour.answer.elsewhere if entry.why != "moment"}
    assert len(titles) > MOST_LATER
    assert later[-1] == f"and {len(titles) - MOST_LATER} more"
    assert len(later) == MOST_LATER + 1


def test_the_sheet_can_be_heard_and_kept(desk, depot):
    body = desk.get(SHEET.format("H01")).content
    for profile in (page.ValidationProfile.PDF_UA_1, page.ValidationProfile.PDF_A_2A):
        assert page.validate_pdf_bytes(body, profile=profile).is_compliant


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("Keep the awning in. Tie it down.", "Keep the awning in."),
        ("It is 0.5 m wide. Look.", "It is 0.5 m wide."),
        ("One sentence only", "One sentence only"),
        ("Can you see it? Show me.", "Can you see it?"),
    ],
)
def test_the_first_sentence_ends_where_a_sentence_ends(text, first):
    assert first_sentence(text) == first


def test_without_a_vehicle_there_is_no_sheet_and_the_page_says_so(desk, depot):
    HireRow.objects.filter(name="H13").update(vehicle=None)
    response = desk.get(SHEET.format("H13"))
    assert response.status_code == 400
    assert "no vehicle yet" in response.content.decode()
