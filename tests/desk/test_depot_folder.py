"""A depot folder comes in whole or not at all, keeps what people entered, and goes out as the same text."""

from __future__ import annotations

import dataclasses

import pytest
from click.testing import CliRunner
from django.db import connection

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.depot.writing import write_depot
from keyhook.errors import BadInput, UnknownName
from keyhook_desk.fleet.models import SheetRow, VehicleRow
from keyhook_desk.fleet.services import add_ticket
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import add_hire, hire_of, save_hire
from keyhook_desk.web.errors import DoubleHire
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard.models import DepotRow, StaffRow
from keyhook_desk.yard.services import folder_of_desk, take_in_folder, the_depot


def with_hire(folder, name, **changes):
    hires = {**folder.hires, name: folder.hires[name].model_copy(update=changes)}
    return dataclasses.replace(folder, hires=hires)


def counts():
    return [model.objects.count() for model in (DepotRow, StaffRow, SheetRow, VehicleRow, HireRow)]


def test_what_comes_in_goes_out_as_the_same_text(depot, folder):
    assert dict(write_depot(folder_of_desk())) == dict(write_depot(folder))


def test_the_demo_is_all_there(depot):
    assert counts() == [1, 11, 6, 17, 25]
    assert HistoryLine.objects.filter(action="import", kind="hire").count() == 25


def test_the_second_time_writes_nothing(depot, folder):
    lines = HistoryLine.objects.count()
    taken = take_in_folder(actor=None, folder=folder)
    assert (taken.sheets, taken.vehicles, taken.hires) == (0, 0, 0)
    assert HistoryLine.objects.count() == lines


def test_what_changed_in_the_folder_is_taken_over(depot, folder):
    pk = HireRow.objects.get(name="H14").pk
    taken = take_in_folder(actor=None, folder=with_hire(folder, "H14", note="Folder says so"))
    assert taken.hires == 1
    row = HireRow.objects.get(name="H14")
    assert (row.pk, hire_of(row).note, row.version) == (pk, "Folder says so", 2)


def test_what_people_edited_is_kept_against_the_folder(depot, folder, own, h25):
    save_hire(actor=own, hire=hire_of(h25).model_copy(update={"note": "We say so"}), seen_version=1)
    taken = take_in_folder(actor=None, folder=with_hire(folder, "H25", note="Folder says so"))
    assert taken.hires == 0
    h25.refresh_from_db()
    assert hire_of(h25).note == "We say so"


def test_a_ticket_noted_here_is_kept_against_the_folder(depot, folder, own):
    ticket = folder.built("V2-05").tickets[0].model_copy(update={"id": "OURS-1"})
    add_ticket(actor=own, vehicle="V2-05", ticket=ticket)
    old = folder.vehicles["V2-05"].model_copy(update={"odometer_km": 99_999})
    assert take_in_folder(actor=None, folder=dataclasses.replace(folder, vehicles={"V2-05": old})).vehicles == 0
    assert [one.id for one in folder_of_desk().vehicles["V2-05"].tickets][-1] == "OURS-1"


def test_a_hire_entered_here_stays_when_the_folder_does_not_know_it(depot, folder, own, h25):
    row = add_hire(actor=own, hire=hire_of(h25).model_copy(update={"vehicle": None}))
    take_in_folder(actor=None, folder=folder)
    assert HireRow.objects.filter(name=row.name).exists()


def test_a_clash_with_a_hire_entered_here_leaves_nothing_half_done(depot, folder, own):
    taken = folder.hires["H25"]
    later = {"collect_at": taken.return_at, "return_at": taken.return_at.replace(year=2030)}
    ours = add_hire(actor=own, hire=taken.model_copy(update=later))
    before, lines = counts(), HistoryLine.objects.count()
    fresh = with_hire(folder, "H01", note="changed too")
    fresh = with_hire(fresh, "H25", return_at=taken.return_at.replace(year=2029))
    with pytest.raises(DoubleHire, match=f"saw {ours.name} "):
        take_in_folder(actor=None, folder=fresh)
    assert (counts(), HistoryLine.objects.count()) == (before, lines)
    assert hire_of(HireRow.objects.get(name="H01")).note == folder.hires["H01"].note


def test_two_hires_of_the_folder_may_swap_their_vehicles(depot, folder):
    one, other = folder.hires["H10"], folder.hires["H12"]
    fresh = with_hire(with_hire(folder, "H10", vehicle=other.vehicle), "H12", vehicle=one.vehicle)
    assert take_in_folder(actor=None, folder=fresh).hires == 2
    assert HireRow.objects.get(name="H10").vehicle.name == other.vehicle
    assert HireRow.objects.get(name="H12").vehicle.name == one.vehicle


def test_a_desk_belongs_to_one_depot(depot, folder):
    other = dataclasses.replace(folder, depot=folder.depot.model_copy(update={"id": "elsewhere"}))
    with pytest.raises(BadInput, match="belongs to the depot thistlequay"):
        take_in_folder(actor=None, folder=other)
    assert the_depot().id == "thistlequay"


def test_somebody_who_left_the_folder_leaves_the_plan(depot, folder):
    take_in_folder(actor=None, folder=dataclasses.replace(folder, staff=folder.staff[:-1]))
    assert StaffRow.objects.count() == len(folder.staff) - 1
    assert HistoryLine.objects.get(kind="staff", action="leave").name == folder.staff[-1].id


def test_a_desk_without_a_depot_says_what_to_do(db, browser_of):
    from keyhook_desk.people.models import Role, User  # noqa: PLC0415

    with pytest.raises(UnknownName, match="Import a depot folder first"):
        the_depot()
    response = browser_of(User.objects.create_user("first", role=Role.MANAGER)).get("/")
    assert response.status_code == 404
    assert "This desk has no depot yet" in response.content.decode()


@pytest.fixture
def run(transactional_db, monkeypatch):
    from keyhook_desk.command import calculators  # noqa: PLC0415

    monkeypatch.setenv("DJANGO_SETTINGS_MODULE", "keyhook_desk.settings_test")
    return lambda *words: CliRunner().invoke(calculators, list(words))


def test_import_and_export_on_the_command_line(run, tmp_path, folder):
    from keyhook.cli.commands import DEMO  # noqa: PLC0415

    done = run("import", str(DEMO))
    assert done.output == "Written: 6 build sheets, 17 vehicles, 25 hires.\n"
    assert run("export", str(tmp_path)).exit_code == 0
    assert dict(read_folder(tmp_path)) == dict(read_folder(DEMO))
    connection.close()


def test_a_broken_folder_writes_nothing_and_names_every_slip(run, tmp_path):
    from keyhook.cli.commands import DEMO  # noqa: PLC0415

    for name, text in read_folder(DEMO).items():
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(
            text.replace('vehicle = "W4-02"', 'vehicle = "W4-99"').replace("age_years = 44", "age_years = -4")
        )
    done = run("import", str(tmp_path))
    assert done.exit_code != 0
    assert "hires/H01.toml" in done.output
    assert "W4-99" in done.output
    assert "-4" in done.output
    assert counts() == [0, 0, 0, 0, 0]


def test_the_command_line_reads_what_the_library_reads(folder):
    from keyhook.cli.commands import DEMO  # noqa: PLC0415

    assert read_depot(read_folder(DEMO), load_catalogue()) == folder
