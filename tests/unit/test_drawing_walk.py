"""Walks and time-lines drawn: at their place, in their order, to scale, with words."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.drawing import Lane, Stand, TimeMark, plan_drawing, timeline_drawing
from keyhook.drawing.canvas import PAPER

SVG = "{http://www.w3.org/2000/svg}"
DEPOT = read_depot(read_folder(Path(__file__).resolve().parents[2] / "demo"), load_catalogue())


def stands(sheet):
    return [Stand(s.id, s.name, s.x_m, s.y_m, number) for number, s in enumerate(sheet.stations, start=1)]


def squares(tree):
    for g in tree.iter(f"{SVG}g"):
        if g.get("data-stop"):
            box = g.find(f"{SVG}rect")
            yield int(g.get("data-stop")), float(box.get("x")), float(box.get("y")), float(box.get("width"))


@pytest.mark.parametrize("name", sorted(DEPOT.sheets))
def test_every_stop_of_a_walk_has_its_square_and_none_hides_another(name):
    sheet = DEPOT.sheets[name]
    drawn = sorted(squares(ET.fromstring(plan_drawing(sheet, numbers=False, route=stands(sheet)))))
    assert [number for number, *_ in drawn] == list(range(1, len(sheet.stations) + 1))
    for n, (_, x, y, width) in enumerate(drawn):
        for _, a, b, _ in drawn[n + 1 :]:
            assert max(abs(x - a), abs(y - b)) > 0.6 * width


def test_the_way_goes_from_stop_to_stop_in_their_order():
    sheet = DEPOT.sheets["W4"]
    tree = ET.fromstring(plan_drawing(sheet, numbers=False, route=stands(sheet)))
    way = next(path.get("d") for path in tree.iter(f"{SVG}path") if path.get("class") == "kd-way")
    corners = [tuple(map(float, pair.split())) for pair in re.split(r"[ML]", way) if pair.strip()]
    middles = [(x + width / 2, y + width / 2) for _, x, y, width in sorted(squares(tree))]
    assert corners == [pytest.approx(middle, abs=0.11) for middle in middles]


def test_a_ring_lies_where_its_station_is():
    sheet = DEPOT.sheets["W4"]
    tree = ET.fromstring(plan_drawing(sheet, rings=stands(sheet)))
    rings = {g.get("data-ring"): g.find(f"{SVG}circle") for g in tree.iter(f"{SVG}g") if g.get("data-ring")}
    assert set(rings) == {station.id for station in sheet.stations}
    for one in sheet.stations:
        for other in sheet.stations:
            if one.x_m < other.x_m - 0.01:
                assert float(rings[one.id].get("cx")) < float(rings[other.id].get("cx"))


def marks(svg):
    tree = ET.fromstring(svg)
    for g in tree.iter(f"{SVG}g"):
        if g.get("data-mark"):
            circle = g.find(f"{SVG}circle")
            yield g.get("data-mark"), None if circle is None else float(circle.get("cx")), g.find(f"{SVG}title").text


def test_marks_of_a_time_line_stand_to_scale_and_say_their_time():
    lane = Lane("Gas <locker>", tuple(TimeMark(at, f"at {at}", "said") for at in (0, 60, 120, 240)))
    found = list(marks(timeline_drawing([lane], 240)))
    xs = [x for _, x, _ in found]
    assert xs[1] - xs[0] == pytest.approx((xs[3] - xs[0]) / 4, abs=0.02)
    assert xs[2] - xs[0] == pytest.approx((xs[3] - xs[0]) / 2, abs=0.02)
    assert [title for _, _, title in found] == ["0:00 at 0", "1:00 at 60", "2:00 at 120", "4:00 at 240"]


def test_each_meaning_of_a_mark_has_its_own_shape():
    lanes = [Lane("One", tuple(TimeMark(9, look, look) for look in ("said", "must", "perhaps", "foreign")))]
    tree = ET.fromstring(timeline_drawing(lanes, 20))
    shapes = {
        g.get("data-mark"): (g[1].tag.removeprefix(SVG), g[1].get("class"))
        for g in tree.iter(f"{SVG}g")
        if g.get("data-mark")
    }
    assert len(set(shapes.values())) == 4


@pytest.mark.parametrize("duration_s", [0, 1, 59, 3600, 20000])
def test_a_time_line_of_any_length_has_a_readable_axis(duration_s):
    tree = ET.fromstring(timeline_drawing([Lane("One", ())], duration_s, [(0, duration_s)]))
    labels = [text.text for text in tree.iter(f"{SVG}text") if text.text and (text.text == "0" or "min" in text.text)]
    assert 1 <= len(labels) <= 14


def test_on_paper_walk_and_time_line_carry_looks_and_no_classes():
    sheet = DEPOT.sheets["W4"]
    lanes = [Lane("One", (TimeMark(9, "x", "must"), TimeMark(10, "y", "foreign")))]
    for svg in (
        plan_drawing(sheet, medium="paper", route=stands(sheet)),
        timeline_drawing(lanes, 60, [(20, 60)], medium="paper"),
    ):
        assert "class=" not in svg
    assert {"kd-way", "kd-stop", "kd-ring", "kd-said", "kd-gap"} <= set(PAPER)
