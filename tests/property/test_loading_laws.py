"""Laws of loading: moments balance, the chance equals draws, the programme equals brute force."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from keyhook.hire.hire import Person
from keyhook.loading.chance import LoadSpread, overload_chance
from keyhook.loading.lightening import LighteningTask, Limit, Thing, every_change, lighten, load_factor
from keyhook.loading.seating import seat_party, sleep_party, why_not
from keyhook.loading.settings import Inconvenience
from keyhook.loading.statics import AxleLoads, axle_loads, slope_error_kg
from keyhook.vehicle.build_sheet import Berth, Seat

mass = st.floats(0, 500)
place = st.floats(-1.5, 8)
wheelbase = st.floats(2.5, 5.5)


@given(mass, place, wheelbase)
def test_forces_and_moments_balance(mass_kg, x_m, wheelbase_m):
    found = axle_loads(mass_kg, x_m, wheelbase_m)
    assert found.front_kg + found.rear_kg == pytest.approx(mass_kg, abs=1e-9)
    assert found.rear_kg * wheelbase_m == pytest.approx(mass_kg * x_m, abs=1e-6)


def test_a_slope_moves_mass_by_height_over_wheelbase():
    """m h tan(g) / L: 3,000 kg, 1.2 m high, 2 degrees, 4 m: tan 2 degrees is 0.034921 (mathematical table)."""
    assert slope_error_kg(3000, 1.2, 2, 4) == pytest.approx(900 * 0.034921, rel=1e-4)


@pytest.mark.parametrize("seed", range(6))
def test_the_chance_equals_two_million_draws(seed):
    rng = np.random.default_rng(seed)
    mean = rng.uniform([1500, 1800], [1800, 2000])
    a = rng.uniform(-25, 25, (2, 2))
    cov = a @ a.T + np.eye(2) * 9
    limits = mean + rng.uniform(-20, 60, 2)
    total = mean.sum() + rng.uniform(-20, 60)
    spread = LoadSpread(AxleLoads(*mean), cov[0, 0], cov[1, 1], cov[0, 1])
    found = overload_chance(spread, front_kg=limits[0], rear_kg=limits[1], total_kg=total)
    draws = rng.multivariate_normal(mean, cov, 2_000_000)
    over = (draws[:, 0] > limits[0]) | (draws[:, 1] > limits[1]) | (draws.sum(axis=1) > total)
    assert found.any_probability == pytest.approx(over.mean(), abs=0.0015)
    assert found.total_probability == pytest.approx(stats.norm.sf(total, mean.sum(), cov.sum() ** 0.5), abs=1e-9)


def test_the_chance_equals_an_independent_quadrature():
    mean, cov = np.array([1600.0, 1950.0]), np.array([[400.0, -150.0], [-150.0, 900.0]])
    spread = LoadSpread(AxleLoads(*mean), 400.0, 900.0, -150.0)
    found = overload_chance(spread, front_kg=1650, rear_kg=2000, total_kg=3580)
    density = stats.multivariate_normal(mean, cov).pdf
    inside, _ = integrate.dblquad(
        lambda r, f: density((f, r)), 1400, 1650, lambda _f: 1650, lambda f: min(2000, 3580 - f), epsabs=1e-7
    )
    assert found.any_probability == pytest.approx(1 - inside, abs=1e-5)


@given(st.floats(-80, 200), st.floats(1, 60))
def test_more_margin_never_raises_the_chance(margin_kg, sd_kg):
    spread = LoadSpread(AxleLoads(1500, 1800), sd_kg**2, sd_kg**2, 0.0)
    near = overload_chance(spread, front_kg=1800, rear_kg=1800 + margin_kg, total_kg=4000).any_probability
    far = overload_chance(spread, front_kg=1800, rear_kg=1800 + margin_kg + 10, total_kg=4000).any_probability
    assert 0 <= far <= near + 1e-9


def _task(rng: np.random.Generator, count: int) -> LighteningTask:
    stores = {"front": 1.0, "middle": 2.6, "back": 5.0}
    things = []
    for n in range(count):
        store = list(stores)[rng.integers(3)]
        moves = tuple(stores.items()) if rng.random() < 0.7 else ()
        things.append(Thing(f"t{n}", f"thing {n}", float(rng.integers(4, 40)), stores[store], store, moves))
    if count > 3:
        things.append(Thing("rack", "rack", 12.0, 6.4, "", (), 1.0))
        things.append(Thing("bike", "bike", 20.0, 6.4, "rack", (), 30.0, needs="rack"))
    load = {axle: sum(t.mass_kg * load_factor(axle, t.x_m, 4.0) for t in things) for axle in ("front", "rear", "total")}
    limits = tuple(
        Limit("s", axle, load[axle] * rng.uniform(0.75, 1.05) + 15, True) for axle in ("front", "rear", "total")
    )
    rooms = {name: float(rng.integers(25, 90)) for name in stores} | {"rack": 60.0}
    return LighteningTask(tuple(things), limits, rooms, 4.0, water_asked_l=40.0, water_least_l=0.0, water_x_m=2.2)


@pytest.mark.parametrize("seed", range(25))
def test_the_programme_finds_the_optimum_of_brute_force(seed):
    rng = np.random.default_rng(seed)
    task, cost = _task(rng, int(rng.integers(2, 7))), Inconvenience()
    best = min((points for points, _ in every_change(task, cost)), default=None)
    found = lighten(task, cost)
    assert found.possible is (best is not None)
    if best is not None:
        assert found.points == pytest.approx(best, abs=1e-5)


@pytest.mark.parametrize("seed", range(10))
def test_the_change_keeps_every_limit_and_every_store(seed):
    rng = np.random.default_rng(100 + seed)
    task = _task(rng, 12)
    found = lighten(task, Inconvenience(), prices=False)
    if not found.possible:
        assert found.short_by_kg > -1e9
        return
    where = {thing.key: thing.store for thing in task.things} | {thing.key: to for thing, _, to in found.moves}
    gone = {thing.key for thing in found.left}
    at = {"front": 1.0, "middle": 2.6, "back": 5.0, "rack": 6.4, "": 6.4}
    for limit in task.limits:
        kept = [t for t in task.things if t.key not in gone]
        load = sum(t.mass_kg * load_factor(limit.axle, at[where[t.key]], 4.0) for t in kept)
        assert load + found.water_l * load_factor(limit.axle, 2.2, 4.0) <= limit.room_kg + 1e-3
    for store, most_kg in task.store_limits_kg.items():
        assert sum(t.mass_kg for t in task.things if t.key not in gone and where[t.key] == store) <= most_kg + 1e-6
    if "rack" in gone:
        assert "bike" in gone


SEATS = (
    Seat(id="driver", x_m=1, y_m=0.4, belt="three_point", driver=True, front=True),
    Seat(id="cab", x_m=1, y_m=-0.4, belt="three_point", front=True, frontal_airbag=True),
    Seat(id="a", x_m=2, y_m=0.4, belt="three_point"),
    Seat(id="b", x_m=2, y_m=-0.4, belt="three_point", hollow_locker_under=True),
    Seat(id="side", x_m=2.6, y_m=-0.6, belt="lap", facing="sideways", adults_only=True),
)


@settings(max_examples=60)
@given(st.lists(st.tuples(st.floats(0.2, 75), st.integers(50, 190)), min_size=1, max_size=5))
def test_a_proposed_order_breaks_no_rule(people):
    party = [Person(age_years=40), *(Person(age_years=age, height_cm=height) for age, height in people)][:5]
    found = seat_party(party, SEATS, [0], ["GB"])
    if not found.possible:
        return
    by_id = {seat.id: seat for seat in SEATS}
    taken = [place.proposed for place in found.places]
    assert len(set(taken)) == len(party)
    assert taken[0] == "driver"
    for person, place in zip(party[1:], found.places[1:], strict=True):
        assert why_not(person, by_id[place.proposed], found.until_height_cm) == ""


@settings(max_examples=60)
@given(st.lists(st.floats(10, 130), min_size=1, max_size=5))
def test_a_bed_for_everybody_keeps_numbers_and_limits(masses):
    berths = (
        Berth(id="rear", name="Rear", sleeps=2, length_m=1.9, width_m=1.4, limit_kg=200, x_m=5),
        Berth(id="high", name="High", sleeps=2, length_m=1.9, width_m=1.3, limit_kg=150, x_m=2),
    )
    found = sleep_party(masses, berths, [None] * len(masses))
    assert found.sleeps == 4
    if not found.possible:
        return
    for berth in berths:
        here = [m for m, b in zip(masses, found.berths, strict=True) if b == berth.id]
        assert len(here) <= berth.sleeps
        assert sum(here) <= berth.limit_kg
