"""What is told, against what was told last: the rows `issued` gains. Pure, like the judge."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

import duckdb
import pyarrow as pa

from schemas.tables.conditions import CONDITION_CURRENT
from schemas.tables.issued import ISSUED
from warehouse.judging.asking import ask


@dataclass(frozen=True, slots=True)
class Telling:
    """What every row of one judging step has in common.

    `next_seq` numbers the first row; `snapshot` is the number of the state to be
    published; `versions` are those of the tables judged from.
    """

    next_seq: int
    snapshot: int
    versions: Mapping[str, int]


def told_last(
    connection: duckdb.DuckDBPyConnection, published: pa.Table, unseen: pa.Table
) -> pa.Table:
    """What was told last of each place, as rows of `condition_current`.

    `published` are the conditions of the published state, `unseen` rows of `issued`
    that no published state holds yet.
    """
    return ask(
        connection,
        "issued",
        "told",
        CONDITION_CURRENT,
        relations={"published_conditions": published, "unseen": unseen},
    )


def issue(
    connection: duckdb.DuckDBPyConnection,
    conditions: pa.Table,
    told: pa.Table,
    changes: pa.Table,
    telling: Telling,
) -> pa.Table:
    """Rows of `issued` for `conditions`, where `told` was told last.

    `changes` are the rows of `condition_log` these conditions came with. A place of which
    nothing is told any more is withdrawn, with what was told last.
    """
    return ask(
        connection,
        "issued",
        "issued",
        ISSUED,
        relations={"conditions": conditions, "told": told, "changes": changes},
        next_seq=telling.next_seq,
        snapshot=telling.snapshot,
        data_versions=json.dumps(dict(telling.versions), sort_keys=True),
    )
