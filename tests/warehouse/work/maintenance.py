"""A maintenance system's export in a few lines, for the small plant."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from tests.warehouse.services.small_plant import Plant
from warehouse.inbox import Ledger, Package
from warehouse.services.ingest import Arrival, commit_all, receive

MAPPING = """format_version = 1
items = "maintenance-events"
name = "works-orders"

[source]
id = "orders"
adapter = "delimited"

[file]
delimiter = ";"

[time]
format = "%d.%m.%Y %H:%M"
zone = "Europe/Vienna"

[values]
decimal = ","
null = ["", "-"]

[event]
event = { from = "Order" }
order_id = { from = "Order" }
version_at = { from = "Changed" }
status = { from = "Status", map = { "OK" = "valid", "VOID" = "cancelled" } }
site = "works"
asset = { from = "Tag" }
member = "motor"
activity = { from = "Job", map = { "Lager" = "bearing", "Fett" = "lubricate" } }
failure = { from = "Failure" }
started_at = { from = "From" }
ended_at = { from = "To" }
down_hours = { from = "Down" }
"""
HEADER = "Order;Changed;Status;Tag;Job;Failure;From;To;Down"
FIRST = "4711;01.07.2025 10:00;OK;M-1;Lager;potential;30.06.2025 08:00;30.06.2025 12:00;4,5"


def export(plant: Plant, name: str, lines: Iterable[str], mapping: str = MAPPING) -> Arrival:
    """A file of events, ready to be received."""
    path, told = plant.folder / name, plant.folder / "orders.toml"
    path.write_text("\n".join([HEADER, *lines]) + "\n", encoding="utf-8")
    told.write_text(mapping, encoding="utf-8")
    return Arrival(path, told)


def report(plant: Plant, *files: Iterable[str]) -> list[Package]:
    """Receive files one after the other, take them in, and return their packages."""
    with Ledger.open(plant.store.inbox) as ledger:
        numbers = []
        for number, lines in enumerate(files):
            arrival = export(plant, f"orders-{number}.csv", lines)
            numbers += [one.package for one in receive(plant.store, ledger, [arrival])]
            commit_all(plant.store, ledger)
        return [ledger.package(number) for number in numbers]


def shifted(line: str, **cells: str) -> str:
    """A line with some cells replaced, by the name of their column."""
    named = dict(zip(HEADER.split(";"), line.split(";"), strict=True))
    return ";".join((named | cells).values())


def path_of(folder: Path) -> Path:
    """Where the mapping is written."""
    return folder / "orders.toml"
