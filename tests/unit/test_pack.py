"""The content of a pack: of this vehicle alone, one language a card, kind about money; messages and calendar."""

from __future__ import annotations

import datetime as dt
import json
import random
import re
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.texts import all_texts, read_book, texts_of
from keyhook.cli.commands import calculators
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.dossier import hire_loading, hire_pack, trip_load
from keyhook.money import Money
from keyhook.pack import pack_calendar, timed_messages
from keyhook.pack.content import PackAsked, compose_pack
from keyhook.pack.messages import MESSAGE_HOLDS, SLOTS, Sender, message_times, moment_words
from keyhook.pack.spoken import folded
from keyhook.phrases import LANGUAGES, phrase_book, say
from keyhook.tour.answer import tour_answer
from keyhook.tour.compose import TourWishes
from keyhook.tour.select import Search

ROOT = Path(__file__).resolve().parents[2]
CATALOGUE = load_catalogue()
FOLDER = read_depot(read_folder(ROOT / "demo"), CATALOGUE)
ENGLISH = all_texts(CATALOGUE)
SENDER = Sender("Thistlequay Hire Yard", "+44 1632 960207", "W4-06", "https://desk.example/pack/x/", "Hector")
STAMP = dt.datetime(2026, 7, 1, 9, 30, tzinfo=dt.UTC)


def _hire(name="H12", **changes):
    return FOLDER.hire(name).model_copy(update=changes)


def _pack(name="H12", **how):
    hire = FOLDER.hire(name)
    return hire_pack(FOLDER.sheet_of(hire), hire, CATALOGUE, FOLDER.tariff, **how)


def _with_book(*pages, checked=False):
    hire = FOLDER.hire("H12")
    book = read_book("de", {f"{n}.toml": page for n, page in enumerate(pages)})
    asked = PackAsked(hire.tags, hire.options, (), "de", checked, book)
    return compose_pack(FOLDER.sheet_of(hire), CATALOGUE, FOLDER.tariff, asked)


def _page(keys, of=None):
    return "\n".join(f'["{key}"]\nof = {_quoted(of or ENGLISH[key])}\ntext = "Vesk {n}."' for n, key in enumerate(keys))


def _quoted(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


# --- of this vehicle alone


@pytest.mark.parametrize("name", [name for name, hire in FOLDER.hires.items() if FOLDER.sheet_of(hire)])
def test_a_pack_speaks_of_the_fittings_of_its_vehicle_and_of_no_other(name):
    sheet = FOLDER.sheet_of(FOLDER.hire(name))
    pack = _pack(name)
    fitted = {one.fitting for one in sheet.fittings}
    own_points = {point.id for one in fitted for point in CATALOGUE.fittings[one].teach}
    own_symptoms = {symptom.id for one in fitted for symptom in CATALOGUE.fittings[one].symptoms}
    assert {card.fitting for card in pack.cards} == fitted
    assert set(pack.points) <= own_points
    said = {trouble.id for trouble in pack.troubles} | {one.id for one in pack.emergencies} - {"ill", "crash"}
    assert said == own_symptoms


def test_a_point_of_a_tag_that_does_not_hold_is_not_on_the_card():
    tagged = {point.id for f in CATALOGUE.fittings.values() for point in f.teach if set(point.when) == {"ferry"}}
    assert tagged
    assert "ferry" not in FOLDER.hire("H12").tags
    assert not tagged & set(_pack("H12").points)


def test_emergencies_stand_first_in_fixed_words_and_ask_nothing():
    first, *others = _pack().emergencies
    assert first.first == CATALOGUE.symptoms["fg_fire"].first
    for one in (first, *others):
        assert one.first
        assert one.stop
        assert "?" not in one.first
    assert [one.id for one in others[-2:]] == ["ill", "crash"]


def test_what_is_for_the_desk_alone_is_not_told_to_hirers():
    for name, vehicle in FOLDER.vehicles.items():
        asked = PackAsked(quirks=vehicle.quirks)
        pack = compose_pack(FOLDER.built(name), CATALOGUE, FOLDER.tariff, asked)
        assert [text for _, _, text in pack.quirks] == [one.text for one in vehicle.quirks if one.tell_hirer]


# --- one language a card


def test_a_card_is_in_the_language_only_when_every_text_of_it_is():
    whole = [key for key in texts_of(CATALOGUE.fittings["grey_tank"]) if "checks" not in key]
    pack = _with_book(_page(whole), _page(["step.name"]))
    spoken = {card.fitting: card.language for card in pack.cards}
    assert spoken["grey_tank"] == "de"
    assert spoken["step"] == "en"
    step = next(card for card in pack.cards if card.fitting == "step")
    assert step.name == CATALOGUE.fittings["step"].name
    assert pack.unchecked
    assert pack.fell_back


def test_a_card_made_from_older_english_falls_back_as_a_whole():
    whole = [key for key in texts_of(CATALOGUE.fittings["grey_tank"]) if "checks" not in key]
    pack = _with_book(_page(whole[1:]), _page(whole[:1], of="Words of last year"))
    card = next(card for card in pack.cards if card.fitting == "grey_tank")
    assert card.language == "en"
    assert {point.text for point in card.points} <= set(ENGLISH.values())


def test_a_language_the_depot_has_had_read_carries_no_warning():
    whole = [key for key in texts_of(CATALOGUE.fittings["grey_tank"]) if "checks" not in key]
    assert _with_book(_page(whole)).unchecked
    assert not _with_book(_page(whole), checked=True).unchecked


def test_english_is_the_original_and_is_never_marked():
    pack = _pack()
    assert (pack.language, pack.unchecked, pack.fell_back) == ("en", False, False)


@pytest.mark.parametrize("language", [language for language in LANGUAGES if language != "en"])
def test_words_of_the_pack_keep_their_gaps_and_have_no_strange_keys(language):
    english = {key: text for key, text in phrase_book().items() if key.startswith("pack.")}
    for key, text in phrase_book(language).items():
        if key.startswith("pack."):
            assert key in english, key
            assert set(re.findall(r"{(\w+)}", text)) == set(re.findall(r"{(\w+)}", english[key])), key


def test_every_word_of_the_pack_is_used_somewhere():
    source = "\n".join(
        path.read_text(encoding="utf-8")
        for folder in ("src/keyhook/pack", "src/keyhook_desk/pack")
        for path in (ROOT / folder).rglob("*")
        if path.suffix in {".py", ".html", ".js"}
    )
    made = re.compile(
        r"pack\.(date\.month_|dead\.|landing\.|leave\.(do_|costs_)|message\.|trip\.|who\.|emergency\.(ill|crash)_|calendar\.)"
    )
    unused = [key for key in phrase_book() if key.startswith("pack.") and key not in source and not made.match(key)]
    assert unused == []


def test_every_one_who_is_told_has_a_word():
    who = {point.who.replace(" ", "_") for point in CATALOGUE.teach_points.values()}
    assert {key.removeprefix("pack.who.") for key in phrase_book() if key.startswith("pack.who.")} == who


# --- before they return


def test_prices_are_those_of_the_depot_and_only_what_this_vehicle_can_bring():
    leaving = _pack().leaving
    prices = {price.charge: price for price in FOLDER.tariff.charges}
    fitted = {one.fitting for one in FOLDER.sheet_of(FOLDER.hire("H12")).fittings}
    owners = {
        charge: {f.id for f in CATALOGUE.fittings.values() if charge in f.charges} for charge in CATALOGUE.charges
    }
    assert leaving.costs
    for cost in leaving.costs:
        assert not owners[cost.charge] or owners[cost.charge] & fitted
        if cost.charge in prices:
            assert cost.low == Money.of(prices[cost.charge].low, "GBP")
    toilet = next(cost for cost in leaving.costs if cost.charge == "toilet_unemptied")
    assert (toilet.of_the_return, str(toilet.low), str(toilet.high)) == (True, "GBP 75.00", "GBP 120.00")


def test_a_vehicle_without_a_toilet_tank_is_not_asked_to_empty_one():
    sheet = FOLDER.sheet_of(FOLDER.hire("H12"))
    bare = sheet.model_copy(update={"tanks": tuple(t for t in sheet.tanks if t.holds != "cassette"), "gas": None})
    checklist = compose_pack(bare, CATALOGUE, FOLDER.tariff, PackAsked()).leaving.checklist
    assert "do_cassette" not in checklist
    assert "do_gas" not in checklist
    assert "do_water" in checklist


# --- the trip


def test_the_trip_says_what_the_loading_says():
    found = hire_loading(FOLDER, "H12", CATALOGUE)
    trip = trip_load(found.sheet, found.hire, found.answer)
    assert trip.verdict == found.answer.overall == "over"
    assert trip.spare_kg == pytest.approx(found.answer.worst.least_margin_kg)
    assert trip.length_m == pytest.approx(7.45 + 0.85)  # demo/sheets/W4.toml: body and rack
    assert {one.name: one.told_kg for one in trip.lockers}["Garage"] == 85  # demo/hires/H12.toml


# --- messages


def test_the_messages_come_when_they_are_needed():
    times = message_times(_hire())
    zone = ZoneInfo("Europe/London")
    assert times["before_collection"] == dt.datetime(2026, 7, 7, 18, 0, tzinfo=zone)
    assert times["first_stop"] == dt.datetime(2026, 7, 10, 16, 10, tzinfo=zone)
    assert times["first_night"] == dt.datetime(2026, 7, 10, 19, 0, tzinfo=zone)
    assert times["before_return"] == dt.datetime(2026, 7, 16, 18, 0, tzinfo=zone)


@pytest.mark.parametrize(
    ("collect", "back", "night", "eve"),
    [
        # Clocks in London go forward on 29 March 2026 and back on 25 October 2026 at 01:00 UTC (EU and UK rule).
        ("2026-03-28T15:00+00:00", "2026-03-30T10:00+01:00", "2026-03-28T19:00+00:00", "2026-03-29T18:00+01:00"),
        ("2026-10-24T15:00+01:00", "2026-10-26T10:00+00:00", "2026-10-24T19:00+01:00", "2026-10-25T18:00+00:00"),
        # A late collection: two hours to settle, not an hour that is gone.
        ("2026-07-10T18:30+01:00", "2026-07-12T10:00+01:00", "2026-07-10T20:30+01:00", "2026-07-11T18:00+01:00"),
    ],
)
def test_message_times_hold_over_a_clock_change_and_a_late_collection(collect, back, night, eve):
    moments = [dt.datetime.fromisoformat(text) for text in (collect, back, night, eve)]
    times = message_times(_hire(collect_at=moments[0], return_at=moments[1]))
    assert (times["first_night"], times["before_return"]) == (moments[2], moments[3])


def test_no_message_comes_after_the_return():
    start = dt.datetime(2026, 7, 10, 14, tzinfo=dt.UTC)
    times = message_times(_hire(collect_at=start, return_at=start + dt.timedelta(hours=1)))
    assert times.pop("before_collection") < start
    assert all(start <= at <= start + dt.timedelta(hours=1) for at in times.values())


def test_a_message_carries_the_pack_the_first_name_and_no_more_points_than_people_read():
    for one in timed_messages(_pack(), _hire(), SENDER):
        assert SENDER.address in one.text
        assert one.text.startswith("Hello Hector,")
        assert "Grobblestock" not in one.text
        assert len(one.points) <= MESSAGE_HOLDS
        assert one.text.rstrip().endswith("+44 1632 960207")


def test_what_was_confirmed_is_not_sent_again_and_what_fell_off_the_tour_is():
    pack, hire = _pack(), _hire()
    before = {one.slot: one.points for one in timed_messages(pack, hire, SENDER)}
    gone = before["first_stop"][0]
    after = {one.slot: one.points for one in timed_messages(pack, hire, SENDER, confirmed={gone})}
    assert gone in before["first_stop"]
    assert all(gone not in points for points in after.values())
    fallen = {one.slot: one.points for one in timed_messages(pack, hire, SENDER, fallen={"hd_exit": "first_night"})}
    assert "hd_exit" in fallen["first_night"]


def test_what_is_better_told_before_they_come_goes_into_the_message_before_they_come():
    """H13 brings bikes and goes abroad: what to tell and to settle is asked days before, unless it was confirmed."""
    pack, hire = _pack("H13"), _hire("H13")
    pre = {point.id for point in CATALOGUE.teach_points.values() if point.moment == "pre"} & set(pack.points)
    assert "br_kilo" in pre
    first = timed_messages(pack, hire, SENDER)[0]
    assert {*first.points, *first.named} == pre
    assert first.points[0] == "br_kilo"  # what must be known first
    assert (len(first.points), len(first.named)) == (MESSAGE_HOLDS, 1)
    (card,) = [card for card in pack.cards for point in card.points if point.id in first.named]
    assert f"have a look in your pack at No. {card.find_it}, {card.name}." in first.text
    assert "10 July 2026" in first.text
    assert "br_kilo" not in timed_messages(pack, hire, SENDER, confirmed={"br_kilo"})[0].points


def _generated(count=12):
    """Yield parties that nobody has thought of: tags, options and vehicles as chance has them."""
    chance = random.Random(4)
    tags = sorted({tag for hire in FOLDER.hires.values() for tag in hire.tags})
    options = sorted({option for hire in FOLDER.hires.values() for option in hire.options})
    for _ in range(count):
        hire = _hire(chance.choice(sorted(FOLDER.hires)))
        sheet = FOLDER.sheets[chance.choice(sorted(FOLDER.sheets))]
        some = {"tags": tuple(chance.sample(tags, 5)), "options": tuple(chance.sample(options, 3))}
        yield sheet, hire.model_copy(update=some), chance.choice((0.0, 15.0, 40.0, 200.0))


def _demo():
    for number, hire in enumerate(FOLDER.hires.values()):
        if sheet := FOLDER.sheet_of(hire):
            yield sheet, hire, (None, 20.0, 45.0)[number % 3]


@pytest.mark.parametrize(("sheet", "hire", "minutes"), [*_demo(), *_generated()])
def test_whatever_the_tour_sends_to_a_message_stands_in_it_in_full_or_by_its_number(sheet, hire, minutes):
    answer = tour_answer(sheet, CATALOGUE, hire, TourWishes(available_min=minutes), search=Search(limit_s=0.01))
    sent = [entry for entry in answer.elsewhere if entry.slot != "card"]
    pack = hire_pack(sheet, hire, CATALOGUE, FOLDER.tariff)
    fallen = {entry.id: entry.slot for entry in sent if entry.why == "no_time"}
    found = {one.slot: one for one in timed_messages(pack, hire, SENDER, fallen=fallen)}
    assert sent
    for entry in sent:
        one, number = found[entry.slot], f"No. {entry.find_it}, {entry.title}"
        assert (f"{number}: {entry.text}" if entry.id in one.points else number) in one.text, entry.id
        assert entry.id in {*one.points, *one.named}
        assert entry.why == "moment" or entry.id in one.points
    for one in found.values():
        must = [name for name in (*one.points, *one.named) if pack.points[name].must]
        assert set(must) <= set(one.points)
        assert len(one.points) <= max(MESSAGE_HOLDS, len(must))


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_what_a_message_only_names_it_names_in_every_language(language):
    first = timed_messages(_pack("H13", language=language), _hire("H13"), SENDER)[0]
    pack = _pack("H13", language=language)
    (card,) = [card for card in pack.cards for point in card.points if point.id in first.named]
    line = next(line for line in first.text.splitlines() if line.endswith(f" {card.find_it}, {card.name}."))
    assert line.startswith("- ")


def test_the_last_message_asks_for_what_this_vehicle_has():
    sheet = FOLDER.sheet_of(FOLDER.hire("H12"))
    asked = PackAsked(FOLDER.hire("H12").tags)
    whole = timed_messages(compose_pack(sheet, CATALOGUE, FOLDER.tariff, asked), _hire(), SENDER)[-1].text
    assert "Diesel full" in whole
    assert "cassette empty" in whole
    tanks = tuple(tank for tank in sheet.tanks if tank.holds != "cassette")
    other = sheet.model_copy(update={"powered_by": "petrol", "gas": None, "tanks": tanks})
    told = timed_messages(compose_pack(other, CATALOGUE, FOLDER.tariff, asked), _hire(), SENDER)[-1].text
    line = next(line for line in told.splitlines() if "full" in line)
    assert "Petrol full" in line
    assert not re.search("Diesel|cassette|Gas", line)


def test_a_depot_without_a_telephone_leaves_no_gap():
    silent = Sender("Thistlequay Hire Yard", "", "W4-06", SENDER.address)
    for one in timed_messages(_pack(), _hire(), silent):
        assert one.text.startswith("Hello,")
        assert ", \n" not in one.text + "\n"


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_a_moment_is_said_in_each_language(language):
    said = moment_words(dt.datetime(2026, 7, 10, 14, 40, tzinfo=dt.UTC), language)
    assert "10" in said
    assert "2026" in said
    assert "14:40" in said or "14.40" in said or "14h40" in said


# --- the calendar file: RFC 5545


def _calendar(language="en"):
    pack, hire = _pack(language=language), _hire()
    messages = timed_messages(pack, hire, SENDER)
    return pack_calendar(hire, messages, SENDER, stamp=STAMP, language=language).decode()


def _unfolded(text):
    return text.replace("\r\n ", "").split("\r\n")


def test_lines_end_and_fold_as_the_standard_asks():
    text = _calendar("de")
    assert "\n" not in text.replace("\r\n", "")  # RFC 5545, 3.1: lines end with CRLF
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75  # 3.1: at most 75 octets a line
    assert text.endswith("END:VCALENDAR\r\n")


def test_every_entry_has_what_the_standard_requires_and_a_reminder():
    lines = _unfolded(_calendar())
    assert {"VERSION:2.0", "BEGIN:VTIMEZONE", "TZID:Europe/London"} <= set(lines)
    starts = [n for n, line in enumerate(lines) if line == "BEGIN:VEVENT"]
    ends = [n for n, line in enumerate(lines) if line == "END:VEVENT"]
    assert len(starts) == 6  # collection, four messages, return
    uids = set()
    for start, end in zip(starts, ends, strict=True):
        event = lines[start:end]
        names = [re.split("[:;]", line)[0] for line in event]
        for required in ("UID", "DTSTAMP", "DTSTART"):  # RFC 5545, 3.6.1
            assert names.count(required) == 1
        alarm = event[event.index("BEGIN:VALARM") :]
        assert {"ACTION", "TRIGGER", "DESCRIPTION"} <= {re.split("[:;]", line)[0] for line in alarm}  # 3.6.6
        assert "DTSTAMP:20260701T093000Z" in event  # 3.8.7.2: in UTC
        uids.add(next(line for line in event if line.startswith("UID:")))
    assert len(uids) == 6


def test_times_stand_in_the_zone_of_the_depot():
    lines = _unfolded(_calendar())
    starts = [line for line in lines if line.startswith("DTSTART;TZID=Europe/London:2026")]
    assert [line[-15:] for line in starts] == [
        "20260707T180000",
        "20260710T144000",
        "20260710T161000",
        "20260710T190000",
        "20260716T180000",
        "20260717T100000",
    ]


def test_commas_and_line_breaks_are_escaped_in_text():
    lines = _unfolded(_calendar())
    told = next(line for line in lines if line.startswith("DESCRIPTION:Hello Hector\\, we hope"))
    assert "Hello Hector\\, we hope" in told  # RFC 5545, 3.3.11
    assert "\\n- No. " in told
    assert SENDER.address in told


# --- search


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("Türverriegelung", "turverriegelung"), ("  Straße,  GROSS ", "strasse gross"), ("chauffe-eau", "chauffe eau")],
)
def test_search_words_are_compared_without_accents_and_capitals(typed, kept):
    assert folded(typed) == kept


def test_a_card_is_found_by_what_a_hirer_says_has_stopped():
    card = next(card for card in _pack().cards if card.fitting == "cooker")
    assert folded("The hob will not stay lit") in card.search


def test_the_words_of_a_phrase_that_a_language_lacks_are_english():
    assert say("pack.nav.emergency", language="xx") == "Emergency"


# --- the command


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_the_command_prints_emergencies_first_in_every_language(language):
    printed = CliRunner().invoke(calculators, ["pack", "H12", "--language", language])
    assert printed.exit_code == 0
    lines = [line for line in printed.output.splitlines() if line.strip()]
    assert say("pack.emergency.title", language=language) in lines[:2]
    assert sum(bool(re.match(r" {0,2}\d+  ", line)) for line in lines) >= 42


def test_the_command_prints_messages_and_says_what_is_wrong():
    sent = CliRunner().invoke(calculators, ["pack", "H12", "--messages", "--json"])
    assert [one["slot"] for one in json.loads(sent.output)] == list(SLOTS)
    wrong = CliRunner().invoke(calculators, ["pack", "H999"])
    assert wrong.exit_code == 2
    assert "H999" in wrong.output
