"""The judge: turns the views at one `as_of` into conditions and their changes.

Pure: the same tables, limits and `as_of` give the same answer. The only writer
of conditions; it reads through the connection it is given and leaves nothing
there.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import duckdb
import pyarrow as pa

from schemas.tables.conditions import CONDITION_CURRENT, CONDITION_LOG
from warehouse.judging.advice import CAUTION, next_steps
from warehouse.judging.asking import ask


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one judging step says.

    `conditions` has every row of `condition_current`; `changes` the rows of
    `condition_log` that are new, `seq` rising by one.
    """

    conditions: pa.Table
    changes: pa.Table


def judge(
    connection: duckdb.DuckDBPyConnection,
    previous: pa.Table | None,
    as_of: datetime,
    next_seq: int,
) -> Judgement:
    """Judge every point, member and asset for the moment `as_of`.

    `connection` has the base relations, the limit tables and the working tables
    (`warehouse.judging.working`) of that moment. `previous` is the last `condition_current`, or
    None the first time. The first change gets the number `next_seq`. A change is
    a new place, or another level, zone or basis. Raises ValueError for an
    `as_of` without a time zone.
    """
    if as_of.tzinfo is None:
        raise ValueError("as_of needs a time zone")
    before = CONDITION_CURRENT.arrow.empty_table() if previous is None else previous
    both = {"judged_before": before, "judged_now": judged(connection, as_of.astimezone(UTC))}
    conditions = ask(connection, "judge", "remembered", CONDITION_CURRENT, both)
    both["judged_now"] = conditions
    changes = ask(connection, "judge", "changes", CONDITION_LOG, both, next_seq=next_seq)
    return Judgement(conditions, changes)


def judged(connection: duckdb.DuckDBPyConnection, as_of: datetime) -> pa.Table:
    """Every condition the views give at `as_of` (UTC), by place, without memory of what was before.

    `connection` is as `judge` has it.
    """
    steps = {"next_steps": next_steps()}
    return ask(
        connection, "judge", "judged", CONDITION_CURRENT, steps, as_of=as_of, caution=CAUTION
    )
