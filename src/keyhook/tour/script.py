"""The same tour to read from a screen, and as chapters of a film: autocue text and WebVTT.

WebVTT follows the W3C syntax (source key ``w3c-webvtt``): the header with a blank line after it, blank lines between
blocks, hours always written with two digits, cues in the order of their start, each ending after it starts, and in
the text no line break, no arrow and no bare ``&`` or ``<``. Chapters follow one another without gap or overlap.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from keyhook.phrases import say
from keyhook.tour.outcome import AnswerLine, TourAnswer

#: Words of a line of the autocue do not run wider than this.
WIDTH = 68
_LEAST_CUE_MS = 1


@dataclass(frozen=True, slots=True)
class Cue:
    """A stretch of time with a text [s]."""

    start_s: float
    end_s: float
    text: str


def autocue(answer: TourAnswer, language: str = "en", *, note: str = "", filmed: bool = False) -> str:
    """Return the tour as text to read while walking: time and station, then each point with its number and words.

    ``note`` goes below the heading; when ``filmed``, the questions are announced, for nobody is there to answer.
    """
    heading = {"minutes": f"{answer.end_min:.0f}", "stops": len(answer.stops)}
    lines = [say("tour.script.heading", heading, language), *(_wrapped(note) if note else ()), ""]
    for number, stop in enumerate(answer.stops, start=1):
        values = {"time": clock(stop.arrive_s), "number": number, "station": stop.name}
        lines.append(say("tour.script.stop", values, language))
        closing_said = False
        for line in stop.lines:
            if line.closing and not closing_said:
                lines.append(f"    -- {say('tour.script.closing', None, language)} --")
                closing_said = True
            lines.extend(_autocue_lines(line, language))
        lines.append("")
    if answer.questions:
        lines.append(say("tour.script.film_check" if filmed else "tour.script.check", None, language))
        lines.extend(f"    ? {question.title}: {question.text}" for question in answer.questions)
        lines.append("")
    lines.append(say("tour.script.end", {"time": clock(answer.plan.end_s)}, language))
    return "\n".join(lines) + "\n"


def chapters_vtt(answer: TourAnswer, note: str = "") -> str:
    """Return a WebVTT file with one chapter a stop, the walk to it included; the last one lasts to the end."""
    starts = [stop.arrive_s - stop.walk_s for stop in answer.stops]
    ends = [*starts[1:], answer.plan.end_s]
    stops = zip(starts, ends, answer.stops, strict=False)
    return webvtt((Cue(start, end, stop.name) for start, end, stop in stops), note)


def subtitles_vtt(answer: TourAnswer, note: str = "") -> str:
    """Return a WebVTT file with one cue a point: what is to be said, when."""
    return webvtt((Cue(line.start_s, line.start_s + line.talk_s, line.text) for line in answer.lines), note)


def webvtt(cues: Iterable[Cue], note: str = "") -> str:
    """Return cues as a WebVTT file, in the order of their start; those without words are left out.

    ``note`` stands on the first line, where players look past it.
    """
    blocks: list[str] = []
    spoken = sorted((cue for cue in cues if cue.text.split()), key=lambda cue: cue.start_s)
    for number, cue in enumerate(spoken, start=1):
        start_ms = round(1000 * cue.start_s)
        end_ms = max(round(1000 * cue.end_s), start_ms + _LEAST_CUE_MS)
        blocks.append(f"{number}\n{timestamp(start_ms)} --> {timestamp(end_ms)}\n{cue_text(cue.text)}")
    head = f"WEBVTT - {cue_text(note)}" if note.split() else "WEBVTT"
    return f"{head}\n\n" + "\n\n".join(blocks) + ("\n" if blocks else "")


def timestamp(time_ms: int) -> str:
    """Return a WebVTT timestamp with hours."""
    seconds, thousandths = divmod(time_ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}.{thousandths:03d}"


def cue_text(text: str) -> str:
    """Return text as it may stand in a cue: one line, the special characters as character references."""
    one_line = " ".join(text.split())
    return one_line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def clock(time_s: float) -> str:
    """Return minutes and seconds from the start, ``m:ss``."""
    minutes, seconds = divmod(round(time_s), 60)
    return f"{minutes}:{seconds:02d}"


def _autocue_lines(line: AnswerLine, language: str) -> list[str]:
    key = "tour.script.line" if line.find_it else "tour.script.line_plain"
    values = {"time": clock(line.start_s), "find_it": line.find_it, "title": line.title}
    must = f"  [{say('tour.script.must', None, language)}]" if line.mandatory else ""
    return [f"  {say(key, values, language)}{must}", *(f"      {part}" for part in _wrapped(line.text))]


def _wrapped(text: str) -> list[str]:
    rows = [""]
    for word in text.split():
        if rows[-1] and len(rows[-1]) + 1 + len(word) > WIDTH:
            rows.append(word)
        else:
            rows[-1] = f"{rows[-1]} {word}".strip()
    return rows
