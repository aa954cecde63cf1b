"""`make prove-arrival`: kill, start again, compare with the plain model; again and again.

Prints, last, `kills N  lost 0  doubled 0  unexplained 0` and ends with 1 where
that is not so. QUICK=1 makes a small cut, KILLS=N one of that many, SEED=N the
run of another seed; a round that was not as it must be stays where it says.
"""

from __future__ import annotations

import os
import random
import shutil
import sys
import tempfile
import time
from pathlib import Path

from tests.proofs.arrival.processes import Stage, Tally
from tests.proofs.arrival.rounds import Round, StuckError, make_template

_KILLS = 300
_QUICK_KILLS = 40


def main() -> None:
    """Run rounds until enough processes were killed."""
    seed = int(os.environ.get("SEED") or time.time_ns() % 1_000_000)
    usual = _QUICK_KILLS if os.environ.get("QUICK") == "1" else _KILLS
    print(f"seed {seed}", flush=True)
    begun = time.monotonic()
    tally = prove(seed, int(os.environ.get("KILLS") or usual))
    for step, times in sorted(tally.killed.items()):
        print(f"{times:5} killed at {step}")
    refused = ", ".join(f"{n} {action}" for action, n in sorted(tally.refused.items()))
    print(f"processes {tally.started}  refused {tally.refused.total()} ({refused})")
    print(f"seed {seed}  seconds {time.monotonic() - begun:.0f}\n{tally}")
    sys.exit(1 if tally.wrong else 0)


def prove(seed: int, wanted: int) -> Tally:
    """Rounds of packages with kills until `wanted` processes were killed."""
    tally = Tally()
    chance = random.Random(seed)
    stage = Stage(chance, tally)
    folder = Path(tempfile.mkdtemp(prefix="prove-arrival-"))
    make_template(folder / "template")
    number = 0
    while tally.kills < wanted:
        number += 1
        place = folder / f"round-{number}"
        wrong = tally.wrong
        try:
            Round(place, stage, random.Random(f"{seed}-{number}")).run(folder / "template")
        except StuckError as error:
            tally.unexplained += 1
            sys.stderr.write(f"unexplained: never done: {error}\n")
        if tally.wrong == wrong:
            shutil.rmtree(place)
        else:
            sys.stderr.write(f"round {number} is not as it must be: {place}\n")
        sys.stderr.write(f"{tally}\n")
    if not tally.wrong:
        shutil.rmtree(folder)
    return tally


if __name__ == "__main__":
    main()
