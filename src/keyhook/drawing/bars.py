"""Loads against their limits: one bar each, labelled directly, over-limit by shape and word, not by colour alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from keyhook.drawing.canvas import Canvas, Medium

_ROW, _LEFT, _WIDTH = 50.0, 6.0, 428.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One load [kg] against its limit [kg], its spread (one standard deviation, kg) and the words beside it."""

    label: str
    load_kg: float
    limit_kg: float
    sd_kg: float
    words: str


def load_bars(bars: Sequence[Bar], *, medium: Medium = "page", prefix: str = "bars", title: str = "Loads") -> str:
    """Return the bars as SVG; the limit lines stand under one another, so margins can be compared by eye."""
    canvas = Canvas(medium)
    limit_x = _LEFT + _WIDTH * 0.8
    for number, bar in enumerate(bars):
        top = 6 + number * _ROW
        over = bar.load_kg > bar.limit_kg
        scale = (limit_x - _LEFT) / bar.limit_kg
        end = min(_LEFT + _WIDTH, _LEFT + bar.load_kg * scale)
        with canvas.group(f"{bar.label}: {bar.load_kg:.0f} of {bar.limit_kg:.0f} kg, {bar.words}", bar=bar.label):
            canvas.rect("kd-bar-room", _LEFT, top + 19, limit_x - _LEFT, 14, radius=3)
            canvas.rect("kd-bar", _LEFT, top + 19, min(end, limit_x) - _LEFT, 14, radius=3)
            if over:
                canvas.rect("kd-bar-over", limit_x, top + 15, max(4.0, end - limit_x), 22, radius=2)
            spread = 1.645 * bar.sd_kg * scale  # 90 % of the chance lies within
            canvas.line("kd-whisker", end - spread, top + 26, end + spread, top + 26)
            canvas.line("kd-limit", limit_x, top + 14, limit_x, top + 39)
            canvas.text("kd-label kd-bar-words", _LEFT, top + 12, f"{bar.label}   {bar.words}", size=15)
    height = 12 + len(bars) * _ROW
    desc = "; ".join(f"{bar.label} {bar.load_kg:.0f} of {bar.limit_kg:.0f} kg" for bar in bars)
    return canvas.svg(_LEFT * 2 + _WIDTH, height, title=title, desc=desc, prefix=prefix)
