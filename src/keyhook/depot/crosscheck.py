"""What only the whole folder shows: names that lead nowhere, ids used twice, two hires of one vehicle at a time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from keyhook.catalogue import Catalogue
from keyhook.depot.depot import Depot, Staff
from keyhook.depot.tariff import Tariff
from keyhook.hire.hire import Hire
from keyhook.hire.news import HireFile
from keyhook.hire.soundness import hire_flaws, news_flaws
from keyhook.money import MINOR_DIGITS
from keyhook.vehicle.build_sheet import BuildSheet, Vehicle, as_built
from keyhook.vehicle.soundness import Flaw, sheet_flaws, twice, unknown, vehicle_flaws

#: A hire in one of these states holds its vehicle.
HOLDS_VEHICLE = frozenset({"booked", "out", "returned", "closed"})
#: A leap year: every day of any year is in it.
LEAP_YEAR = 2024


@dataclass
class Draft:
    """What could be read so far. ``files`` tells where a record stands; broken ones are only known by name."""

    depot: Depot | None = None
    tariff: Tariff | None = None
    staff: Sequence[tuple[int, Staff]] = ()
    vehicles: Sequence[tuple[int, Vehicle]] = ()
    sheets: Mapping[str, BuildSheet] = field(default_factory=dict)
    hires: Mapping[str, HireFile] = field(default_factory=dict)
    broken: Collection[str] = ()


Found = tuple[str, Flaw]


def folder_flaws(draft: Draft, catalogue: Catalogue) -> Iterator[Found]:
    """Yield (file, flaw) of everything wrong between the records of a folder."""
    yield from _depot(draft, catalogue)
    yield from _tariff(draft, catalogue)
    yield from _staff(draft, catalogue)
    for file, sheet in draft.sheets.items():
        yield from ((file, flaw) for flaw in [*_file_name(file, sheet.id), *sheet_flaws(sheet, catalogue)])
    yield from _vehicles(draft)
    yield from _hires(draft, catalogue)
    yield from _overlaps(draft)


def _file_name(file: str, record_id: str, under: tuple[str, ...] = ()) -> Iterator[Flaw]:
    stem = file.rsplit("/", 1)[-1].removesuffix(".toml")
    if stem != record_id:
        yield Flaw(
            (*under, "id"), f"the file is named {stem}, so its id must be {stem}", record_id, "Rename one", "file-name"
        )


def _depot(draft: Draft, catalogue: Catalogue) -> Iterator[Found]:
    if draft.depot is None:
        return
    named: tuple[tuple[str, str, Collection[str], Collection[str]], ...] = (
        ("places", "place of the task list", draft.depot.places, catalogue.places),
        ("fleet_by_sheet", "build sheet", draft.depot.fleet_by_sheet, _sheet_names(draft)),
        ("learnt", "teach point", draft.depot.learnt, catalogue.teach_points),
    )
    for field_name, kind, names, known in named:
        yield from (("depot.toml", unknown((field_name, one), kind, one, known)) for one in names if one not in known)
    if draft.depot.currency not in MINOR_DIGITS:
        yield "depot.toml", unknown(("currency",), "currency", draft.depot.currency, MINOR_DIGITS)
    if not _is_zone(draft.depot.zone):
        todo = "Write it like Europe/London"
        yield "depot.toml", Flaw(("zone",), "no time zone has this name", draft.depot.zone, todo)


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return False
    return True


def _tariff(draft: Draft, catalogue: Catalogue) -> Iterator[Found]:
    tariff = draft.tariff
    if tariff is None:
        return
    if draft.depot and tariff.currency != draft.depot.currency:
        wrong = f"the depot counts in {draft.depot.currency}"
        yield "tariff.toml", Flaw(("currency",), wrong, tariff.currency, "Use one currency in both files", "not-sound")
    flaws = [*_tariff_names(tariff, _sheet_names(draft), catalogue), *_year(tariff)]
    yield from (("tariff.toml", flaw) for flaw in flaws)


def _tariff_names(tariff: Tariff, sheets: Collection[str], catalogue: Catalogue) -> Iterator[Flaw]:
    named: list[tuple[tuple[int | str, ...], str, str, Collection[str]]] = [
        *((("classes", n, "sheet"), "build sheet", price.sheet, sheets) for n, price in enumerate(tariff.classes)),
        *((("charges", n, "charge"), "charge", p.charge, catalogue.charges) for n, p in enumerate(tariff.charges)),
        *(
            (("excess", "not_reduced", n), "charge", c, catalogue.charges)
            for n, c in enumerate(tariff.excess.not_reduced)
        ),
    ]
    yield from (unknown(loc, kind, name, known) for loc, kind, name, known in named if name not in known)
    yield from twice(("classes",), "sheet", "class", [price.sheet for price in tariff.classes])
    yield from twice(("charges",), "charge", "charge", [price.charge for price in tariff.charges])
    yield from twice(("extras",), "id", "extra", [extra.id for extra in tariff.extras])
    yield from twice(("seasons",), "id", "season", [season.id for season in tariff.seasons])


def _year(tariff: Tariff) -> Iterator[Flaw]:
    first = dt.date(LEAP_YEAR, 1, 1)
    for number in range(366):
        day = first + dt.timedelta(days=number)
        holding = [season.id for season in tariff.seasons if season.holds(day)]
        if len(holding) != 1:
            wrong = "a day of the year lies in two seasons" if holding else "a day of the year lies in no season"
            seen = f"{day:%m-%d}" + (f" in {' and '.join(holding)}" if holding else "")
            yield Flaw(("seasons",), wrong, seen, "Let each season end the day before the next begins", "not-sound")
            return


def _staff(draft: Draft, catalogue: Catalogue) -> Iterator[Found]:
    skills = {task.skill for task in catalogue.tasks.values()}
    for index, person in draft.staff:
        for number, skill in enumerate(person.skills):
            if skill not in skills:
                yield "staff.toml", unknown(("staff", index, "skills", number), "skill of the task list", skill, skills)
    yield from (("staff.toml", flaw) for flaw in _ids_twice("staff", "person", draft.staff))


def _ids_twice(table: str, kind: str, entries: Sequence[tuple[int, Staff | Vehicle]]) -> Iterator[Flaw]:
    seen: set[str] = set()
    for index, entry in entries:
        if entry.id in seen:
            wrong = f"a {kind} of this id stands already above"
            yield Flaw((table, index, "id"), wrong, entry.id, "Give each an id of its own", "twice")
        seen.add(entry.id)


def _vehicles(draft: Draft) -> Iterator[Found]:
    known, plates = _sheet_names(draft), set[str]()
    by_id = {sheet.id: sheet for sheet in draft.sheets.values()}
    for index, vehicle in draft.vehicles:
        if vehicle.sheet not in known:
            yield "vehicles.toml", unknown(("vehicle", index, "sheet"), "build sheet", vehicle.sheet, known)
        if vehicle.sheet in by_id:
            for flaw in vehicle_flaws(vehicle, by_id[vehicle.sheet]):
                yield "vehicles.toml", flaw.under("vehicle", index)
        if vehicle.plate in plates:
            wrong = "a vehicle above has this plate"
            yield (
                "vehicles.toml",
                Flaw(("vehicle", index, "plate"), wrong, vehicle.plate, "Read the plate again", "twice"),
            )
        plates.add(vehicle.plate)
    yield from (("vehicles.toml", flaw) for flaw in _ids_twice("vehicle", "vehicle", draft.vehicles))


def _hires(draft: Draft, catalogue: Catalogue) -> Iterator[Found]:
    options = {extra.id for extra in draft.tariff.extras} if draft.tariff else None
    for file, entry in draft.hires.items():
        hire = entry.hire
        known = hire.options if options is None else options
        flaws = [*_hire_names(hire, draft), *hire_flaws(hire, _sheet_of(hire, draft), known)]
        yield from ((file, flaw.under("hire")) for flaw in flaws)
        yield from ((file, flaw) for flaw in [*_file_name(file, hire.id, ("hire",)), *news_flaws(entry, catalogue)])


def _hire_names(hire: Hire, draft: Draft) -> Iterator[Flaw]:
    vehicles = {vehicle.id for _, vehicle in draft.vehicles}
    sheets = _sheet_names(draft)
    if hire.vehicle and hire.vehicle not in vehicles and "vehicles.toml" not in draft.broken:
        yield unknown(("vehicle",), "vehicle", hire.vehicle, vehicles)
    if hire.wanted_sheet and hire.wanted_sheet not in sheets:
        yield unknown(("wanted_sheet",), "build sheet", hire.wanted_sheet, sheets)
    if draft.depot and hire.zone != draft.depot.zone:
        wrong = f"the depot counts its days in {draft.depot.zone}"
        yield Flaw(("zone",), wrong, hire.zone, "Use the depot's zone", "not-sound")


def _sheet_of(hire: Hire, draft: Draft) -> BuildSheet | None:
    sheets = {sheet.id: sheet for sheet in draft.sheets.values()}
    for _, vehicle in draft.vehicles:
        if vehicle.id == hire.vehicle:
            return as_built(sheets[vehicle.sheet], vehicle) if vehicle.sheet in sheets else None
    return sheets.get(hire.wanted_sheet or "") if not hire.vehicle else None


def _overlaps(draft: Draft) -> Iterator[Found]:
    held: dict[str, list[tuple[str, Hire]]] = {}
    for file, entry in draft.hires.items():
        if entry.hire.vehicle and entry.hire.status in HOLDS_VEHICLE:
            held.setdefault(entry.hire.vehicle, []).append((file, entry.hire))
    for vehicle, hires in held.items():
        yield from _overlaps_of(vehicle, sorted(hires, key=lambda pair: (pair[1].collect_at, pair[1].return_at)))


def _overlaps_of(vehicle: str, ordered: Sequence[tuple[str, Hire]]) -> Iterator[Found]:
    """Compare each hire with the one before it that keeps the vehicle longest."""
    last = ordered[0][1]
    for file, hire in ordered[1:]:
        if hire.collect_at < last.return_at:
            wrong = f"{vehicle} is still on hire {last.id} until {last.return_at:%Y-%m-%d %H:%M}"
            seen = f"{hire.collect_at:%Y-%m-%d %H:%M}"
            yield file, Flaw(("hire", "collect_at"), wrong, seen, "Move one of them to another vehicle", "overlap")
        last = max(last, hire, key=lambda entry: entry.return_at)


def _sheet_names(draft: Draft) -> set[str]:
    """Return the ids of all sheets, those that could not be read by their file names."""
    broken = {name.split("/")[1].removesuffix(".toml") for name in draft.broken if name.startswith("sheets/")}
    return {sheet.id for sheet in draft.sheets.values()} | broken
