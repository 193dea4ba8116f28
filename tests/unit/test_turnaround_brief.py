"""With what a task is done: pieces out of the kit rules, the party's own wishes, and nobody's name."""

from __future__ import annotations

from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.turnaround.brief import Brief, brief_of

CATALOGUE = load_catalogue()
DEPOT = read_depot(read_folder(Path(__file__).resolve().parents[2] / "demo"), CATALOGUE)
X = "\N{MULTIPLICATION SIGN}"
#: Six people, a child of three on a seat and two on boosters, four bicycles, bedding and 110 l (demo/hires/H13.toml).
H13, O6 = DEPOT.hires["H13"], DEPOT.built("O6-02")


def of(kind, hire=H13, sheet=O6):
    return brief_of(kind, CATALOGUE, sheet, hire)


def test_child_seats_are_told_with_the_children_they_are_for():
    assert of("pack_child").what == (
        f"1 {X} Child seat held by the belt (seat)",
        f"2 {X} Booster with a back (seat)",
        "Child of 3 years, 97 cm, sits at row2 a",
        "Child of 7 years, 122 cm, sits at row2 b",
        "Child of 10 years, 138 cm, sits at row3 b",
        "The label of the seat and the law where they drive decide; whoever travels with the child fits it",
    )


@pytest.mark.parametrize(("years", "is_told"), [(11.9, True), (12, False)])
def test_a_child_is_told_until_the_age_at_which_no_seat_is_asked_for(years, is_told):
    """A child restraint until 12 years or 135 cm, whichever comes first (source ``gb-seat-belts-1993``)."""
    party = tuple(one.model_copy(update={"age_years": years} if one.age_years == 10 else {}) for one in H13.party)
    what = of("pack_child", H13.model_copy(update={"party": party})).what
    assert any(f"Child of {years:g} years" in line for line in what) is is_told


def test_without_children_nothing_is_said_of_seats():
    party = tuple(one for one in H13.party if one.age_years >= 18)
    hire = H13.model_copy(update={"party": party, "options": ()})
    assert of("pack_child", hire).what == ()


def test_beds_are_told_with_who_sleeps_where():
    what = of("pack_beds").what
    assert what[0] == f"6 {X} Bedding for one (bed)"
    assert sum(int(line.split(": ")[1].split()[0]) for line in what[1:]) == 6


def test_what_was_ordered_stands_apart_from_what_goes_out_with_every_hire():
    ordered, kit = of("pack_options").what, of("pack_kit").what
    assert f"6 {X} Folding chair (garage)" in ordered
    assert "4 bicycles come along" in ordered
    assert f"1 {X} Awning crank (wardrobe)" in kit
    assert not set(ordered) & set(kit)
    plain = of("pack_options", H13.model_copy(update={"options": (), "bikes": (), "tags": ()}))
    assert plain.what == ()
    assert of("pack_kit", H13.model_copy(update={"options": ()})).what == kit


def test_everything_that_comes_back_is_counted_and_nothing_that_is_used_up():
    counted = of("in_count").what
    apart = {*of("pack_kit").what, *of("pack_child").what, *of("pack_beds").what, *of("pack_options").what}
    assert len(counted) > 40
    assert set(counted) <= apart
    assert not set(counted) & set(of("pack_welcome").what)


def test_water_is_told_when_the_party_said_how_much():
    assert of("water_fill").what == ("110 litres of fresh water are wanted",)
    assert of("water_fill", H13.model_copy(update={"fresh_l": None})).what == ()


@pytest.mark.parametrize("kind", [task.id for task in CATALOGUE.tasks.values()])
def test_every_task_is_briefed_without_a_name_of_the_party(kind):
    brief = of(kind)
    assert brief.how == CATALOGUE.tasks[kind].note
    names = {word for person in H13.party for word in person.name.split()}
    assert not any(name in line for name in names for line in (brief.how, *brief.what))
    assert brief_of(kind, CATALOGUE) == Brief(brief.how)


def test_what_is_no_task_of_the_catalogue_has_an_empty_brief():
    assert of("make_tea") == Brief()
