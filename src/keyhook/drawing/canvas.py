"""A drawing as a list of shapes, written once for the page (classes) and once for paper (attributes)."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape
from typing import Literal

Medium = Literal["page", "paper"]
#: Middle of a line of words above its baseline, as a share of its size.
_MIDDLE_SHARE = 0.35

#: What each class looks like on paper; on a page ``drawing.css`` says the same with the desk's own colours.
PAPER: dict[str, str] = {
    "kd-body": 'fill="#fbfaf7" stroke="#1f2933" stroke-width="2.2"',
    "kd-cab": 'fill="#eef1f2" stroke="#1f2933" stroke-width="1.2"',
    "kd-glass": 'fill="#d9e4e8" stroke="#44525e" stroke-width="0.8"',
    "kd-room": 'fill="none" stroke="#8795a1" stroke-width="0.7"',
    "kd-door": 'fill="none" stroke="#1f2933" stroke-width="1.1"',
    "kd-bed": 'fill="#e9e6f2" stroke="#6b6391" stroke-width="0.8"',
    "kd-high": 'fill="none" stroke="#6b6391" stroke-width="0.8" stroke-dasharray="5 3"',
    "kd-seat": 'fill="#dfe9dc" stroke="#4a6b45" stroke-width="0.9"',
    "kd-belt": 'fill="none" stroke="#4a6b45" stroke-width="0.8"',
    "kd-tank": 'fill="none" stroke="#2f6f8f" stroke-width="0.9" stroke-dasharray="2 2"',
    "kd-store": 'fill="#f4ead9" stroke="#8a6a2f" stroke-width="0.8"',
    "kd-wheel": 'fill="#1f2933" stroke="#1f2933" stroke-width="0.5"',
    "kd-axle": 'fill="none" stroke="#1f2933" stroke-width="0.9" stroke-dasharray="7 3 1.5 3"',
    "kd-rack": 'fill="none" stroke="#44525e" stroke-width="1.2"',
    "kd-flap": 'fill="none" stroke="#44525e" stroke-width="0.9"',
    "kd-ground": 'stroke="#8795a1" stroke-width="1" fill="none"',
    "kd-size": 'fill="none" stroke="#44525e" stroke-width="0.7"',
    "kd-lead": 'fill="none" stroke="#9c3d22" stroke-width="0.7"',
    "kd-spot": 'fill="#9c3d22"',
    "kd-mark": 'fill="#fffdf8" stroke="#9c3d22" stroke-width="1.3"',
    "kd-mark-on": 'fill="#9c3d22" stroke="#9c3d22" stroke-width="1.3"',
    "kd-way": 'fill="none" stroke="#1f2933" stroke-width="1.6" stroke-dasharray="1 5" stroke-linecap="round"',
    "kd-stop": 'fill="#1f2933" stroke="#fffdf8" stroke-width="1.6"',
    "kd-stop-number": 'fill="#ffffff" font-weight="700" text-anchor="middle"',
    "kd-ring": 'fill="none" stroke="#9c3d22" stroke-width="3"',
    "kd-lane": 'stroke="#8795a1" stroke-width="0.8" fill="none"',
    "kd-label kd-lane-name": 'fill="#1f2933" text-anchor="end"',
    "kd-gap": 'fill="#f1e3c4"',
    "kd-label kd-gap-words": 'fill="#44525e" text-anchor="middle"',
    "kd-said": 'fill="#2f6b45"',
    "kd-perhaps": 'fill="#ffffff" stroke="#2f6b45" stroke-width="2.4"',
    "kd-foreign": 'fill="none" stroke="#9c3d22" stroke-width="3"',
    "kd-number": 'fill="#6d2813" font-weight="700" text-anchor="middle"',
    "kd-number-on": 'fill="#ffffff" font-weight="700" text-anchor="middle"',
    "kd-label": 'fill="#1f2933" text-anchor="middle"',
    "kd-label kd-label-long": 'fill="#44525e" text-anchor="middle"',
    "kd-figure": 'fill="#1f2933" text-anchor="middle" font-weight="600"',
    "kd-tag": 'fill="#fffdf8" stroke="#1f2933" stroke-width="1.6"',
    "kd-hook": 'fill="none" stroke="#9c3d22" stroke-width="2.2" stroke-linecap="round"',
    "kd-label kd-bar-words": 'fill="#1f2933"',
    "kd-bar": 'fill="#5b7f92"',
    "kd-bar-over": 'fill="#9c3d22"',
    "kd-bar-room": 'fill="#e7e5df"',
    "kd-limit": 'stroke="#1f2933" stroke-width="1.8"',
    "kd-whisker": 'stroke="#1f2933" stroke-width="1.2" fill="none"',
}


@dataclass(slots=True)
class Canvas:
    """Shapes in drawing units (one unit is one pixel of the view box), y downward.

    ``upright`` turns the whole picture a quarter to the right, so that what was drawn with its front to the left has
    it at the top, for a screen held upright; numbers stay level, other words and the tips of a mouse are left out.
    """

    medium: Medium = "page"
    upright: bool = False
    parts: list[str] = field(default_factory=list)

    def rect(self, look: str, x: float, y: float, width: float, height: float, *, radius: float = 0) -> None:
        """Add a rectangle from its corner."""
        size = f'x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"'
        self.parts.append(f'<rect {size} rx="{_n(radius)}" {self._look(look)}/>')

    def line(self, look: str, x1: float, y1: float, x2: float, y2: float) -> None:
        """Add a straight line."""
        self.parts.append(f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" {self._look(look)}/>')

    def circle(self, look: str, x: float, y: float, radius: float, *, extra: str = "") -> None:
        """Add a circle; ``extra`` are further attributes already escaped."""
        self.parts.append(f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}" {extra}{self._look(look)}/>')

    def path(self, look: str, d: str) -> None:
        """Add a path by its commands."""
        self.parts.append(f'<path d="{d}" {self._look(look)}/>')

    def text(self, look: str, x: float, y: float, words: str, *, size: float = 12, turn: float = 0) -> None:
        """Add words, escaped; ``turn`` in degrees about their place."""
        if self.upright:
            if "kd-label" in look:
                return
            rise = size * _MIDDLE_SHARE  # the middle of the words keeps its place, their line turns about it
            x, y, turn = x + rise, y - rise, turn - 90
        turned = f' transform="rotate({_n(turn)} {_n(x)} {_n(y)})"' if turn else ""
        self.parts.append(
            f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}"{turned} {self._look(look)}>{escape(words)}</text>'
        )

    @contextmanager
    def group(self, title: str = "", **data: str) -> Iterator[None]:
        """Gather shapes in a group with a title for those who hear the page, and data attributes."""
        marks = "".join(f' data-{name.replace("_", "-")}="{escape(value)}"' for name, value in data.items())
        self.parts.append(f"<g{marks}>")
        if title and not self.upright:
            self.parts.append(f"<title>{escape(title)}</title>")
        yield
        self.parts.append("</g>")

    def svg(self, width: float, height: float, *, title: str, desc: str, prefix: str) -> str:
        """Return the whole picture with its title and text alternative."""
        ids = f'role="img" aria-labelledby="{prefix}-title {prefix}-desc"' if self.medium == "page" else ""
        font = "" if self.medium == "page" else ' font-family="Inter, sans-serif"'
        look = 'class="kd-drawing" ' if self.medium == "page" else ""
        wide, high = (height, width) if self.upright else (width, height)
        head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(wide)} {_n(high)}" {look}{ids}{font}>'
        about = f'<title id="{prefix}-title">{escape(title)}</title><desc id="{prefix}-desc">{escape(desc)}</desc>'
        shapes = "".join(self.parts)
        if self.upright:
            shapes = f'<g transform="translate({_n(height)} 0) rotate(90)">{shapes}</g>'
        return head + about + shapes + "</svg>"

    def _look(self, look: str) -> str:
        return f'class="{look}"' if self.medium == "page" else PAPER[look]


def _n(value: float) -> str:
    """Return a number with at most two decimals and no tail of noughts."""
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"
