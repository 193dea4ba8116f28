"""What we write as WebVTT, against the syntax of W3C's WebVTT, sections 4.1 to 4.2 (source key ``w3c-webvtt``).

``read_strictly`` is that syntax and nothing kinder: what a browser forgives is refused here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.tour.answer import tour_answer
from keyhook.tour.compose import TourWishes
from keyhook.tour.recording import read_recording
from keyhook.tour.script import Cue, chapters_vtt, subtitles_vtt, webvtt
from keyhook.tour.select import Search

#: 4.1: two or more digits of hours, two of minutes and seconds up to 59, three of thousandths.
TIMESTAMP = r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})"
TIMINGS = re.compile(rf"^{TIMESTAMP}[ \t]+-->[ \t]+{TIMESTAMP}$")
#: 4.2.2: text spans hold no ``&`` and no ``<``; character references stand for them.
TEXT = re.compile(r"^(?:[^\n\r&<]|&(?:amp|lt|gt|lrm|rlm|nbsp);)*$")
DEMO = Path(__file__).resolve().parents[2] / "demo"


class NotWebVtt(Exception):
    """The text breaks a rule of the syntax."""


@dataclass(frozen=True)
class Read:
    start_ms: int
    end_ms: int
    text: str


def _ms(parts: tuple[str | None, ...]) -> int:
    hours, minutes, seconds, thousandths = (int(part or 0) for part in parts)
    return ((hours * 60 + minutes) * 60 + seconds) * 1000 + thousandths


def _cue(lines: list[str], names: set[str]) -> Read:
    if "-->" not in lines[0]:
        name, *lines = lines
        if not name or name in names:
            raise NotWebVtt(f"identifier {name} is empty or stands twice")
        names.add(name)
    times = TIMINGS.match(lines[0]) if lines else None
    if not times or len(lines) != 2:
        raise NotWebVtt("a cue is its timings and, here, one line")
    if "-->" in lines[1] or not TEXT.match(lines[1]):
        raise NotWebVtt("the payload holds what it may not")
    return Read(_ms(times.groups()[:4]), _ms(times.groups()[4:]), lines[1])


def read_strictly(text: str) -> list[Read]:
    head = re.match(r"^\ufeff?WEBVTT(?:[ \t][^\r\n]*)?\n{2,}", text)
    if not head or "\r" in text:
        raise NotWebVtt("the first line, and an empty one after it")
    body = text[head.end() :].strip("\n")
    names: set[str] = set()
    cues = [_cue(block.split("\n"), names) for block in re.split(r"\n{2,}", body)] if body else []
    for before, after in pairwise(cues):
        if after.start_ms < before.start_ms:
            raise NotWebVtt("a cue starts before the one above it")
    if any(cue.end_ms <= cue.start_ms for cue in cues):
        raise NotWebVtt("a cue ends before it has begun")
    return cues


@pytest.mark.parametrize(
    "broken",
    [
        "",
        "WEBVTT",
        "WEBVTT\n",
        "webvtt\n\n",
        "WEBVTT\n\n1\n00:00:01,000 --> 00:00:02,000\ncommas\n",
        "WEBVTT\n\n0:00:01.000 --> 0:00:02.000\none digit of hours\n",
        "WEBVTT\n\n00:00:02.000 --> 00:00:02.000\nno time\n",
        "WEBVTT\n\n00:60.000 --> 01:02.000\nsixty seconds\n",
        "WEBVTT\n\n00:05.000 --> 00:06.000\nlate\n\n00:01.000 --> 00:02.000\nearly\n",
        "WEBVTT\n\n00:01.000 --> 00:02.000\ngas & water\n",
        "WEBVTT\n\n00:01.000 --> 00:02.000\ntap -- > tap --> off\n",
        "WEBVTT\n\n1\n00:01.000 --> 00:02.000\na\n\n1\n00:03.000 --> 00:04.000\nb\n",
    ],
)
def test_the_strict_reader_refuses_what_the_syntax_refuses(broken):
    with pytest.raises(NotWebVtt):
        read_strictly(broken)


def test_the_example_of_the_specification_is_read():
    """The first cue of the example in section 1.1, and one cue with hours."""
    found = read_strictly("WEBVTT\n\n00:11.000 --> 00:13.000\nWe are in New York City\n")
    assert found == [Read(11_000, 13_000, "We are in New York City")]
    assert read_strictly("WEBVTT - title\n\n100:00:00.001 --> 100:00:00.002\nx\n")[0].start_ms == 360_000_001


@given(
    st.lists(st.tuples(st.floats(0, 400_000), st.floats(0, 90_000), st.text(max_size=40)), max_size=8),
)
@settings(max_examples=200, deadline=None)
def test_any_cues_with_any_text_are_written_by_the_syntax(given_cues):
    written = webvtt(Cue(start, start + lasts, text) for start, lasts, text in given_cues)
    found = read_strictly(written)
    starts = sorted(start for start, _, text in given_cues if text.split())
    assert len(found) == len(starts)
    assert [cue.start_ms / 1000 for cue in found] == pytest.approx(starts, abs=0.0006)


@pytest.fixture(scope="module")
def answer():
    catalogue = load_catalogue()
    depot = read_depot(read_folder(DEMO), catalogue)
    hire = depot.hire("H06")
    sheet = depot.sheet_of(hire)
    assert sheet is not None
    return tour_answer(sheet, catalogue, hire, TourWishes(available_min=45.0), search=Search(limit_s=0.3))


def test_chapters_are_one_a_stop_without_gap_or_overlap(answer):
    """Section 3.3: chapter cues mark up the time line in consecutive intervals that do not overlap."""
    found = read_strictly(chapters_vtt(answer))
    assert [cue.text for cue in found] == [stop.name.replace("&", "&amp;") for stop in answer.stops]
    assert [cue.start_ms for cue in found[1:]] == [cue.end_ms for cue in found[:-1]]
    assert found[-1].end_ms == pytest.approx(1000 * answer.plan.end_s, abs=1)


def test_subtitles_are_one_a_point_at_its_time(answer):
    found = read_strictly(subtitles_vtt(answer))
    assert len(found) == len(answer.plan.points)
    for cue, line in zip(found, answer.lines, strict=True):
        assert cue.start_ms == pytest.approx(1000 * line.start_s, abs=1)
        assert cue.end_ms - cue.start_ms == pytest.approx(1000 * line.talk_s, abs=1)


@pytest.mark.parametrize("written", [chapters_vtt, subtitles_vtt])
@pytest.mark.parametrize("note", ["of V2 & W4, 20 minutes", "two\nlines --> and an arrow", "  "])
def test_a_note_of_any_words_stands_on_the_first_line_and_changes_no_cue(answer, written, note):
    assert read_strictly(written(answer, note)) == read_strictly(written(answer))
    assert "-->" not in written(answer, note).split("\n")[0]


def test_what_we_write_we_can_read_back(answer):
    heard = read_recording(subtitles_vtt(answer))
    assert [utterance.text for utterance in heard.utterances] == [" ".join(line.text.split()) for line in answer.lines]
