"""Recordings read: three formats by their content, their times, and one sentence for everything else."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keyhook.errors import BadInput
from keyhook.tour.recording import LEAST_WORDS, STEP_WORDS, WINDOW_WORDS, read_recording
from keyhook.tour.script import Cue, webvtt

WORDS = " ".join(f"word{number}" for number in range(LEAST_WORDS))
VTT = f"""\ufeffWEBVTT - a tour

STYLE
::cue {{ color: red }}

NOTE nobody says this

one
00:00:01.500 --> 00:00:04.000 align:start
<v Odo>Gas &amp; water <b>first</b>,
then the door

01:02:03.004 --> 01:02:09.000
{WORDS}
"""
SRT = f"""1
00:00:01,500 --> 00:00:04,000
Gas & water first,
then the door

2
01:02:03,004 --> 01:02:09,000
<i>{WORDS}</i>
"""
STAMPED = f"""[0:01] Gas & water first,
then the door
[62:03] {WORDS}
"""


@pytest.mark.parametrize("text", [VTT, SRT, SRT.replace("\n", "\r\n"), VTT.replace("\n", "\r")])
def test_subtitles_are_read_with_times_and_without_markup(text):
    first, second = read_recording(text).utterances
    assert (first.start_s, first.end_s) == (1.5, 4.0)
    assert first.text == "Gas & water first, then the door"
    assert second.start_s == pytest.approx(3723.004)
    assert second.text == WORDS


def test_stamped_lines_last_until_the_next_begins():
    first, second = read_recording(STAMPED).utterances
    assert (first.start_s, first.end_s) == (1.0, 3723.0)
    assert first.text == "Gas & water first, then the door"
    assert second.end_s > second.start_s == 3723.0


@pytest.mark.parametrize("stamp", ["[1:02:03]", "[62:03]", "[62:03.5]"])
def test_stamps_may_hold_hours_and_fractions(stamp):
    assert read_recording(f"{stamp} {WORDS}").utterances[0].start_s in {3723.0, 3723.5}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no transcript with times that can be read here. Give WebVTT, SRT, or lines like [m:ss] words"),
        ("Here are the keys.\nAnd the door.", "(saw Here are the keys.)"),
        ('{"segments": []}', '(saw {"segments": []})'),
        ("WEBVTT\n\n", "hardly any words (saw nothing)"),
        ("WEBVTT\n\n00:01.000 --> 00:02.000\nhello", "hardly any words (saw hello)"),
        (f"WEBVTT\n\n1:00 --> later\n{WORDS}", "Line 3 of the WebVTT has times that cannot be read (saw 1:00"),
        (f"WEBVTT\n\n00:05.000 --> 00:02.000\n{WORDS}", "The times of the WebVTT run backwards at line 3"),
        (
            f"1\n00:00:05,000 --> 00:00:06,000\n{WORDS}\n\n2\n00:00:01,000 --> 00:00:02,000\n{WORDS}",
            "The times of the SRT run backwards at line 5",
        ),
        (f"[5:00] {WORDS}\n[4:00] {WORDS}", "The times run backwards at line 2 (saw [4:00]"),
    ],
)  # fmt: skip
def test_anything_else_is_one_sentence(text, said):
    with pytest.raises(BadInput) as caught:
        read_recording(text)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_letters_of_all_languages_make_words_and_apostrophes_are_one():
    text = "[0:01] Schlüssel für die Tür, don\u2019t forget " + WORDS
    heard = read_recording(text)
    assert [word for _, word in heard.timed_words()][:6] == ["Schlüssel", "für", "die", "Tür", "don't", "forget"]


def test_rolling_captions_are_not_heard_twice():
    line = "00:00:0{}.000 --> 00:00:0{}.000\n" + WORDS
    rolled = "WEBVTT\n\n" + "\n\n".join(line.format(second, second + 1) for second in range(1, 5))
    assert len(read_recording(rolled).utterances) == 1


@given(st.lists(st.integers(1, 60), min_size=1, max_size=12).filter(lambda counts: sum(counts) >= LEAST_WORDS))
def test_windows_cover_every_word_and_keep_its_time(counts):
    cues, at = [], 0
    for number, count in enumerate(counts):
        cues.append(Cue(10.0 * number, 10.0 * number + 9.0, " ".join(f"w{at + k}" for k in range(count))))
        at += count
    heard = read_recording(webvtt(cues))
    windows = heard.windows()
    assert {word for window in windows for word in window.words} == {f"w{number}" for number in range(at)}
    assert all(len(window.words) == min(WINDOW_WORDS, at) for window in windows)
    starts = [int(window.words[0][1:]) for window in windows]
    assert all(0 < after - before <= STEP_WORDS for before, after in pairwise(starts))
    assert [window.start_s for window in windows] == sorted(window.start_s for window in windows)
    assert windows[-1].end_s <= heard.duration_s
