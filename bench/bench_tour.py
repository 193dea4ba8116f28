"""Tour: exact choice against the fixed talk and value per second, times and proofs, and what listening finds.

Generated tours are seeded: stations round a vehicle and inside it behind one door, points with the spread of the
catalogue (5 to 150 seconds, a fifth must be said, an eighth at the wheel), a tenth of them waiting for another one,
mostly at the same station. ``--knotty`` lets them wait for any station. Every bench asserts its answer with the
checker. ``--fit`` fits the weights of listening on the recordings for choosing and prints them.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import sys
import time
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from keyhook.basis import Because
from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.tour.answer import answer_of, tour_answer
from keyhook.tour.checker import complaints
from keyhook.tour.compose import ComposedTour, Known, TourWishes
from keyhook.tour.coverage import tour_check
from keyhook.tour.greedy import fixed_talk, greedy_tour
from keyhook.tour.matching import WEIGHTS, matches, scores, vocabulary_of
from keyhook.tour.plan import TourPlan
from keyhook.tour.problem import TourPoint, TourProblem
from keyhook.tour.recording import read_recording
from keyhook.tour.search import best_tour
from keyhook.tour.select import Search
from keyhook.vehicle.composition import teach_points

ROOT = Path(__file__).resolve().parent.parent
SECONDS = (5, 10, 10, 15, 15, 20, 25, 30, 45, 60, 90, 150)
MISS, BITE = (0.02, 0.05, 0.08, 0.12, 0.2, 0.3, 0.4), (0.01, 0.05, 0.2, 0.35, 0.6, 0.9)
COST = (5, 25, 25, 120, 120, 650)
#: A tour is to save so many times what the clockwise talk saves that tells everything until the time is up.
AIM_RATIO = 1.4
DOOR_S, AROUND_S = 5.0, 18.0


def generated(
    points: int, stations: int, seed: int, *, minutes: float = 40.0, same_station: float = 0.85
) -> TourProblem:
    """Return a seeded tour; ``same_station`` is the share of waiting points that wait at their own station."""
    rng = np.random.default_rng(seed)
    names = [f"s{number:02d}" for number in range(stations)]
    walking = _walking(names, outside=stations * 3 // 5)
    end = names[stations * 3 // 5]
    made: list[TourPoint] = []
    for number in range(points):
        closing = bool(rng.random() < 1 / 8)
        station = end if closing else names[int(rng.integers(stations))]
        value = 0.7 * rng.choice(MISS) * rng.choice(BITE) * rng.choice(COST)
        must = bool(rng.random() < 0.2)
        made.append(
            TourPoint(f"p{number:03d}", station, float(rng.choice(SECONDS)), round(value, 4), must, closing=closing)
        )
    order = rng.permutation(points)
    for place, number in enumerate(order):
        point = made[number]
        earlier = [made[other] for other in order[:place] if point.closing or not made[other].closing]
        near = [other for other in earlier if other.station == point.station]
        pool = near if rng.random() < same_station else earlier
        if pool and rng.random() < 0.1:
            made[number] = replace(point, after=(pool[int(rng.integers(len(pool)))].id,))
    return TourProblem(tuple(made), tuple(names), walking, names[0], end, minutes)


def _walking(names: list[str], outside: int) -> dict[tuple[str, str], float]:
    """Return quickest walks: a ring outside, a line inside, one door between them."""
    place = {name: rank for rank, name in enumerate(names)}
    inside = len(names) - outside

    def direct(one: str, other: str) -> float:
        a, b = place[one], place[other]
        if a >= outside and b >= outside:
            return 5.0 * abs(a - b) / max(inside - 1, 1) + 1.0 * (a != b)
        if a < outside and b < outside:
            gap = abs(a - b) / outside
            return AROUND_S * min(gap, 1 - gap)
        ring, line = (a, b) if a < outside else (b, a)
        gap = abs(ring / outside - 0.3)
        return AROUND_S * min(gap, 1 - gap) + DOOR_S + 5.0 * (line - outside) / max(inside - 1, 1)

    walks = {(one, other): direct(one, other) for one, other in product(names, names)}
    for via, one, other in product(names, names, names):
        walks[one, other] = min(walks[one, other], walks[one, via] + walks[via, other])
    return walks


@dataclass(frozen=True)
class Measured:
    """One tour: seconds, proof, and what each way of planning saves."""

    seconds: float
    proven: bool
    gap_percent: float
    over_fixed: float
    over_fixed_mandatory: float
    over_greedy: float


def measure(problem: TourProblem, limit_s: float) -> Measured:
    """Plan a tour in every way; all plans that may be shown pass the checker."""
    started = time.perf_counter()
    plan = best_tour(problem, Search(limit_s=limit_s))
    seconds = time.perf_counter() - started
    greedy = greedy_tour(problem)
    fixed, mandatory = fixed_talk(problem), fixed_talk(problem, mandatory_first=True)
    for checked in (plan, greedy):
        assert not complaints(problem, checked), complaints(problem, checked)
    assert plan.value_cost >= greedy.value_cost - 0.01
    assert plan.bound_cost is not None
    gap = 100 * (plan.bound_cost / plan.value_cost - 1)
    return Measured(seconds, plan.proven, gap, *(_ratio(plan, other) for other in (fixed, mandatory, greedy)))


def _ratio(plan: TourPlan, other: TourPlan) -> float:
    return plan.value_cost / other.value_cost if other.value_cost else math.inf


def size(points: int, stations: int, seeds: int, limit_s: float, same_station: float) -> dict[str, object]:
    """Return the table row of one size."""
    rows = [measure(generated(points, stations, seed, same_station=same_station), limit_s) for seed in range(seeds)]
    assert statistics.median(row.over_fixed for row in rows) >= AIM_RATIO
    return {
        "seconds_median": round(statistics.median(row.seconds for row in rows), 2),
        "seconds_worst": round(max(row.seconds for row in rows), 2),
        "proven": f"{sum(row.proven for row in rows)} of {seeds}",
        "gap_percent_worst": round(max(row.gap_percent for row in rows), 2),
        "over_fixed_median": round(statistics.median(row.over_fixed for row in rows), 2),
        "over_fixed_mandatory_first_median": round(statistics.median(row.over_fixed_mandatory for row in rows), 2),
        "over_value_per_second_median": round(statistics.median(row.over_greedy for row in rows), 4),
    }


def whole_answers(points: int, stations: int, seeds: int, same_station: float) -> dict[str, object]:
    """Return the seconds of whole answers: the tour, what five more minutes would buy, what must be said alone."""
    seconds = []
    for seed in range(seeds):
        composed = composed_of(generated(points, stations, seed, same_station=same_station))
        started = time.perf_counter()
        answer = answer_of(composed, load_catalogue())
        seconds.append(time.perf_counter() - started)
        assert not complaints(composed.problem, answer.plan)
    return {"seconds_median": round(statistics.median(seconds), 2), "seconds_worst": round(max(seconds), 2)}


def composed_of(problem: TourProblem) -> ComposedTour:
    """Return a generated problem as if it had been composed from a build sheet."""
    because = Because("generated")
    known = {
        point.id: Known(
            id=point.id,
            text=point.id,
            why="",
            who="",
            kind="damage",
            moment="drive_off" if point.closing else "walk",
            mandatory=point.mandatory,
            title=point.id,
            station=point.station,
            find_it=0,
            where="",
            loss_cost=point.value_cost / 0.7,
            value_cost=point.value_cost,
            because=because,
        )
        for point in problem.points
    }
    return ComposedTour(problem, known, (), (), frozenset(), because, because)


def demo(hires: int) -> dict[str, object]:
    """Return times of whole answers of the demo, and what they save against the fixed talk."""
    catalogue = load_catalogue()
    depot = read_depot(read_folder(ROOT / "demo"), catalogue)
    seconds, over, proven = [], [], 0
    for name in sorted(depot.hires)[:hires]:
        hire = depot.hire(name)
        sheet = depot.sheet_of(hire)
        assert sheet is not None
        quirks = depot.vehicles[hire.vehicle].quirks if hire.vehicle in depot.vehicles else ()
        started = time.perf_counter()
        answer = tour_answer(sheet, catalogue, hire, TourWishes(quirks=quirks))
        seconds.append(time.perf_counter() - started)
        assert not complaints(answer.composed.problem, answer.plan)
        over.append(_ratio(answer.plan, fixed_talk(answer.composed.problem)))
        proven += answer.plan.proven
    assert statistics.median(over) >= AIM_RATIO
    return {
        "hires": len(seconds),
        "seconds_median": round(statistics.median(seconds), 2),
        "seconds_worst": round(max(seconds), 2),
        "proven": proven,
        "over_fixed_median": round(statistics.median(over), 2),
        "over_fixed_least": round(min(over), 2),
    }


@dataclass(frozen=True)
class Listened:
    """One marked recording: measures of each point, whether it was said, seconds off where it was found."""

    name: str
    use: str
    measures: np.ndarray
    said: np.ndarray
    chance: np.ndarray
    off_s: list[float]


def listened() -> list[Listened]:
    """Return all marked recordings with what listening makes of them."""
    catalogue = load_catalogue()
    depot = read_depot(read_folder(ROOT / "demo"), catalogue)
    vocabulary, found = vocabulary_of(catalogue), []
    for path in sorted((ROOT / "demo" / "recordings").glob("*.truth.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        windows = read_recording((path.parent / truth["recording"]).read_text(encoding="utf-8")).windows()
        points = [placed.entry for placed in teach_points(depot.sheet(truth["sheet"]), catalogue)]
        counted = [m for m in matches(scores(windows, points, vocabulary)) if m.point not in truth["either"]]
        said = np.array([match.point in truth["covered"] for match in counted])
        off = [
            abs(windows[match.window].start_s - _seconds(truth["covered"][match.point]))
            for match in counted
            if match.point in truth["covered"] and match.chance >= WEIGHTS.covered_from
        ]
        measures = np.array([[match.closeness, match.overlap, match.lead] for match in counted])
        chance = np.array([match.chance for match in counted])
        found.append(Listened(path.name.split(".")[0], truth["use"], measures, said, chance, off))
    return found


def _seconds(clock: str) -> float:
    minutes, seconds = clock.split(":")
    return 60.0 * int(minutes) + int(seconds)


def precision_recall(chance: np.ndarray, said: np.ndarray, start: float) -> tuple[float, float]:
    """Return of what counts as said the share that was, and of what was said the share that counts."""
    counts = chance >= start
    hit = int((counts & said).sum())
    return hit / max(int(counts.sum()), 1), hit / max(int(said.sum()), 1)


def listening() -> dict[str, object]:
    """Return precision and recall of each recording, and of all held-out ones together."""
    rows: dict[str, object] = {}
    recordings = listened()
    for use in ("choosing", "held out"):
        these = [row for row in recordings if row.use == use]
        for row in these:
            precision, recall = precision_recall(row.chance, row.said, WEIGHTS.covered_from)
            rows[f"{row.name} ({use})"] = f"precision {precision:.3f} recall {recall:.3f} of {row.said.sum()} said"
        chance, said = np.concatenate([r.chance for r in these]), np.concatenate([r.said for r in these])
        precision, recall = precision_recall(chance, said, WEIGHTS.covered_from)
        off = statistics.median(second for row in these for second in row.off_s)
        rows[f"all {use}"] = f"precision {precision:.3f} recall {recall:.3f}, place off by {off:.1f} s (median)"
    rows["held out, closeness alone"] = "precision {:.3f} recall {:.3f}".format(*closeness_alone(recordings))
    rows["held out, other equipment"] = "{} of {} found, {} found wrongly".format(*foreign_found("held out"))
    return rows


def closeness_alone(recordings: list[Listened]) -> tuple[float, float]:
    """Return precision and recall on held-out recordings of one threshold on the cosine, best on the others."""
    chosen, held = ([row for row in recordings if row.use == use] for use in ("choosing", "held out"))

    def all_of(rows: list[Listened]) -> tuple[np.ndarray, np.ndarray]:
        return np.concatenate([row.measures[:, 0] for row in rows]), np.concatenate([row.said for row in rows])

    def f1(start: float) -> float:
        precision, recall = precision_recall(*all_of(chosen), start)
        return 2 * precision * recall / max(precision + recall, 1e-9)

    return precision_recall(*all_of(held), max(np.arange(0.1, 0.9, 0.01), key=f1))


def foreign_found(use: str) -> tuple[int, int, int]:
    """Return how many pieces of other equipment were found, of how many, and how many were named wrongly."""
    catalogue = load_catalogue()
    depot = read_depot(read_folder(ROOT / "demo"), catalogue)
    hit = there = wrong = 0
    for path in sorted((ROOT / "demo" / "recordings").glob("*.truth.json")):
        truth = json.loads(path.read_text(encoding="utf-8"))
        if truth["use"] == use:
            text = (path.parent / truth["recording"]).read_text(encoding="utf-8")
            found = {talk.fitting for talk in tour_check(text, depot.sheet(truth["sheet"]), catalogue).foreign}
            hit, there = hit + len(found & set(truth["foreign"])), there + len(truth["foreign"])
            wrong += len(found - set(truth["foreign"]))
    return hit, there, wrong


def fit() -> dict[str, float]:
    """Return weights fitted on the recordings for choosing, and the threshold that is best when each is left out."""
    these = [row for row in listened() if row.use == "choosing"]
    left_out = [
        (_chance(row.measures, _fitted([other for other in these if other is not row])), row.said) for row in these
    ]
    chance, said = np.concatenate([c for c, _ in left_out]), np.concatenate([s for _, s in left_out])

    def f1(start: float) -> float:
        precision, recall = precision_recall(chance, said, start)
        return 2 * precision * recall / max(precision + recall, 1e-9)

    best = max(np.arange(0.1, 0.9, 0.01), key=f1)
    bias, closeness, overlap, lead = _fitted(these)
    found = {"bias": bias, "closeness": closeness, "overlap": overlap, "lead": lead, "covered_from": best}
    found["f1_left_out"] = f1(best)
    return {name: round(float(value), 2) for name, value in found.items()}


def _fitted(rows: list[Listened], penalty: float = 0.01) -> np.ndarray:
    """Return bias and weights of a logistic function with a small penalty, on standardized measures."""
    measures, said = np.vstack([row.measures for row in rows]), np.concatenate([row.said for row in rows])
    middle, spread = measures.mean(axis=0), measures.std(axis=0)
    standard = (measures - middle) / spread

    def loss(weights: np.ndarray) -> float:
        z = standard @ weights[1:] + weights[0]
        return float(np.mean(np.logaddexp(0, z) - said * z) + penalty * np.sum(weights[1:] ** 2) / 2)

    weights = minimize(loss, np.zeros(4)).x
    return np.array([weights[0] - np.sum(weights[1:] * middle / spread), *(weights[1:] / spread)])


def _chance(measures: np.ndarray, weights: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-(measures @ weights[1:] + weights[0])))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--full", action="store_true", help="more seeds, all hires")
    parser.add_argument("--knotty", action="store_true", help="points wait for any station")
    parser.add_argument("--fit", action="store_true", help="only fit the weights of listening")
    given = parser.parse_args()
    same_station = 0.0 if given.knotty else 0.85
    best_tour(generated(20, 6, 0, same_station=0.0), Search(limit_s=5.0))  # compiles once
    seeds = 10 if given.full else 3
    found: dict[str, object] = (
        {"weights": fit()}
        if given.fit
        else {
            "60 points, 20 stations, 30 s": size(60, 20, seeds, 30.0, same_station),
            "120 points, 30 stations, 1.5 s": size(120, 30, seeds, 1.5, same_station),
            "120 points, 30 stations, whole answer": whole_answers(120, 30, seeds, same_station),
            "demo": demo(25 if given.full else 6),
            "listening": listening(),
        }
    )
    if given.json:
        print(json.dumps(found))
        return
    for heading, rows in found.items():
        print(heading)
        for name, value in rows.items() if isinstance(rows, dict) else ():
            print(f"  {name:36} {value}")


if __name__ == "__main__":
    main()
