"""Bookings out of a file: seen first with every slip, written only on a word, each guarded like any other hire."""

from __future__ import annotations

import datetime as dt
import io
import re

import pytest
import xlsxwriter
from django.core import signing
from django.core.files.uploadedfile import SimpleUploadedFile

from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of

HEADING = "Lead,Vehicle,Sheet,Collect date,Collect time,Return date,Return time,Adults,Children ages,Options,Note\n"
SOUND = "Tansy Muddlefoot,V2-05,,2027-05-01,14:00,2027-05-08,10:00,2,4; 7,bedding,late ferry\n"
SECOND = "Perkin Sloe,,W4,2027-05-02,14:30,2027-05-09,09:30,2,,,\n"
SLIPPED = "Una Wrackley,V2-99,,2027-05-01,14:00,2027-05-08,10:00,two,,,\n"


def a_file(text, name="bookings.csv"):
    return SimpleUploadedFile(name, text.encode() if isinstance(text, str) else text)


def look(client, text, name="bookings.csv"):
    response = client.post("/hires/import/", {"file": a_file(text, name)})
    return response, response.content.decode()


def carried(text):
    return re.search(r'name="sound" value="([^"]+)"', text)[1]


def test_a_preview_writes_nothing_and_names_every_slip(desk):
    count = HireRow.objects.count()
    response, text = look(desk, HEADING + SOUND + SLIPPED)
    assert response.status_code == 200
    assert "V2-99" in text
    assert "saw two" in text
    assert "Write down 1 hire<" in text
    assert HireRow.objects.count() == count


def test_the_word_writes_the_sound_rows_and_only_those(desk):
    _, text = look(desk, HEADING + SOUND + SECOND + SLIPPED)
    response = desk.post("/hires/import/", {"sound": carried(text)}, follow=True)
    assert "2 hires, H26 to H27, are written down" in response.content.decode()
    first, second = (hire_of(HireRow.objects.get(name=name)) for name in ("H26", "H27"))
    assert (first.lead, first.vehicle, len(first.party), first.options) == (
        "Tansy Muddlefoot",
        "V2-05",
        4,
        ("bedding",),
    )
    assert (second.vehicle, second.wanted_sheet) == (None, "W4")
    assert HireRow.objects.filter(lead="Una Wrackley").count() == 0


def test_a_spreadsheet_reads_like_the_text(desk):
    book = io.BytesIO()
    with xlsxwriter.Workbook(book) as made:
        page = made.add_worksheet()
        for r, line in enumerate((HEADING + SOUND).splitlines()):
            page.write_row(r, 0, line.split(","))
    _, text = look(desk, book.getvalue(), "bookings.xlsx")
    assert "Tansy Muddlefoot" in text
    assert "Write down 1 hire<" in text


def test_a_vehicle_given_away_between_look_and_word_is_told_and_the_rest_is_written(desk, own, h25):
    from keyhook_desk.hires.services import add_hire  # noqa: PLC0415

    _, text = look(desk, HEADING + SOUND + SECOND)
    start, end = (dt.datetime(2027, 5, day, 14, tzinfo=dt.UTC) for day in (3, 4))
    add_hire(
        actor=own, hire=hire_of(h25).model_copy(update={"vehicle": "V2-05", "collect_at": start, "return_at": end})
    )
    said = desk.post("/hires/import/", {"sound": carried(text)}, follow=True).content.decode()
    assert "Tansy Muddlefoot: V2-05 is already given to another hire at that time" in said
    assert "Hire H27 is written down" in said


def test_a_preview_that_was_changed_or_is_old_is_refused(desk, monkeypatch):
    _, text = look(desk, HEADING + SOUND)
    for broken in (carried(text)[:-3], signing.dumps([{"id": "x"}], salt="other")):
        response = desk.post("/hires/import/", {"sound": broken})
        assert response.status_code == 400
        assert "Choose the file again" in response.content.decode()
    monkeypatch.setattr("keyhook_desk.hires.bookings._HOUR_S", -1)
    assert desk.post("/hires/import/", {"sound": carried(text)}).status_code == 400


@pytest.mark.parametrize(
    ("text", "name", "sentence"),
    [
        ("", "empty.csv", "empty"),
        ("a,b\n1,2\n", "strange.csv", "Name the columns"),
        (b"\x00\x01PK not really", "broken.xlsx", ""),
        ("x" * (2 * 1024 * 1024 + 1), "huge.csv", "The file is too large (saw 2097153 bytes)"),
    ],
)
def test_a_file_that_cannot_be_used_gets_one_sentence(desk, text, name, sentence):
    response, said = look(desk, text, name)
    assert response.status_code == 400
    slip = re.search(r'class="slip" role="alert">([^<]+)<', said)[1]
    assert sentence.lower() in slip.lower()
    assert slip.strip()


def test_no_file_at_all_is_said(desk):
    response = desk.post("/hires/import/", {})
    assert "No file was chosen" in response.content.decode()


def test_a_formula_in_a_cell_stays_text(desk):
    _, text = look(desk, HEADING + SOUND.replace("Tansy Muddlefoot", "=HYPERLINK(1)"))
    desk.post("/hires/import/", {"sound": carried(text)})
    assert hire_of(HireRow.objects.get(name="H26")).lead == "=HYPERLINK(1)"
