"""The planned day of the demo depot: who may serve whom, nothing unverified, never worse than the rule."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.day_plan import known_news, planned_day, stops_of, suitable_vehicles
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.checker import violations
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.recount import objective

DEMO = Path(__file__).resolve().parents[2] / "demo"
FRIDAY = dt.date(2026, 7, 10)


@pytest.fixture(scope="module")
def depot():
    return read_depot(read_folder(DEMO), load_catalogue())


@pytest.fixture(scope="module")
def suits(depot):
    return suitable_vehicles(depot, FRIDAY, load_catalogue())


def test_a_vehicle_that_cannot_carry_the_party_does_not_serve_it(suits):
    assert "V2-05" not in suits["H13"]  # six people, four belts
    assert "W4-06" not in suits["H12"]  # over on total, rear axle and rack


def test_a_driver_without_the_category_gets_no_heavy_vehicle(suits):
    assert "T5-01" not in suits["H10"]


def test_a_vehicle_of_another_class_costs_more_than_one_of_the_same(suits):
    assert suits["H11"]["V2-05"] < suits["H11"]["W4-06"]


def test_a_vehicle_that_is_out_with_somebody_else_is_not_offered(suits):
    assert all("W4-03" not in vehicles for vehicles in suits.values())  # out until 16 July


def test_a_return_that_rang_is_expected_when_it_said(depot):
    assert known_news(depot, FRIDAY).arrivals == {"H05": 11 * 60 + 15}


def test_whoever_may_not_leave_in_the_vehicle_of_the_plan_is_named_with_the_first_reason(depot):
    own = tuple((name, hire.vehicle) for name, hire in depot.hires.items() if name in {"H10", "H12", "H14", "H16"})
    stops = stops_of(depot, FRIDAY, Plan((), (*own, ("H17", None))), load_catalogue())
    assert sorted(stops) == ["H12", "H14"]  # as the demo's traps have it: too heavy, and the wrong driver
    assert "rear axle" in stops["H12"]
    assert "must drive" in stops["H14"]


def test_the_plan_keeps_every_rule_and_is_never_worse_than_the_rule_of_the_yard(depot, suits):
    found = planned_day(
        depot, FRIDAY, load_catalogue(), Limits(step_count=2000), news=known_news(depot, FRIDAY), draws=200, suits=suits
    )
    assert violations(found.problem, found.plan) == ()
    assert objective(found.problem, found.plan) == found.objective
    assert found.objective <= found.rule
    assert {chance.departure for chance in found.chances.departures} == {
        name for name, vehicle in found.plan.allotment if vehicle
    }
