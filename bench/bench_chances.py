"""Chances of a day: the time of 10,000 executions by size of the day, on one core and on all, and what a reason costs.

``python bench/bench_chances.py [--full] [--json]``. Every plan passes the checker; the load of the machine is printed
beside the times, and the processor time beside the wall's.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "src"))

from keyhook.turnaround.chances import left_at
from keyhook.turnaround.checker import violations
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.generate import catalogue_minutes, generate_day
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.reasons import all_reasons

BOOK = catalogue_minutes()
SIZES, MORE = (10, 20, 40), (80,)
DRAWS = 10_000
AIM_S = 1.0


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--full", action="store_true", help="80 turnarounds too")
    parser.add_argument("--json", action="store_true", help="one JSON document")
    asked = parser.parse_args()
    rows = [_row(size) for size in (*SIZES, *(MORE if asked.full else ()))]
    if asked.json:
        print(json.dumps(rows))
        return
    print(
        f"{DRAWS:,} executions of a day (aim at 40: {AIM_S} s), load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores"
    )
    for row in rows:
        print(
            f"{row['turnarounds']:3} turnarounds, {row['tasks']:5} tasks: {row['all_s']:.2f} s on all cores, "
            f"{row['one_s']:.2f} s on one ({row['cpu_s']:.2f} s computing), "
            f"{row['ns_a_task']:.0f} ns a task; every reason {row['reasons_ms']:.0f} ms"
        )


def _row(turnarounds: int) -> dict[str, Any]:
    problem = generate_day(turnarounds, "normal", 1, BOOK)
    plan = dispatch(problem)
    assert isinstance(plan, Plan)
    assert not violations(problem, plan)
    left_at(problem, plan, 10, 0)  # compiles, or reads what was compiled
    cores = os.cpu_count() or 1
    one_s, cpu_s = _timed(problem, plan, 1)
    all_s, _ = _timed(problem, plan, cores)
    began = time.perf_counter()
    all_reasons(problem, plan)
    return {
        "turnarounds": turnarounds,
        "tasks": len(plan.tasks),
        "all_s": all_s,
        "one_s": one_s,
        "cpu_s": cpu_s,
        "ns_a_task": cpu_s / DRAWS / len(plan.tasks) * 1e9,
        "reasons_ms": (time.perf_counter() - began) * 1e3,
    }


def _timed(problem: Problem, plan: Plan, cores: int) -> tuple[float, float]:
    """Return the least of three runs: seconds by the wall, and the seconds this process computed."""
    found = []
    for _ in range(3):
        wall, cpu = time.perf_counter(), time.process_time()
        left_at(problem, plan, DRAWS, 0, cores=cores)
        found.append((time.perf_counter() - wall, time.process_time() - cpu))
    return min(found)


if __name__ == "__main__":
    main()
