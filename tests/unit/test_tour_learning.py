"""What a depot's own counts do to the worth of a point: against the integral of Bayes' rule, worked out by scipy."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from scipy import integrate, stats

from keyhook.catalogue import load_catalogue
from keyhook.depot.depot import Counted
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.dossier import recorded_tour, sheet_tour
from keyhook.errors import UnknownName
from keyhook.tour.film import FilmAsked, film_tour
from keyhook.tour.learning import learnt_factors, learnt_of
from keyhook.tour.select import Search

CATALOGUE = load_catalogue()


@pytest.fixture(scope="module")
def folder():
    return read_depot(read_folder(Path(__file__).resolve().parents[2] / "demo"), CATALOGUE)


def _of(name, hires, harmed):
    return learnt_factors({name: Counted(hires=hires, harmed=harmed)}, CATALOGUE)[name]


@pytest.mark.parametrize(("hires", "harmed"), [(0, 0), (60, 0), (610, 13), (940, 2)])
def test_the_factor_is_the_mean_that_bayes_rule_gives(hires, harmed):
    """Wind and awning by hand from the catalogue: 0.05 x 0.7 go wrong untold, 0.3 of those when told."""
    expected = hires * 0.05 * 0.7 * 0.3

    def weight(rate):
        return stats.gamma.pdf(rate, a=2, scale=1 / 2) * stats.poisson.pmf(harmed, max(rate * expected, 1e-300))

    total = integrate.quad(weight, 0, 30, points=[0.2, 1, 2, 4])[0]
    mean = integrate.quad(lambda rate: rate * weight(rate), 0, 30, points=[0.2, 1, 2, 4])[0] / total
    assert _of("aw_wind", hires, harmed) == pytest.approx(mean, rel=1e-4)


def test_nothing_counted_changes_nothing_and_one_bad_week_little():
    assert _of("aw_wind", 0, 0) == 1
    assert 1 < _of("aw_wind", 20, 2) < 2
    assert math.isclose(_of("aw_wind", 100_000, 2100), 2, rel_tol=0.01)


def test_a_point_that_nobody_knows_is_named():
    with pytest.raises(UnknownName, match="aw_moon"):
        _of("aw_moon", 10, 1)


def test_the_why_of_a_factor_holds_what_it_was_worked_out_from():
    """13 torn awnings of 610 hires, where 610 x 0.05 x 0.7 x 0.3 = 6.405 were to be expected (worked by hand)."""
    learnt = learnt_of("aw_wind", Counted(hires=610, harmed=13), CATALOGUE)
    told = {one.name.split(":")[0]: one.value for one in learnt.factor.because.inputs}
    assert (told["hires counted, party told"], told["came back as a call or a charge"]) == (610, 13)
    assert told["expected"] == pytest.approx(6.405)
    assert learnt.assumed_share == pytest.approx(0.0105)
    assert learnt.counted_share == pytest.approx(13 / 610)
    assert learnt.assumed_share < learnt.taken_share < learnt.counted_share
    assert learnt.factor.because.source == "gamma-poisson"


def test_a_point_nobody_has_counted_stays_as_the_catalogue_has_it():
    learnt = learnt_of("aw_wind", None, CATALOGUE)
    assert (learnt.factor.value, learnt.counted_share) == (1, None)
    assert learnt.taken_share == learnt.assumed_share


def test_what_a_recording_misses_is_worth_what_the_tour_would_save_by_it(folder):
    """Tour and recorded tour value a point alike, with the depot's own counts in both."""
    text = (Path(__file__).resolve().parents[2] / "demo" / "recordings" / "chatty_w4.vtt").read_text("utf-8")
    told = recorded_tour(folder, text, CATALOGUE, sheet="W4").check
    film = sheet_tour(folder, CATALOGUE, FilmAsked(tags=frozenset()), sheet="W4").answer
    toured = {one.id: one.value_cost for one in (*film.lines, *film.elsewhere)}
    heard = {one.id: one.value_cost for one in (*told.covered, *told.missing) if one.expected}
    assert set(folder.depot.learnt) & set(heard) & set(toured)
    both = set(heard) & set(toured)
    assert {name: heard[name] for name in both} == pytest.approx({name: toured[name] for name in both})


def test_what_came_back_often_is_told_and_what_never_did_makes_room(folder):
    sheet = folder.sheets["W4"]
    search = Search(limit_s=0.5)
    plain = film_tour(sheet, CATALOGUE, FilmAsked(), search=search)
    optional = [line for line in plain.lines if not line.mandatory]
    shown = {line.id for line in plain.lines}
    off = next(entry for entry in plain.elsewhere if entry.why == "no_time" and entry.value_cost > 0)
    assert off.id not in shown
    learnt = {off.id: 500.0, **{line.id: 0.0 for line in optional}}
    again = film_tour(sheet, CATALOGUE, FilmAsked(), search=search, learnt=learnt)
    told = next(line for line in again.lines if line.id == off.id)
    assert [one.value for one in told.because.inputs if one.name == "learnt here"] == [500]
