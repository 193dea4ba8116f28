"""The motif: a vehicle is a small key tag on a hook, everywhere the same."""

from __future__ import annotations

from keyhook.drawing.canvas import Canvas, Medium


def key_tag(name: str, *, medium: Medium = "page", prefix: str = "tag") -> str:
    """Return a vehicle's key tag with its short name, as SVG; it scales with the text beside it."""
    canvas = Canvas(medium)
    width = 34 + 11.5 * max(4, len(name))
    canvas.path("kd-hook", "M14 2 V9 a5 5 0 1 0 5 5")
    canvas.path("kd-tag", f"M21 9 H{width - 8} a6 6 0 0 1 6 6 V31 a6 6 0 0 1 -6 6 H21 L8 27 V19 Z")
    canvas.circle("kd-hook", 17.5, 23, 2.6)
    canvas.text("kd-figure", (width + 22) / 2, 29, name, size=17)
    return canvas.svg(width + 1, 39, title=f"Vehicle {name}", desc=f"Key tag of vehicle {name}", prefix=prefix)
