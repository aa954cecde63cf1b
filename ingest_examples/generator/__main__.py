"""`python -m ingest_examples.generator --out DIR`: make the invented data."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, date, datetime
from pathlib import Path

from rich.console import Console
from rich.progress import Progress

from ingest_examples.generator.build import STEPS, build
from ingest_examples.generator.clock import Period

_SHORTEST_DAYS = 28


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="ingest_examples.generator", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder to write")
    parser.add_argument("--seed", type=int, default=20_718, help="other seed, other noise")
    parser.add_argument("--days", type=int, default=90, help="length of the period [d]")
    parser.add_argument("--scale", type=float, default=1.0,
                        help="readings of online sources, this many times as dense")  # fmt: skip
    parser.add_argument("--start", type=date.fromisoformat, default=date(2025, 8, 16),
                        help="first day, UTC")  # fmt: skip
    return parser.parse_args()


def main() -> int:
    """Make the data; prints the totals of items by outcome."""
    args = _arguments()
    if args.days < _SHORTEST_DAYS or not 0.1 <= args.scale <= 3600:
        print(f"days must be at least {_SHORTEST_DAYS}, scale 0.1 to 3600", file=sys.stderr)
        return 2
    start = datetime(args.start.year, args.start.month, args.start.day, tzinfo=UTC)
    period = Period(int(start.timestamp()), args.days, args.seed, args.scale)
    console = Console(stderr=True)
    with Progress(console=console, disable=not console.is_terminal) as progress:
        task = progress.add_task("simulating", total=STEPS)
        totals = build(
            period,
            args.out,
            lambda done: progress.update(task, advance=1, description=done),
        )
    for outcome, number in sorted(totals.items()):
        print(f"{outcome}\t{number}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
