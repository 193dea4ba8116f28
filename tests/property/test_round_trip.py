"""Import, export, import: equal records, and the second export is the same text. Law of the text form."""

from __future__ import annotations

import datetime as dt
import tomllib
from decimal import Decimal
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.depot.toml_text import toml_text
from keyhook.depot.writing import hire_text, sheet_text, write_depot
from keyhook.errors import BrokenFolder
from keyhook.hire.hire import Hire
from keyhook.hire.news import HireFile, ReturnNews
from keyhook.records_toml import read_record
from keyhook.vehicle.build_sheet import BuildSheet

DEMO = read_folder(Path(__file__).resolve().parents[2] / "demo")
YARD = read_depot(DEMO, load_catalogue())
CALM = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])

names = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_\-]{0,12}", fullmatch=True)
#: Any text that survives the trimming of ends, quotes, backslashes and odd letters among it.
texts = st.text(min_size=1, max_size=40).map(str.strip).filter(bool)
notes = st.text(max_size=60).map(str.strip)
metres = st.floats(-2, 9, allow_nan=False)
lengths = st.floats(0.01, 9, allow_nan=False)
masses = st.one_of(st.integers(1, 5000), st.floats(0.001, 5000))
days = st.dates(dt.date(2000, 1, 1), dt.date(2099, 12, 31))
OFFSETS = [dt.UTC, dt.timezone(dt.timedelta(hours=1))]
moments = st.datetimes(
    dt.datetime.fromisoformat("2020-01-01"),
    dt.datetime.fromisoformat("2040-01-01"),
    timezones=st.sampled_from(OFFSETS),
)


def records(required, optional=None):
    return st.fixed_dictionaries(required, optional=optional or {})


def lists(entries, least=0):
    return st.lists(entries, min_size=least, max_size=3)


limits = st.fixed_dictionaries(dict.fromkeys(("mam_kg", "front_kg", "rear_kg", "train_kg"), masses))
dimensions = st.fixed_dictionaries(
    dict.fromkeys(("length_m", "width_m", "width_mirrors_m", "height_m", "front_overhang_m"), lengths)
)
aboard = records({"what": texts, "mass_kg": masses, "x_m": metres})
tickets = records(
    {"id": names, "taken_on": days, "front_kg": masses, "rear_kg": masses},
    {
        "fuel_share": st.floats(0, 1), "fresh_l": masses, "standard_kit": st.booleans(), "aboard": lists(aboard),
        "note": notes, "division_kg": masses,
    },
)  # fmt: skip
seats = records(
    {"id": names, "x_m": metres, "y_m": metres, "belt": st.sampled_from(["three_point", "lap", "none"])},
    {"driver": st.booleans(), "facing": st.sampled_from(["forward", "rearward", "sideways"])},
)
berths = records(
    {"id": names, "name": texts, "sleeps": st.integers(1, 4), "length_m": lengths, "width_m": lengths,
     "limit_kg": masses, "x_m": metres},
    {"y_m": metres, "turned": st.booleans(), "level": st.sampled_from(["floor", "high", "bunk", "made_up"])},
)  # fmt: skip
tanks = records(
    {"holds": st.sampled_from(["fresh", "grey", "diesel"]), "capacity_l": masses, "x_m": metres},
    {"travel_l": st.one_of(st.none(), masses), "y_m": metres},
)
rooms = st.builds(
    lambda name, label, x, y, length, width: {
        "id": name, "name": label, "x_from_m": x, "x_to_m": x + length, "y_from_m": y, "y_to_m": y + width,
    },
    names, texts, metres, metres, lengths, lengths,
)  # fmt: skip
fittings = records(
    {"fitting": names, "station": names, "find_it": st.integers(1, 199)},
    {"x_m": st.one_of(st.none(), metres), "where": notes},
)
sheets = records(
    {
        "id": names, "name": texts, "kind": texts, "drive": texts, "consumption_l_per_100km": lengths,
        "dimensions": dimensions, "limits": limits,
        "axles": st.lists(records({"x_m": metres, "limit_kg": masses, "tyre": names}), min_size=2, max_size=3),
        "tyres": lists(records({"id": names, "size": texts, "load_index": st.integers(60, 130),
                                "speed_symbol": st.sampled_from("LQRT")}, {"date_code": st.just("0126")})),
        "tickets": lists(tickets, least=1), "seats": lists(seats, least=1), "berths": lists(berths),
        "stores": lists(records({"id": names, "name": texts, "x_m": metres, "limit_kg": masses})),
        "tanks": lists(tanks),
        "energy": records({"battery_kind": st.sampled_from(["agm", "lithium"]), "battery_ah": masses,
                           "usable_share": st.floats(0.01, 1), "battery_x_m": metres}, {"solar_w": masses}),
        "rooms": lists(rooms),
        "doors": lists(records({"id": names, "name": texts, "joins": st.tuples(names, names), "x_m": metres,
                                "y_m": metres})),
        "stations": lists(records({"id": names, "name": texts, "side": st.sampled_from(["nearside", "inside", "roof"]),
                                   "x_m": metres, "y_m": metres}, {"room": st.one_of(st.none(), names)})),
        "fittings": lists(fittings),
    },
    {
        "gas": records({"kind": st.sampled_from(["refillable", "exchange"]), "cylinders": st.integers(1, 4),
                        "fill_kg": masses, "x_m": metres}),
        "drives_on": st.sampled_from(["left", "right"]),
        "rack": records({"limit_kg": masses, "x_m": metres, "adds_length_m": lengths, "bikes": st.integers(1, 6),
                         "mass_kg": masses}),
    },
).map(BuildSheet.model_validate)  # fmt: skip


@CALM
@given(sheets)
def test_a_sheet_comes_back_equal_and_is_written_the_same_again(sheet):
    text = sheet_text(sheet)
    back = read_record(text, "sheet.toml", BuildSheet)
    assert back == sheet
    assert sheet_text(back) == text


people = records(
    {"age_years": st.floats(0, 120)},
    {"name": notes, "mass_kg": st.floats(1, 300), "height_cm": st.floats(31, 230), "seat": names, "berth": names},
)
licences = records(
    {"person": st.integers(0, 9), "categories": st.lists(st.sampled_from(["B", "C1", "BE"]), max_size=3)},
    {"born_on": days, "car_test_on": days, "years_held": st.floats(0, 60), "medical_d4": st.booleans()},
)
legs = records({"nights": st.integers(0, 120)}, {"hookup_amps": st.integers(0, 63), "drive_km": masses, "where": notes})
trips = records(
    {},
    {
        "where": notes, "legs": lists(legs), "countries": st.lists(st.sampled_from(["GB", "FR", "PT"]), max_size=3),
        "night_c": st.tuples(st.floats(-30, 40), st.floats(-30, 40)),
        "crossing": st.fixed_dictionaries({"height_m": lengths, "length_m": lengths}), "late_arrival": notes,
    },
)  # fmt: skip


@st.composite
def hires(draw):
    start = draw(moments)
    return Hire.model_validate(
        draw(
            records(
                {
                    "id": names, "lead": texts, "status": st.sampled_from(["enquiry", "booked", "out"]),
                    "collect_at": st.just(start),
                    "return_at": st.integers(1, 40000).map(lambda minutes: start + dt.timedelta(minutes=minutes)),
                    "zone": st.sampled_from(["Europe/London", "UTC", "Asia/Kathmandu"]),
                    "party": lists(people, least=1),
                },
                {
                    "vehicle": names, "drivers": lists(licences),
                    "tags": st.lists(st.sampled_from(["frost", "ski"]), max_size=2),
                    "options": st.lists(names, max_size=3), "note": notes, "trip": trips, "fresh_l": masses,
                    "bikes": lists(records({"mass_kg": masses}, {"electric": st.booleans(), "battery_kg": masses})),
                    "pets": lists(records({"what": texts, "mass_kg": masses})),
                    "trailer": records({"mass_kg": masses, "ball_kg": masses, "mam_kg": masses}),
                },
            )
        )
    )  # fmt: skip


@CALM
@given(hires(), moments, st.lists(texts, max_size=3))
def test_a_hire_with_its_news_comes_back_equal_and_is_written_the_same_again(hire, at, said):
    news = ReturnNews(
        at=at, driven_km=12.5, fuel_eighths=7, cassette="-", grey='half "full"', inside="\\", said=tuple(said)
    )
    text = hire_text(hire, news)
    back = read_record(text, "hire.toml", HireFile)
    assert back == HireFile(hire=hire, back=news)
    assert hire_text(back.hire, back.back, back.calls) == text


@CALM
@given(
    st.recursive(
        st.one_of(
            st.booleans(), st.integers(-(2**60), 2**60), st.floats(allow_nan=False, allow_infinity=False),
            st.text(), days, st.times(), moments,
        ),
        lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(min_size=0), inner, max_size=3)),
        max_leaves=12,
    )
)  # fmt: skip
def test_any_plain_table_is_read_back_by_the_standard_library_as_it_was(value):
    table = {"value": value}
    assert tomllib.loads(toml_text(table, "a heading\nin two lines")) == table


@CALM
@given(st.decimals(min_value=0, max_value=9_999_999, places=2), st.integers(0, 9_999_999))
def test_an_amount_is_never_read_back_as_a_float(price, whole):
    read = tomllib.loads(toml_text({"price": price, "whole": Decimal(whole)}))
    assert read == {"price": str(price), "whole": whole}


def test_the_whole_demo_comes_back_equal_and_is_written_the_same_again():
    first = write_depot(YARD)
    again = read_depot(first, load_catalogue())
    assert again == YARD
    assert dict(write_depot(again)) == dict(first)


@CALM
@given(st.sampled_from(sorted(YARD.hires)), notes, texts, st.floats(1, 300))
def test_a_changed_hire_of_the_demo_survives_the_journey(name, note, lead, mass_kg):
    hire = YARD.hire(name)
    party = (hire.party[0].model_copy(update={"mass_kg": mass_kg}), *hire.party[1:])
    changed = hire.model_copy(update={"note": note, "lead": lead, "party": party})
    text = hire_text(changed, YARD.returns.get(name), YARD.calls.get(name, ()))
    assert read_depot({**DEMO, f"hires/{name}.toml": text}, load_catalogue()).hire(name) == changed


@CALM
@given(
    st.sampled_from(sorted(DEMO)), st.randoms(use_true_random=False), st.sampled_from(["drop", "twice", "cut", "swap"])
)
def test_a_damaged_file_is_either_read_or_told_and_never_a_crash(file, chance, damage):
    lines = DEMO[file].splitlines()
    where = chance.randrange(len(lines))
    line = lines[where]
    spoilt = {
        "drop": [],
        "twice": [line, line],
        "cut": [line[: chance.randrange(len(line) + 1)]],
        "swap": ["".join(chance.sample(line, len(line)))],
    }
    text = "\n".join([*lines[:where], *spoilt[damage], *lines[where + 1 :]])
    told = _problems({**DEMO, file: text})
    assert all(problem.wrong and problem.todo and problem.file in DEMO for problem in told)


def _problems(files):
    try:
        read_depot(files, load_catalogue())
    except BrokenFolder as broken:
        return broken.problems
    return []
