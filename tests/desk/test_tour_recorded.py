"""A recorded tour checked on a page: what was heard when, what is missing, and bad files said in words."""

from __future__ import annotations

import html
import json
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from keyhook.catalogue import load_catalogue
from keyhook_desk.web.models import HistoryLine

from .conftest import DEMO

PAGE = "/vehicles/W4-02/recorded-tour/"
CHATTY = (DEMO / "recordings" / "chatty_w4.vtt").read_bytes()


def checked(browser, body=CHATTY, name="film.vtt", **fields):
    return browser.post(PAGE, {"file": SimpleUploadedFile(name, body), **fields}).content.decode()


def test_the_time_line_has_a_mark_for_each_point_heard_or_perhaps_heard(desk, depot):
    text = checked(desk)
    heard = int(re.search(r"Heard \((\d+)\)", text)[1])
    perhaps = text.count("there it says:")
    assert text.count('data-mark="') == heard + perhaps
    assert heard > 20


@pytest.mark.parametrize(("recording", "vehicle"), [("talking_o6.srt", "O6-02"), ("brisk_a4.vtt", None)])
def test_what_the_writer_of_the_recording_noted_as_said_is_heard(desk, folder, depot, recording, vehicle):
    """Against the notes of who wrote the recording; neither was used to choose what counts as said."""
    notes = json.loads((DEMO / "recordings" / f"{recording[:-4]}.truth.json").read_text(encoding="utf-8"))
    assert notes["use"] == "held out"
    vehicle = vehicle or next(name for name, held in folder.vehicles.items() if held.sheet == notes["sheet"])
    upload = SimpleUploadedFile(recording, (DEMO / "recordings" / recording).read_bytes())
    text = html.unescape(desk.post(f"/vehicles/{vehicle}/recorded-tour/", {"file": upload}).content.decode())
    heard = text[text.index("Heard (") :]
    texts = {point.id: point.text for fitting in load_catalogue().fittings.values() for point in fitting.teach}
    found = sum(texts[name] in heard for name in notes["covered"])
    assert found >= 0.8 * len(notes["covered"])


def test_pasted_words_are_read_like_a_file(desk, depot):
    pasted = desk.post(PAGE, {"transcript": CHATTY.decode()}).content.decode()
    picture = re.compile(r"<svg[^>]*viewBox.*?</svg>", re.DOTALL)
    assert "timeline" in pasted
    assert picture.findall(pasted)[-1] == picture.findall(checked(desk))[-1]


def test_a_stretch_without_words_is_named_as_silent(desk, depot):
    words = "Before you pull in for fuel, make sure that every flame is off: heater, fridge on gas and hob."
    lines = f"[0:10] {words}\n[5:00] {words}\n[5:20] Read the height on this card aloud, in metres and feet."
    text = desk.post(PAGE, {"transcript": lines}).content.decode()
    assert "Silent stretches" in text
    assert 'data-gap="gap"' in text


def test_with_a_hire_what_applies_to_its_party_is_expected_too(desk, depot):
    everybody, party = checked(desk), checked(desk, hire="H01")
    count = [int(re.search(r"of (\d+)</span>", text)[1]) for text in (everybody, party)]
    assert count[1] > count[0]


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"\x00\x00\x00\x18ftypmp42\xff\xfe", "The file is no text"),
        (b"   ", "There is no transcript yet"),
        (b"Hello, this is a tour without any times in it, " * 5, "WebVTT"),
        (b"WEBVTT\n\n00:99:99.000 --> x\nhello", "Keyhook"),
        (b"[0:01] word " * 50_000, "too long"),
    ],
)
def test_a_transcript_that_cannot_be_read_is_said_in_words_and_stays_as_typed(desk, depot, body, said):
    text = html.unescape(checked(desk, body))
    assert said in text
    assert 'role="alert"' in text
    assert "timeline" not in text


def test_what_was_pasted_stays_in_the_field_after_a_slip(desk, depot):
    text = desk.post(PAGE, {"transcript": "only words </textarea><script>alert(1)</script>"}).content.decode()
    assert "only words &lt;/textarea&gt;" in text
    assert "<script>alert" not in text


def test_checking_a_recording_keeps_nothing(desk, depot):
    lines = HistoryLine.objects.count()
    checked(desk)
    assert HistoryLine.objects.count() == lines
