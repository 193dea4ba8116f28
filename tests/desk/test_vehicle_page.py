"""Vehicles: on their hooks or away, every fitting with its number, tickets noted by whoever weighed."""

from __future__ import annotations

import re

import pytest

from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of, vehicle_of
from keyhook_desk.hires.models import HireRow

TICKET = {
    "id": "X-1", "taken_on": "2026-07-09", "front_kg": "1490", "rear_kg": "1265", "division_kg": "5",
    "fuel_eighths": "4", "fresh_l": "20", "grey_l": "", "driver_kg": "82,5", "kit": "yes", "note": "wet road",
}  # fmt: skip


def test_a_vehicle_that_is_out_hangs_on_no_hook(desk):
    text = desk.get("/vehicles/").content.decode()
    away = set(re.findall(r'class="tag big away"[^>]*>([^<]+)<', text))
    home = set(re.findall(r'class="tag big"[^>]*>([^<]+)<', text))
    out = set(HireRow.objects.filter(status="out").values_list("vehicle__name", flat=True))
    assert away == out
    assert home == set(VehicleRow.objects.values_list("name", flat=True)) - out


def test_where_it_is_is_told_in_local_time(desk, folder):
    text = desk.get("/vehicles/").content.decode()
    back = folder.hires["H01"].return_at  # written in the demo on the depot's clock
    assert f"out, back {back:%a} {back.day} {back:%b %H:%M}" in text


def test_every_fitting_of_the_sheet_stands_at_its_station_with_its_number(desk, folder):
    text = desk.get("/vehicles/W4-02/").content.decode()
    numbers = {int(n) for n in re.findall(r'href="\?show=(\d+)#drawings"', text)}
    assert numbers == {fitted.find_it for fitted in folder.built("W4-02").fittings}


def test_quirks_are_shown_before_anything_else(desk, folder):
    text = desk.get("/vehicles/V2-03/").content.decode()
    for quirk in folder.vehicles["V2-03"].quirks:
        assert quirk.text in text
    assert text.index("Quirks:") < text.index("Where it is")


def test_a_ticket_is_noted_with_who_sat_inside(desk, folder):
    response = desk.post("/vehicles/V2-05/ticket/", TICKET)
    assert response["Location"] == "/vehicles/V2-05/#tickets"
    ticket = vehicle_of(VehicleRow.objects.get(name="V2-05")).tickets[-1]
    assert (ticket.id, ticket.front_kg, ticket.fuel_share, ticket.fresh_l, ticket.note) == (
        "X-1",
        1490,
        0.5,
        20,
        "wet road",
    )
    driver = next(seat for seat in folder.sheets["V2"].seats if seat.driver)
    assert [(one.mass_kg, one.x_m) for one in ticket.aboard] == [(82.5, driver.x_m)]


def test_from_then_on_every_answer_counts_from_it(desk):
    before = built_of(VehicleRow.objects.select_related("sheet").get(name="V2-05")).tickets
    desk.post("/vehicles/V2-05/ticket/", TICKET)
    after = built_of(VehicleRow.objects.select_related("sheet").get(name="V2-05")).tickets
    assert [ticket.id for ticket in after] == ["X-1"]
    assert "X-1" not in [ticket.id for ticket in before]


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"front_kg": ""}, "Front axle is empty. Read it off the ticket."),
        ({"front_kg": "heavy"}, "Front axle is not a number (saw heavy)"),
        ({"rear_kg": "-5"}, "Rear axle"),
        ({"taken_on": "2026-07-11"}, "from a day to come (saw 2026-07-11)"),
        ({"taken_on": "last week"}, "Day is not a date (saw last week)"),
        ({"id": "no spaces"}, "Number"),
    ],
)
def test_a_slip_is_named_and_what_was_typed_stays(desk, wrong, sentence):
    response = desk.post("/vehicles/V2-05/ticket/", TICKET | wrong)
    text = response.content.decode()
    assert response.status_code == 200
    assert sentence in text
    assert 'value="wet road"' in text
    assert VehicleRow.objects.get(name="V2-05").version == 1


def test_the_day_of_a_ticket_is_the_depots_and_not_the_servers(desk, settings):
    # 10 July 08:00 at the depot is 10 July 21:00 in the server's zone: the 11th is a day to come in both; at 15:00
    # the server is already in the 11th.
    settings.NOW = settings.NOW.replace(hour=15)
    assert (
        "from a day to come"
        in desk.post("/vehicles/V2-05/ticket/", TICKET | {"taken_on": "2026-07-11"}).content.decode()
    )


def test_a_number_is_used_once(desk):
    desk.post("/vehicles/V2-05/ticket/", TICKET)
    text = desk.post("/vehicles/V2-05/ticket/", TICKET).content.decode()
    assert "A ticket of this number is there already (saw X-1)" in text


def test_an_unknown_vehicle_is_a_plain_page(desk):
    assert desk.get("/vehicles/ZZ-99/").status_code == 404
    assert desk.post("/vehicles/ZZ-99/ticket/", TICKET).status_code == 404
