"""`mcw demo`: the main job on the invented scenario, end to end."""

from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path
from typing import Annotated

import typer

from ingest_examples import MANIFEST, REGISTRY, ROOT
from schemas.reasons import REJECT_REASON
from warehouse.cli import show
from warehouse.cli.arrival import take_in
from warehouse.cli.worst import show_worst
from warehouse.inbox import Ledger, Package
from warehouse.services.fleet import worst_assets
from warehouse.services.ingest import Arrival, receive
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store

_SETTINGS = {"clock": "data"}
"""The scenario lies in the past: `now` is its newest reading."""


def demo(
    home: Annotated[
        Path,
        typer.Option("--home", help="Folder for the demo's store; must be new.", readable=False),
    ] = Path("demo-store"),
    number: Annotated[int, typer.Option("--number", "-n", help="Machines shown.")] = 12,
) -> None:
    """Run the main job on an invented plant group: take everything in, judge, show the worst."""
    store = create_store(home, _SETTINGS)
    show.out.print(
        "An invented plant group: three sites, four kinds of source, 90 days. "
        "No real plant, person or make.",
    )
    import_registry(store, REGISTRY)
    with Ledger.open(store.inbox) as ledger:
        receive(store, ledger, _arrivals())
        take_in(store, ledger)
        packages = ledger.packages()
    _show_sources(packages)
    _show_refused(packages)
    show_worst(worst_assets(store, number))
    _show_place(store)


def _arrivals() -> list[Arrival]:
    listed = tomllib.loads(MANIFEST.read_text(encoding="utf-8"))["package"]
    return [Arrival(ROOT / entry["file"], ROOT / entry["mapping"]) for entry in listed]


def _show_sources(packages: list[Package]) -> None:
    columns = (
        "source",
        "packages",
        "sent again",
        "items",
        "accepted",
        "duplicate",
        "revised",
        "refused",
        "blank",
    )
    rows = []
    for source in sorted({package.source for package in packages}):
        own = [package for package in packages if package.source == source]
        names = ("items", "accepted", "duplicate", "revised", "rejected", "blank")
        sums = [sum(getattr(package.counts, name) for package in own) for name in names]
        rows.append([source, len(own), sum(package.repeats for package in own), *sums])
    rows.append(["all", *(sum(row[i] for row in rows) for i in range(1, len(columns)))])
    show.table("What arrived, and what became of it", columns, rows, right=columns[1:])


def _show_refused(packages: list[Package]) -> None:
    reasons: Counter[str] = Counter()
    for package in packages:
        reasons.update(package.counts.rejected_by_reason)
    rows = [
        [reason, items, REJECT_REASON[reason].meaning, REJECT_REASON[reason].remedy]
        for reason, items in reasons.most_common()
    ]
    show.table(
        "What was refused, and why", ["reason", "items", "meaning", "remedy"], rows, ["items"]
    )


def _show_place(store: Store) -> None:
    show.out.print(
        f"\nThe dataset lies in {store.tables.resolve()}, one Delta table a folder. Next:\n"
        f"  mcw worst --home {store.home}\n"
        f'  mcw query "SELECT * FROM condition_current LIMIT 5" --home {store.home}\n'
        f"  mcw sheet --home {store.home}\n"
        f"  mcw serve --home {store.home} --without-keys\n"
        "One machine's story, step by step: docs/a-month-in-the-plant.md",
        markup=False,
        highlight=False,
        soft_wrap=True,
    )
