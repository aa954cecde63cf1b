"""Prove that cases never contradict themselves, whatever comes in whatever order.

    make prove-work            ten thousand random sequences
    QUICK=1 make prove-work    five hundred

Each sequence is lived through three times: as it came, with its maintenance in order, and with all
maintenance told on the last day.
"""

from __future__ import annotations

import os
import sys
import time
from multiprocessing import get_context

from tests.proofs.work.rounds import violations

_FIRST_SEED = 10_000


def main() -> int:
    """Run the sequences on all processors; 1 where anything was violated."""
    sequences = 500 if os.environ.get("QUICK") else 10_000
    seeds = range(_FIRST_SEED, _FIRST_SEED + sequences)
    began = time.monotonic()
    with get_context("spawn").Pool() as pool:
        found = [fault for one in pool.imap(violations, seeds, 50) for fault in one]
    for fault in found[:20]:
        print(fault)
    print(f"seeds {seeds.start} to {seeds.stop - 1}, {time.monotonic() - began:.0f} s")
    print(f"sequences {sequences}  violations {len(found)}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
