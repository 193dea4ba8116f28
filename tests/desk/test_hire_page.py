"""The hire: everything can be typed and tried without saving, slips are named, nothing unseen is lost."""

from __future__ import annotations

import re

import pytest

from keyhook.basis import Level
from keyhook.catalogue import load_catalogue
from keyhook.loading.answer import loading_answer
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.hire_form import form_of, read_form
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of, save_hire
from keyhook_desk.web.models import HistoryLine

SLIPS = [
    ({"p0_age": "old"}, "f-p0_age", "Person 1, age is not a number (saw old)"),
    ({"p0_age": "-4"}, "f-p0_age", "Age"),
    ({"p0_mass": "0"}, "f-p0_mass", "Mass"),
    ({"p0_mass": "nan"}, "f-p0_mass", "Mass"),
    ({"p0_age": ""}, "f-p0_age", "Person 1 is named without an age"),
    ({"lead": ""}, "f-lead", "Name on the contract"),
    ({"collect_at": "soon"}, "f-collect_at", "Collection"),
    ({"collect_at": "2026-03-29T01:30"}, "f-collect_at", "the clocks change at that time"),
    ({"return_at": "2020-01-01T10:00"}, "return_at", "the return must come after the collection"),
    ({"countries": "GB, Narnia"}, "f-countries", "Countries"),
    ({"fresh_l": "-1"}, "f-fresh_l", "Fresh water"),
    ({"crossing_height": "3.1", "crossing_length": ""}, "f-crossing_length", "height and length"),
    ({"d0_person": "11"}, "f-d0_person", "Driver 1 is an empty row"),
    ({"d0_born": "last century"}, "d0_born", "Driver 1, date of birth is not a date (saw last century)"),
]


@pytest.mark.parametrize(("wrong", "field", "sentence"), SLIPS, ids=[str(slip[0]) for slip in SLIPS])
def test_every_slip_is_named_beside_its_field_and_nothing_is_saved(desk, h25, typed, wrong, field, sentence):
    response = desk.post("/hires/H25/", typed(h25, save="yes", **wrong))
    text = response.content.decode()
    assert response.status_code == 200
    assert sentence in text
    for key, value in wrong.items():
        if value and not key.startswith(("d0_person", "collect_at")):
            assert f'value="{value}"' in text, "what was typed stays"
    h25.refresh_from_db()
    assert h25.version == 1


def test_a_form_sent_back_untouched_changes_nothing(depot, typed, rf):
    for row in HireRow.objects.select_related("vehicle__sheet"):
        hire = hire_of(row)
        data = rf.post("/", typed(row)).POST
        sheet = built_of(row.vehicle) if row.vehicle else None
        assert read_form(data, hire, row.name, sheet, hire.zone).hire == hire, row.name


def test_what_the_page_does_not_show_is_kept(desk, h25, typed):
    held = hire_of(h25)
    assert held.trip.legs
    desk.post("/hires/H25/", typed(h25, note="new words", save="yes"))
    h25.refresh_from_db()
    now = hire_of(h25)
    assert now.note == "new words"
    assert now.model_copy(update={"note": held.note}) == held


def test_the_page_shows_the_answer_of_the_library(desk, h25):
    answer = loading_answer(built_of(h25.vehicle), hire_of(h25), load_catalogue())
    text = desk.get("/hires/H25/").content.decode()
    assert answer.level is not Level.STOP
    assert f'class="verdict {answer.verdict}"' in text
    for axle in ("front", "rear", "total"):
        assert f"{answer.worst.load_kg(axle):.0f} of {answer.limits.of(axle):.0f} kg" in text


def test_what_fits_by_weight_and_is_stopped_otherwise_is_never_called_fitting(desk):
    # H14 may carry its party; its driver may not drive it (the demo's trap for licences over 3.5 t).
    row = HireRow.objects.select_related("vehicle__sheet").get(name="H14")
    answer = loading_answer(built_of(row.vehicle), hire_of(row), load_catalogue())
    assert (answer.verdict, answer.level) == ("fits", Level.STOP)
    text = desk.get("/hires/H14/").content.decode()
    assert 'class="verdict over"' in text
    assert "Not like this" in text
    assert "By weight it fits, but see below." in text


def test_trying_more_water_moves_the_verdict_without_saving(desk, h25, typed):
    def total(text):
        return int(re.search(r"Total[^<>]{0,20}? (\d{4}) of \d{4} kg", text)[1])

    few = desk.post("/hires/H25/", typed(h25, fresh_l="0", **{"try": "yes"})).content.decode()
    many = desk.post("/hires/H25/", typed(h25, fresh_l="60", **{"try": "yes"})).content.decode()
    # 60 l of water have 60 kg (common knowledge: 1 kg a litre); the tightest state may be another, so at most that.
    assert 0 < total(many) - total(few) <= 61


def test_with_htmx_only_the_panel_comes_back(desk, h25, typed):
    headers = {"HX-Request": "true", "HX-Trigger": "hire"}
    text = desk.post("/hires/H25/", typed(h25, fresh_l="30"), headers=headers).content.decode()
    assert text.lstrip().startswith("<aside")
    assert "<html" not in text


def test_another_vehicle_brings_its_own_seats_and_keeps_the_luggage(desk, h25, typed):
    other = "A4-01"
    headers = {"HX-Request": "true", "HX-Trigger": "f-vehicle"}
    text = desk.post("/hires/H25/", typed(h25, vehicle=other), headers=headers).content.decode()
    before = sum(load.mass_kg for load in hire_of(h25).loads)
    loads = re.findall(
        r'<input[^>]*value="([\d.]+)"[^>]*name="load_|<input[^>]*name="load_\w+"[^>]*value="([\d.]+)"', text
    )
    assert sum(float(a or b) for a, b in loads) == before


def test_a_driver_follows_their_row_when_another_row_is_emptied(depot, own, typed, rf):
    held = hire_of(HireRow.objects.get(name="H01"))
    second = held.drivers[0].model_copy(update={"person": 1, "years_held": 7})
    row = save_hire(actor=own, hire=held.model_copy(update={"drivers": (second,)}), seen_version=1)
    hire = hire_of(row)
    data = rf.post("/", typed(row, p0_name="", p0_age="", p0_mass="")).POST
    made = read_form(data, hire, "H01", None, hire.zone).hire
    assert made.party == hire.party[1:]
    assert [(driver.person, driver.years_held) for driver in made.drivers] == [(0, 7)]


def test_a_new_hire_gets_the_next_number(desk, h25, typed):
    fields = typed(h25, save="yes", vehicle="", collect_at="2027-05-01T14:00", return_at="2027-05-08T10:00")
    response = desk.post("/hires/new/", fields)
    assert response["Location"] == "/hires/H26/"
    row = HireRow.objects.get(name="H26")
    assert row.lead == h25.lead
    assert f"{row.collect_at:%Y-%m-%d %H:%M}" == "2027-05-01 13:00", "14:00 in British summer time"


def test_the_same_form_sent_twice_becomes_one_hire(desk, h25, typed):
    once = re.search(r'name="once" value="([^"]+)"', desk.get("/hires/new/").content.decode())[1]
    fields = typed(h25, save="yes", once=once, collect_at="2027-05-01T14:00", return_at="2027-05-08T10:00")
    first, second = (desk.post("/hires/new/", fields)["Location"] for _ in range(2))
    assert first == second == "/hires/H26/"
    assert HireRow.objects.count() == 26


def test_two_forms_are_two_hires(desk, h25, typed):
    for n in range(2):
        desk.post("/hires/new/", typed(h25, save="yes", vehicle="", once=f"form-{n}"))
    assert HireRow.objects.count() == 27


def test_what_the_page_asks_while_typing_never_saves(desk, h25, typed):
    headers = {"HX-Request": "true", "HX-Trigger": "hire"}
    desk.post("/hires/H25/", typed(h25, note="half typed", save="yes"), headers=headers)
    desk.post("/hires/new/", typed(h25, vehicle="", save="yes"), headers=headers)
    h25.refresh_from_db()
    assert (h25.version, HireRow.objects.count()) == (1, 25)


def test_a_new_hire_may_be_tried_before_it_is_written(desk, h25, typed):
    count = HireRow.objects.count()
    text = desk.post("/hires/new/", typed(h25, **{"try": "yes"})).content.decode()
    assert 'class="verdict' in text
    assert HireRow.objects.count() == count


def test_a_new_page_proposes_todays_afternoon(desk):
    text = desk.get("/hires/new/").content.decode()
    assert 'value="2026-07-10T14:00"' in text
    assert 'value="2026-07-17T10:00"' in text


@pytest.mark.parametrize(
    ("words", "found"),
    [("H25", {"H25"}), ("bunkworthy", set()), ("W4-02", {"H01"}), ("no such words", set())],
)
def test_search_finds_number_name_vehicle_and_place(desk, words, found):
    text = desk.get("/hires/", {"q": words}).content.decode()
    names = set(re.findall(r'href="/hires/(H\d+)/"', text))
    assert found <= names
    assert names or "Try fewer" in text


def test_search_by_status_shows_only_that(desk):
    text = desk.get("/hires/", {"show": "out"}).content.decode()
    names = set(re.findall(r'href="/hires/(H\d+)/"', text))
    assert names == set(HireRow.objects.filter(status="out").values_list("name", flat=True))


def test_a_mad_page_number_shows_the_last_page(desk):
    assert desk.get("/hires/", {"page": "9999"}).status_code == 200
    assert desk.get("/hires/", {"page": "x", "show": "dragon", "q": "%_\\"}).status_code == 200


def test_the_swap_table_knows_who_is_taken(desk):
    text = desk.get("/hires/H12/swap/").content.decode()
    named = re.findall(r'class="tag[^"]*"[^>]*>([^<]+)<', text)
    assert sorted(named) == sorted(VehicleRow.objects.values_list("name", flat=True))
    row = HireRow.objects.get(name="H12")
    then = HireRow.objects.filter(collect_at__lt=row.return_at, return_at__gt=row.collect_at, status="booked")
    for other in then.exclude(name="H12").exclude(vehicle=None):
        assert f"with {other.name}<" in text
    assert then.count() > 3


def test_trying_another_vehicle_shows_it_and_saves_nothing(desk):
    text = desk.get("/hires/H12/", {"vehicle": "V2-05"}).content.decode()
    assert '<option value="V2-05" selected>' in text
    assert hire_of(HireRow.objects.get(name="H12")).vehicle == "W4-06"
    assert desk.get("/hires/H12/", {"vehicle": "no-such"}).status_code == 200


def test_what_lies_ahead_comes_first_and_the_rest_is_a_choice_away(desk, settings):
    def names(**given):
        return re.findall(r'href="/hires/(H\d+)/"', desk.get("/hires/", given).content.decode())

    assert set(names(show="all")) == set(HireRow.objects.values_list("name", flat=True))
    settings.NOW = settings.NOW.replace(day=16)
    over = set(HireRow.objects.filter(return_at__lt=settings.NOW).values_list("name", flat=True))
    assert over
    assert set(names(show="past")) == over
    ahead = [HireRow.objects.get(name=name) for name in names()]
    assert {row.name for row in ahead} == set(names(show="all")) - over
    assert ahead == sorted(ahead, key=lambda row: row.collect_at)


def test_the_swap_table_works_for_every_hire_of_the_yard(desk):
    for name in HireRow.objects.values_list("name", flat=True):
        assert desk.get(f"/hires/{name}/swap/").status_code == 200, name


def test_what_happened_is_told_with_name_and_local_time(desk, h25, typed):
    desk.post("/hires/H25/", typed(h25, note="x", save="yes"))
    line = HistoryLine.objects.get(kind="hire", name="H25", action="edit")
    assert line.by.username == "fenwick"
    text = desk.get("/hires/H25/").content.decode()
    assert "10 Jul 08:00</time> Fenwick: edit" in text


def test_a_hire_that_is_none_says_so(desk):
    response = desk.get("/hires/H999/")
    assert response.status_code == 404
    assert "There is no such page" in response.content.decode()


def test_a_figure_opens_its_why_without_script(desk):
    text = desk.get("/hires/H25/").content.decode()
    whys = re.findall(r'<details class="why.*?</details>', text, re.DOTALL)
    assert len(whys) >= 6
    for why in whys:
        assert "Basis:" in why
        assert 'class="formula"' in why


def test_fields_that_are_shown_are_named_for_those_who_hear_the_page(desk, h25):
    text = desk.get("/hires/H25/").content.decode()
    form = form_of(hire_of(h25))
    for name in form.values:
        if name in form.values and f'name="{name}"' in text:
            tag = re.search(rf'<(?:input|select|textarea)[^>]*name="{name}"[^>]*>', text)[0]
            ident = re.search(r'id="([^"]+)"', tag)
            assert "aria-label" in tag or (ident and f'for="{ident[1]}"' in text), name
