"""Does a hire fit together by its names and numbers? What it says of seats, berths, stores, drivers and nights."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from keyhook.catalogue import Catalogue
from keyhook.hire.hire import Hire
from keyhook.hire.news import HireFile, ReturnNews
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook.vehicle.soundness import Flaw, unknown


def hire_flaws(hire: Hire, sheet: BuildSheet | None, options: Collection[str]) -> list[Flaw]:
    """Return what is wrong with the names and numbers of a hire; empty when it is sound.

    Parameters
    ----------
    sheet
        The build sheet it is answered with; None leaves out what needs one.
    options
        Options that the tariff knows.
    """
    found = [*_drivers(hire), *_options(hire, options), *_calendar(hire)]
    return [*found, *_places(hire, sheet), *_water(hire, sheet)] if sheet else found


def news_flaws(file: HireFile, catalogue: Catalogue) -> Iterator[Flaw]:
    """Yield what is wrong with the news of a hire: kit and charges that nobody knows, a return before the start."""
    if file.back:
        yield from _return_flaws(file.back, file.hire, catalogue)
    for index, call in enumerate(file.calls):
        if call.at < file.hire.collect_at:
            yield Flaw(
                ("calls", index, "at"), "they called before they had the keys", str(call.at), "Mend it", "not-sound"
            )


def _return_flaws(back: ReturnNews, hire: Hire, catalogue: Catalogue) -> Iterator[Flaw]:
    for index, item in enumerate(back.missing):
        if item not in catalogue.kit:
            yield unknown(("back", "missing", index), "piece of kit", item, catalogue.kit)
    for index, mark in enumerate(back.marks):
        if mark.charge not in catalogue.charges:
            yield unknown(("back", "marks", index, "charge"), "charge", mark.charge, catalogue.charges)
    if back.at <= hire.collect_at:
        yield Flaw(("back", "at"), "it came back before it went out", str(back.at), "Mend the time", "not-sound")


def _drivers(hire: Hire) -> Iterator[Flaw]:
    for index, driver in enumerate(hire.drivers):
        if driver.person >= len(hire.party):
            todo = f"Count from 0 to {len(hire.party) - 1}"
            yield Flaw(("drivers", index, "person"), "nobody of the party has this number", str(driver.person), todo)
        if driver.born_on and driver.car_test_on and driver.car_test_on <= driver.born_on:
            seen = str(driver.car_test_on)
            yield Flaw(
                ("drivers", index, "car_test_on"), "the test comes before the birthday", seen, "Mend one", "not-sound"
            )
        if driver.born_on and driver.born_on > hire.collect_at.date():
            yield Flaw(
                ("drivers", index, "born_on"), "born after the hire", str(driver.born_on), "Mend it", "not-sound"
            )


def _options(hire: Hire, options: Collection[str]) -> Iterator[Flaw]:
    for index, option in enumerate(hire.options):
        if option not in options:
            yield unknown(("options", index), "option of the tariff", option, options)


def _calendar(hire: Hire) -> Iterator[Flaw]:
    try:
        zone = ZoneInfo(hire.zone)
    except (ZoneInfoNotFoundError, ValueError):
        yield Flaw(("zone",), "no time zone has this name", hire.zone, "Write it like Europe/London")
        return
    nights = (hire.return_at.astimezone(zone).date() - hire.collect_at.astimezone(zone).date()).days
    planned = sum(leg.nights for leg in hire.trip.legs)
    if planned > nights:
        wrong = f"the legs have more nights than the hire, which has {nights}"
        yield Flaw(("trip", "legs"), wrong, str(planned), "Take nights out or mend the return", "not-sound")


def _places(hire: Hire, sheet: BuildSheet) -> Iterator[Flaw]:
    seats = {seat.id for seat in sheet.seats}
    berths = {berth.id: berth.sleeps for berth in sheet.berths}
    stores = {store.id for store in sheet.stores}
    taken: Counter[str] = Counter()
    for index, person in enumerate(hire.party):
        if person.seat and person.seat not in seats:
            yield unknown(("party", index, "seat"), f"seat of {sheet.id}", person.seat, seats)
        if person.berth and person.berth not in berths:
            yield unknown(("party", index, "berth"), f"berth of {sheet.id}", person.berth, berths)
        yield from _too_many(index, person.seat, "seat", taken, 1)
        yield from _too_many(index, person.berth, "berth", taken, berths.get(person.berth or "", 0))
    for index, load in enumerate(hire.loads):
        if load.store not in stores:
            yield unknown(("loads", index, "store"), f"store of {sheet.id}", load.store, stores)


def _too_many(index: int, name: str | None, kind: str, taken: Counter[str], most: int) -> Iterator[Flaw]:
    """Count a person into a seat or berth; yield a flaw when it is full already (unknown ones are told elsewhere)."""
    if not name or not most:
        return
    taken[f"{kind} {name}"] += 1
    if taken[f"{kind} {name}"] > most:
        wrong = f"this {kind} is taken by somebody above" if most == 1 else f"this {kind} sleeps only {most}"
        yield Flaw(("party", index, kind), wrong, name, f"Give them another {kind}", "taken-twice")


def _water(hire: Hire, sheet: BuildSheet) -> Iterator[Flaw]:
    fresh = sheet.tank("fresh")
    most = fresh.capacity_l if fresh else 0.0
    if hire.fresh_l is not None and hire.fresh_l > most:
        wrong = f"more water than the fresh tank holds ({most:g} l)"
        yield Flaw(("fresh_l",), wrong, f"{hire.fresh_l:g}", "Mend the litres", "too-much-in-tank")
