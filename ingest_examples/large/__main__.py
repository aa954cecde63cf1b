"""`python -m ingest_examples.large --out DIR`: make a large invented site."""

from __future__ import annotations

import argparse
import sys
from dataclasses import fields
from pathlib import Path

from ingest_examples.large.build import build
from ingest_examples.large.size import Size

_HELP = {
    "online": "machines with sensors",
    "route": "machines on walked routes",
    "failures": "machines that fail",
    "online_days": "days of the sensors, the last of the period",
    "route_days": "days of the routes, and of the period",
    "hours": "hours between readings of a sensor",
}


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="ingest_examples.large", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="empty folder to write")
    parser.add_argument("--seed", type=int, default=1, help="other seed, other site")
    parser.add_argument("--lost", type=float, default=0.0, help="share of readings lost")
    parser.add_argument("--wrong", type=float, default=0.0, help="share systematically wrong")
    for field in fields(Size):
        kind = float if field.name == "hours" else int
        parser.add_argument(f"--{field.name.replace('_', '-')}", type=kind,
                            default=field.default, help=_HELP[field.name])  # fmt: skip
    return parser.parse_args()


def main() -> int:
    """Make the site; prints the number of readings."""
    args = _arguments()
    size = Size(**{field.name: getattr(args, field.name) for field in fields(Size)})
    for fault in size.faults:
        print(fault, file=sys.stderr)
    if size.faults:
        return 2
    print(f"readings\t{build(args.seed, size, args.out, args.lost, args.wrong)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
