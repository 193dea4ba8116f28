"""Bookings out of a file: any usual delimiter, encoding and spelling; every slip named; nothing written."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from dataclasses import fields, replace

import pytest
import xlsxwriter

from keyhook.errors import BadInput
from keyhook.hire import booking_table
from keyhook.hire.booking_file import COLUMNS, Booking, BookingRules, as_hire, read_bookings
from keyhook.hire.hire import Hire

RULES = BookingRules(
    zone="Europe/London",
    vehicles={"W4-02": "W4", "W4-06": "W4", "V2-05": "V2"},
    sheets={"W4": "Mossback", "V2": "Nettlecan"},
    options={"bedding", "child_seat", "bike_rack"},
    usual_collect=dt.time(14, 30),
    usual_return=dt.time(10, 0),
)
SUMMER = dt.timezone(dt.timedelta(hours=1))
HEAD = ["lead", "vehicle", "collect date", "return date", "adults"]


def _csv(*rows, head=HEAD, delimiter=","):
    return "\n".join(delimiter.join(row) for row in [head, *rows]).encode()


def _row(**changes):
    row = {"lead": "A", "vehicle": "W4-02", "collect date": "2026-07-10", "return date": "2026-07-17", "adults": "2"}
    row |= {name.replace("_", " "): value for name, value in changes.items()}
    return read_bookings(_csv(list(row.values()), head=list(row), delimiter=";"), RULES)


def _workbook(rows, *, sheets=("Sheet1",)):
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False}) as book:
        formats = {
            dt.date: book.add_format({"num_format": "yyyy-mm-dd"}),
            dt.time: book.add_format({"num_format": "hh:mm"}),
        }
        for name in sheets:
            page = book.add_worksheet(name)
            for y, row in enumerate(rows if name == sheets[-1] else []):
                for x, cell in enumerate(row):
                    page.write(y, x, cell, formats.get(type(cell)))
    return out.getvalue()


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_any_usual_text_file_is_read(delimiter, encoding):
    text = _csv(["Möwe Tärn", "W4-02", "2026-07-10", "2026-07-17", "2"], delimiter=delimiter).decode()
    (booking,) = read_bookings(text.encode(encoding), RULES).bookings
    assert booking.lead == "Möwe Tärn"
    assert booking.collect_at == dt.datetime(2026, 7, 10, 14, 30, tzinfo=SUMMER)
    assert booking.return_at == dt.datetime(2026, 7, 17, 10, 0, tzinfo=SUMMER)


def test_a_cell_may_hold_the_delimiter_and_a_line_break_between_quotes():
    head = b"lead,vehicle,collect date,return date,adults,note\n"
    data = head + b'"Tarn, M\xc3\xb6we",W4-02,2026-07-10,2026-07-17,2,"two\nlines"\n'
    (booking,) = read_bookings(data, RULES).bookings
    assert (booking.lead, booking.note) == ("Tarn, Möwe", "two lines")


@pytest.mark.parametrize(
    ("column", "spelling"),
    [("collect date", "COLLECTION-DATE"), ("collect date", "Colection date"), ("collect date", "Pick-up"),
     ("return date", "Drop off"), ("lead", "Main driver"), ("adults", "No. of adults"), ("vehicle", "  Van ")],
)  # fmt: skip
def test_columns_are_found_by_tolerant_names(column, spelling):
    head = [spelling if name == column else name for name in HEAD]
    preview = read_bookings(_csv(["A", "W4-02", "2026-07-10", "2026-07-17", "2"], head=head), RULES)
    assert preview.columns[column] == spelling.strip()
    assert len(preview.bookings) == 1


def test_every_name_of_a_column_leads_to_one_column_only():
    names = [name for spellings in COLUMNS.values() for name in spellings]
    assert len(names) == len(set(names))


def test_a_title_above_and_empty_rows_between_do_no_harm_and_rows_keep_their_numbers():
    text = "Bookings of the summer\n\n" + _csv(["A", "W4-02", "2026-07-10", "2026-07-17", "2"]).decode()
    preview = read_bookings((text + "\n\n,,,,\nB,W4-99,2026-07-10,2026-07-17,2\n").encode(), RULES)
    assert [row.row for row in preview.rows] == [4, 7]
    assert [error.row for error in preview.errors] == [7]


def test_phone_numbers_and_addresses_are_left_out():
    data = _csv(
        ["A", "W4-02", "2026-07-10", "2026-07-17", "2", "07700 900123", "a@b.example"], head=[*HEAD, "Phone", "E-mail"]
    )
    preview = read_bookings(data, RULES)
    assert preview.left_out == ("Phone", "E-mail")
    assert "900123" not in repr(preview)
    assert not {"phone", "email"} & {field.name for field in fields(Booking)}


@pytest.mark.parametrize(
    ("written", "meant"),
    [("2026-07-10", (7, 10)), ("10/07/2026", (7, 10)), ("10.7.26", (7, 10)), ("10 July 2026", (7, 10)),
     ("10th Jul 2026", (7, 10)), ("10-07-2026", (7, 10))],
)  # fmt: skip
def test_dates_are_read_as_people_write_them_day_first(written, meant):
    (booking,) = _row(collect_date=written).bookings
    assert (booking.collect_at.month, booking.collect_at.day) == meant


def test_month_first_is_read_when_the_depot_says_so():
    data = _csv(["A", "W4-02", "07/10/2026", "07/17/2026", "2"])
    (booking,) = read_bookings(data, replace(RULES, day_first=False)).bookings
    assert (booking.collect_at.month, booking.collect_at.day) == (7, 10)
    assert [error.wrong for error in read_bookings(data, RULES).errors] == ["this is not a date"]


@pytest.mark.parametrize(
    ("written", "hour", "minute"),
    [("14:30", 14, 30), ("14.30", 14, 30), ("1430", 14, 30), ("2 pm", 14, 0), ("2:30 p.m.", 14, 30), ("12 am", 0, 0),
     ("12pm", 12, 0), ("9:05", 9, 5)],
)  # fmt: skip
def test_times_are_read_as_people_write_them(written, hour, minute):
    (booking,) = _row(collect_time=written).bookings
    assert (booking.collect_at.hour, booking.collect_at.minute) == (hour, minute)


@pytest.mark.parametrize("written", ["14", "25:00", "13 pm", "noonish", "2:75"])
def test_what_is_no_time_is_told(written):
    (error,) = _row(collect_time=written).errors
    assert (error.column, error.seen, error.wrong) == ("collect time", written, "this is not a time of day")


def test_date_and_time_may_stand_in_one_cell_with_or_without_offset():
    written = ["2026-07-10 15:20", "10/07/2026 15:20", "10 July 2026 3:20 pm", "2026-07-10T14:20:00+00:00"]
    for text in written:
        (booking,) = _row(collect_date=text).bookings
        assert booking.collect_at == dt.datetime(2026, 7, 10, 15, 20, tzinfo=SUMMER), text


# Clock changes of the United Kingdom in 2026: forward on 29 March at 01:00, back on 25 October at 02:00
# (Summer Time Order 2002: last Sundays of March and October, 01:00 UTC).
def test_a_time_in_the_spring_gap_does_not_exist():
    (error,) = _row(collect_date="29/03/2026", collect_time="01:30", return_date="2026-04-02").errors
    assert error.wrong.startswith("this time does not exist")
    assert (error.column, error.seen) == ("collect time", "2026-03-29 01:30")


def test_a_time_in_the_autumn_hour_comes_twice_and_the_offset_settles_it():
    preview = _row(collect_date="25/10/2026", collect_time="01:30", return_date="2026-11-02")
    (error,) = preview.errors
    assert error.wrong.startswith("this time comes twice")
    for choice, hour_utc in zip(error.todo.removeprefix("Write which one: ").split(" or "), (0, 1), strict=True):
        (booking,) = _row(collect_date=choice, return_date="2026-11-02").bookings
        assert booking.collect_at == dt.datetime(2026, 10, 25, hour_utc, 30, tzinfo=dt.UTC)


def test_the_hour_beside_a_clock_change_is_an_ordinary_one():
    for day, clock in (
        ("2026-03-29", "02:00"),
        ("2026-03-29", "00:59"),
        ("2026-10-25", "02:00"),
        ("2026-10-25", "00:59"),
    ):
        assert _row(collect_date=day, collect_time=clock, return_date="2026-11-02").errors == (), (day, clock)


@pytest.mark.parametrize(
    ("written", "ages"),
    [("4, 7", (4, 7)), ("4 and 7", (4, 7)), ("8 months, 3 years", (0.67, 3)), ("", ()), ("none", ()), ("0", ()),
     ("12/9/1.5", (12, 9, 1.5)), ("3y", (3,))],
)  # fmt: skip
def test_ages_of_children_are_read_as_people_write_them(written, ages):
    (booking,) = _row(children_ages=written).bookings
    assert booking.children_ages == ages


def test_two_ages_that_a_workbook_made_one_number_are_not_believed():
    # Where a comma is the decimal sign, a workbook turns 4,7 into the number 4.7.
    head = [*HEAD, "children ages"]
    data = _workbook([head, ["A", "W4-02", "2026-07-10", "2026-07-17", 2, 4.7]])
    (error,) = read_bookings(data, RULES).errors
    assert (error.column, error.seen) == ("children ages", "4.7")
    assert "two ages" in error.wrong


def test_every_slip_of_a_row_is_told_at_once():
    head = [*HEAD, "children ages", "options", "collect time"]
    data = _csv(["", "V2-5", "31/02/2026", "2026-07-17", "none", "19", "beding", "26:00"], head=head)
    errors = read_bookings(data, RULES).errors
    told = "lead, vehicle, collect date, collect time, adults, children ages, options"
    assert [error.column for error in errors] == told.split(", ")
    said = [str(error) for error in errors]
    assert said[1] == "Row 2, vehicle: no vehicle has this name (saw V2-5). Did you mean V2-05?"
    assert said[6] == "Row 2, options: the tariff has no such option (saw beding). Did you mean bedding?"


def test_a_return_before_the_collection_is_told():
    (error,) = _row(return_date="2026-07-09").errors
    assert "must come after" in error.wrong


def test_a_missing_time_is_an_error_when_the_depot_has_no_usual_one():
    data = _csv(["A", "W4-02", "2026-07-10", "2026-07-17", "2"])
    errors = read_bookings(data, replace(RULES, usual_collect=None, usual_return=None)).errors
    assert [(error.column, error.wrong) for error in errors] == [
        ("collect time", "there is no time of day"),
        ("return time", "there is no time of day"),
    ]


def test_a_class_may_stand_in_place_of_a_vehicle_by_id_or_name():
    head = ["lead", "class", "from", "to", "adults"]
    data = _csv(
        ["A", "w4", "2026-07-10", "2026-07-17", "2"], ["B", "Nettlecan", "2026-07-10", "2026-07-17", "1"], head=head
    )
    assert [(b.vehicle, b.sheet) for b in read_bookings(data, RULES).bookings] == [(None, "W4"), (None, "V2")]


def test_a_vehicle_of_another_class_than_the_one_named_is_told():
    (error,) = _row(sheet="V2").errors
    assert (error.column, error.wrong) == ("sheet", "W4-02 is built by sheet W4")


def test_two_rows_may_not_share_a_vehicle_but_may_follow_each_other():
    rows = [
        ["A", "W4-02", "2026-07-10", "2026-07-17", "2"],
        ["B", "W4-02", "2026-07-16", "2026-07-20", "2"],
        ["C", "W4-02", "2026-07-17", "2026-07-24", "2"],
        ["D", "W4-06", "2026-07-16", "2026-07-20", "2"],
    ]
    preview = read_bookings(_csv(*rows), RULES)
    assert [booking.lead for booking in preview.bookings] == ["A", "C", "D"]
    assert [(error.row, error.wrong) for error in preview.errors] == [(3, "the vehicle is on row 2 in these days")]


def test_a_row_may_not_take_a_vehicle_that_the_book_holds():
    (booking,) = _row().bookings
    held = as_hire(booking, "H77", "Europe/London")
    preview = read_bookings(_csv(["B", "W4-02", "2026-07-12", "2026-07-20", "2"]), replace(RULES, hires=[held]))
    assert preview.errors[0].wrong == "the vehicle is on hire H77 in these days"
    cancelled = held.model_copy(update={"status": "cancelled"})
    data = _csv(["B", "W4-02", "2026-07-12", "2026-07-20", "2"])
    assert read_bookings(data, replace(RULES, hires=[cancelled])).errors == ()


def test_the_same_row_twice_is_told():
    head = ["lead", "sheet", "collect date", "return date", "adults"]
    row = ["A", "W4", "2026-07-10", "2026-07-17", "2"]
    errors = read_bookings(_csv(row, row, head=head), RULES).errors
    assert [(error.row, error.wrong) for error in errors] == [(3, "a row above says the same")]


def test_a_workbook_with_real_dates_and_numbers_is_read_from_the_sheet_that_has_the_bookings():
    head = [*HEAD, "collect time", "children ages", "options"]
    row = [
        "=1+1 Tarn",
        "W4-02",
        dt.date(2026, 7, 10),
        dt.date(2026, 7, 17),
        2,
        dt.time(15, 20),
        7,
        "Bedding; bike rack",
    ]
    data = _workbook([["Summer"], head, row], sheets=("Notes", "Bookings"))
    (booking,) = read_bookings(data, RULES).bookings
    assert booking == Booking(
        "=1+1 Tarn", "W4-02", "W4", dt.datetime(2026, 7, 10, 15, 20, tzinfo=SUMMER),
        dt.datetime(2026, 7, 17, 10, 0, tzinfo=SUMMER), 2, (7,), ("bedding", "bike_rack"),
    )  # fmt: skip


def test_a_booking_becomes_a_hire_with_ages_still_to_be_told():
    (booking,) = _row(children_ages="4, 7", options="child seat", note="dog?").bookings
    hire = as_hire(booking, "H99", "Europe/London")
    assert isinstance(hire, Hire)
    assert [person.age_years for person in hire.party][2:] == [4, 7]
    assert all(person.mass_kg is None for person in hire.party)
    assert (hire.vehicle, hire.options, hire.note, hire.status) == ("W4-02", ("child_seat",), "dog?", "booked")


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"", "The file is empty"),
        (b" \n ", "The file is empty"),
        (b"\x00\x01\x02\x03\x81", "The file cannot be read as text"),
        (b"milk,bread\n1,2\n", "No row of the file has column names that we know"),
        (b"lead,vehicle,collect date,adults\n", "The file lacks columns that a booking needs"),
        (b"lead,hirer,vehicle,collect date,return date,adults\n", "Two columns look like lead"),
        (b"lead,collect date,return date,adults\n", "The file lacks columns that a booking needs"),
        (b"PK\x03\x04 broken", "The file cannot be read as a workbook"),
        (b"\xd0\xcf\x11\xe0 broken", "The file cannot be read as a workbook"),
        (b"a" * 5_000_001, "The file is too large"),
    ],
)
def test_a_file_that_cannot_be_used_says_why_and_what_to_do(data, wrong):
    with pytest.raises(BadInput) as refused:
        read_bookings(data, RULES)
    assert refused.value.wrong == wrong
    assert refused.value.todo


def test_a_workbook_that_unpacks_beyond_reason_is_refused(monkeypatch):
    monkeypatch.setattr(booking_table, "MOST_UNPACKED_BYTES", 1000)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", b"0" * 5000)
    with pytest.raises(BadInput, match="workbook is too large"):
        read_bookings(out.getvalue(), RULES)


def test_an_unknown_zone_is_refused():
    with pytest.raises(BadInput, match="Europe/Londn"):
        read_bookings(_csv(["A", "W4-02", "2026-07-10", "2026-07-17", "2"]), replace(RULES, zone="Europe/Londn"))
