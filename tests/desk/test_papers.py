"""Papers of a hire: what stands on them, for whom they come, and that sizes are never understated."""

from __future__ import annotations

import datetime as dt
import io
from fractions import Fraction

import pytest
from pypdf import PdfReader

from keyhook.catalogue import load_catalogue
from keyhook.dossier import hire_loading
from keyhook.loading.outcome import CabCard
from keyhook_desk.hires.models import HireRow
from keyhook_desk.papers.documents import Imprint
from keyhook_desk.papers.load_lines import load_lines, seat_words
from keyhook_desk.papers.loading_paper import loading_paper
from keyhook_desk.papers.printing import cab_card, loading_sheet

DAY = dt.date(2026, 7, 10)
#: The international foot and pound, exact by the agreement of 1959.
FOOT_M, POUND_KG = Fraction("0.3048"), Fraction("0.45359237")


_FOUND = {}


def _found(folder, name):
    if name not in _FOUND:
        _FOUND[name] = hire_loading(folder, name, load_catalogue())
    return _FOUND[name]


def _sheet(folder, name):
    found = _found(folder, name)
    return loading_sheet(
        found.answer, found.change, found.hire, found.sheet, found.vehicle, folder.depot, day=DAY, plate="DEMO 1"
    )


def _paper(folder, name):
    found = _found(folder, name)
    return loading_paper(found.answer, found.change, found.hire, found.sheet, Imprint("Sheet", "Depot", "GB", DAY))


def _card(folder, name, **sizes):
    found = _found(folder, name)
    card = CabCard(**{**{key: getattr(found.answer.cab_card, key) for key in CabCard.__slots__}, **sizes})
    return cab_card(card, found.sheet, found.vehicle, folder.depot, day=DAY)


def _words(pdf):
    return " ".join(" ".join(leaf.extract_text() for leaf in PdfReader(io.BytesIO(pdf)).pages).split())


def test_the_loading_sheet_tells_verdict_steps_weighbridge_and_caution(folder):
    words = _words(_sheet(folder, "H12"))
    for said in ("Too heavy", "It must not leave like this", "bikes at home", "On the weighbridge", "not a permission"):
        assert said in words


def test_a_hire_that_fits_has_no_steps(folder):
    words = _words(_sheet(folder, "H10"))
    assert "Fits" in words
    assert "lightest steps" not in words


def test_what_fits_by_weight_and_has_the_wrong_driver_is_not_called_fitting_on_paper(folder):
    paper = _paper(folder, "H14")
    assert paper.verdict_words == "Not like this"
    assert "must drive" in paper.verdict_sentence
    assert "Not like this" in _words(_sheet(folder, "H14"))


@pytest.mark.parametrize("name", ["H10", "H12", "H13", "H14", "H15", "H17", "H20", "H23"])
def test_a_loading_sheet_of_the_demo_takes_two_pages_at_most(folder, name):
    assert len(PdfReader(io.BytesIO(_sheet(folder, name))).pages) <= 2


@pytest.mark.parametrize("name", ["H10", "H12", "H13", "H17", "H20"])
def test_the_lines_of_what_goes_where_add_up_to_the_loads_of_the_answer(folder, name):
    """Each line is rounded to a kilo, so a column may be off by half a kilo a line."""
    found = _found(folder, name)
    letters = {store.id: "A" for store in found.sheet.stores}
    lines = [line for line in load_lines(found.answer, found.sheet, letters) if line.kind == "part"]
    for column, axle in (("front", "front"), ("rear", "rear"), ("total", "total")):
        told = sum(int(getattr(line, column).replace("\u2212", "-")) for line in lines)
        assert told == pytest.approx(found.answer.worst.load_kg(axle), abs=0.5 * len(lines) + 0.5)


def test_what_a_single_person_weighs_is_not_printed(folder):
    """Told are 86, 68, 49, 34, 24 and 15 kg (hire H13 of the demo), 276 kg together."""
    (people,) = [line for line in _paper(folder, "H13").loads if line.mark.startswith("1")]
    assert people.total == "276"
    assert people.mark == "1\u20136"


def test_the_state_that_decides_is_marked_once_and_has_the_least_to_spare_of_the_planned(folder):
    for name in ("H10", "H12", "H17"):
        states = _paper(folder, name).states
        (worst,) = [state for state in states if state.worst]
        spare = {state.words: int(state.spare.replace("\u2212", "-")) for state in states if state.planned}
        assert spare[worst.words] == min(spare.values())


def test_every_person_has_a_place_on_the_picture_and_no_two_marks_lie_on_one_another(folder):
    for name in ("H10", "H12", "H13", "H17"):
        paper = _paper(folder, name)
        picture = paper.picture
        seated = {mark.text for mark in picture.marks if mark.kind == "seat"}
        assert seated == {line.number for line in paper.seats}
        spots = [(m.x_share * picture.width, m.y_share * picture.height) for m in picture.marks if m.kind != "axle"]
        for number, (x, y) in enumerate(spots):
            for other_x, other_y in spots[number + 1 :]:
                assert (x - other_x) ** 2 + (y - other_y) ** 2 > 15**2


def test_every_figure_explained_at_the_end_is_pointed_to_from_where_it_stands(folder):
    paper = _paper(folder, "H13")
    labels = [reason.label for reason in paper.reasons]
    assert [labels[int(bar.why) - 1] for bar in paper.bars] == ["Front axle", "Rear axle", "Total mass"]
    assert labels[int(paper.chance_why) - 1] == "Chance of overload"


@pytest.mark.parametrize(("seat", "said"), [("row3_b", "row 3 b"), ("driver", "driver"), ("side_1", "side 1")])
def test_seats_are_called_by_words(seat, said):
    assert seat_words(seat) == said


@pytest.mark.parametrize("height_m", [2.5, 2.62, 2.743, 2.7432, 2.75, 3.0, 3.0480, 3.0481, 3.15, 3.2004, 4.0])
def test_the_height_in_feet_is_at_least_the_height_and_less_than_an_inch_above_it(folder, height_m):
    words = _words(_card(folder, "H13", height_m=height_m))
    feet, inches = (int(part) for part in words.split(" m ", 1)[1].split(" in")[0].split(" ft "))
    told_m = (12 * feet + inches) * FOOT_M / 12
    assert 0 <= told_m - Fraction(str(height_m)) < FOOT_M / 12
    assert inches < 12


def test_the_cab_card_gives_every_size_in_both_units(folder):
    """3.15 m is 10 ft 4.02 in, 2.75 m 9 ft 0.27 in, 7.84 m 25 ft 8.66 in; 3500 kg is 7716.18 lb."""
    words = _words(_card(folder, "H13"))
    pairs = ("3.15 m 10 ft 5 in", "2.75 m 9 ft 1 in", "2.32 m 7 ft 8 in", "7.84 m 25 ft 9 in")
    for said in (*pairs, "3500 kg", "3.5 t", "7716 lb", "Length with rack", "0.85 m longer"):
        assert said in words
    assert abs(7716 * POUND_KG - 3500) < POUND_KG / 2


def test_without_a_rack_on_the_card_gives_the_bare_length_and_says_how_long_a_rack_makes_it(folder):
    words = _words(_card(folder, "H13", rack_on=False, length_with_rack_m=6.99))
    assert "Length with rack" not in words
    assert "6.99 m 23 ft 0 in" in words
    assert "With the bike rack on it is 7.84 m long" in words


def test_a_hire_without_a_vehicle_is_told_so(client, depot, own):
    row = HireRow.objects.get(name="H22")
    row.vehicle = None
    row.save(update_fields=["vehicle"])
    client.force_login(own)
    for paper in ("loading", "cab-card"):
        found = client.get(f"/papers/H22/{paper}/")
        assert found.status_code == 409
        assert b"no vehicle yet" in found.content


def test_papers_come_as_pdf_and_only_to_people_who_are_logged_in(client, depot, own):
    assert client.get("/papers/H10/loading/").status_code == 302
    client.force_login(own)
    for paper in ("loading", "cab-card"):
        found = client.get(f"/papers/H10/{paper}/")
        assert found["Content-Type"] == "application/pdf"
        assert found.content.startswith(b"%PDF")
