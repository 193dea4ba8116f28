"""The plan of a vehicle made ready for paper: its own words taken off, its edges trimmed, our marks put on.

Marks are placed by what the drawing itself says of each seat, store and axle, so they sit where it drew them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from keyhook.drawing import describe_plan, plan_drawing
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.papers.documents import Mark, MarkKind, Picture

_SVG = "http://www.w3.org/2000/svg"
ET.register_namespace("", _SVG)
#: What is trimmed above and below, as a share of the height: room that numbers round the vehicle would need.
_TRIM_SHARE = 0.085
#: Where along a box its mark may stand, best first, and how far from another mark [drawing units].
_ALONG, _APART = (0.5, 0.2, 0.8, 0.1, 0.9, 0.35, 0.65), 24.0


@dataclass(frozen=True, slots=True)
class _Box:
    """A rectangle in drawing units."""

    x: float
    y: float
    width: float
    height: float

    @property
    def middle(self) -> tuple[float, float]:
        return self.along(0.5)

    def along(self, share: float) -> tuple[float, float]:
        """Return the place at a share of the longer side, in the middle of the shorter one."""
        if self.width >= self.height:
            return self.x + share * self.width, self.y + self.height / 2
        return self.x + self.width / 2, self.y + share * self.height


def loading_picture(
    sheet: BuildSheet, seats: Mapping[str, str], stores: Mapping[str, str], axles: tuple[str, str]
) -> Picture:
    """Return the plan with people in their seats, letters on the stores and the loads under the axles.

    Parameters
    ----------
    seats, stores
        The mark by id of seat or store.
    axles
        The words under the front axle and under the rear group.
    """
    root = _parsed(plan_drawing(sheet, medium="paper", numbers=False))
    width, height = _size(root)
    trim = height * _TRIM_SHARE
    inner = height - 2 * trim
    root.set("viewBox", f"0 {trim:.2f} {width:.2f} {inner:.2f}")
    sat = {name: box.middle for name, box in _boxes(root, "seat").items() if name in seats}
    stored = _beside(list(sat.values()), {name: box for name, box in _boxes(root, "store").items() if name in stores})
    below = zip(axles, _axles(root), strict=True)
    spots: list[tuple[MarkKind, str, tuple[float, float]]] = [
        *(("store", stores[name], at) for name, at in stored.items()),
        *(("seat", seats[name], at) for name, at in sat.items()),
        *(("axle", words, (x, height - trim)) for words, x in below),
    ]
    marks = tuple(Mark(kind, text, x / width, (y - trim) / inner) for kind, text, (x, y) in spots)
    _take_words_off(root)
    return Picture(ET.tostring(root, encoding="unicode"), describe_plan(sheet), width, inner, marks)


def numbers_picture(sheet: BuildSheet, shown: frozenset[int]) -> Picture:
    """Return the plan with every find-it number, those of this hand-over filled."""
    root = _parsed(plan_drawing(sheet, medium="paper", highlight=shown))
    width, height = _size(root)
    _take_words_off(root)
    return Picture(ET.tostring(root, encoding="unicode"), describe_plan(sheet), width, height)


def _take_words_off(root: ET.Element) -> None:
    """Take the drawing's own words off, its find-it numbers apart: they are too small on paper."""
    for group in root.iter(f"{{{_SVG}}}g"):
        if group.get("data-find-it") is None:
            for words in group.findall(f"{{{_SVG}}}text"):
                group.remove(words)


def _beside(taken: list[tuple[float, float]], boxes: Mapping[str, _Box]) -> dict[str, tuple[float, float]]:
    """Return a place in every box: its middle, or a place along it when a mark is there already."""
    found: dict[str, tuple[float, float]] = {}
    for name, box in boxes.items():
        others = [*taken, *found.values()]
        places = [box.along(share) for share in _ALONG]
        found[name] = next((at for at in places if _is_clear(at, others)), places[0])
    return found


def _is_clear(at: tuple[float, float], others: list[tuple[float, float]]) -> bool:
    return all(math.dist(at, other) >= _APART for other in others)


def _parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  # our own drawing, every text in it escaped


def _size(root: ET.Element) -> tuple[float, float]:
    _, _, width, height = (float(part) for part in root.get("viewBox", "").split())
    return width, height


def _boxes(root: ET.Element, what: str) -> dict[str, _Box]:
    found = {}
    for group in root.iter(f"{{{_SVG}}}g"):
        name, box = group.get(f"data-{what}"), group.find(f"{{{_SVG}}}rect")
        if name is not None and box is not None:
            found[name] = _Box(*(float(box.get(side, "0")) for side in ("x", "y", "width", "height")))
    return found


def _axles(root: ET.Element) -> tuple[float, float]:
    """Return where the front axle and the middle of the rear group stand."""
    lines = (group.find(f"{{{_SVG}}}line") for group in root.iter(f"{{{_SVG}}}g") if group.get("data-axle"))
    front, *rear = sorted(float(line.get("x1", "0")) for line in lines if line is not None)
    return front, sum(rear) / len(rear)
