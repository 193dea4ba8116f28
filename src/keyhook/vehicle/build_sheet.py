"""The build sheet: one vehicle as it stands, read from text and written back the same.

Coordinates everywhere: ``x_m`` rearward from the front axle (negative in front of it), ``y_m`` from the
centreline towards the offside (negative towards the nearside), ``z_m`` up from the ground. Nearside is
the kerb side where the vehicle is registered; ``drives_on`` says which hand that is.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from keyhook.records import Name, NotNegative, Positive, Record, Text

Side = Literal["nearside", "offside", "front", "rear", "roof", "inside"]
Belt = Literal["three_point", "lap", "none"]
Facing = Literal["forward", "rearward", "sideways"]
Holds = Literal["fresh", "grey", "boiler", "cassette", "diesel", "exhaust_fluid"]


class Dimensions(Record):
    """Outer sizes as driven, without rack or trailer."""

    length_m: Positive
    width_m: Positive
    width_mirrors_m: Positive
    height_m: Positive
    front_overhang_m: Positive


class Axle(Record):
    """One axle: place, plated limit, and the share of its group's load that it takes."""

    x_m: float
    limit_kg: Positive
    load_share: Annotated[float, Field(gt=0, le=1)] = 1.0
    tyre: Name


class Limits(Record):
    """Plated masses. ``mam_kg`` is the maximum authorised mass, ``train_kg`` with a trailer."""

    mam_kg: Positive
    front_kg: Positive
    rear_kg: Positive
    train_kg: Positive
    unladen_kg: Positive | None = None


class Tyre(Record):
    """The tyres of one axle as fitted."""

    id: Name
    size: Text
    load_index: Annotated[int, Field(ge=60, le=130)]
    speed_symbol: Annotated[str, Field(pattern=r"^[A-Z]$")]
    count: Literal[2, 4] = 2
    date_code: Annotated[str, Field(pattern=r"^[0-9]{4}$")] = "0124"
    pressure_kpa: Positive | None = None


class Aboard(Record):
    """Something or somebody in the vehicle when it was weighed."""

    what: Text
    mass_kg: NotNegative
    x_m: float


class Ticket(Record):
    """A weighbridge ticket with the condition it was taken in; all loading is a difference to it.

    ``division_kg`` is the reading step, ``sd_kg`` the standard deviation of one reading besides the step.
    Liquids are litres in the tanks then. ``fuel_share`` is of the diesel tank. ``options`` names fitted
    or carried extras aboard then (rack, awning ...).
    """

    id: Name
    taken_on: dt.date
    front_kg: Positive
    rear_kg: Positive
    division_kg: Positive = 10.0
    sd_kg: NotNegative = 5.0
    fuel_share: Annotated[float, Field(ge=0, le=1)] = 1.0
    exhaust_fluid_share: Annotated[float, Field(ge=0, le=1)] = 1.0
    gas_share: Annotated[float, Field(ge=0, le=1)] = 1.0
    fresh_l: NotNegative = 0.0
    grey_l: NotNegative = 0.0
    boiler_l: NotNegative = 0.0
    cassette_l: NotNegative = 0.0
    standard_kit: bool = True
    rack_fitted: bool = False
    aboard: tuple[Aboard, ...] = ()
    note: str = ""


class Seat(Record):
    """A travelling seat with its belt."""

    id: Name
    x_m: float
    y_m: float
    belt: Belt
    facing: Facing = "forward"
    driver: bool = False
    front: bool = False
    child_anchor: bool = False
    hollow_locker_under: bool = False
    adults_only: bool = False
    frontal_airbag: bool = False


class Berth(Record):
    """A bed: ``x_m``, ``y_m`` is its centre; ``length_m`` runs along the sleeper, ``turned`` across the vehicle."""

    id: Name
    name: Text
    sleeps: Annotated[int, Field(ge=1, le=4)]
    length_m: Positive
    width_m: Positive
    limit_kg: Positive
    x_m: float
    y_m: float = 0.0
    turned: bool = False
    level: Literal["floor", "high", "bunk", "made_up"] = "floor"


class Store(Record):
    """A place for the hirer's things, with the load it may take."""

    id: Name
    name: Text
    x_m: float
    y_m: float = 0.0
    length_m: Positive = 0.6
    width_m: Positive = 0.5
    limit_kg: Positive


class Tank(Record):
    """A tank of liquid; ``travel_l`` is what the depot advises to carry on the road."""

    holds: Holds
    capacity_l: Positive
    x_m: float
    y_m: float = 0.0
    length_m: Positive = 0.6
    width_m: Positive = 0.5
    travel_l: NotNegative | None = None


class Energy(Record):
    """The 12 V side: leisure battery as fitted and the panels on the roof."""

    battery_kind: Literal["agm", "lithium"]
    battery_ah: Positive
    usable_share: Annotated[float, Field(gt=0, le=1)]
    battery_x_m: float
    solar_w: NotNegative = 0.0


class Gas(Record):
    """Gas cylinders carried: ``fill_kg`` is one full fill of one cylinder."""

    kind: Literal["refillable", "exchange"]
    cylinders: Annotated[int, Field(ge=1, le=4)]
    fill_kg: Positive
    x_m: float
    y_m: float = 0.0


class Rack(Record):
    """A rack at the back: its own mass, its limit, how many bikes it takes, the length it adds."""

    limit_kg: Positive
    x_m: float
    adds_length_m: NotNegative
    bikes: Annotated[int, Field(ge=1, le=6)]
    mass_kg: Positive


class TowBar(Record):
    """A tow bar: static ball limit and the trailer it may pull."""

    x_m: float
    ball_limit_kg: Positive
    braked_trailer_kg: Positive


class Room(Record):
    """A rectangle of the inside in plan.

    ``under`` names the room it lies beneath (a garage under a bed): it is reached from outside only, nobody
    walks through it, and in plan it may cover the same ground.
    """

    id: Name
    name: Text
    x_from_m: float
    x_to_m: float
    y_from_m: float
    y_to_m: float
    under: Name | None = None

    @model_validator(mode="after")
    def _is_a_rectangle(self) -> Room:
        if self.x_from_m >= self.x_to_m or self.y_from_m >= self.y_to_m:
            raise ValueError("a room runs from the smaller to the larger x and y")
        return self


class Door(Record):
    """A way through: between two rooms, or between a room and ``outside``."""

    id: Name
    name: Text
    joins: tuple[Name, Name]
    x_m: float
    y_m: float


class Station(Record):
    """A place where one stands to show something; inside ones lie in a room."""

    id: Name
    name: Text
    side: Side
    x_m: float
    y_m: float
    z_m: float = 1.0
    room: Name | None = None


class Fitted(Record):
    """A fitting at its place in this vehicle; ``find_it`` is the number on sticker, drawing and card."""

    fitting: Name
    station: Name
    find_it: Annotated[int, Field(ge=1, le=199)]
    x_m: float | None = None
    y_m: float | None = None
    z_m: float | None = None
    where: str = Field(default="", max_length=200)


class BuildSheet(Record):
    """One type of vehicle as this depot has it built; a :class:`Vehicle` is one of them with its own facts."""

    id: Name
    name: Text
    kind: Text
    drives_on: Literal["left", "right"] = "left"
    living_door_side: Literal["nearside", "offside"] = "nearside"
    drive: Text
    gearbox: Literal["manual", "semi_automatic", "automatic"] = "manual"
    powered_by: Literal["diesel", "petrol", "electric"] = "diesel"
    consumption_l_per_100km: Positive
    dimensions: Dimensions
    limits: Limits
    axles: Annotated[tuple[Axle, ...], Field(min_length=2, max_length=3)]
    tyres: tuple[Tyre, ...]
    tickets: Annotated[tuple[Ticket, ...], Field(min_length=1)]
    seats: Annotated[tuple[Seat, ...], Field(min_length=1)]
    berths: tuple[Berth, ...]
    stores: tuple[Store, ...]
    tanks: tuple[Tank, ...]
    energy: Energy
    gas: Gas | None = None
    rack: Rack | None = None
    tow_bar: TowBar | None = None
    roof_lights: Annotated[int, Field(ge=0, le=12)] = 0
    rooms: tuple[Room, ...]
    doors: tuple[Door, ...]
    stations: tuple[Station, ...]
    fittings: tuple[Fitted, ...]

    def tank(self, holds: Holds) -> Tank | None:
        """Return the tank that holds this, or None when the vehicle has none."""
        return next((tank for tank in self.tanks if tank.holds == holds), None)

    @property
    def wheelbase_m(self) -> float:
        """Distance from the front axle to the load-share-weighted middle of the rear group, m."""
        rear = self.axles[1:]
        return sum(axle.x_m * axle.load_share for axle in rear) / sum(axle.load_share for axle in rear)

    @property
    def rear_group_limit_kg(self) -> float:
        """Folded limit of the rear group: least of the plated group limit and each axle limit over its share."""
        shares = sum(axle.load_share for axle in self.axles[1:])
        folded = [axle.limit_kg / (axle.load_share / shares) for axle in self.axles[1:]]
        return min(self.limits.rear_kg, *folded)


class Quirk(Record):
    """What is true of this one vehicle and on no sheet; the hirer of it must be told."""

    text: Text
    fitting: Name | None = None
    tell_hirer: bool = True


class Vehicle(Record):
    """One vehicle on the yard: its key tag, its sheet, and what differs from the sheet."""

    id: Name
    sheet: Name
    plate: Text
    built: Annotated[str, Field(pattern=r"^[0-9]{4}-[0-9]{2}$")]
    odometer_km: NotNegative
    quirks: tuple[Quirk, ...] = ()
    tickets: tuple[Ticket, ...] = ()
    tyre_date_codes: dict[Name, Annotated[str, Field(pattern=r"^[0-9]{4}$")]] = Field(default_factory=dict)


def as_built(sheet: BuildSheet, vehicle: Vehicle) -> BuildSheet:
    """Return the sheet of this one vehicle: its own tickets and tyre dates in place of the type's."""
    tyres = tuple(
        tyre.model_copy(update={"date_code": vehicle.tyre_date_codes.get(tyre.id, tyre.date_code)})
        for tyre in sheet.tyres
    )
    return sheet.model_copy(update={"tickets": vehicle.tickets or sheet.tickets, "tyres": tyres})
