"""A real series into a store by a mapping file alone, and the dataset read without our code."""

from __future__ import annotations

import json
from pathlib import Path
from urllib.parse import unquote

from warehouse.inbox import Counts, Ledger
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store


def station_store(folder: Path, channels: tuple[str, ...]) -> Store:
    """A store with one measuring station; each channel of device `station` has a position."""
    store = create_store(folder / "store", {"free_disk_mb": 0})
    registry = folder / "registry"
    registry.mkdir()
    files = {
        "sites": ["site,name,time_zone", "coast,Coast,UTC"],
        "assets": ["site,asset,name,service_state", "coast,S-1,Station,in-service"],
        "members": [
            "site,asset,member,role,equipment_class",
            "coast,S-1,station,station,environment",
        ],
        "points": ["site,asset,position,member,bearing_housing,thrust_end"]
        + [f"coast,S-1,{channel},station,false,false" for channel in channels],
        "devices": ["device,kind,method", "station,weather station,wired"],
        "mountings": ["device,channel,site,asset,position,mounted_from,commissioning"]
        + [
            f"station,{channel},coast,S-1,{channel},2000-01-01T00:00:00Z,passed"
            for channel in channels
        ],
    }
    for name, lines in files.items():
        (registry / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    import_registry(store, registry)
    return store


def ingest(store: Store, *arrivals: tuple[Path, Path]) -> list[Counts]:
    """Files and their mappings through the services, in order."""
    with Ledger.open(store.inbox) as ledger:
        receive(store, ledger, [Arrival(file, mapping) for file, mapping in arrivals])
        return [outcome.counts for outcome in commit_all(store, ledger)]


def active_files(table: Path) -> list[Path]:
    """Data files that count, by the Delta protocol: those added and not removed since.

    Read from the JSON commits alone, which the store never drops; no Delta library.
    """
    active: dict[str, None] = {}
    for commit in sorted((table / "_delta_log").glob("*.json")):
        for line in commit.read_text(encoding="utf-8").splitlines():
            action = json.loads(line)
            if "add" in action:
                active[unquote(action["add"]["path"])] = None
            elif "remove" in action:
                active.pop(unquote(action["remove"]["path"]), None)
    return [table / path for path in active]
