"""Loading: one answer with all states and chance, the swap table, the programme against brute force, load times.

Ratios are against a named peer in the same run: the chance against 200,000 draws, the programme against brute force.
Every bench asserts its answer.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from keyhook.catalogue.reading import load_catalogue
from keyhook.cli.commands import DEMO
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.dossier import hire_loading, hire_swaps
from keyhook.loading.answer import loading_answer
from keyhook.loading.chance import LoadSpread, overload_chance
from keyhook.loading.lightening import LighteningTask, Limit, Thing, every_change, lighten, load_factor
from keyhook.loading.settings import Inconvenience
from keyhook.loading.statics import AxleLoads

PLACES = {"front": 1.0, "middle": 2.6, "back": 5.0}


def milliseconds(work: Callable[[], object], rounds: int) -> float:
    """Return the median time of a piece of work, ms."""
    spans = []
    for _ in range(rounds):
        started = time.perf_counter()
        work()
        spans.append(1000 * (time.perf_counter() - started))
    return statistics.median(spans)


def task(count: int, seed: int) -> LighteningTask:
    """Return a seeded programme that needs a change: so many things in three stores, too heavy."""
    rng = np.random.default_rng(seed)
    things = []
    for n in range(count):
        store = list(PLACES)[int(rng.integers(3))]
        things.append(Thing(f"t{n}", f"t{n}", float(rng.integers(3, 25)), PLACES[store], store, tuple(PLACES.items())))
    load = {axle: sum(t.mass_kg * load_factor(axle, t.x_m, 4.0) for t in things) for axle in ("front", "rear", "total")}
    share = {"front": 1.2, "rear": 0.92, "total": 0.93}
    limits = tuple(Limit("s", axle, share[axle] * load[axle] + 10) for axle in load)
    total = load["total"]
    rooms = {"front": 0.5 * total, "middle": 0.5 * total, "back": 0.6 * total}
    return LighteningTask(tuple(things), limits, rooms, 4.0, water_asked_l=40, water_least_l=5, water_x_m=2.2)


def programme(count: int, seeds: int, *, brute: bool) -> dict[str, float]:
    """Return median and worst time of the programme, and of brute force where asked; equal optimum asserted."""
    cost, spans, brute_spans = Inconvenience(), [], []
    for seed in range(seeds):
        one = task(count, seed)
        started = time.perf_counter()
        found = lighten(one, cost, prices=False)
        spans.append(1000 * (time.perf_counter() - started))
        if brute:
            started = time.perf_counter()
            best = min((points for points, _ in every_change(one, cost)), default=None)
            brute_spans.append(1000 * (time.perf_counter() - started))
            assert found.possible is (best is not None)
            assert best is None or abs(found.points - best) < 1e-5, (seed, found.points, best)
    result = {"median_ms": round(statistics.median(spans), 1), "worst_ms": round(max(spans), 1)}
    if brute:
        result |= {"brute_ms": round(statistics.median(brute_spans), 1)}
        result["brute_over_programme"] = round(result["brute_ms"] / result["median_ms"], 1)
    return result


def chance() -> dict[str, float]:
    """Return time of one chance against draws, and the largest difference."""
    rng = np.random.default_rng(5)
    spread = LoadSpread(AxleLoads(1600, 1950), 400, 900, -150)
    limits = {"front_kg": 1650.0, "rear_kg": 2000.0, "total_kg": 3580.0}
    cov = np.array([[400, -150], [-150, 900]])

    def drawn() -> float:
        draws = rng.multivariate_normal([1600, 1950], cov, 200_000)
        over = (draws[:, 0] > 1650) | (draws[:, 1] > 2000) | (draws.sum(axis=1) > 3580)
        return float(over.mean())

    one_ms = milliseconds(lambda: overload_chance(spread, **limits), 200)
    off = abs(overload_chance(spread, **limits).any_probability - np.mean([drawn() for _ in range(20)]))
    assert off < 0.001, off
    return {
        "one_ms": round(one_ms, 3),
        "draws_over_integral": round(milliseconds(drawn, 5) / one_ms),
        "off": round(off, 5),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--full", action="store_true")
    given = parser.parse_args()
    catalogue = load_catalogue()
    texts = read_folder(DEMO)
    depot = read_depot(texts, catalogue)
    sheet, hire = depot.built("W4-06"), depot.hire("H12")
    answer = loading_answer(sheet, hire, catalogue)
    assert answer.verdict == "over"
    load_catalogue.cache_clear()
    found: dict[str, object] = {
        "catalogue_load_ms": round(milliseconds(lambda: (load_catalogue.cache_clear(), load_catalogue()), 5), 1),
        "depot_load_ms": round(milliseconds(lambda: read_depot(texts, catalogue), 5), 1),
        "answer_ms": round(milliseconds(lambda: loading_answer(sheet, hire, catalogue), 50), 2),
        "answer_with_change_ms": round(milliseconds(lambda: hire_loading(depot, "H12", catalogue), 5), 1),
        "swap_17_vehicles_ms": round(milliseconds(lambda: hire_swaps(depot, "H12", catalogue), 5), 1),
        "chance": chance(),
        "programme_6": programme(6, 20, brute=True),
        "programme_15": programme(15, 20 if given.full else 8, brute=False),
        "programme_40": programme(40, 20 if given.full else 8, brute=False),
    }
    print(json.dumps(found) if given.json else "\n".join(f"{key:24} {value}" for key, value in found.items()))


if __name__ == "__main__":
    main()
