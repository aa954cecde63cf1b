"""The whole invented scenario, taken in once."""

from __future__ import annotations

import csv
import json
import os
import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock

from ingest_examples import MANIFEST, REGISTRY, ROOT, TRUTH
from warehouse.inbox import Ledger, Package
from warehouse.query import open_published, run
from warehouse.services.ingest import Arrival, commit_all, judge_now, receive
from warehouse.services.judging import published
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store, open_store

SETTINGS = {"clock": "data"}


@dataclass(frozen=True, slots=True)
class Listed:
    """One entry of the manifest and what became of it."""

    file: str
    mapping: str
    arrived: str
    repeated: bool
    package: Package


@dataclass(frozen=True, slots=True)
class Scenario:
    """The store, each listed package, and its asset conditions by tag."""

    store: Store
    listed: list[Listed]
    assets: dict[str, dict[str, Any]]

    def ask(self, statement: str) -> list[dict[str, Any]]:
        """Rows of a query over the published state."""
        with open_published(self.store, published(self.store), asks=[statement]) as session:
            rows: list[dict[str, Any]] = run(session, statement).to_pylist()
        return rows


def scenario_of_run(factory: pytest.TempPathFactory) -> Scenario:
    """The scenario of this run of the tests, shared by its processes and by no other run."""
    own = factory.getbasetemp()
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "scenario"
    folder.mkdir(exist_ok=True)
    return shared_scenario(folder)


def shared_scenario(folder: Path) -> Scenario:
    """The scenario in `folder`: made by whichever test process comes first, read by all."""
    store, receipts = folder / "store", folder / "receipts.json"
    with FileLock(folder / "scenario.lock"):
        if not receipts.exists():
            receipts.write_text(json.dumps(_take_all_in(store)), encoding="utf-8")
    return _read(open_store(store), json.loads(receipts.read_text(encoding="utf-8")))


def _entries() -> list[dict[str, Any]]:
    listed: list[dict[str, Any]] = tomllib.loads(MANIFEST.read_text(encoding="utf-8"))["package"]
    return listed


def _take_all_in(home: Path) -> list[tuple[int, bool]]:
    """Every file of the manifest in its order of arrival, then judged."""
    store = create_store(home, SETTINGS)
    import_registry(store, REGISTRY)
    with Ledger.open(store.inbox) as ledger:
        arrivals = [Arrival(ROOT / e["file"], ROOT / e["mapping"]) for e in _entries()]
        receipts = receive(store, ledger, arrivals)
        commit_all(store, ledger)
    judge_now(store)
    return [(receipt.package, receipt.repeated) for receipt in receipts]


def _read(store: Store, receipts: list[tuple[int, bool]]) -> Scenario:
    with Ledger.open(store.inbox) as ledger:
        listed = [
            Listed(
                entry["file"].removeprefix("files/"),
                entry["mapping"].removeprefix("mappings/"),
                entry["arrived"].strftime("%Y-%m-%dT%H:%M:%SZ"),
                repeated,
                ledger.package(number),
            )
            for entry, (number, repeated) in zip(_entries(), receipts, strict=True)
        ]
    scenario = Scenario(store, listed, {})
    rows = scenario.ask("SELECT * FROM condition_current WHERE scope = 'asset'")
    scenario.assets.update((row["asset"], row) for row in rows)
    return scenario


def truth() -> list[dict[str, str]]:
    """What was planted."""
    with TRUTH.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def expected_packages() -> dict[tuple[str, str, str], Counter[str]]:
    """Outcomes by file, mapping and time of arrival, as planted."""
    found: dict[tuple[str, str, str], Counter[str]] = {}
    for row in truth():
        if row["kind"] == "package":
            key = (row["file"], row["detail"].split()[1], row["from"])
            found.setdefault(key, Counter())[row["expect"]] += int(row["count"])
    return found


def outcomes(package: Package) -> Counter[str]:
    """Outcomes of a package in the words of the truth."""
    counts = package.counts
    passed = {
        "accepted": counts.accepted,
        "duplicate": counts.duplicate,
        "revised": counts.revised,
        "blank": counts.blank,
    }
    return +Counter(passed | counts.rejected_by_reason)
