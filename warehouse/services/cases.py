"""Asking about cases: lists, a planner's summary, a case's life, notifications; actions, alone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import duckdb

from warehouse.errors import NotFoundError
from warehouse.query import answers, open_published
from warehouse.services.case_actions import act_on_case, suppress_cases
from warehouse.services.casework import SQL
from warehouse.services.ingest import only_committer
from warehouse.services.judging import published
from warehouse.store import Store
from warehouse.work.inputs import Machine

Row = dict[str, Any]
NEVER = (
    "A notification, not an order. No step past a guard; work on a machine needs its isolation "
    "and permit. Site rules and a licensed or certified analyst decide."
)
"""What every summary says."""


SUMMARY = [
    SQL[name] for name in ("life", "standing", "summary", "measured", "any_repair", "repairs")
]
"""What `summary_in` asks."""


@contextmanager
def _asking(store: Store, *asks: str) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_published(store, published(store), asks=asks) as session:
        yield session


def _rows(session: duckdb.DuckDBPyConnection, name: str, parameters: Row) -> list[Row]:
    return answers(session, SQL[name], parameters, seconds=600)


def list_cases(store: Store, site: str | None = None, every: bool = False) -> list[Row]:
    """Open cases, the most urgent first; with `every` the closed ones behind them."""
    with _asking(store, SQL["list"]) as session:
        return _rows(session, "list", {"site": site, "every": every})


def summary(store: Store, case_id: int) -> Row:
    """What a planner needs of a case (rule W2), its repairs and its whole life.

    Keys: those of `case_summaries` (None where the case is closed) under `summary`, how it
    stands under `case`, the judged value of the machine under
    `measured`, `repairs`, `life`, `caution`. Raises NotFoundError.
    """
    with _asking(store, *SUMMARY) as session:
        return summary_in(session, case_id)


def summary_in(session: duckdb.DuckDBPyConnection, case_id: int) -> Row:
    """What `summary` gives, in a session that is open."""
    life = _rows(session, "life", {"case_id": case_id})
    if not life:
        raise NotFoundError("case", str(case_id))
    (case,) = _rows(session, "standing", {"case_id": case_id})
    place = {name: case[name] for name in ("site", "asset", "member")}
    found = _rows(session, "summary", {"case_id": case_id})
    return {
        "summary": found[0] if found else None,
        "case": case,
        "measured": next(iter(_rows(session, "measured", place)), None),
        "repairs": _repairs(session, place),
        "life": life,
        "caution": NEVER,
    }


def _repairs(session: duckdb.DuckDBPyConnection, place: Row) -> list[Row]:
    """What work on a machine came to; where there was none, no history is read."""
    if not _rows(session, "any_repair", place):
        return []
    return _rows(session, "repairs", place)


def notices(store: Store, after: int = 0) -> list[Row]:
    """Notifications with a number above `after`, in order."""
    with _asking(store, SQL["notices"]) as session:
        return _rows(session, "notices", {"after": after})


def suppressions(store: Store) -> list[Row]:
    """Suppressions in force."""
    with _asking(store, SQL["suppressions"]) as session:
        return suppressions_in(session)


def suppressions_in(session: duckdb.DuckDBPyConnection) -> list[Row]:
    """Suppressions in force, in a session that is open."""
    return _rows(session, "suppressions", {})


def act(store: Store, case_id: int, kind: str, person: str, **said: Any) -> Row:
    """What `act_on_case` does, alone with the store."""
    with only_committer(store):
        return act_on_case(store, case_id, kind, person, **said)


def suppress(store: Store, machine: Machine, basis: str | None, person: str, **said: Any) -> None:
    """What `suppress_cases` does, alone with the store."""
    with only_committer(store):
        suppress_cases(store, machine, basis, person, **said)
