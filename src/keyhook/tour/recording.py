"""A recorded tour as text: WebVTT, SRT, or lines like ``[m:ss] words``; read into words with their time.

The format is told by the content, not by the name of the file. Anything else is refused in one sentence.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass

from keyhook.errors import BadInput

#: Words of a window, and from one window to the next.
WINDOW_WORDS, STEP_WORDS = 24, 4
#: A recording with fewer words says nothing about a tour.
LEAST_WORDS = 20
#: A last utterance without an end lasts as long as its words at this pace (assumption).
WORDS_S = 0.4

_TIME = r"(?:(\d+):)?(\d{1,2}):(\d{2})(?:[.,](\d{1,3}))?"
_ARROW = re.compile(rf"^\s*{_TIME}\s+-->\s+{_TIME}(?:\s.*)?$")
_STAMPED = re.compile(rf"^\s*\[{_TIME}\]\s*(.*)$")
_BREAK = re.compile(r"<br\s*/?>", re.IGNORECASE)
_TAG = re.compile(r"<[^<>]*>")
_SPOKEN = re.compile(r"[^\W_][\w'-]*")
_WANTED = "WebVTT, SRT, or lines like [m:ss] words"


@dataclass(frozen=True, slots=True)
class Utterance:
    """Words said from one moment to another [s]."""

    start_s: float
    end_s: float
    text: str


@dataclass(frozen=True, slots=True)
class Window:
    """Some words of a recording in a row, with the time of the first and the last [s]."""

    start_s: float
    end_s: float
    words: tuple[str, ...]

    @property
    def text(self) -> str:
        """The words as one text."""
        return " ".join(self.words)


@dataclass(frozen=True, slots=True)
class Recording:
    """A recorded tour: what was said when."""

    utterances: tuple[Utterance, ...]

    @property
    def duration_s(self) -> float:
        """From the beginning of the recording to the end of the last word [s]."""
        return max((utterance.end_s for utterance in self.utterances), default=0.0)

    def timed_words(self) -> list[tuple[float, str]]:
        """Return every word with its time; inside an utterance words are spread evenly."""
        timed: list[tuple[float, str]] = []
        for utterance in self.utterances:
            words = _SPOKEN.findall(utterance.text)
            span_s = utterance.end_s - utterance.start_s
            timed.extend((utterance.start_s + span_s * rank / len(words), word) for rank, word in enumerate(words))
        return timed

    def windows(self, words: int = WINDOW_WORDS, step: int = STEP_WORDS) -> tuple[Window, ...]:
        """Return overlapping windows of so many words; the last one ends with the last word."""
        timed = self.timed_words()
        starts = list(range(0, max(len(timed) - words, 0) + 1, step))
        if starts[-1] + words < len(timed):
            starts.append(len(timed) - words)
        parts = [timed[start : start + words] for start in starts]
        return tuple(Window(part[0][0], part[-1][0], tuple(word for _, word in part)) for part in parts)


def read_recording(text: str) -> Recording:
    """Return a recording read from its text.

    Raises
    ------
    BadInput
        No format that is known here, times that run backwards, or nothing said.
    """
    lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    utterances = list(_without_echo(_utterances(lines)))
    if sum(len(_SPOKEN.findall(utterance.text)) for utterance in utterances) < LEAST_WORDS:
        heard = " ".join(utterance.text for utterance in utterances)[:60]
        raise BadInput("The recording has hardly any words", seen=heard or "nothing", todo=f"Give {_WANTED}")
    return Recording(tuple(utterances))


def _utterances(lines: list[str]) -> list[Utterance]:
    first = next((line.strip() for line in lines if line.strip()), "")
    if first == "WEBVTT" or first.startswith(("WEBVTT ", "WEBVTT\t")):
        return _cues(lines, "WebVTT")
    if any(_ARROW.match(line) for line in lines[:10]):
        return _cues(lines, "SRT")
    if _STAMPED.match(first):
        return _stamped(lines)
    raise BadInput("This is no transcript with times that can be read here", seen=first[:60], todo=f"Give {_WANTED}")


def _cues(lines: list[str], kind: str) -> list[Utterance]:
    """Return the cues of a WebVTT or SRT text: blocks between blank lines, those without times left out."""
    found: list[Utterance] = []
    for number, block in _blocks(lines):
        times = next((match for line in block[:2] if (match := _ARROW.match(line))), None)
        if times is None:
            if any("-->" in line for line in block):
                seen = next(line for line in block if "-->" in line).strip()[:60]
                raise BadInput(f"Line {number} of the {kind} has times that cannot be read", seen=seen, todo="Mend it")
            continue
        start_s, end_s = _seconds(times.groups()[:4]), _seconds(times.groups()[4:])
        if end_s < start_s or (found and start_s < found[-1].start_s):
            raise BadInput(
                f"The times of the {kind} run backwards at line {number}", seen=block[0][:60], todo="Mend it"
            )
        after = block.index(times.string) + 1
        found.append(Utterance(start_s, end_s, _plain(" ".join(block[after:]))))
    return found


def _stamped(lines: list[str]) -> list[Utterance]:
    """Return the utterances of ``[m:ss] words``; each lasts until the next begins."""
    starts: list[float] = []
    texts: list[list[str]] = []
    for number, line in enumerate(lines, start=1):
        match = _STAMPED.match(line)
        if match:
            starts.append(_seconds(match.groups()[:4]))
            texts.append([match.group(5)])
            if len(starts) > 1 and starts[-1] < starts[-2]:
                raise BadInput(f"The times run backwards at line {number}", seen=line.strip()[:60], todo="Mend it")
        elif line.strip() and texts:
            texts[-1].append(line)
    said = [_plain(" ".join(parts)) for parts in texts]
    last_s = starts[-1] + WORDS_S * len(_SPOKEN.findall(said[-1]))
    return [Utterance(*times) for times in zip(starts, [*starts[1:], last_s], said, strict=True)]


def _blocks(lines: list[str]) -> Iterator[tuple[int, list[str]]]:
    """Yield runs of lines that are not blank, with the number of their first line."""
    block: list[str] = []
    for number, line in enumerate([*lines, ""], start=1):
        if line.strip():
            block.append(line)
        elif block:
            yield number - len(block), block
            block = []


def _without_echo(utterances: list[Utterance]) -> Iterator[Utterance]:
    """Leave out what repeats the line before, as rolling captions do."""
    before = ""
    for utterance in utterances:
        if utterance.text and utterance.text != before:
            yield utterance
        before = utterance.text or before


def _plain(text: str) -> str:
    """Return text without tags, with character references as characters and straight apostrophes."""
    words = html.unescape(_TAG.sub("", _BREAK.sub(" ", text))).replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    return " ".join(words.split())


def _seconds(parts: tuple[str | None, ...]) -> float:
    hours, minutes, seconds, fraction = parts
    whole = int(hours or 0) * 3600 + int(minutes or 0) * 60 + int(seconds or 0)
    return whole + (int(fraction.ljust(3, "0")) / 1000 if fraction else 0.0)
