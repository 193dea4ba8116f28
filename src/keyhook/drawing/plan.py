"""The vehicle from above, to scale, front to the left; what is about a place is shown at its place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from keyhook.drawing.canvas import Canvas, Medium
from keyhook.drawing.labels import Box, Label, boxes_between, boxes_of, draw_labels
from keyhook.drawing.numbers import DOT, RADIUS, Placed, Spot, place_numbers
from keyhook.drawing.route import Stand, draw_rings, draw_route, place_stops
from keyhook.drawing.words import describe_plan
from keyhook.vehicle.build_sheet import Berth, BuildSheet, Seat, Station, Store, Tank

#: Drawing units a metre.
SCALE = 112.0
_MARGIN_M = 0.62
_WHEEL_M = (0.68, 0.22)
_SEAT_M = 0.46


@dataclass(frozen=True, slots=True)
class Frame:
    """From metres to drawing units: ``x_m`` rearward to the right, ``y_m`` offside upward or downward by ``flip``.

    Seen from above with the front to the left, the left-hand side of the vehicle is at the bottom. Where one drives
    on the left the nearside is the left-hand side, so the offside (positive ``y_m``) is up.
    """

    left_m: float
    half_m: float
    offside_up: bool

    def x(self, x_m: float) -> float:
        """Return the horizontal place of ``x_m``."""
        return (x_m - self.left_m) * SCALE

    def y(self, y_m: float) -> float:
        """Return the vertical place of ``y_m``."""
        return (self.half_m - y_m if self.offside_up else self.half_m + y_m) * SCALE


def plan_drawing(  # noqa: PLR0913  # one thing to show or not, each by its name
    sheet: BuildSheet,
    names: Callable[[str], str] = str,
    *,
    medium: Medium = "page",
    highlight: frozenset[int] = frozenset(),
    numbers: bool = True,
    prefix: str = "plan",
    upright: bool = False,
    told: tuple[str, str] | None = None,
    route: Sequence[Stand] = (),
    rings: Sequence[Stand] = (),
) -> str:
    """Return the plan as SVG.

    Parameters
    ----------
    sheet
        The build sheet, metres.
    names
        Gives the name of a fitting by its id, for the titles.
    medium
        ``page``: classes only, for a page under a strict content policy; ``paper``: attributes, stands alone.
    highlight
        Find-it numbers to show filled.
    numbers
        Whether the find-it numbers are shown at all.
    prefix
        Makes the ids of title and text alternative unique on a page with several drawings.
    upright
        Whether the front is at the top, for a screen held upright.
    told
        Title and text alternative in the words of another language.
    route
        Stops of a walk in order, drawn with the way between them.
    rings
        Places to stand, each a ring that a page may light.
    """
    frame, width, height = _frame(sheet)
    canvas = Canvas(medium, upright)
    _tanks_and_axles(canvas, sheet, frame)
    _body(canvas, sheet, frame)
    labels = [
        *(_tank(canvas, tank, frame) for tank in sheet.tanks),
        *(_store(canvas, store, frame, layer) for layer, store in enumerate(sheet.stores, start=1)),
        *(_berth(canvas, berth, frame, len(sheet.stores) + 1) for berth in sheet.berths),
    ]
    for seat in sheet.seats:
        _seat(canvas, seat, frame)
    _doors(canvas, sheet, frame)
    _rack(canvas, sheet, frame)
    draw_rings(canvas, rings, frame.x, frame.y, (width, height))
    marks = place_numbers(_spots(sheet, names, frame), width, height) if numbers else []
    stops = place_stops(route, frame.x, frame.y, (width, height))
    seats = (_seat_box(seat, frame) for seat in sheet.seats)
    if not upright:
        draw_labels(canvas, labels, [*boxes_of([*marks, *stops]), *boxes_between(stops), *seats])
    for placed in marks:
        draw_number(canvas, placed, on=placed.spot.number in highlight)
    draw_route(canvas, stops)
    title, desc = told or (f"{sheet.name} from above", describe_plan(sheet))
    return canvas.svg(width, height, title=title, desc=desc, prefix=prefix)


def _frame(sheet: BuildSheet) -> tuple[Frame, float, float]:
    size = sheet.dimensions
    rack_m = sheet.rack.adds_length_m if sheet.rack else 0.0
    left_m = -size.front_overhang_m - _MARGIN_M
    right_m = size.length_m - size.front_overhang_m + rack_m + _MARGIN_M / 2
    half_m = size.width_mirrors_m / 2 + _MARGIN_M
    frame = Frame(left_m, half_m, offside_up=sheet.drives_on == "left")
    return frame, (right_m - left_m) * SCALE, 2 * half_m * SCALE


def _box(
    canvas: Canvas, look: str, frame: Frame, x_m: float, y_m: float, size: tuple[float, float], radius: float
) -> None:
    box = _box_of(frame, x_m, y_m, size)
    canvas.rect(look, box.left, box.top, box.right - box.left, box.bottom - box.top, radius=radius)


def _box_of(frame: Frame, x_m: float, y_m: float, size: tuple[float, float]) -> Box:
    """Return a rectangle by its middle and its length and width [m]."""
    length_m, width_m = size
    left, top = frame.x(x_m - length_m / 2), min(frame.y(y_m - width_m / 2), frame.y(y_m + width_m / 2))
    return Box(left, top, left + length_m * SCALE, top + width_m * SCALE)


def _tanks_and_axles(canvas: Canvas, sheet: BuildSheet, frame: Frame) -> None:
    half_m = sheet.dimensions.width_m / 2
    for axle in sheet.axles:
        with canvas.group(f"Axle, limit {axle.limit_kg:g} kg", axle=f"{axle.x_m:g}"):
            canvas.line(
                "kd-axle", frame.x(axle.x_m), frame.y(-half_m - 0.12), frame.x(axle.x_m), frame.y(half_m + 0.12)
            )
            for side in (-1, 1):
                _box(canvas, "kd-wheel", frame, axle.x_m, side * (half_m - 0.02), _WHEEL_M, 4)


def _body(canvas: Canvas, sheet: BuildSheet, frame: Frame) -> None:
    size = sheet.dimensions
    half_m, front_m, back_m = size.width_m / 2, -size.front_overhang_m, size.length_m - size.front_overhang_m
    nose_m = front_m + 0.5  # where the bonnet has become as wide as the cab
    cab_half_m = half_m - 0.1
    shoulder_m = 1.35  # where the cab ends and the living body begins
    points = [
        ("M", front_m, -cab_half_m * 0.62), ("Q", front_m, -cab_half_m, nose_m, -cab_half_m),
        ("L", shoulder_m, -cab_half_m), ("Q", shoulder_m + 0.12, -half_m, shoulder_m + 0.3, -half_m),
        ("L", back_m - 0.14, -half_m), ("Q", back_m, -half_m, back_m, -half_m + 0.14),
        ("L", back_m, half_m - 0.14), ("Q", back_m, half_m, back_m - 0.14, half_m),
        ("L", shoulder_m + 0.3, half_m), ("Q", shoulder_m + 0.12, half_m, shoulder_m, cab_half_m),
        ("L", nose_m, cab_half_m), ("Q", front_m, cab_half_m, front_m, cab_half_m * 0.62),
    ]  # fmt: skip
    canvas.path("kd-body", _path(points, frame) + "Z")
    glass = [
        ("M", 0.12, -cab_half_m + 0.08), ("Q", -0.2, 0.0, 0.12, cab_half_m - 0.08),
        ("L", 0.42, cab_half_m - 0.16), ("Q", 0.18, 0.0, 0.42, -cab_half_m + 0.16),
    ]  # fmt: skip
    canvas.path("kd-glass", _path(glass, frame) + "Z")
    for side in (-1, 1):
        mirror_m = side * (size.width_mirrors_m / 2 - 0.09)
        _box(canvas, "kd-cab", frame, 0.34, mirror_m, (0.12, 0.18), 4)
    for room in sheet.rooms:
        if room.id != "cab" and getattr(room, "under", None) is None:
            middle = ((room.x_from_m + room.x_to_m) / 2, (room.y_from_m + room.y_to_m) / 2)
            size_m = (room.x_to_m - room.x_from_m, room.y_to_m - room.y_from_m)
            _box(canvas, "kd-room", frame, *middle, size_m, 2)


def _path(points: list[tuple[str | float, ...]], frame: Frame) -> str:
    pieces = []
    for command, *places in points:
        pairs = zip(places[::2], places[1::2], strict=True)
        pieces.append(str(command) + " ".join(f"{frame.x(float(x)):.1f} {frame.y(float(y)):.1f}" for x, y in pairs))
    return "".join(pieces)


def _tank(canvas: Canvas, tank: Tank, frame: Frame) -> Label:
    word = tank.holds.replace("_", " ")
    box = _box_of(frame, tank.x_m, tank.y_m, (tank.length_m, tank.width_m))
    with canvas.group(f"{word} tank, {tank.capacity_l:g} l", tank=tank.holds):
        _box(canvas, "kd-tank", frame, tank.x_m, tank.y_m, (tank.length_m, tank.width_m), 5)
    line = ("kd-label kd-label-long", f"{word} {tank.capacity_l:g} l", 11.0)
    return Label(box, (line,) if _is_long(box, 60) else (), frame.x(tank.x_m), box.bottom - 5, 0)


def _berth(canvas: Canvas, berth: Berth, frame: Frame, layer: int) -> Label:
    size = (berth.width_m, berth.length_m) if berth.turned else (berth.length_m, berth.width_m)
    look = "kd-high" if berth.level in {"high", "made_up"} else "kd-bed"
    words = f"{berth.name}: sleeps {berth.sleeps}, up to {berth.limit_kg:g} kg"
    with canvas.group(words, berth=berth.id):
        _box(canvas, look, frame, berth.x_m, berth.y_m, size, 9)
        pillow = (0.32, min(0.6, size[1] / max(1, berth.sleeps) - 0.14))
        for number in range(berth.sleeps if look == "kd-bed" else 0):
            y_m = berth.y_m + (number - (berth.sleeps - 1) / 2) * size[1] / berth.sleeps
            _box(canvas, "kd-high", frame, berth.x_m + size[0] / 2 - 0.24, y_m, pillow, 6)
    box = _box_of(frame, berth.x_m, berth.y_m, size)
    if look == "kd-high":
        return Label(box, (), box.left, box.top, 0)  # over everything, and drawn so that it covers nothing
    limit = f"{berth.sleeps} {'person' if berth.sleeps == 1 else 'people'}, {berth.limit_kg:g} kg"
    lines = (("kd-label", berth.name, 12.0), ("kd-label kd-label-long", limit, 11.0))
    return Label(box, lines, frame.x(berth.x_m) - 16, box.top + 17, layer)


def _store(canvas: Canvas, store: Store, frame: Frame, layer: int) -> Label:
    box = _box_of(frame, store.x_m, store.y_m, (store.length_m, store.width_m))
    with canvas.group(f"{store.name}: up to {store.limit_kg:g} kg", store=store.id):
        _box(canvas, "kd-store", frame, store.x_m, store.y_m, (store.length_m, store.width_m), 4)
    line = ("kd-label", f"{store.limit_kg:g} kg", 11.0)
    return Label(box, (line,) if _is_long(box, 52) else (), box.left + 26, box.bottom - 5, layer)


def _is_long(box: Box, least: float) -> bool:
    """Return whether a box has room for a word along the vehicle."""
    return box.right - box.left > least


def _seat_box(seat: Seat, frame: Frame) -> Box:
    """Return what a seat and its back cover."""
    along_m, across_m = (_SEAT_M, _SEAT_M + 0.04) if seat.facing == "sideways" else (_SEAT_M + 0.04, _SEAT_M - 0.04)
    shift = {"forward": (0.02, 0.0), "rearward": (-0.02, 0.0), "sideways": (0.0, -0.04)}[seat.facing]
    return _box_of(frame, seat.x_m + shift[0], seat.y_m + shift[1], (along_m, across_m))


def _seat(canvas: Canvas, seat: Seat, frame: Frame) -> None:
    belt = {"three_point": "three-point belt", "lap": "lap belt", "none": "no belt"}[seat.belt]
    with canvas.group(f"Seat {seat.id}, {belt}, facing {seat.facing}", seat=seat.id):
        _box(canvas, "kd-seat", frame, seat.x_m, seat.y_m, (_SEAT_M, _SEAT_M - 0.04), 7)
        back = {"forward": (0.2, 0.0), "rearward": (-0.2, 0.0), "sideways": (0.0, -0.2)}[seat.facing]
        flat = (0.1, _SEAT_M - 0.04) if seat.facing != "sideways" else (_SEAT_M, 0.1)
        _box(canvas, "kd-seat", frame, seat.x_m + back[0], seat.y_m + back[1], flat, 4)
        if seat.belt != "none":
            x, y, reach = frame.x(seat.x_m - 0.03), frame.y(seat.y_m), 0.15 * SCALE
            canvas.line("kd-belt", x, y - reach, x, y + reach)
            if seat.belt == "three_point":
                canvas.line("kd-belt", x - reach, y - reach, x, y + reach)


def _doors(canvas: Canvas, sheet: BuildSheet, frame: Frame) -> None:
    half_m = sheet.dimensions.width_m / 2
    for door in sheet.doors:
        if "outside" not in door.joins or abs(door.y_m) < half_m - 0.2:
            continue
        side = 1 if door.y_m > 0 else -1
        out_m = side * (half_m + 0.32)
        edge_m = side * half_m if door.x_m > 1.35 else side * (half_m - 0.1)  # noqa: PLR2004  # the cab is narrower
        with canvas.group(door.name, door=door.id):
            start = f"M{frame.x(door.x_m - 0.3):.1f} {frame.y(edge_m):.1f}"
            leaf = f"L{frame.x(door.x_m - 0.3):.1f} {frame.y(out_m):.1f}"
            end = f"{frame.x(door.x_m + 0.3):.1f} {frame.y(edge_m):.1f}"
            swing = f"Q{frame.x(door.x_m + 0.25):.1f} {frame.y(out_m):.1f} {end}"
            canvas.path("kd-flap", start + leaf + swing)


def _rack(canvas: Canvas, sheet: BuildSheet, frame: Frame) -> None:
    back_m = sheet.dimensions.length_m - sheet.dimensions.front_overhang_m
    if sheet.rack is not None:
        rack = sheet.rack
        with canvas.group(f"Rack: {rack.bikes} bikes, up to {rack.limit_kg:g} kg", rack="rack"):
            for number in range(rack.bikes):
                x = frame.x(back_m + 0.14 + number * (rack.adds_length_m - 0.2) / max(1, rack.bikes - 1))
                canvas.line("kd-rack", x, frame.y(-0.75), x, frame.y(0.75))
            for y_m in (-0.45, 0.45):
                canvas.line(
                    "kd-rack", frame.x(back_m), frame.y(y_m), frame.x(back_m + rack.adds_length_m - 0.04), frame.y(y_m)
                )
    if sheet.tow_bar is not None:
        bar = sheet.tow_bar
        with canvas.group(f"Tow ball: up to {bar.ball_limit_kg:g} kg", tow="bar"):
            canvas.circle("kd-rack", frame.x(bar.x_m), frame.y(0), 5)


def _spots(sheet: BuildSheet, names: Callable[[str], str], frame: Frame) -> list[Spot]:
    stations = {station.id: station for station in sheet.stations}
    return [_spot(fitted, stations[fitted.station], names, frame) for fitted in sheet.fittings]


def _spot(fitted: object, station: Station, names: Callable[[str], str], frame: Frame) -> Spot:
    x_m = getattr(fitted, "x_m", None)
    y_m = getattr(fitted, "y_m", None)
    x = frame.x(station.x_m if x_m is None else x_m)
    y = frame.y(station.y_m if y_m is None else y_m)
    outside = station.side != "inside"
    home_y = frame.y(station.y_m) if outside and station.side in {"nearside", "offside"} else y
    home_x = frame.x(station.x_m) if station.side in {"front", "rear"} else x
    number, name = int(getattr(fitted, "find_it", 0)), names(str(getattr(fitted, "fitting", "")))
    return Spot(number, f"{number} {name}: {station.name}", station.id, x, y, home_x, home_y)


def draw_number(canvas: Canvas, placed: Placed, *, on: bool) -> None:
    """Draw one find-it number with a lead line to its place when it stands away from it."""
    spot = placed.spot
    with canvas.group(spot.title, find_it=str(spot.number), station=spot.station):
        if placed.moved:
            canvas.line("kd-lead", spot.x, spot.y, placed.x, placed.y)
            canvas.circle("kd-spot", spot.x, spot.y, DOT)
        canvas.circle("kd-mark-on" if on else "kd-mark", placed.x, placed.y, RADIUS)
        look = "kd-number-on" if on else "kd-number"
        canvas.text(look, placed.x, placed.y + 4, str(spot.number), size=11.5)
