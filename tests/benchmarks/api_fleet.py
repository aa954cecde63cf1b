"""A store with so many readings and a judged fleet of so many assets, all invented."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path
from typing import Any

import pyarrow as pa

from schemas.tables.conditions import CONDITION_CURRENT
from tests.benchmarks.growth import Grown
from warehouse.services.registry import import_registry
from warehouse.store import Store, open_store
from warehouse.store.delta import Commit
from warehouse.store.snapshot import publish

SITE = "bench"
_NOW = dt.datetime(2025, 6, 20, tzinfo=dt.UTC)


def make_fleet(folder: Path, readings: int, assets: int) -> Store:
    """The store, published; its assets are judged normal, with two points each."""
    store = Grown.make(folder, readings).store
    registry = folder / "fleet"
    registry.mkdir()
    columns = {
        "sites": ("site", "name", "time_zone"),
        "assets": ("site", "asset", "name", "area", "criticality", "service_state", "external_id"),
    }
    rows: dict[str, list[tuple[str, ...]]] = {
        "sites": [(SITE, "Bench", "UTC")],
        "assets": [
            (SITE, asset_tag(n), f"Pump {n}", "hall", "ABC"[n % 3], "in-service", f"FL-{n}")
            for n in range(assets)
        ],
    }
    for name, header in columns.items():
        with (registry / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            sheet = csv.writer(file)
            sheet.writerow(header)
            sheet.writerows(rows[name])
    import_registry(store, registry)
    store = open_store(store.home, {"clock": "data"})
    log = store.table(CONDITION_CURRENT)
    conditions = pa.Table.from_pylist(
        [row for n in range(assets) for row in _rows(asset_tag(n))], CONDITION_CURRENT.arrow
    ).sort_by([(name, "ascending") for name in CONDITION_CURRENT.sort_by])
    log.replace(lambda: [log.write(conditions)], Commit("judge", 1))
    publish(store, _NOW)
    return store


def asset_tag(number: int) -> str:
    """Tag of an asset."""
    return f"P-{number:05d}"


def _rows(asset: str) -> list[dict[str, Any]]:
    row: dict[str, Any] = dict.fromkeys(CONDITION_CURRENT.column_names)
    row |= {
        "site": SITE, "asset": asset, "level": "normal", "zone": "A", "basis": "severity",
        "reason": "Velocity 1.16 mm/s rms at motor-de horizontal is in zone A: not above A/B 2.30.",
        "evidence_position": "motor-de", "evidence_axis": "horizontal", "quantity": "velocity",
        "detector": "rms", "band": "10-1000Hz", "value": 1.16, "unit": "mm/s",
        "boundary_a_b": 2.3, "boundary_b_c": 4.5, "boundary_c_d": 7.1,
        "measured_at": _NOW, "stale_after": _NOW + dt.timedelta(days=3), "as_of": _NOW,
        "since": _NOW.date(), "coverage": "normal", "measured_points": 2, "judgeable_points": 2,
        "next_step": "Nothing to do.", "caution": "Screening aid, not a protection system.",
    }  # fmt: skip
    member = {**row, "scope": "member", "member": "motor"}
    points = [
        {**member, "scope": "point", "position": place, "axis": "horizontal"}
        for place in ("motor-de", "motor-nde")
    ]
    return [{**row, "scope": "asset"}, member, *points]
