"""What is told, against what was told last: the rows `issued` gains. Pure, like the judge.

`condition_log` tells that a level, zone or basis changed, for whoever follows
changes. `issued` holds what was said, whole: every change has its row there,
and so has a changed limit, place of the evidence, trend, coverage or advice.
Values, reasons and times move with every reading; alone they tell nothing new.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from schemas.tables.conditions import CONDITION_CURRENT

Row = dict[str, Any]
Place = tuple[Any, ...]

_WHERE = ("evidence_position", "evidence_axis", "quantity", "detector", "band")
_ALWAYS = ("level", "zone", "basis", "last_level", "coverage", "next_step")
_OF_THE_EVIDENCE = (
    "limit_set", "limit_group", "limit_edition", "limit_confidence", "boundary_a_b",
    "boundary_b_c", "boundary_c_d", "support", "assumed", "trend_state", "trend_boundary",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Telling:
    """What every row of one judging step has in common.

    `next_seq` numbers the first row; `snapshot` is the number of the state to be
    published; `changes` the numbers in `condition_log` by place; `versions` those
    of the tables judged from.
    """

    next_seq: int
    snapshot: int
    changes: Mapping[Place, int]
    versions: Mapping[str, int]


def place_of(row: Mapping[str, Any]) -> Place:
    """Scope, site, asset, member, position and axis: what a row is about."""
    return tuple(row[name] for name in CONDITION_CURRENT.key)


def issue(rows: Iterable[Row], told: Mapping[Place, Row], telling: Telling) -> list[Row]:
    """Rows of `issued` for the conditions `rows`, where `told` was told last of each place.

    A place of which nothing is told any more is withdrawn, with what was told last.
    """
    now = {place_of(row): row for row in rows}
    found = [("told", row) for place, row in now.items() if differs(row, told.get(place))]
    found += [("withdrawn", row) for place, row in told.items() if place not in now]
    return [_row(telling, number, event, row) for number, (event, row) in enumerate(found)]


def differs(row: Row, before: Row | None) -> bool:
    """Whether something told differs from what was told before.

    Where all is well it does not matter at which point the worst value is; the
    limits and the trend told are compared where the evidence is the same.
    """
    if before is None or any(row[name] != before[name] for name in _ALWAYS):
        return True
    if (row["distrust"] is None) != (before["distrust"] is None):
        return True
    if row.get("observations") != before.get("observations"):
        return True
    if any(row[name] != before[name] for name in _WHERE):
        return bool(row["level"] != "normal")
    return any(row[name] != before[name] for name in _OF_THE_EVIDENCE)


def _row(telling: Telling, number: int, event: str, row: Row) -> Row:
    told = {name: row.get(name) for name in CONDITION_CURRENT.column_names}
    changed = telling.changes.get(place_of(row)) if event == "told" else None
    return told | {
        "seq": telling.next_seq + number,
        "snapshot": telling.snapshot,
        "event": event,
        "change": changed,
        "data_versions": json.dumps(dict(telling.versions), sort_keys=True),
    }
