"""Run the benches and print their tables. ``./keyhook bench [NAME ...] [--full] [--json]``."""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def main() -> int:
    """Run each named bench (all without a name) in a process of its own."""
    names = sorted(path.stem.removeprefix("bench_") for path in HERE.glob("bench_*.py"))
    parser = argparse.ArgumentParser(prog="./keyhook bench", description=__doc__)
    parser.add_argument("name", nargs="*", choices=[*names, []], help=f"only these: {', '.join(names)}")
    parser.add_argument("--full", action="store_true", help="the long runs too")
    parser.add_argument("--json", action="store_true", help="one JSON document a bench")
    given = parser.parse_args()
    flags = [flag for flag, on in (("--full", given.full), ("--json", given.json)) if on]
    codes = [
        subprocess.run([sys.executable, str(HERE / f"bench_{name}.py"), *flags], check=False).returncode
        for name in given.name or names
    ]
    return max(codes, default=0)


if __name__ == "__main__":
    sys.exit(main())
