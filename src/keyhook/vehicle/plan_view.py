"""The vehicle in plan: what lies where, and what cannot lie there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations

from keyhook.vehicle.build_sheet import Berth, BuildSheet, Door, Room, Seat, Station, Store, Tank

Told = tuple[tuple[int | str, ...], str, str, str, str]

#: A door lies on the walls of both its rooms within this: walls have a thickness.
DOOR_TOLERANCE_M = 0.15
#: Rounding of drawn coordinates.
EDGE_M = 0.011
#: Where one may stand outside: this far from the body, no further.
STAND_OFF_M = 3.0
#: Mirrors, flaps, racks and tow bars reach beyond the body.
REACH_M = 1.0

OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle in plan [m]."""

    x_from_m: float
    x_to_m: float
    y_from_m: float
    y_to_m: float

    def holds(self, x_m: float, y_m: float, slack_m: float = EDGE_M) -> bool:
        """Tell whether a point lies in it, its edge included."""
        across = self.y_from_m - slack_m <= y_m <= self.y_to_m + slack_m
        return across and self.x_from_m - slack_m <= x_m <= self.x_to_m + slack_m

    def within(self, other: Rectangle) -> bool:
        """Tell whether all of it lies in another."""
        return other.holds(self.x_from_m, self.y_from_m) and other.holds(self.x_to_m, self.y_to_m)

    def shared_area_m2(self, other: Rectangle) -> float:
        """Return the area it shares with another [m2]; 0 when they only touch."""
        length = min(self.x_to_m, other.x_to_m) - max(self.x_from_m, other.x_from_m)
        width = min(self.y_to_m, other.y_to_m) - max(self.y_from_m, other.y_from_m)
        return length * width if length > EDGE_M and width > EDGE_M else 0.0

    @property
    def area_m2(self) -> float:
        """Area in plan [m2]."""
        return (self.x_to_m - self.x_from_m) * (self.y_to_m - self.y_from_m)


def body_of(sheet: BuildSheet) -> Rectangle:
    """Return the outline of the body in plan, without mirrors and rack."""
    size = sheet.dimensions
    half = size.width_m / 2
    return Rectangle(-size.front_overhang_m, size.length_m - size.front_overhang_m, -half, half)


def room_plan(room: Room) -> Rectangle:
    """Return a room in plan."""
    return Rectangle(room.x_from_m, room.x_to_m, room.y_from_m, room.y_to_m)


def berth_plan(berth: Berth) -> Rectangle:
    """Return a berth in plan; a turned one lies with its length across the vehicle."""
    along, across = (berth.width_m, berth.length_m) if berth.turned else (berth.length_m, berth.width_m)
    return _around(berth.x_m, berth.y_m, along, across)


def box_plan(box: Tank | Store) -> Rectangle:
    """Return a tank or store in plan."""
    return _around(box.x_m, box.y_m, box.length_m, box.width_m)


def plan_flaws(sheet: BuildSheet) -> list[Told]:
    """Return what lies where it cannot: (place in the record, wrong, seen, what to do, code) of each."""
    return [
        *_rooms(sheet),
        *_doors(sheet),
        *_stations(sheet),
        *_boxes(sheet),
        *_points(sheet),
        *_fitted(sheet),
    ]


def _around(x_m: float, y_m: float, length_m: float, width_m: float) -> Rectangle:
    return Rectangle(x_m - length_m / 2, x_m + length_m / 2, y_m - width_m / 2, y_m + width_m / 2)


def _rooms(sheet: BuildSheet) -> Iterator[Told]:
    body, names = body_of(sheet), {room.id for room in sheet.rooms}
    for index, room in enumerate(sheet.rooms):
        if not room_plan(room).within(body):
            yield _out(("rooms", index, "x_from_m"), "the room reaches outside the body", room.name)
        if room.under and room.under not in names:
            yield _out(("rooms", index, "under"), "no room has this id", room.under)
    walked = [(index, room) for index, room in enumerate(sheet.rooms) if not room.under]
    for (_, one), (index, other) in combinations(walked, 2):
        if room_plan(one).shared_area_m2(room_plan(other)):
            yield _out(("rooms", index, "id"), "two rooms cover the same floor", f"{one.id} and {other.id}")


def _doors(sheet: BuildSheet) -> Iterator[Told]:
    rooms = {room.id: room for room in sheet.rooms}
    for index, door in enumerate(sheet.doors):
        for side in door.joins:
            if side not in rooms and side != OUTSIDE:
                known = ", ".join([*rooms, OUTSIDE])
                todo = f"Use two of: {known}"
                yield (
                    ("doors", index, "joins"),
                    "a door joins two rooms, or a room and outside",
                    side,
                    todo,
                    "bad-reference",
                )
        if not all(_on_wall(door, rooms[side]) for side in door.joins if side in rooms):
            yield _out(("doors", index, "x_m"), "the door does not lie on the walls of both its rooms", door.name)
    yield from _unreached(sheet)
    yield from _living_door(sheet)


def _on_wall(door: Door, room: Room) -> bool:
    plan, slack = room_plan(room), DOOR_TOLERANCE_M
    if not plan.holds(door.x_m, door.y_m, slack):
        return False
    to_wall = min(
        abs(door.x_m - plan.x_from_m),
        abs(door.x_m - plan.x_to_m),
        abs(door.y_m - plan.y_from_m),
        abs(door.y_m - plan.y_to_m),
    )
    return to_wall <= slack


def _unreached(sheet: BuildSheet) -> Iterator[Told]:
    reached, grew = {OUTSIDE}, True
    while grew:
        more = {side for door in sheet.doors if reached & set(door.joins) for side in door.joins} - reached
        reached, grew = reached | more, bool(more)
    for index, room in enumerate(sheet.rooms):
        if room.id not in reached:
            yield ("rooms", index, "id"), "no door leads into this room", room.id, "Add a door", "no-way-in"


def _living_door(sheet: BuildSheet) -> Iterator[Told]:
    for index, door in enumerate(sheet.doors):
        wrong_side = (door.y_m < 0) != (sheet.living_door_side == "nearside")
        if door.id == "living_door" and OUTSIDE in door.joins and wrong_side:
            wrong = f"the living door is said to be on the {sheet.living_door_side}"
            yield ("doors", index, "y_m"), wrong, f"{door.y_m:g}", "The nearside has negative y", "not-sound"


def _stations(sheet: BuildSheet) -> Iterator[Told]:
    body, rooms = body_of(sheet), {room.id: room for room in sheet.rooms}
    for index, station in enumerate(sheet.stations):
        if station.side == "inside":
            yield from _inside_station(index, station, rooms)
        elif station.side == "roof":
            if not body.holds(station.x_m, station.y_m):
                yield _out(("stations", index, "x_m"), "a roof station lies over the body", station.name)
        elif not _stands_at_side(station, body):
            wrong = f"the station is not outside at the {station.side} within {STAND_OFF_M:g} m"
            yield _out(("stations", index, "x_m"), wrong, f"x {station.x_m:g}, y {station.y_m:g}")


def _inside_station(index: int, station: Station, rooms: dict[str, Room]) -> Iterator[Told]:
    room = rooms.get(station.room or "")
    if room is None:
        todo = f"Use one of: {', '.join(rooms)}"
        yield ("stations", index, "room"), "an inside station lies in a room", str(station.room), todo, "bad-reference"
    elif not room_plan(room).holds(station.x_m, station.y_m):
        yield _out(("stations", index, "x_m"), f"the station lies outside its room {room.id}", station.name)


def _stands_at_side(station: Station, body: Rectangle) -> bool:
    away_m: dict[str, Callable[[], float]] = {
        "nearside": lambda: body.y_from_m - station.y_m,
        "offside": lambda: station.y_m - body.y_to_m,
        "front": lambda: body.x_from_m - station.x_m,
        "rear": lambda: station.x_m - body.x_to_m,
    }
    return -EDGE_M <= away_m[station.side]() <= STAND_OFF_M


def _boxes(sheet: BuildSheet) -> Iterator[Told]:
    body = body_of(sheet)
    boxes = [("tanks", index, f"the {tank.holds} tank", box_plan(tank)) for index, tank in enumerate(sheet.tanks)]
    stores = [("stores", index, f"the store {store.id}", box_plan(store)) for index, store in enumerate(sheet.stores)]
    beds = [("berths", index, f"the berth {berth.id}", berth_plan(berth)) for index, berth in enumerate(sheet.berths)]
    for name, index, what, plan in [*boxes, *stores, *beds]:
        if not plan.within(body):
            yield _out(
                (name, index, "x_m"), f"{what} reaches outside the body", f"x {plan.x_from_m:.2f} to {plan.x_to_m:.2f}"
            )
    for (_, _, one, plan), (_, index, other, lies) in combinations(boxes, 2):
        if plan.shared_area_m2(lies):
            yield _out(("tanks", index, "x_m"), "two tanks lie in the same place", f"{one} and {other}")


def _points(sheet: BuildSheet) -> Iterator[Told]:
    body = body_of(sheet)
    seats: list[tuple[int, Seat]] = list(enumerate(sheet.seats))
    for index, seat in seats:
        if not body.holds(seat.x_m, seat.y_m):
            yield _out(("seats", index, "x_m"), "the seat lies outside the body", seat.id)
    for index, axle in enumerate(sheet.axles):
        if not body.holds(axle.x_m, 0):
            yield _out(("axles", index, "x_m"), "the axle lies outside the body", f"{axle.x_m:g}")
    if sheet.gas and not body.holds(sheet.gas.x_m, sheet.gas.y_m):
        yield _out(("gas", "x_m"), "the gas cylinders lie outside the body", f"{sheet.gas.x_m:g}")
    if sheet.rack and sheet.rack.x_m < body.x_to_m:
        yield _out(("rack", "x_m"), "the rack is behind the body", f"{sheet.rack.x_m:g}")


def _fitted(sheet: BuildSheet) -> Iterator[Told]:
    body, height_m = body_of(sheet), sheet.dimensions.height_m
    for index, fitted in enumerate(sheet.fittings):
        x_m = fitted.x_m if fitted.x_m is not None else 0.0
        y_m = fitted.y_m if fitted.y_m is not None else 0.0
        if not body.holds(x_m, y_m, REACH_M) or not 0 <= (fitted.z_m or 0) <= height_m:
            seen = f"x {x_m:g}, y {y_m:g}, z {fitted.z_m or 0:g}"
            yield _out(("fittings", index, "x_m"), f"{fitted.fitting} lies outside the vehicle", seen)


def _out(loc: tuple[int | str, ...], wrong: str, seen: str) -> Told:
    return loc, wrong, seen, "Mend the coordinates", "cannot-lie-there"
