"""Run every check of the project, in the order in which they fail fastest, and say what failed.

``./keyhook test`` runs all; ``./keyhook test NAME ...`` runs the named stages only.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
PYTEST = [PYTHON, "-m", "pytest", "-q"]
TOOLS = Path(PYTHON).parent


#: A cluster of a few minutes' life needs no sync; refused writes are what the tests are about, so it need not log them.
QUIET_AND_QUICK = ["-o", "fsync=off", "-o", "log_min_messages=fatal", "-o", "log_min_error_statement=fatal"]


@dataclass(frozen=True)
class Stage:
    """One stage: its name, what it is for, and the command."""

    name: str
    purpose: str
    command: list[str]
    postgresql: bool = False


STAGES = [
    Stage("lint", "style and likely mistakes", [str(TOOLS / "ruff"), "check", "src", "tests", "bench"]),
    Stage("format", "one formatter", [str(TOOLS / "ruff"), "format", "--check", "src", "tests", "bench"]),
    Stage("imports", "one direction of imports", [str(TOOLS / "lint-imports"), "--no-cache"]),
    Stage("types", "strict typing of both packages", [str(TOOLS / "mypy")]),
    Stage(
        "pure",
        "the computations: hand values, published cases, laws",
        [*PYTEST, "-n", "2", "tests/unit", "tests/published", "tests/property"],
    ),
    Stage("desk", "the desk on SQLite", [*PYTEST, "-n", "2", "tests/desk"]),
    Stage("desk-postgresql", "the desk on PostgreSQL", [*PYTEST, "-n", "2", "tests/desk"], postgresql=True),
    Stage("browser", "the desk in Chromium", [*PYTEST, "tests/browser"]),
]


def run(stage: Stage) -> bool:
    """Run one stage and return whether it passed."""
    # The laws are tried on the same examples each time; whoever wants new ones runs pytest without CI set.
    environment = {"CI": "true", **os.environ, "DJANGO_ALLOW_ASYNC_UNSAFE": "true"}
    command = stage.command
    if stage.postgresql:
        wrapper = shutil.which("pg_virtualenv")
        if wrapper is None:
            print("PostgreSQL is missing. Run: apt-get install postgresql", flush=True)
            return False
        environment["KEYHOOK_DATABASE"] = "postgresql"
        command = [wrapper, *QUIET_AND_QUICK, *command]
    print(f"\n== {stage.name}: {stage.purpose}", flush=True)
    started = time.monotonic()
    passed = subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode == 0
    print(f"== {stage.name}: {'passed' if passed else 'FAILED'} in {time.monotonic() - started:.0f} s", flush=True)
    return passed


def main() -> int:
    """Run the chosen stages; all of them even when one fails, so one run tells everything."""
    names = [stage.name for stage in STAGES]
    parser = argparse.ArgumentParser(prog="./keyhook test", description=__doc__)
    parser.add_argument("stage", nargs="*", choices=[*names, []], help=f"only these: {', '.join(names)}")
    chosen = parser.parse_args().stage or names
    failed = [stage.name for stage in STAGES if stage.name in chosen and not run(stage)]
    print(f"\nstages: {len(chosen) - len(failed)} passed, {len(failed)} failed" + "".join(f" {f}" for f in failed))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
