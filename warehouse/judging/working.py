"""The working tables of one judgement: each view that conditions stand on, worked out once.

Without a kept judgement every machine is worked out. With one (`warehouse.judging.kept`), the
relation `machines_due` names the machines that changed, `readings` holds theirs only, and what
is kept of the others is put beside what is worked out of these. Views that are not kept and
read no readings see the whole fleet either way.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from functools import cache

import duckdb

from warehouse.sql import identifier, load_statements
from warehouse.views import SqlFile, prepare, sql_files, views_below

CONDITIONS = frozenset(
    {"asset_conditions", "member_conditions", "point_conditions", "seen_on_routes"}
)
"""What a judgement is read from."""

_SQL = load_statements("warehouse.judging", "working")
_DUE_AFTER = {"series": "series_due", "streams": "streams_due", "trend_bins": "trends_due"}
"""What is due among the rows of a view is known once these are there."""

Machine = tuple[str, str]
"""Site and asset."""


@cache
def files_of(asked: Collection[str] = CONDITIONS) -> tuple[SqlFile, ...]:
    """The views and macros that those asked for stand on, and these, in the order they are made."""
    wanted = views_below(asked, frozenset())
    return tuple(file for file in sql_files() if file.name in wanted)


@contextmanager
def worked_out(connection: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Every machine is worked out while the block runs; the tables go with it."""
    prepare(connection)
    try:
        work_out(connection)
        yield
    finally:
        forget(connection)


def work_out(
    connection: duckdb.DuckDBPyConnection,
    beside_kept: bool = False,
    asked: frozenset[str] = CONDITIONS,
) -> list[Machine]:
    """Make the working tables of the views asked for; with `beside_kept`, of what is due only.

    Returns nothing, or the machines that must be due as well because doubt about their readings
    changed with that about others: then the tables are not whole, and are to be made again.
    `connection` is prepared (`warehouse.views.prepare`) and has the base relations, the limit
    tables, the variable `as_of` and the time zone UTC; with `beside_kept` also the database
    `kept` and the relation `machines_due`.
    """
    for file in files_of(asked):
        connection.execute(_statement(file, beside_kept))
        if beside_kept and file.name in _DUE_AFTER:
            connection.execute(_SQL[_DUE_AFTER[file.name]])
        if beside_kept and file.name == "trust_doubts":
            doubted: list[Machine] = connection.execute(_SQL["doubted_otherwise"]).fetchall()
            if doubted:
                return doubted
    return []


def _statement(file: SqlFile, beside_kept: bool) -> str:
    if file.name == "trends_due" and beside_kept:
        return _SQL["nothing"]  # made before, of what is kept
    if not file.apart:
        return file.text
    if file.kept is None or not beside_kept:
        return file.as_temporary_table
    return (
        _SQL["beside_kept"]
        .replace("@{name}", identifier(file.name))
        .replace("@{query}", file.query)
        .replace("@{key}", file.kept.key)
        .replace("@{due}", file.kept.due)
    )


def forget(connection: duckdb.DuckDBPyConnection) -> None:
    """Drop the working tables that are there."""
    for file in reversed(files_of()):
        if file.materialise:
            connection.execute(f"DROP TABLE IF EXISTS temp.{identifier(file.name)}")
