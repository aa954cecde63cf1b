"""`make prove-judging`: invented sites replayed through the judge, held against what was planted.

Prints what was found, with how many days of warning, and what was raised for nothing; with
readings as sent, and with 5 % lost and 1 % wrong. Ends with 1 where a check against published
values fails, or where there was too little to count on (not with QUICK=1). SEED=N makes the run
of another seed, SITES, HOURS and EVERY another size, readings and moments further apart.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

from ingest_examples.large.size import Size
from tests.proofs.judging.figures import Rate, detectable, false_lines, found_lines, last_lines
from tests.proofs.judging.plants import CLEAN, SPOILT, Case, Result, prove_site
from tests.proofs.judging.verdicts import Verdict

_ROOT = Path(__file__).parents[3]
_SEEDS = (10_000, 1_000_000_000)
"""Seeds of proof sites; those below are for building with, and never prove anything."""
_FULL = Size(online=32, route=28, failures=25, hours=12)
_QUICK = Size(online=10, route=10, failures=7, online_days=240, route_days=365, hours=24)
_ENOUGH_YEARS = 200
_ENOUGH_FAILURES = 60
"""A claim needs so many (rule F1)."""


def main() -> None:
    """Prove, print, and end with 1 where that is due."""
    quick = os.environ.get("QUICK") == "1"
    seed = int(os.environ.get("SEED") or time.time_ns() % 1_000_000)
    print(f"seed {seed}", flush=True)
    begun = time.monotonic()
    cases = list(_cases(seed, quick))
    results, (passed, tests) = _run(cases)
    verdicts = [v for r in results if r.case.variant == CLEAN for v in r.verdicts]
    for line in report(results):
        print(line)
    print(f"seed {seed}  seconds {time.monotonic() - begun:.0f}")
    print("\n".join(last_lines(passed, tests, verdicts)))
    sys.exit(0 if passed == tests and (quick or is_enough(verdicts)) else 1)


def is_enough(verdicts: list[Verdict]) -> bool:
    """Are there machines and failures enough to count on (rule F1)? Says so if not."""
    years, failures = Rate.of(verdicts).machine_years, len(detectable(verdicts))
    enough = years >= _ENOUGH_YEARS and failures >= _ENOUGH_FAILURES
    if not enough:
        print(f"too little: {years:.0f} sound machine-years, {failures} failures; "
              f"{_ENOUGH_YEARS} and {_ENOUGH_FAILURES} are asked for")  # fmt: skip
    return enough


def _cases(seed: int, quick: bool) -> Iterator[Case]:
    size = _QUICK if quick else _FULL
    size = replace(size, hours=float(os.environ.get("HOURS") or size.hours))
    every = float(os.environ.get("EVERY") or (14 if quick else 10))
    sites = int(os.environ.get("SITES") or (1 if quick else 3))
    seeds = random.Random(seed).sample(range(*_SEEDS), sites)
    for variant in (CLEAN, SPOILT):
        for one in seeds:
            yield Case(one, size, variant, every, closing_in=variant == CLEAN and not quick)


def _run(cases: list[Case]) -> tuple[list[Result], tuple[int, int]]:
    """All cases, two at a time, in their own processes, in their order; and `outside` among them.

    Those that take longest begin first, so that both processes end at about the same time.
    """
    done: dict[Case, Result] = {}
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        running = {pool.submit(prove_site, case): case for case in cases if case.closing_in}
        checked = pool.submit(outside)
        shorter = [case for case in cases if not case.closing_in]
        running |= {pool.submit(prove_site, case): case for case in shorter}
        for future in as_completed(running):
            result = future.result()
            done[running[future]] = result
            sys.stderr.write(_progress(result) + "\n")
        return [done[case] for case in cases], checked.result()


def _progress(result: Result) -> str:
    return (
        f"site {result.case.seed}, {result.case.variant}: {result.readings:,} readings, made in "
        f"{result.making:.0f} s, taken in {result.taking_in:.0f} s, {result.moments} moments "
        f"judged in {result.judging:.0f} s"
    )


def outside() -> tuple[int, int]:
    """How many of the checks against published values pass, and how many there are."""
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/outside"]
    done = subprocess.run(command, cwd=_ROOT, capture_output=True, encoding="utf-8", check=False)
    return count_tests(done.stdout)


def count_tests(told: str) -> tuple[int, int]:
    """Passed, and all, from what pytest says last; skipped ones count as not passed."""
    last = next((t for t in reversed(told.splitlines()) if re.search(r"\d+ \w+.* in ", t)), "")
    numbers = {word: int(n) for n, word in re.findall(r"(\d+) ([a-z]+)", last.split(" in ")[0])}
    counted = ("passed", "failed", "error", "errors", "skipped", "xfailed", "xpassed")
    return numbers.get("passed", 0), sum(numbers.get(word, 0) for word in counted)


def report(results: list[Result]) -> Iterator[str]:
    """The whole report, variant by variant."""
    first = results[0].case
    yield (
        f"sites {len({r.case.seed for r in results})} of {first.size.online} machines online "
        f"({first.size.online_days} d, a reading every {first.size.hours:g} h) and "
        f"{first.size.route} on routes ({first.size.route_days} d, every 28 d)"
    )
    yield (
        f"judged every {first.every_days:g} d and in the hour before each failure online; "
        "alerts that come and go in between are not seen"
    )
    for variant in (CLEAN, SPOILT):
        chosen = [r for r in results if r.case.variant == variant]
        verdicts = [v for r in chosen for v in r.verdicts]
        dated = (
            "two days, late rather than early"
            if chosen and chosen[0].case.closing_in
            else "the moment judged"
        )
        yield f"\n{variant}; first alerts online dated to {dated}:"
        yield from found_lines(verdicts)
        yield from false_lines_of(chosen)


def false_lines_of(results: list[Result]) -> Iterator[str]:
    """False alerts of several sites, whose tags repeat: each told apart by its seed."""
    verdicts, rows = [], []
    for result in results:
        place = str(result.case.seed)
        verdicts += [
            replace(v, planted=replace(v.planted, asset=f"{place}/{v.planted.asset}"))
            for v in result.verdicts
        ]
        rows += [replace(row, asset=f"{place}/{row.asset}") for row in result.rows]
    yield from false_lines(verdicts, rows)


if __name__ == "__main__":
    main()
