"""A tour problem refuses what cannot be planned: one sentence with what is wrong, the value seen, what to do."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from keyhook.errors import BadInput, KeyhookError, NoPlan, UnknownName
from keyhook.tour.problem import TourPoint, TourProblem
from keyhook.tour.search import best_tour

NOWHERE = {("a", "a"): 0.0, ("b", "b"): 0.0, ("a", "b"): 5.0, ("b", "a"): 5.0}


def _tour(*points: TourPoint, **changed: object) -> TourProblem:
    given = {
        "points": points or (TourPoint("one", "a", 10, 1.0),),
        "stations": ("a", "b"),
        "walking_s": NOWHERE,
        "start_station": "a",
        "end_station": "b",
        "available_min": 1.0,
    }
    return TourProblem(**{**given, **changed})


@pytest.mark.parametrize(
    ("make", "error", "said"),
    [
        (lambda: _tour(available_min=-1.0), BadInput, "The minutes for the tour cannot be this (saw -1.0)"),
        (lambda: _tour(available_min=math.inf), BadInput, "(saw inf)"),
        (lambda: _tour(available_min=math.nan), BadInput, "(saw nan)"),
        (lambda: _tour(elapsed_s=-1.0), BadInput, "seconds already spent"),
        (lambda: _tour(talk_factor=0.0), BadInput, "The talk factor cannot be this (saw 0.0)"),
        (lambda: _tour(pace_factor=-2.0), BadInput, "The pace of the party cannot be this (saw -2.0)"),
        (lambda: _tour(TourPoint("one", "a", 0, 1.0)), BadInput, "Showing one takes no time (saw 0)"),
        (lambda: _tour(TourPoint("one", "a", 5, -1.0)), BadInput, "one cannot save this (saw -1.0)"),
        (lambda: _tour(TourPoint("one", "a", 5, math.nan)), BadInput, "one cannot save this (saw nan)"),
        (lambda: _tour(*2 * (TourPoint("one", "a", 5, 1.0),)), BadInput, "stands twice in the tour (saw one)"),
        (lambda: _tour(TourPoint("one", "attic", 5, 1.0)), UnknownName, "has no place in the vehicle (saw attic)"),
        (lambda: _tour(end_station="attic"), UnknownName, "(saw attic)"),
        (lambda: _tour(walking_s={**NOWHERE, ("a", "b"): math.inf}), BadInput, "two stations (saw a to b)"),
        (lambda: _tour(walking_s={("a", "a"): 0.0}), BadInput, "two stations (saw a to b)"),
        (
            lambda: _tour(TourPoint("one", "a", 5, 1.0, closing=True)),
            BadInput,
            "one is said last but not where the tour ends (saw a)",
        ),
        (
            lambda: _tour(TourPoint("one", "a", 5, 1.0, after=("two",)), TourPoint("two", "b", 5, 1.0, closing=True)),
            NoPlan,
            "one waits for two, but two is said last, at the wheel",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_one_sentence(make, error, said):
    with pytest.raises(error) as caught:
        make()
    assert said in str(caught.value)
    assert len(str(caught.value).rstrip(".").split(". ")) <= 2


def test_points_that_wait_for_one_another_are_named_in_their_circle():
    with pytest.raises(NoPlan) as caught:
        _tour(
            TourPoint("gas", "a", 5, 1.0, after=("hob",)),
            TourPoint("hob", "a", 5, 1.0, after=("window",)),
            TourPoint("window", "b", 5, 1.0, after=("gas",)),
            TourPoint("lamp", "b", 5, 1.0),
        )
    said = str(caught.value)
    for chain in ("gas after hob", "hob after window", "window after gas"):
        assert chain in said
    assert "lamp" not in said


def test_a_point_that_waits_for_itself_is_a_circle_too():
    with pytest.raises(KeyhookError, match="one after one"):
        _tour(TourPoint("one", "a", 5, 1.0, after=("one",)))


def test_what_the_vehicle_has_not_got_is_not_waited_for():
    assert best_tour(_tour(TourPoint("one", "a", 5, 1.0, after=("not here",)))).points == ("one",)


def test_no_points_make_an_empty_tour_that_is_proven():
    plan = best_tour(replace(_tour(), points=()))
    assert plan.points == ()
    assert plan.proven
