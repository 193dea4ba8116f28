"""Bookings out of a file somebody saved: a preview row by row with every slip named, and nothing written.

Columns are found by their names, tolerant of spelling and case. Phone numbers and e-mail addresses are seen
and left out: a hire does not need them here.
"""

from __future__ import annotations

import datetime as dt
import difflib
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from keyhook.errors import BadInput
from keyhook.hire.booking_cells import (
    MOST_PARTY,
    CellError,
    cell_ages,
    cell_count,
    cell_text,
    cell_time,
    cell_words,
    on_the_clock,
    split_moment,
    with_offset,
)
from keyhook.hire.booking_table import Cell, Cells, Table, read_table
from keyhook.hire.hire import Hire, Person

T = TypeVar("T")

#: Our columns and the names people give them; the first is the one we write ourselves.
COLUMNS: dict[str, tuple[str, ...]] = {
    "reference": ("reference", "ref", "booking", "booking number", "booking no", "booking id", "hire", "hire id"),
    "lead": ("lead", "lead name", "hirer", "name", "customer", "customer name", "booked by", "main driver"),
    "vehicle": ("vehicle", "vehicle id", "van", "unit", "motorhome", "key tag"),
    "sheet": ("sheet", "build sheet", "class", "vehicle class", "type", "vehicle type", "model"),
    "collect date": ("collect date", "collection date", "collect", "collection", "pick up", "pick up date", "from",
                     "from date", "start", "start date", "date from", "collect at"),
    "collect time": ("collect time", "collection time", "pick up time", "from time", "start time", "time from"),
    "return date": ("return date", "return", "to", "to date", "end", "end date", "date to", "back", "drop off",
                    "drop off date", "return at"),
    "return time": ("return time", "to time", "end time", "time to", "drop off time"),
    "adults": ("adults", "adult", "number of adults", "no of adults", "persons", "people"),
    "children ages": ("children ages", "ages of children", "child ages", "children", "kids", "kids ages", "ages"),
    "options": ("options", "option", "extras", "add ons", "addons"),
    "note": ("note", "notes", "remarks", "comment", "comments"),
}  # fmt: skip
#: Columns that are recognised and left out.
LEFT_OUT = ("phone", "telephone", "mobile", "phone number", "mobile number", "email", "e mail", "mail", "address")
NEEDED = ("lead", "collect date", "return date", "adults")
CLOSE_SHARE = 0.84
#: Age of an adult whose age nobody told (assumption; masses and belts treat every adult alike).
ADULT_YEARS = 35.0
NOTE_LENGTH, LEAD_LENGTH = 1000, 200


@dataclass(frozen=True, slots=True)
class RowError:
    """One thing wrong with a row: its number in the file, the column, the value seen, what was wrong, what to do."""

    row: int
    column: str
    seen: str
    wrong: str
    todo: str

    def __str__(self) -> str:
        """Return one clear sentence or two."""
        seen = f" (saw {self.seen})" if self.seen else ""
        return f"Row {self.row}, {self.column}: {self.wrong}{seen}. {self.todo}"


@dataclass(frozen=True, slots=True)
class Booking:
    """What a sound row says. Times are aware, on the depot's clock."""

    lead: str
    vehicle: str | None
    sheet: str | None
    collect_at: dt.datetime
    return_at: dt.datetime
    adults: int
    children_ages: tuple[float, ...] = ()
    options: tuple[str, ...] = ()
    reference: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """One row of the file: the booking when it is sound, else why it is not."""

    row: int
    booking: Booking | None
    errors: tuple[RowError, ...] = ()


@dataclass(frozen=True, slots=True)
class Preview:
    """What a file would bring: ``columns`` maps ours to its headings, ``left_out`` are the headings not read."""

    columns: Mapping[str, str]
    left_out: tuple[str, ...]
    rows: tuple[PreviewRow, ...]

    @property
    def bookings(self) -> tuple[Booking, ...]:
        """The bookings of all sound rows, in file order."""
        return tuple(row.booking for row in self.rows if row.booking)

    @property
    def errors(self) -> tuple[RowError, ...]:
        """All errors, in file order."""
        return tuple(error for row in self.rows for error in row.errors)


@dataclass(frozen=True, slots=True)
class BookingRules:
    """What the depot knows when a file is read.

    Parameters
    ----------
    zone
        Time zone of the depot.
    vehicles
        Build sheet of each vehicle, by vehicle id.
    sheets
        Name of each build sheet, by its id.
    options
        Options of the tariff.
    hires
        Hires already in the book; a row may not take a vehicle that one of them holds.
    day_first
        How 10/07/2026 is read: 10 July when true.
    usual_collect, usual_return
        Clock times where the file gives none; None makes a missing time an error.
    """

    zone: str
    vehicles: Mapping[str, str]
    sheets: Mapping[str, str]
    options: Collection[str]
    hires: Sequence[Hire] = ()
    day_first: bool = True
    usual_collect: dt.time | None = None
    usual_return: dt.time | None = None


def read_bookings(data: bytes, rules: BookingRules) -> Preview:
    """Return the preview of a bookings file (CSV, TSV, XLSX, XLS or ODS); nothing is written anywhere.

    Raises
    ------
    BadInput
        The file as a whole cannot be used: unreadable, no heading, a needed column missing or there twice.
    """
    table = read_table(data, lambda cells: sum(_column(str(cell)) is not None for cell in cells))
    places = _places(table)
    reader = _RowReader(rules, places)
    rows = _without_overlaps([reader.preview(number, cells) for number, cells in table.rows], rules.hires)
    columns = {column: table.heading[place] for column, place in places.items()}
    left_out = tuple(heading for n, heading in enumerate(table.heading) if heading and n not in places.values())
    return Preview(columns, left_out, tuple(rows))


def as_hire(booking: Booking, hire_id: str, zone: str) -> Hire:
    """Return the hire that a booking begins; ages of adults are assumed until somebody tells them."""
    adults = [Person(name=booking.lead[:120], age_years=ADULT_YEARS)]
    adults += [Person(age_years=ADULT_YEARS) for _ in range(booking.adults - 1)]
    children = [Person(age_years=age) for age in booking.children_ages]
    return Hire(
        id=hire_id,
        lead=booking.lead,
        vehicle=booking.vehicle,
        wanted_sheet=booking.sheet,
        status="booked",
        collect_at=booking.collect_at,
        return_at=booking.return_at,
        zone=zone,
        party=(*adults, *children),
        options=booking.options,
        note=booking.note,
    )


def _plain(heading: str) -> str:
    bare = unicodedata.normalize("NFKD", heading).encode("ascii", "ignore").decode().lower()
    return " ".join(re.sub(r"[^a-z0-9]+", " ", bare).split())


def _column(heading: str) -> str | None:
    """Return our column for a heading, or None; near spellings count, private columns never."""
    plain = _plain(heading)
    if not plain or plain in LEFT_OUT:
        return None
    by_name = {name: column for column, names in COLUMNS.items() for name in names}
    if plain in by_name:
        return by_name[plain]
    close = difflib.get_close_matches(plain, [*by_name, *LEFT_OUT], n=1, cutoff=CLOSE_SHARE)
    return by_name.get(close[0]) if close else None


def _places(table: Table) -> dict[str, int]:
    places: dict[str, int] = {}
    for place, heading in enumerate(table.heading):
        column = _column(heading)
        if column in places:
            both = f"{table.heading[places[column]]} and {heading}"
            raise BadInput(f"Two columns look like {column}", seen=both, todo="Rename or take out one of them")
        if column:
            places[column] = place
    missing = [column for column in NEEDED if column not in places]
    if "vehicle" not in places and "sheet" not in places:
        missing.append("vehicle or sheet")
    if missing:
        seen = ", ".join(heading for heading in table.heading if heading)
        todo = f"Add the column{'s' if len(missing) > 1 else ''} {', '.join(missing)}"
        raise BadInput("The file lacks columns that a booking needs", seen=seen, todo=todo)
    return places


@dataclass
class _RowReader:
    """Reads one row after the other by the same columns and rules."""

    rules: BookingRules
    places: Mapping[str, int]
    errors: list[RowError] = field(default_factory=list)
    row: int = 0
    cells: Cells = ()

    def __post_init__(self) -> None:
        try:
            self.zone = ZoneInfo(self.rules.zone)
        except (ZoneInfoNotFoundError, ValueError) as error:
            todo = "Write it like Europe/London"
            raise BadInput("No time zone has this name", seen=self.rules.zone, todo=todo) from error

    def preview(self, row: int, cells: Cells) -> PreviewRow:
        """Return the preview of one row, every slip of it named."""
        self.row, self.cells, self.errors = row, cells, []
        lead = self._lead()
        vehicle, sheet = self._vehicle_and_sheet()
        collect_at = self._moment("collect", self.rules.usual_collect)
        return_at = self._moment("return", self.rules.usual_return)
        adults = self._read("adults", cell_count)
        ages = self._read("children ages", cell_ages) or ()
        options = self._options()
        note, reference = self._text("note"), self._text("reference")
        self._short_enough("note", note, NOTE_LENGTH)
        if adults and adults + len(ages) > MOST_PARTY:
            self._wrong("adults", f"a party has at most {MOST_PARTY} people", adults + len(ages), "Split the booking")
        if collect_at and return_at and return_at <= collect_at:
            seen = f"{collect_at:%Y-%m-%d %H:%M} to {return_at:%Y-%m-%d %H:%M}"
            self._wrong("return date", "the return must come after the collection", seen, "Mend one of them")
        if self.errors or collect_at is None or return_at is None or adults is None:
            return PreviewRow(row, None, tuple(self.errors))
        booking = Booking(lead, vehicle, sheet, collect_at, return_at, adults, ages, options, reference, note)
        return PreviewRow(row, booking)

    def _cell(self, column: str) -> Cell:
        place = self.places.get(column)
        return self.cells[place] if place is not None and place < len(self.cells) else ""

    def _text(self, column: str) -> str:
        return cell_text(self._cell(column))

    def _wrong(self, column: str, wrong: str, seen: object, todo: str) -> None:
        self.errors.append(RowError(self.row, column, str(seen), wrong, todo))

    def _read(self, column: str, meaning: Callable[[Cell], T]) -> T | None:
        try:
            return meaning(self._cell(column))
        except CellError as error:
            self._wrong(column, error.wrong, error.seen, error.todo)
            return None

    def _lead(self) -> str:
        lead = self._text("lead")
        if not lead:
            self._wrong("lead", "nobody is named", "", "Write who hires")
        self._short_enough("lead", lead, LEAD_LENGTH)
        return lead

    def _short_enough(self, column: str, text: str, most: int) -> None:
        if len(text) > most:
            self._wrong(column, f"longer than {most} characters", f"{text[:40]}...", "Say it shorter")

    def _vehicle_and_sheet(self) -> tuple[str | None, str | None]:
        vehicle = self._known("vehicle", {name: name for name in self.rules.vehicles})
        by_name = {name: key for key, name in self.rules.sheets.items()} | {key: key for key in self.rules.sheets}
        sheet = self._known("sheet", by_name)
        if not self._text("vehicle") and not self._text("sheet"):
            self._wrong("vehicle", "neither vehicle nor sheet is named", "", "Write one of them")
        if vehicle and sheet and self.rules.vehicles[vehicle] != sheet:
            wrong = f"{vehicle} is built by sheet {self.rules.vehicles[vehicle]}"
            self._wrong("sheet", wrong, sheet, "Mend one of the two")
        return vehicle, sheet or (self.rules.vehicles[vehicle] if vehicle else None)

    def _known(self, column: str, names: Mapping[str, str]) -> str | None:
        text = self._text(column)
        by_lower = {name.lower(): key for name, key in names.items()}
        if not text or text.lower() in by_lower:
            return by_lower.get(text.lower())
        close = difflib.get_close_matches(text.lower(), list(by_lower), n=1, cutoff=0.6)
        todo = (
            f"Did you mean {by_lower[close[0]]}?" if close else f"Use one of: {', '.join(sorted(set(names.values())))}"
        )
        self._wrong(column, f"no {column} has this name", text, todo)
        return None

    def _options(self) -> tuple[str, ...]:
        words = cell_words(self._cell("options"))
        for word in words:
            if word not in self.rules.options:
                close = difflib.get_close_matches(word, list(self.rules.options), n=1, cutoff=0.6)
                todo = f"Did you mean {close[0]}?" if close else f"Use one of: {', '.join(sorted(self.rules.options))}"
                self._wrong("options", "the tariff has no such option", word, todo)
        return tuple(dict.fromkeys(words))

    def _moment(self, which: str, usual: dt.time | None) -> dt.datetime | None:
        """Return the aware time of the collection or return; date and time are told apart when both are wrong."""
        date_column, time_column = f"{which} date", f"{which} time"
        told = self._read(date_column, lambda cell: split_moment(cell, day_first=self.rules.day_first))
        if told and told[2] is not None:
            return with_offset(told[2].astimezone(self.zone))
        otherwise = told[1] if told and told[1] else usual
        clock = self._read(time_column, lambda cell: _clock(cell, otherwise))
        if told is None or clock is None:
            return None
        day = told[0]
        return self._read(time_column, lambda _: on_the_clock(day, clock, self.zone))


def _clock(cell: Cell, otherwise: dt.time | None) -> dt.time:
    if cell_text(cell):
        return cell_time(cell)
    if otherwise is None:
        raise CellError("there is no time of day", todo="Write it like 14:30")
    return otherwise


def _without_overlaps(rows: list[PreviewRow], hires: Sequence[Hire]) -> Iterator[PreviewRow]:
    """Yield the rows; one that takes a vehicle which a hire or an earlier row holds then gets an error instead."""
    held = [
        (hire.vehicle, hire.collect_at, hire.return_at, f"hire {hire.id}")
        for hire in hires
        if hire.vehicle and hire.status not in {"enquiry", "cancelled"}
    ]
    seen: Counter[tuple[str, dt.datetime, str]] = Counter()
    for row in rows:
        booking = row.booking
        if booking is None:
            yield row
            continue
        key = (booking.lead.lower(), booking.collect_at, booking.vehicle or booking.sheet or "")
        seen[key] += 1
        clash = next((name for vehicle, start, end, name in held if _clashes(booking, vehicle, start, end)), None)
        if clash or seen[key] > 1:
            yield _refused(row, booking, clash)
            continue
        if booking.vehicle:
            held.append((booking.vehicle, booking.collect_at, booking.return_at, f"row {row.row}"))
        yield row


def _clashes(booking: Booking, vehicle: str, start: dt.datetime, end: dt.datetime) -> bool:
    return booking.vehicle == vehicle and booking.collect_at < end and start < booking.return_at


def _refused(row: PreviewRow, booking: Booking, clash: str | None) -> PreviewRow:
    if clash:
        wrong, todo = f"the vehicle is on {clash} in these days", "Choose another vehicle or mend the days"
        return replace(row, booking=None, errors=(RowError(row.row, "vehicle", booking.vehicle or "", wrong, todo),))
    wrong, todo = "a row above says the same", "Take one of them out"
    return replace(row, booking=None, errors=(RowError(row.row, "lead", booking.lead, wrong, todo),))
