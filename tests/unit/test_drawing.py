"""Drawings: to scale, whole, safe, the same each time, with words for whoever hears them."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.drawing import Bar, describe_plan, elevation_drawing, key_tag, load_bars, plan_drawing
from keyhook.drawing.canvas import PAPER
from keyhook.drawing.numbers import RADIUS
from keyhook.drawing.plan import SCALE

DEMO = Path(__file__).resolve().parents[2] / "demo"
SVG = "{http://www.w3.org/2000/svg}"
DEPOT = read_depot(read_folder(DEMO), load_catalogue())
SHEETS = sorted(DEPOT.sheets)


def _named(fitting: str) -> str:
    return load_catalogue().fittings[fitting].name


def _all(sheet, medium="page"):
    yield plan_drawing(sheet, _named, medium=medium)
    for side in ("nearside", "offside"):
        yield elevation_drawing(sheet, side, _named, medium=medium)


@pytest.mark.parametrize("name", SHEETS)
def test_the_distance_between_axles_is_the_wheelbase_to_scale(name):
    sheet = DEPOT.sheets[name]
    tree = ET.fromstring(plan_drawing(sheet, _named))
    at = [float(g.find(f"{SVG}line").get("x1")) for g in tree.iter(f"{SVG}g") if g.get("data-axle")]
    for drawn, axle in zip(at[1:], sheet.axles[1:], strict=True):
        assert (drawn - at[0]) / SCALE == pytest.approx(axle.x_m, abs=1e-3)


@pytest.mark.parametrize("name", SHEETS)
def test_every_fitting_carries_its_number_and_no_number_lies_on_another(name):
    sheet = DEPOT.sheets[name]
    tree = ET.fromstring(plan_drawing(sheet, _named))
    marks = {g.get("data-find-it"): g for g in tree.iter(f"{SVG}g") if g.get("data-find-it")}
    assert set(marks) == {str(fitted.find_it) for fitted in sheet.fittings}
    spots = []
    for g in marks.values():
        circle = next(c for c in g.iter(f"{SVG}circle") if c.get("class") == "kd-mark")
        spots.append((float(circle.get("cx")), float(circle.get("cy"))))
    for n, (x, y) in enumerate(spots):
        for a, b in spots[n + 1 :]:
            assert (x - a) ** 2 + (y - b) ** 2 >= (2 * RADIUS) ** 2


@pytest.mark.parametrize("name", SHEETS)
def test_page_drawings_carry_no_style_and_paper_drawings_no_class(name):
    for svg in _all(DEPOT.sheets[name]):
        assert " style=" not in svg
        assert "<style" not in svg
        assert "fill=" not in svg
    for svg in _all(DEPOT.sheets[name], "paper"):
        assert " class=" not in svg
        ET.fromstring(svg)


@pytest.mark.parametrize("name", SHEETS)
def test_the_same_sheet_gives_the_same_bytes(name):
    assert list(_all(DEPOT.sheets[name])) == list(_all(DEPOT.sheets[name]))


@pytest.mark.parametrize("name", SHEETS)
def test_the_words_name_seats_beds_stores_and_tanks(name):
    sheet = DEPOT.sheets[name]
    words = describe_plan(sheet)
    for berth in sheet.berths:
        assert berth.name in words
    for store in sheet.stores:
        assert store.name in words
    assert str(len(sheet.fittings)) in words


def test_every_class_of_the_stylesheet_and_of_paper_is_one_and_the_same_set():
    css = (DEMO.parent / "src/keyhook/drawing/page/drawing.css").read_text(encoding="utf-8")
    styled = set(re.findall(r"\.(kd-[a-z-]+)", css))
    on_paper = {name for look in PAPER for name in look.split()}
    assert on_paper <= styled


def test_text_is_escaped_and_a_highlight_is_filled():
    sheet = DEPOT.sheets["W4"].model_copy(update={"name": "<Moss & back>"})
    svg = plan_drawing(sheet, lambda _: '"<b>"', highlight=frozenset({3}))
    ET.fromstring(svg)
    assert "<b>" not in svg
    assert svg.count("kd-mark-on") == 1


def test_the_nearside_of_a_left_driving_country_points_left_and_the_offside_right():
    sheet = DEPOT.sheets["W4"]

    def rear_axle_from_left(svg):
        wheels = [float(c.get("cx")) for c in ET.fromstring(svg).iter(f"{SVG}circle") if c.get("class") == "kd-wheel"]
        return wheels[1] > wheels[0]

    assert rear_axle_from_left(elevation_drawing(sheet, "nearside", _named))
    assert not rear_axle_from_left(elevation_drawing(sheet, "offside", _named))


def test_an_overload_sticks_out_of_its_bar_and_says_so():
    svg = load_bars([Bar("Rear axle", 2076, 2000, 20, "76 kg OVER"), Bar("Front axle", 1500, 1850, 20, "to spare")])
    assert svg.count('class="kd-bar-over"') == 1
    assert "76 kg OVER" in svg


def test_the_key_tag_shows_the_short_name():
    tree = ET.fromstring(key_tag("W4-02"))
    assert "W4-02" in "".join(tree.itertext())
