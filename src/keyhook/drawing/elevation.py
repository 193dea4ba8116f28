"""The vehicle from the side, to scale: the nearside or the offside, with flaps, doors, sizes and find-it numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from keyhook.drawing.canvas import Canvas, Medium
from keyhook.drawing.numbers import Spot, place_numbers
from keyhook.drawing.plan import SCALE, draw_number
from keyhook.drawing.words import describe_elevation
from keyhook.units import feet_inches_up
from keyhook.vehicle.build_sheet import BuildSheet, Fitted, Station

_SPACE_M = 0.62
_SILL_M = 0.38
_WHEEL_RADIUS_M = 0.34


@dataclass(frozen=True, slots=True)
class _Side:
    """From metres to drawing units on one side; the front points left where ``front_left``."""

    left_m: float
    right_m: float
    top_m: float
    front_left: bool

    def x(self, x_m: float) -> float:
        return (x_m - self.left_m if self.front_left else self.right_m - x_m) * SCALE

    def y(self, z_m: float) -> float:
        return (self.top_m - z_m) * SCALE


def elevation_drawing(
    sheet: BuildSheet,
    side: Literal["nearside", "offside"],
    names: Callable[[str], str] = str,
    *,
    medium: Medium = "page",
    highlight: frozenset[int] = frozenset(),
    prefix: str = "side",
) -> str:
    """Return one side as SVG; parameters as for the plan. The front points the way a person standing there sees it."""
    left_hand = (side == "nearside") == (sheet.drives_on == "left")
    rack_m = sheet.rack.adds_length_m if sheet.rack else 0.0
    front_m, back_m = -sheet.dimensions.front_overhang_m, sheet.dimensions.length_m - sheet.dimensions.front_overhang_m
    frame = _Side(front_m - _SPACE_M, back_m + rack_m + _SPACE_M, sheet.dimensions.height_m + 0.45, left_hand)
    width, height = (frame.right_m - frame.left_m) * SCALE, (frame.top_m + _SPACE_M) * SCALE
    canvas = Canvas(medium)
    canvas.line("kd-ground", 0, frame.y(0), width, frame.y(0))
    _body(canvas, sheet, frame)
    _windows_and_doors(canvas, sheet, side, frame)
    for axle in sheet.axles:
        canvas.circle("kd-wheel", frame.x(axle.x_m), frame.y(_WHEEL_RADIUS_M), _WHEEL_RADIUS_M * SCALE)
        canvas.circle("kd-cab", frame.x(axle.x_m), frame.y(_WHEEL_RADIUS_M), 0.17 * SCALE)
    _roof_and_rear(canvas, sheet, frame)
    _sizes(canvas, sheet, frame)
    stations = {station.id: station for station in sheet.stations}
    seen = {side, "front", "rear", "roof"}
    spots = [
        _spot(fitted, stations[fitted.station], names, frame)
        for fitted in sheet.fittings
        if stations[fitted.station].side in seen
    ]
    for placed in place_numbers(spots, width, height):
        draw_number(canvas, placed, on=placed.spot.number in highlight)
    title = f"{sheet.name}, {side}"
    return canvas.svg(width, height, title=title, desc=describe_elevation(sheet, side), prefix=prefix)


def _body(canvas: Canvas, sheet: BuildSheet, frame: _Side) -> None:
    size = sheet.dimensions
    front_m, back_m, top_m = -size.front_overhang_m, size.length_m - size.front_overhang_m, size.height_m - 0.08
    outline = _outline(sheet, front_m, back_m, top_m)
    canvas.path("kd-body", "M" + "L".join(f"{frame.x(x):.1f} {frame.y(z):.1f}" for x, z in outline) + "Z")
    kind = sheet.kind.lower()
    if "a-class" in kind:
        glass = [(-0.72, 1.45), (-0.55, 2.3), (0.55, 2.3), (0.55, 1.45)]
    else:
        glass = [(-0.28, 1.42), (0.28, 2.02), (1.2, 2.02), (1.2, 1.42)]
    canvas.path("kd-glass", "M" + "L".join(f"{frame.x(x):.1f} {frame.y(z):.1f}" for x, z in glass) + "Z")


def _outline(sheet: BuildSheet, front_m: float, back_m: float, top_m: float) -> list[tuple[float, float]]:
    """Return the outline by kind of body, from the front sill over the roof to the rear sill."""
    kind = sheet.kind.lower()
    if "a-class" in kind:
        nose = [(front_m, _SILL_M), (front_m, 1.15), (front_m + 0.28, 2.45), (front_m + 0.62, top_m)]
    elif "overcab" in kind:
        nose = [
            (front_m, _SILL_M), (front_m, 0.95), (front_m + 0.55, 1.18), (-0.02, 1.86),
            (front_m + 0.2, 2.12), (front_m + 0.25, top_m - 0.3), (front_m + 0.55, top_m),
        ]  # fmt: skip
    elif "panel" in kind:
        nose = [
            (front_m, _SILL_M),
            (front_m, 0.95),
            (front_m + 0.55, 1.18),
            (0.25, 2.1),
            (0.75, top_m - 0.06),
            (1.1, top_m),
        ]
    else:
        nose = [(front_m, _SILL_M), (front_m, 0.95), (front_m + 0.55, 1.18), (0.25, 2.1), (0.45, 2.35), (1.5, top_m)]
    return [*nose, (back_m - 0.1, top_m), (back_m, top_m - 0.12), (back_m, _SILL_M + 0.08), (back_m - 0.1, _SILL_M)]


def _windows_and_doors(canvas: Canvas, sheet: BuildSheet, side: str, frame: _Side) -> None:
    sign = 1 if side == "offside" else -1
    taken = []
    for door in sheet.doors:
        if "outside" not in door.joins or door.y_m * sign <= 0.3:  # noqa: PLR2004  # not on this side
            continue
        low, high, half = (_SILL_M + 0.06, 2.25, 0.31) if "living" in door.id else (_SILL_M + 0.14, 1.36, 0.42)
        if "driver" in door.id or "passenger" in door.id or "cab" in door.id:
            low, high, half = _SILL_M + 0.06, 2.02, 0.46
        taken.append((door.x_m - half, door.x_m + half))
        with canvas.group(door.name, door=door.id):
            x = min(frame.x(door.x_m - half), frame.x(door.x_m + half))
            canvas.rect("kd-flap", x, frame.y(high), 2 * half * SCALE, (high - low) * SCALE, radius=7)
    for x_m in (2.15, 3.1, sheet.dimensions.length_m - sheet.dimensions.front_overhang_m - 0.9):
        if all(x_m + 0.36 < low or x_m - 0.36 > high or (high - low > 0.8 and low > x_m) for low, high in taken):  # noqa: PLR2004
            x = min(frame.x(x_m - 0.34), frame.x(x_m + 0.34))
            canvas.rect("kd-glass", x, frame.y(1.95), 0.68 * SCALE, 0.46 * SCALE, radius=9)


def _roof_and_rear(canvas: Canvas, sheet: BuildSheet, frame: _Side) -> None:
    top_m, back_m = sheet.dimensions.height_m - 0.08, sheet.dimensions.length_m - sheet.dimensions.front_overhang_m
    for number in range(sheet.roof_lights):
        x_m = 1.7 + number * (back_m - 2.3) / max(1, sheet.roof_lights - 1)
        canvas.rect(
            "kd-glass",
            min(frame.x(x_m - 0.2), frame.x(x_m + 0.2)),
            frame.y(top_m + 0.08),
            0.4 * SCALE,
            0.08 * SCALE,
            radius=3,
        )
    if sheet.rack is not None:
        reach_m = back_m + sheet.rack.adds_length_m - 0.05
        canvas.path(
            "kd-rack",
            f"M{frame.x(back_m):.1f} {frame.y(1.5):.1f}L{frame.x(reach_m):.1f} {frame.y(0.75):.1f}"
            f"L{frame.x(back_m):.1f} {frame.y(0.75):.1f}",
        )


def _sizes(canvas: Canvas, sheet: BuildSheet, frame: _Side) -> None:
    size = sheet.dimensions
    front_m, back_m = -size.front_overhang_m, size.length_m - size.front_overhang_m
    y = frame.y(-0.28)
    canvas.line("kd-size", frame.x(front_m), y, frame.x(back_m), y)
    for x_m in (front_m, back_m):
        canvas.line("kd-size", frame.x(x_m), y - 6, frame.x(x_m), y + 6)
    middle = (frame.x(front_m) + frame.x(back_m)) / 2
    canvas.text("kd-figure", middle, y + 19, f"{size.length_m:.2f} m   {_feet(size.length_m)}", size=15)
    x = frame.x(front_m - 0.36)
    canvas.line("kd-size", x, frame.y(0), x, frame.y(size.height_m))
    for z_m in (0.0, size.height_m):
        canvas.line("kd-size", x - 6, frame.y(z_m), x + 6, frame.y(z_m))
    canvas.text(
        "kd-figure",
        x - 8,
        frame.y(size.height_m / 2),
        f"{size.height_m:.2f} m   {_feet(size.height_m)}",
        size=15,
        turn=-90,
    )


def _feet(length_m: float) -> str:
    feet, inches = feet_inches_up(length_m)
    return f"{feet} ft {inches} in"


def _spot(fitted: Fitted, station: Station, names: Callable[[str], str], frame: _Side) -> Spot:
    x = frame.x(station.x_m if fitted.x_m is None else fitted.x_m)
    y = frame.y(station.z_m if fitted.z_m is None else fitted.z_m)
    title = f"{fitted.find_it} {names(fitted.fitting)}: {station.name}"
    return Spot(fitted.find_it, title, station.id, x, y, x, y)
