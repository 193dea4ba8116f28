"""A bookings file as rows of cells: text with any usual delimiter and encoding, or a workbook."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from python_calamine import CalamineError, CalamineWorkbook

from keyhook.errors import BadInput

Cell = str | int | float | bool | dt.date | dt.time | dt.datetime | dt.timedelta
Cells = Sequence[Cell]

DELIMITERS = (",", ";", "\t", "|")
ZIP_START, OLE_START = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
#: Larger than any book of hires; guards the desk against a wrong file.
MOST_BYTES = 5_000_000
MOST_UNPACKED_BYTES = 100_000_000
MOST_ROWS = 5000
#: A heading stands within the first rows: some programs write a title above it.
HEADING_WITHIN_ROWS = 10

Known = Callable[[Cells], int]


@dataclass(frozen=True, slots=True)
class Table:
    """A heading with the row it stands in (counted from 1), and the rows below with theirs."""

    heading: tuple[str, ...]
    heading_row: int
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]


def read_table(data: bytes, known_headings: Known) -> Table:
    """Return the table of a bookings file.

    Parameters
    ----------
    data
        The bytes of a CSV, TSV, XLSX, XLS or ODS file.
    known_headings
        How many cells of a row are headings that we know; the best row within the first ten is the heading.

    Raises
    ------
    BadInput
        The file is empty, too large, not readable, or has no heading that we know.
    """
    if not data.strip():
        raise BadInput("The file is empty", todo="Choose the file that your booking list was saved as")
    if len(data) > MOST_BYTES:
        raise BadInput("The file is too large", seen=f"{len(data) / 1e6:.1f} MB", todo="Send at most 5 MB at a time")
    if data.startswith((ZIP_START, OLE_START)):
        return _best(_workbook_tables(data), known_headings)
    text = _decoded(data)
    return _best([_split(text, delimiter) for delimiter in DELIMITERS], known_headings)


def _best(tables: list[list[list[Cell]]], known_headings: Known) -> Table:
    """Return the table and heading row with most headings that we know (the first of equals)."""
    chosen: tuple[int, int, list[list[Cell]]] = (0, 0, [])
    for table in tables:
        for index, cells in enumerate(table[:HEADING_WITHIN_ROWS]):
            if (count := known_headings(cells)) > chosen[0]:
                chosen = (count, index, table)
    count, index, table = chosen
    if not count:
        todo = "Name the columns, for example: lead, vehicle, collect date, return date, adults, children ages, options"
        raise BadInput("No row of the file has column names that we know", todo=todo)
    if len(table) - index - 1 > MOST_ROWS:
        raise BadInput("The file has too many rows", seen=len(table) - index - 1, todo=f"Send at most {MOST_ROWS}")
    rows = [(number, tuple(cells)) for number, cells in enumerate(table[index + 1 :], start=index + 2)]
    filled = tuple((number, cells) for number, cells in rows if any(str(cell).strip() for cell in cells))
    return Table(tuple(str(cell).strip() for cell in table[index]), index + 1, filled)


def _decoded(data: bytes) -> str:
    """Return the text: by its byte order mark, else UTF-8, else the usual Western code page of office programs."""
    marks = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
    marked = [encoding for mark, encoding in marks if data.startswith(mark)]
    for encoding in [*marked, "utf-8", "cp1252"]:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise BadInput("The file cannot be read as text", todo="Save it again as CSV (UTF-8) or as XLSX")


def _split(text: str, delimiter: str) -> list[list[Cell]]:
    """Return the rows; one line of the list is one row, so that a row number means what people see in the file."""
    try:
        return [list(row) for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)]
    except csv.Error:
        return []


def _workbook_tables(data: bytes) -> list[list[list[Cell]]]:
    if data.startswith(ZIP_START):
        _refuse_bomb(data)
    try:
        workbook = CalamineWorkbook.from_filelike(io.BytesIO(data))
        sheets = [workbook.get_sheet_by_index(number) for number in range(len(workbook.sheet_names))]
        return [[list(row) for row in sheet.to_python(skip_empty_area=False)] for sheet in sheets]
    except (CalamineError, ValueError, OSError) as error:
        todo = "Take off a password if it has one and save it again as XLSX or CSV"
        raise BadInput("The file cannot be read as a workbook", seen=error, todo=todo) from error


def _refuse_bomb(data: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(entry.file_size for entry in packed.infolist())
    except zipfile.BadZipFile as error:
        raise BadInput("The file cannot be read as a workbook", seen=error, todo="Save it again as XLSX") from error
    if unpacked > MOST_UNPACKED_BYTES:
        raise BadInput("The workbook is too large", seen=f"{unpacked / 1e6:.0f} MB unpacked", todo="Send a smaller one")
