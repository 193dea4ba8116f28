"""Everything aboard that is not on the weighbridge ticket, as masses with place, group, spread and origin."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from keyhook.basis import Basis, Input
from keyhook.catalogue import Catalogue
from keyhook.errors import UnknownName
from keyhook.hire.hire import Hire
from keyhook.hire.party import nights_of
from keyhook.hire.typical import food_mass, luggage_mass, person_mass
from keyhook.loading.settings import DIESEL_KG_L, EXHAUST_FLUID_KG_L, WATER_KG_L, LoadingSettings
from keyhook.vehicle.build_sheet import BuildSheet, Holds, Ticket

Group = Literal["people", "bags", "bikes", "liquids", "kit"]
DENSITY_KG_L: dict[Holds, float] = {
    "fresh": WATER_KG_L,
    "grey": WATER_KG_L,
    "boiler": WATER_KG_L,
    "cassette": WATER_KG_L,
    "diesel": DIESEL_KG_L,
    "exhaust_fluid": EXHAUST_FLUID_KG_L,
}


#: Options whose kit rides in the largest store (chairs and table in the garage).
STOWED_BIG = frozenset({"outdoor_set", "snow_pack"})
CHILD_UNTIL_YEARS, CHILD_SEAT_UNTIL_YEARS = 12.0, 4.0


@dataclass(frozen=True, slots=True)
class Item:
    """One mass [kg] at a place [m rearward of the front axle], with its own spread (one standard deviation).

    ``store`` names the store it lies in; ``origin`` says where the mass comes from.
    """

    key: str
    label: str
    group: Group
    mass_kg: float
    x_m: float
    sd_kg: float
    origin: Input
    store: str = ""


def load_centre_m(sheet: BuildSheet) -> float:
    """Return where things without a named store are taken to lie: the middle of the stores, weighted by limit, m."""
    total = sum(store.limit_kg for store in sheet.stores)
    return sum(store.x_m * store.limit_kg for store in sheet.stores) / total if total else sheet.wheelbase_m / 2


def hire_items(sheet: BuildSheet, hire: Hire, catalogue: Catalogue, settings: LoadingSettings) -> tuple[Item, ...]:
    """Return people, things, bikes, rack and ordered kit of the hire.

    Raises
    ------
    UnknownName
        A seat or store of the hire is not on the build sheet.
    """
    return (
        *_people(sheet, hire),
        *_pets(sheet, hire),
        *_untold_things(sheet, hire),
        *_things(sheet, hire, settings),
        *_bikes(sheet, hire, settings),
        *_ordered_kit(sheet, hire, catalogue, settings),
        *_trailer(sheet, hire),
    )


def _people(sheet: BuildSheet, hire: Hire) -> Iterator[Item]:
    seats = {seat.id: seat for seat in sheet.seats}
    free = [seat for seat in sheet.seats if seat.id not in {person.seat for person in hire.party}]
    for number, person in enumerate(hire.party):
        label = person.name or f"person {number + 1}, {person.age_years:g} years"
        mass = person_mass(person.age_years, person.mass_kg, label)
        seat = seats.get(person.seat or "") or (free.pop(0) if free else sheet.seats[-1])
        yield Item(f"person.{number}", label, "people", mass.mass_kg, seat.x_m, mass.sd_kg, mass.origin)


def _pets(sheet: BuildSheet, hire: Hire) -> Iterator[Item]:
    """Animals ride on the floor behind the seats."""
    behind_m = max(seat.x_m for seat in sheet.seats) + 0.5
    for number, pet in enumerate(hire.pets):
        origin = Input(pet.what, pet.mass_kg, "kg", "told", Basis.TOLD)
        yield Item(f"pet.{number}", pet.what, "people", pet.mass_kg, behind_m, 1.0, origin)


def _untold_things(sheet: BuildSheet, hire: Hire) -> Iterator[Item]:
    """Yield what a party usually brings, where nobody told anything."""
    if hire.loads:
        return
    people = len(hire.party)
    for mass in (luggage_mass(people, nights_of(hire)), food_mass(people)):
        name = mass.origin.name
        yield Item(f"untold.{name}", name, "bags", mass.mass_kg, load_centre_m(sheet), mass.sd_kg, mass.origin)


def _things(sheet: BuildSheet, hire: Hire, settings: LoadingSettings) -> Iterator[Item]:
    stores = {store.id: store for store in sheet.stores}
    for number, load in enumerate(hire.loads):
        if load.store not in stores:
            known = ", ".join(stores)
            raise UnknownName("The vehicle has no such store", seen=load.store, todo=f"Use one of: {known}")
        store = stores[load.store]
        basis = Basis.TOLD if load.told else Basis.COMMON_PRACTICE
        origin = Input(store.name, load.mass_kg, "kg", "told" if load.told else "depot's estimate", basis)
        sd_kg = load.mass_kg * settings.bags.own_sd_share
        label = load.what or f"things in {store.name}"
        yield Item(f"load.{number}", label, "bags", load.mass_kg, store.x_m, sd_kg, origin, store.id)


def _bikes(sheet: BuildSheet, hire: Hire, settings: LoadingSettings) -> Iterator[Item]:
    if sheet.rack is None or not (hire.bikes or "bike_rack" in hire.options):
        return
    rack = sheet.rack
    yield Item(
        "rack",
        "rack",
        "kit",
        rack.mass_kg,
        rack.x_m,
        0.5,
        Input("rack", rack.mass_kg, "kg", "build sheet", Basis.MEASURED),
    )
    for number, bike in enumerate(hire.bikes):
        origin = Input(f"bike {number + 1}", bike.mass_kg, "kg", "told", Basis.TOLD)
        sd_kg = bike.mass_kg * settings.bikes.own_sd_share
        yield Item(f"bike.{number}", f"bike {number + 1}", "bikes", bike.mass_kg, rack.x_m, sd_kg, origin)


def _ordered_kit(sheet: BuildSheet, hire: Hire, catalogue: Catalogue, settings: LoadingSettings) -> Iterator[Item]:
    centre_m = load_centre_m(sheet)
    biggest = max(sheet.stores, key=lambda store: store.limit_kg, default=None)
    for option in hire.options:
        for item_id, count in option_kit(option, hire, catalogue).items():
            item = catalogue.kit[item_id]
            mass_kg = item.mass_kg * count
            origin = Input(item.name, mass_kg, "kg", f"{count} of {item.mass_kg:g} kg, kit list", Basis.COMMON_PRACTICE)
            sd_kg = mass_kg * settings.kit.own_sd_share
            store = biggest if biggest is not None and option in STOWED_BIG else None
            x_m, store_id = (store.x_m, store.id) if store else (centre_m, "")
            yield Item(f"kit.{item_id}", item.name, "kit", mass_kg, x_m, sd_kg, origin, store_id)


def option_kit(option: str, hire: Hire, catalogue: Catalogue) -> dict[str, int]:
    """Return how many pieces of which kit come aboard with an option (rules of the kit list); the rack apart."""
    people = len(hire.party)
    children = sum(1 for person in hire.party if _uses(option, person.age_years))
    days = max(1, (hire.return_at - hire.collect_at).days)
    per = {"person": people, "child": children, "day": days, "person_day": people * days, "bike": len(hire.bikes)}
    found: dict[str, int] = {}
    for item in catalogue.kit.values():
        if f"option:{option}" not in item.when or item.id == "bike_rack":
            continue
        count = item.rule.n * per.get(item.rule.per, 1)
        count = min(max(count, item.rule.min or 0), item.rule.max or count)
        found[item.id] = int(-(-count // 1))
    return found


def _uses(option: str, age_years: float) -> bool:
    """Tell whether a child of this age uses what the option brings."""
    if option == "child_seat":
        return age_years < CHILD_SEAT_UNTIL_YEARS
    if option == "booster":
        return CHILD_SEAT_UNTIL_YEARS <= age_years < CHILD_UNTIL_YEARS
    return age_years < CHILD_UNTIL_YEARS


def _trailer(sheet: BuildSheet, hire: Hire) -> Iterator[Item]:
    if hire.trailer is None or sheet.tow_bar is None:
        return
    ball_kg = hire.trailer.ball_kg
    origin = Input("load on the tow ball", ball_kg, "kg", "told", Basis.TOLD)
    yield Item("ball", "load on the tow ball", "kit", ball_kg, sheet.tow_bar.x_m, 5.0, origin)


@dataclass(frozen=True, slots=True)
class Filling:
    """How full everything is in one state of the trip: litres, and shares of diesel, exhaust fluid and gas."""

    fresh_l: float
    grey_l: float
    boiler_l: float
    cassette_l: float
    diesel_share: float
    gas_share: float
    exhaust_fluid_share: float = 1.0


def ticket_filling(ticket: Ticket) -> Filling:
    """Return how full everything was when the ticket was taken."""
    return Filling(
        ticket.fresh_l,
        ticket.grey_l,
        ticket.boiler_l,
        ticket.cassette_l,
        ticket.fuel_share,
        ticket.gas_share,
        ticket.exhaust_fluid_share,
    )


def filling_items(sheet: BuildSheet, filling: Filling, ticket: Ticket, settings: LoadingSettings) -> tuple[Item, ...]:
    """Return liquids and gas as differences to the ticket's condition; a difference may be negative."""
    then = ticket_filling(ticket)
    found: list[Item] = []
    for tank in sheet.tanks:
        litres = _litres(filling, tank.holds, tank.capacity_l) - _litres(then, tank.holds, tank.capacity_l)
        if abs(litres) > 0.01:  # noqa: PLR2004  # a teaspoon
            mass_kg = litres * DENSITY_KG_L[tank.holds]
            origin = Input(tank.holds.replace("_", " "), litres, "l", "difference to the ticket's condition")
            found.append(_liquid(f"tank.{tank.holds}", tank.holds, mass_kg, tank.x_m, origin, settings))
    if sheet.gas is not None and (share := filling.gas_share - then.gas_share):
        mass_kg = share * sheet.gas.cylinders * sheet.gas.fill_kg
        origin = Input("gas", mass_kg, "kg", "difference to the ticket's condition")
        found.append(_liquid("gas", "gas", mass_kg, sheet.gas.x_m, origin, settings))
    return tuple(found)


def _liquid(key: str, label: str, mass_kg: float, x_m: float, origin: Input, settings: LoadingSettings) -> Item:
    return Item(key, label, "liquids", mass_kg, x_m, abs(mass_kg) * settings.liquids.own_sd_share, origin)


def _litres(filling: Filling, holds: Holds, capacity_l: float) -> float:
    shares = {"diesel": filling.diesel_share, "exhaust_fluid": filling.exhaust_fluid_share}
    if holds in shares:
        return shares[holds] * capacity_l
    litres = {
        "fresh": filling.fresh_l,
        "grey": filling.grey_l,
        "boiler": filling.boiler_l,
        "cassette": filling.cassette_l,
    }
    return min(litres[holds], capacity_l)


def ticket_aboard(ticket: Ticket, sheet: BuildSheet) -> tuple[Item, ...]:
    """Return what was aboard on the weighbridge and is not now, as negative masses."""
    found = [
        Item(
            f"aboard.{n}",
            what.what,
            "kit",
            -what.mass_kg,
            what.x_m,
            1.0,
            Input(what.what, -what.mass_kg, "kg", "on the ticket"),
        )
        for n, what in enumerate(ticket.aboard)
    ]
    if ticket.rack_fitted and sheet.rack is not None:
        rack = sheet.rack
        origin = Input("rack", -rack.mass_kg, "kg", "on the ticket")
        found.append(Item("aboard.rack", "rack", "kit", -rack.mass_kg, rack.x_m, 0.5, origin))
    return tuple(found)


def moved(item: Item, store: str, x_m: float) -> Item:
    """Return the item in another store."""
    return replace(item, store=store, x_m=x_m)
