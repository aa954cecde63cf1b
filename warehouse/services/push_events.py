"""What has happened since a subscription last looked, from the logs of a published state.

By the logs' own numbers, never by a clock: each row becomes one event, once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc

from schemas.columns import Table
from schemas.tables.conditions import CONDITION_LOG
from schemas.tables.work import CASE_EVENTS
from warehouse.judging.advice import CAUTION
from warehouse.push.envelope import Event, event
from warehouse.query import open_relations
from warehouse.query.session import run
from warehouse.registry.stored import stored_entities
from warehouse.services.cases import NEVER
from warehouse.services.exporting import plain_values
from warehouse.sql import load_statements
from warehouse.store import Snapshot, Store
from warehouse.store.files import read_rows

_SQL = load_statements("warehouse.services", "push_events")
_LOGS: Final[Mapping[str, Table]] = {"case": CASE_EVENTS, "level": CONDITION_LOG}
_TOGETHER: Final = 5000
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Happened:
    """An event, its number in its log, and the site it is of."""

    number: int
    site: str
    event: Event


def highest(store: Store, snapshot: Snapshot) -> dict[str, int]:
    """The highest number of each log in a published state."""
    return {
        stream: max((file.last_seq or 0 for file in _files(store, snapshot, table)), default=0)
        for stream, table in _LOGS.items()
    }


def happened_after(
    store: Store, snapshot: Snapshot, stream: str, after: int, inbox_id: str
) -> list[Happened]:
    """What a log of a published state tells behind a number, in order.

    Of cases the rows that are notifications, of levels the changes of level of whole trains.
    """
    table = _LOGS[stream]
    files = [f for f in _files(store, snapshot, table) if f.last_seq is None or f.last_seq > after]
    if not files:
        return []
    rows = read_rows(table, (file.path for file in files))
    rows = rows.filter(pc.greater(rows["seq"], after)).sort_by("seq")
    chosen = _CHOSEN[stream](rows)
    return _TOLD[stream](store, snapshot, chosen, inbox_id) if chosen.num_rows else []


def _files(store: Store, snapshot: Snapshot, table: Table) -> list[Any]:
    return store.files(table, snapshot.versions.get(table.name, 0))


def _notices(rows: pa.Table) -> pa.Table:
    return rows.filter(pc.is_valid(rows["notice"]))


def _levels(rows: pa.Table) -> pa.Table:
    rows = rows.filter(pc.equal(rows["scope"], "asset"))
    same = pc.fill_null(pc.equal(rows["level_from"], rows["level_to"]), False)
    return rows.filter(pc.invert(same))


def _told_of_cases(
    store: Store, snapshot: Snapshot, rows: pa.Table, inbox_id: str
) -> list[Happened]:
    """With the ids of the maintenance system, and of a case that is open what a planner needs."""
    assets, members = _external_ids(store, snapshot)
    found = []
    for start in range(0, rows.num_rows, _TOGETHER):
        part = rows.slice(start, _TOGETHER).to_pylist()
        summaries = _summaries(store, snapshot, sorted({row["case_id"] for row in part}))
        for row in part:
            place = (row["site"], row["asset"], row["member"])
            data = {
                "notice": row["notice"],
                **{name: row[name] for name in _OF_A_CASE},
                "asset_external_id": assets.get(place[:2]),
                "member_external_id": members.get(place),
                "summary": summaries.get(row["case_id"]),
                "caution": NEVER,
                "links": {"case": f"/v1/cases/{row['case_id']}"},
            }
            told = event(inbox_id, "case", row["seq"], row["kind"], "/".join(place),
                         row["happened_at"], plain_values(data))  # fmt: skip
            found.append(Happened(row["seq"], row["site"], told))
    return found


_OF_A_CASE = (
    "case_id", "kind", "happened_at", "site", "asset", "member", "basis", "state", "level",
    "level_since", "worst_told", "opened_at", "cleared_at", "disposition", "until", "owner",
    "order_id", "confirmed_by", "person", "comment", "reason",
)  # fmt: skip
_OF_A_LEVEL = (
    "seq", "site", "asset", "level_from", "level_to", "zone_from", "zone_to", "basis", "reason",
    "measured_at", "judged_at",
)  # fmt: skip


def _told_of_levels(
    store: Store, snapshot: Snapshot, rows: pa.Table, inbox_id: str
) -> list[Happened]:
    assets, _ = _external_ids(store, snapshot)
    found = []
    for row in rows.to_pylist():
        data = {
            **{name: row[name] for name in _OF_A_LEVEL},
            "external_id": assets.get((row["site"], row["asset"])),
            "caution": CAUTION,
        }
        told = event(inbox_id, "level", row["seq"], "changed", f"{row['site']}/{row['asset']}",
                     row["judged_at"], plain_values(data))  # fmt: skip
        found.append(Happened(row["seq"], row["site"], told))
    return found


_CHOSEN: Final[Mapping[str, Callable[[pa.Table], pa.Table]]] = {
    "case": _notices, "level": _levels,
}  # fmt: skip
_TOLD: Final[Mapping[str, Callable[[Store, Snapshot, pa.Table, str], list[Happened]]]] = {
    "case": _told_of_cases, "level": _told_of_levels,
}  # fmt: skip


def _external_ids(store: Store, snapshot: Snapshot) -> tuple[dict[Any, str], dict[Any, str]]:
    entities = stored_entities(store, snapshot.versions.get("registry"))
    assets = {(r["site"], r["asset"]): r["external_id"] for r in entities["assets"].to_pylist()}
    members = {
        (row["site"], row["asset"], row["member"]): row["external_id"]
        for row in entities["members"].to_pylist()
    }
    return assets, members


def _summaries(store: Store, snapshot: Snapshot, cases: list[int]) -> dict[int, Row]:
    """What a planner needs of those that are open (rule W2), as of the published state."""
    with open_relations(store, snapshot, ("case_summaries",)) as session:
        rows = run(session, _SQL["summaries"], {"cases": cases}, seconds=600).to_pylist()
    return {row.pop("case_id"): row for row in rows}
