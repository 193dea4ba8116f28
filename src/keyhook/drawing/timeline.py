"""What was said when on a recorded tour: a lane for each station, a mark for each point, bands where nothing was."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from keyhook.drawing.canvas import Canvas, Medium

Look = Literal["said", "must", "perhaps", "foreign"]
_LABEL, _WIDTH, _ROW, _TOP, _RIGHT = 232.0, 1020.0, 30.0, 34.0, 16.0
#: Minutes between two ticks of the axis; the first that leaves no more than so many.
_STEPS_MIN, _MOST_TICKS = (1, 2, 5, 10, 15, 30, 60), 12
_MINUTE_S = 60.0
#: A band narrower than this has no room for its words [drawing units].
_ROOM = 70.0


@dataclass(frozen=True, slots=True)
class TimeMark:
    """One point on a lane: when [s], what it is called, and what it means."""

    at_s: float
    title: str
    look: Look


@dataclass(frozen=True, slots=True)
class Lane:
    """One station with its marks."""

    name: str
    marks: tuple[TimeMark, ...]


def timeline_drawing(
    lanes: Sequence[Lane],
    duration_s: float,
    gaps: Sequence[tuple[float, float]] = (),
    *,
    medium: Medium = "page",
    prefix: str = "time",
) -> str:
    """Return the time-line as SVG; ``gaps`` are stretches in which no point was recognised [s]."""
    canvas = Canvas(medium)
    bottom = _TOP + _ROW * len(lanes)
    scale = (_WIDTH - _LABEL - _RIGHT) / max(duration_s, 1.0)

    def x(at_s: float) -> float:
        return _LABEL + at_s * scale

    for start_s, end_s in gaps:
        _gap(canvas, x(start_s), x(end_s), bottom, f"{_clock(start_s)} to {_clock(end_s)}: no point heard")
    _axis(canvas, duration_s, bottom, x)
    for number, lane in enumerate(lanes):
        middle = _TOP + _ROW * (number + 0.5)
        canvas.line("kd-lane", _LABEL, middle, _WIDTH - _RIGHT, middle)
        canvas.text("kd-label kd-lane-name", _LABEL - 12, middle + 5, lane.name, size=14)
        for mark in lane.marks:
            _mark(canvas, x(mark.at_s), middle, mark)
    count = sum(len(lane.marks) for lane in lanes)
    desc = (
        f"{count} marks over {_clock(duration_s)} minutes in {len(lanes)} lanes, one a station; "
        f"{len(gaps)} stretches without a point. The lists below say the same in words."
    )
    return canvas.svg(_WIDTH, bottom + 8, title="What was said when", desc=desc, prefix=prefix)


def _gap(canvas: Canvas, left: float, right: float, bottom: float, words: str) -> None:
    with canvas.group(words, gap="gap"):
        canvas.rect("kd-gap", left, _TOP - 8, right - left, bottom - _TOP + 8)
        if right - left >= _ROOM:
            canvas.text("kd-label kd-gap-words", (left + right) / 2, bottom - 6, "silent", size=12)


def _axis(canvas: Canvas, duration_s: float, bottom: float, x: Callable[[float], float]) -> None:
    minutes = duration_s / _MINUTE_S
    step = next((step for step in _STEPS_MIN if minutes / step <= _MOST_TICKS), _STEPS_MIN[-1])
    for minute in range(0, int(minutes) + 1, step):
        at = x(minute * _MINUTE_S)
        canvas.line("kd-room", at, _TOP - 8, at, bottom)
        canvas.text("kd-label", at, _TOP - 14, f"{minute} min" if minute else "0", size=13)


def _mark(canvas: Canvas, x: float, y: float, mark: TimeMark) -> None:
    with canvas.group(f"{_clock(mark.at_s)} {mark.title}", mark=mark.look):
        if mark.look == "must":
            canvas.rect("kd-said", x - 6.5, y - 6.5, 13, 13, radius=2)
        elif mark.look == "said":
            canvas.circle("kd-said", x, y, 6)
        elif mark.look == "perhaps":
            canvas.circle("kd-perhaps", x, y, 6)
        else:
            canvas.path("kd-foreign", f"M{x - 6:.1f} {y - 6:.1f} l12 12 m0 -12 l-12 12")


def _clock(time_s: float) -> str:
    minutes, seconds = divmod(round(time_s), 60)
    return f"{minutes}:{seconds:02d}"
