"""One proof site from its seed to its verdicts: made, taken in, replayed; in its own process."""

from __future__ import annotations

import shutil
import tempfile
import time
import tomllib
from dataclasses import dataclass
from pathlib import Path

from ingest_examples.large import truth
from ingest_examples.large.build import build
from ingest_examples.large.size import Size
from ingest_examples.large.truth import Row
from tests.proofs.judging.replay import replay
from tests.proofs.judging.verdicts import Verdict, judge_machine, planted_in
from warehouse.inbox import Ledger
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store

CLEAN, SPOILT = "as sent", "5 % lost, 1 % wrong"
_SHARES = {CLEAN: (0.0, 0.0), SPOILT: (0.05, 0.01)}
_SETTINGS = {"clock": "data", "threads": 1, "memory_limit_mb": 1500}
"""One thread a process: two processes fill two cores."""


@dataclass(frozen=True, slots=True)
class Case:
    """A site to prove with: its seed, size, whether its readings are spoilt, how it is replayed."""

    seed: int
    size: Size
    variant: str
    every_days: float
    closing_in: bool


@dataclass(frozen=True, slots=True)
class Result:
    """What a case came to; times in seconds."""

    case: Case
    verdicts: list[Verdict]
    rows: list[Row]
    readings: int
    moments: int
    making: float
    taking_in: float
    judging: float


def take_in(site: Path, home: Path) -> Store:
    """A store with the registry and every file of a site."""
    store = create_store(home, _SETTINGS)
    import_registry(store, site / "registry")
    listed = tomllib.loads((site / "manifest.toml").read_text(encoding="utf-8"))["package"]
    with Ledger.open(store.inbox) as ledger:
        receive(store, ledger, [Arrival(site / e["file"], site / e["mapping"]) for e in listed])
        commit_all(store, ledger)
    return store


def prove_site(case: Case) -> Result:
    """Make a site, take it in, replay it, and judge the judge."""
    folder = Path(tempfile.mkdtemp(prefix="prove-judging-"))
    try:
        return _prove_in(folder, case)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _prove_in(folder: Path, case: Case) -> Result:
    begun = time.monotonic()
    readings = build(case.seed, case.size, folder / "site", *_SHARES[case.variant])
    made = time.monotonic()
    store = take_in(folder / "site", folder / "store")
    taken = time.monotonic()
    rows = truth.read(folder / "site" / "truth.csv")
    machines = planted_in(rows)
    done = replay(store, machines, case.every_days, case.closing_in)
    verdicts = [judge_machine(planted, done.seen(planted.asset)) for planted in machines]
    return Result(case, verdicts, rows, readings, len(done.moments), made - begun, taken - made,
                  time.monotonic() - taken)  # fmt: skip
