"""`python -m ingest_examples.month --out DIR`: make the files of one invented month."""

from __future__ import annotations

import argparse
from pathlib import Path

from ingest_examples.month.build import build


def main() -> int:
    """Make the files; prints how many."""
    parser = argparse.ArgumentParser(prog="ingest_examples.month", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder to write")
    print(f"files\t{build(parser.parse_args().out)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
