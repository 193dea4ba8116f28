"""Nothing on a drawing lies on anything else: measured on what was drawn, for every vehicle and all its stations."""

from __future__ import annotations

import itertools
import math
import random
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from PIL import ImageFont

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.drawing import Stand, elevation_drawing, plan_drawing
from keyhook.drawing.numbers import Spot, place_numbers

ROOT = Path(__file__).resolve().parents[2]
SVG = "{http://www.w3.org/2000/svg}"
DEPOT = read_depot(read_folder(ROOT / "demo"), load_catalogue())
SHEETS = sorted(DEPOT.sheets)
FACE = ImageFont.truetype(str(ROOT / "src/keyhook_desk/papers/fonts/Inter-Regular.otf"), 100)
WALK_CSS = (ROOT / "src/keyhook_desk/web/static/tour/walk.css").read_text(encoding="utf-8")
#: How large the tablet draws the numbers of the station where one stands.
LIT = float(re.search(r"\.lit \.kd-mark \{[^}]*\br: ([\d.]+)px", WALK_CSS)[1])


def stands(sheet):
    return [Stand(s.id, s.name, s.x_m, s.y_m, number) for number, s in enumerate(sheet.stations, start=1)]


def drawn(sheet):
    yield plan_drawing(sheet)
    yield plan_drawing(sheet, upright=True)
    yield plan_drawing(sheet, rings=stands(sheet))
    yield plan_drawing(sheet.model_copy(update={"drives_on": "right"}))
    for side in ("nearside", "offside"):
        yield elevation_drawing(sheet, side)


def size_of(tree):
    """Return width and height of what is drawn, before an upright picture is turned."""
    _, _, width, height = map(float, tree.get("viewBox").split())
    return (height, width) if tree.find(f"{SVG}g[@transform]") is not None else (width, height)


def floats(shape, *names):
    return tuple(float(shape.get(name)) for name in names)


def numbers_of(tree):
    """Yield number, middle, and the place its line leads to (None when it stands there)."""
    for g in tree.iter(f"{SVG}g"):
        if g.get("data-find-it"):
            disc = next(c for c in g.iter(f"{SVG}circle") if c.get("class") == "kd-mark")
            dot = next((c for c in g.iter(f"{SVG}circle") if c.get("class") == "kd-spot"), None)
            yield int(g.get("data-find-it")), floats(disc, "cx", "cy"), dot is not None and floats(dot, "cx", "cy")


def words_of(tree):
    """Yield the words of a drawing with the box their letters fill."""
    for text in tree.iter(f"{SVG}text"):
        if "kd-label" in text.get("class"):
            (x, y), size = floats(text, "x", "y"), float(text.get("font-size"))
            left, top, right, bottom = FACE.getbbox(text.text, anchor="ms")
            share = size / 100
            yield text.text, (x + left * share, y + top * share, x + right * share, y + bottom * share)


def from_box(point, box):
    (x, y), (left, top, right, bottom) = point, box
    return math.hypot(max(left - x, 0, x - right), max(top - y, 0, y - bottom))


def from_line(point, start, end):
    (x, y), (a, b), (c, d) = point, start, end
    length = (c - a) ** 2 + (d - b) ** 2
    share = min(1, max(0, ((x - a) * (c - a) + (y - b) * (d - b)) / length)) if length else 0
    return math.hypot(x - a - share * (c - a), y - b - share * (d - b))


@pytest.mark.parametrize("name", SHEETS)
def test_numbers_keep_apart_even_when_lit_and_stay_inside(name):
    for tree in map(ET.fromstring, drawn(DEPOT.sheets[name])):
        width, height = size_of(tree)
        found = list(numbers_of(tree))
        assert len(found) >= 5
        for (one, at, _), (other, to, _) in itertools.combinations(found, 2):
            assert math.dist(at, to) >= 2 * LIT, (one, other)
        for number, (x, y), _ in found:
            assert LIT <= x <= width - LIT, number
            assert LIT <= y <= height - LIT, number


@pytest.mark.parametrize("name", SHEETS)
def test_a_number_away_from_its_place_is_led_there_under_no_other_number(name):
    moved = 0
    for tree in map(ET.fromstring, drawn(DEPOT.sheets[name])):
        found = list(numbers_of(tree))
        radius = float(next(c for c in tree.iter(f"{SVG}circle") if c.get("class") == "kd-mark").get("r"))
        led = [(number, at, place) for number, at, place in found if place]
        moved += len(led)
        for number, at, place in led:
            assert math.dist(at, place) > radius, number  # its dot is to be seen beside it
            for other, middle, _ in found:
                assert other == number or from_line(middle, at, place) > radius, (number, other)
    assert moved >= 20


@pytest.mark.parametrize("name", SHEETS)
def test_the_place_that_a_number_marks_is_where_the_sheet_says(name):
    sheet = DEPOT.sheets[name]
    tree = ET.fromstring(plan_drawing(sheet))
    found = {number: place or at for number, at, place in numbers_of(tree)}
    stations = {station.id: station for station in sheet.stations}
    by_x = [(stations[f.station].x_m if f.x_m is None else f.x_m, found[f.find_it][0]) for f in sheet.fittings]
    lines = (g.find(f"{SVG}line") for g in tree.iter(f"{SVG}g") if g.get("data-axle"))
    front, *_, rear = sorted(float(line.get("x1")) for line in lines)
    scale = (rear - front) / sheet.axles[-1].x_m
    for x_m, x in by_x:
        assert (x - front) / scale == pytest.approx(x_m, abs=0.03)


@pytest.mark.parametrize("name", SHEETS)
def test_words_lie_on_no_number_no_stop_and_no_other_words(name):
    sheet = DEPOT.sheets[name]
    for svg in (plan_drawing(sheet), plan_drawing(sheet, numbers=False, route=stands(sheet))):
        tree = ET.fromstring(svg)
        width, height = size_of(tree)
        words = list(words_of(tree))
        assert len(words) >= 3
        stops = [floats(r, "x", "y", "width") for r in tree.iter(f"{SVG}rect") if r.get("class") == "kd-stop"]
        for said, box in words:
            assert min(box) >= 0, said
            assert (box[2] <= width, box[3] <= height) == (True, True), said
            for number, at, _ in numbers_of(tree):
                assert from_box(at, box) >= 10.5, (said, number)
            for x, y, side in stops:
                assert box[2] <= x or x + side <= box[0] or box[3] <= y or y + side <= box[1], said
        for (one, (a, b, c, d)), (other, (e, f, g, h)) in itertools.combinations(words, 2):
            assert c <= e or g <= a or d <= f or h <= b, (one, other)


@pytest.mark.parametrize("name", SHEETS)
def test_stops_of_a_walk_do_not_touch_and_rings_are_whole(name):
    sheet = DEPOT.sheets[name]
    tree = ET.fromstring(plan_drawing(sheet, numbers=False, route=stands(sheet), rings=stands(sheet)))
    width, height = size_of(tree)
    stops = [floats(r, "x", "y", "width") for r in tree.iter(f"{SVG}rect") if r.get("class") == "kd-stop"]
    assert len(stops) == len(sheet.stations)
    for (x, y, side), (a, b, _) in itertools.combinations(stops, 2):
        assert max(abs(x - a), abs(y - b)) >= side
    for x, y, side in stops:
        assert 0 <= x <= width - side
        assert 0 <= y <= height - side
    rings = [floats(c, "cx", "cy", "r") for c in tree.iter(f"{SVG}circle") if c.get("class") == "kd-ring"]
    assert len(rings) == len(sheet.stations)
    for x, y, radius in rings:
        assert radius <= x <= width - radius
        assert radius <= y <= height - radius


def spots(seed, count=40):
    chance = random.Random(seed)
    return [
        Spot(number, "", "s", x, y, x, y)
        for number in range(1, count + 1)
        for x, y in [(chance.gauss(300, 90), chance.gauss(150, 40))]
    ]


@pytest.mark.parametrize("seed", range(6))
def test_a_crowd_finds_places_that_do_not_touch_the_same_in_whatever_order_it_comes(seed):
    crowd = spots(seed)
    placed = place_numbers(crowd, 700, 320)
    for one, other in itertools.combinations(placed, 2):
        assert math.dist((one.x, one.y), (other.x, other.y)) >= 2 * LIT
    assert all(LIT <= p.x <= 700 - LIT and LIT <= p.y <= 320 - LIT for p in placed)
    random.Random(seed).shuffle(crowd)
    assert place_numbers(crowd, 700, 320) == placed


def test_who_has_room_stays_and_who_shares_a_place_is_led_to_it():
    alone = Spot(1, "", "s", 60, 60, 60, 60)
    together = [Spot(number, "", "s", 300, 150, 300, 150) for number in (2, 3, 4)]
    first, *others = place_numbers([alone, *together], 600, 300)
    assert (first.x, first.y, first.moved) == (60, 60, False)
    assert all(entry.moved and math.dist((entry.x, entry.y), (300, 150)) < 40 for entry in others)


def test_more_numbers_than_the_picture_holds_are_all_drawn():
    assert len(place_numbers(spots(0, 30), 60, 60)) == 30
