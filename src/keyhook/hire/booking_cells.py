"""One cell of a bookings file as what it means: a date, a time, a count, ages, options. Each slip says what to do."""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

from keyhook.errors import BadInput
from keyhook.hire.booking_table import Cell

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
NUMERIC_DATE = re.compile(r"(\d{1,2})\s*[./-]\s*(\d{1,2})\s*[./-]\s*(\d{4}|\d{2})")
NAMED_DATE = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[\s-]+([A-Za-z]{3,9})\.?,?[\s-]+(\d{4}|\d{2})")
CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2})(?::\d{2})?)?\s*([ap])?\.?m?\.?", re.IGNORECASE)
DAY_AND_CLOCK = re.compile(
    r"(.+?)[\s,]+(\d{1,2}[:.h]\d{2}(?::\d{2})?\s*(?:[ap]\.?m\.?)?|\d{1,2}\s*[ap]\.?m\.?)", re.IGNORECASE
)
FOUR_DIGITS = re.compile(r"([01]\d|2[0-3])([0-5]\d)")
SEPARATOR = re.compile(r"\s*(?:[,;|/&+\n]|\band\b)\s*")
#: An age with decimals is believed below this; above, two ages may have become one number.
FRACTION_BELOW_YEARS = 2.0
CHILD_BELOW_YEARS = 18
MOST_PARTY = 12
NOON, LAST_HOUR = 12, 23
CENTURY = 2000
TWO_DIGITS = 100


class CellError(BadInput):
    """A cell that does not say what its column asks for."""

    code = "bad-cell"


def cell_text(cell: Cell) -> str:
    """Return a cell as text; a whole number from a workbook without its decimals."""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return " ".join(str(cell).split())


def cell_date(cell: Cell, *, day_first: bool) -> dt.date:
    """Return the date of a cell; ``day_first`` says how 10/07/2026 is read.

    Raises
    ------
    CellError
        It is no date.
    """
    if isinstance(cell, dt.datetime):
        return cell.date()
    if isinstance(cell, dt.date):
        return cell
    text = cell_text(cell)
    try:
        return _written_date(text, day_first=day_first)
    except ValueError:
        order = "day/month/year" if day_first else "month/day/year"
        todo = f"Write it like 2026-07-10 (or {order})"
        raise CellError("this is not a date", seen=text, todo=todo) from None


def _written_date(text: str, *, day_first: bool) -> dt.date:
    if found := NUMERIC_DATE.fullmatch(text):
        first, second, year = (int(part) for part in found.groups())
        day, month = (first, second) if day_first else (second, first)
        return dt.date(_full_year(year), month, day)
    if found := NAMED_DATE.fullmatch(text):
        month = MONTHS.index(found[2][:3].lower()) + 1
        return dt.date(_full_year(int(found[3])), month, int(found[1]))
    return dt.date.fromisoformat(text)


def _full_year(year: int) -> int:
    return year + CENTURY if year < TWO_DIGITS else year


def cell_time(cell: Cell) -> dt.time:
    """Return the clock time of a cell: 14:00, 14.00, 1400, 2 pm.

    Raises
    ------
    CellError
        It is no time.
    """
    if isinstance(cell, dt.datetime):
        return cell.time()
    if isinstance(cell, dt.time):
        return cell
    if isinstance(cell, dt.timedelta):
        return dt.time(cell.seconds // 3600, cell.seconds // 60 % 60)
    text = cell_text(cell)
    try:
        return _written_time(text)
    except ValueError:
        raise CellError("this is not a time of day", seen=text, todo="Write it like 14:30") from None


def _written_time(text: str) -> dt.time:
    if found := FOUR_DIGITS.fullmatch(text):
        return dt.time(int(found[1]), int(found[2]))
    found = CLOCK.fullmatch(text)
    if not found or not (found[2] or found[3]):
        raise ValueError(text)
    hour, minute, half = int(found[1]), int(found[2] or 0), (found[3] or "").lower()
    if half:
        if not 1 <= hour <= NOON:
            raise ValueError(text)
        hour = hour % NOON + (NOON if half == "p" else 0)
    return dt.time(hour, minute)


def split_moment(cell: Cell, *, day_first: bool) -> tuple[dt.date, dt.time | None, dt.datetime | None]:
    """Return date, time (None when there is none) and, when it says its offset, the aware time of one cell.

    Raises
    ------
    CellError
        The date or the time cannot be read.
    """
    if isinstance(cell, dt.datetime):
        return cell.date(), cell.time() if cell.time() != dt.time() else None, None
    text = cell_text(cell)
    try:
        whole = dt.datetime.fromisoformat(text)
    except ValueError:
        whole = None
    if whole is not None and whole.tzinfo is not None:
        return whole.date(), whole.time(), whole
    if whole is not None and len(text) > len("2026-07-10"):
        return whole.date(), whole.time(), None
    both = DAY_AND_CLOCK.fullmatch(text)
    if both:
        return cell_date(both[1], day_first=day_first), cell_time(both[2]), None
    return cell_date(cell, day_first=day_first), None, None


def with_offset(moment: dt.datetime) -> dt.datetime:
    """Return the same moment with its bare UTC offset, as a file would say it."""
    return moment.replace(tzinfo=dt.timezone(moment.utcoffset() or dt.timedelta()), fold=0)


def on_the_clock(day: dt.date, clock: dt.time, zone: ZoneInfo) -> dt.datetime:
    """Return a local time as an aware one.

    Raises
    ------
    CellError
        The clocks change then: the time does not exist, or happens twice.
    """
    local = dt.datetime.combine(day, clock.replace(second=0, microsecond=0))
    first, second = local.replace(tzinfo=zone, fold=0), local.replace(tzinfo=zone, fold=1)
    if first.utcoffset() == second.utcoffset():
        return with_offset(first)
    back = first.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None)
    seen = f"{local:%Y-%m-%d %H:%M}"
    if back == local:
        both = f"{first.isoformat(timespec='minutes')} or {second.isoformat(timespec='minutes')}"
        wrong = f"this time comes twice, the clocks go back then in {zone.key}"
        raise CellError(wrong, seen=seen, todo=f"Write which one: {both}")
    wrong = f"this time does not exist, the clocks go forward then in {zone.key}"
    raise CellError(wrong, seen=seen, todo="Write a time before or after the gap")


def cell_count(cell: Cell) -> int:
    """Return a number of people, 1 to 12.

    Raises
    ------
    CellError
        It is no such number.
    """
    text = cell_text(cell)
    if not re.fullmatch(r"\d{1,2}", text) or not 1 <= int(text) <= MOST_PARTY:
        raise CellError("this is not a number of people", seen=text, todo=f"Write 1 to {MOST_PARTY}")
    return int(text)


def cell_ages(cell: Cell) -> tuple[float, ...]:
    """Return the ages of children in years; an empty cell, a dash or a zero is no child.

    Raises
    ------
    CellError
        One of them is no age of a child, or may be two that became one number.
    """
    text = cell_text(cell)
    if text.lower() in {"", "-", "0", "none", "no", "nil"}:
        return ()
    return tuple(_age(part) for part in SEPARATOR.split(text) if part)


def _age(text: str) -> float:
    months = re.fullmatch(r"(\d{1,2})\s*(?:m|mo|months?)", text, re.IGNORECASE)
    if months:
        return round(int(months[1]) / 12, 2)
    years = re.fullmatch(r"(\d{1,2}(?:\.\d+)?)\s*(?:y|yrs?|years?)?(?: old)?", text, re.IGNORECASE)
    if not years or float(years[1]) >= CHILD_BELOW_YEARS:
        raise CellError("this is not the age of a child", seen=text, todo="Write each age in years: 4, 7")
    age = float(years[1])
    if not age.is_integer() and age >= FRACTION_BELOW_YEARS:
        todo = "Write whole years with commas, in a text cell: 4, 7"
        raise CellError("one age with decimals, or two ages that became one number", seen=text, todo=todo)
    return age


def cell_words(cell: Cell) -> tuple[str, ...]:
    """Return the words of a list cell, each as one name: ``Child seat`` is ``child_seat``."""
    words = SEPARATOR.split(cell_text(cell))
    return tuple(re.sub(r"[\s-]+", "_", word.strip().lower()) for word in words if word.strip(" -"))
