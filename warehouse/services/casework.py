"""Cases of a store, decided anew after each judging and each person's action.

The only writer of `case_events`; whoever calls it holds the inbox alone. A step that was stopped
is made good by the next one: what was recorded is known again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import duckdb
import pyarrow as pa

from schemas.columns import Table
from schemas.tables.conditions import CONDITION_LOG
from schemas.tables.work import CASE_ACTIONS, CASE_EVENTS, MAINTENANCE_EVENTS
from warehouse import clock
from warehouse.limits import load_limits
from warehouse.query import open_session, run
from warehouse.services.due import judged_versions, open_machines
from warehouse.sql import load_statements
from warehouse.store import Store
from warehouse.store.files import read_rows
from warehouse.store.scan import create_scan
from warehouse.work.inputs import Action, Change, Inputs, Machine, Rules, Work
from warehouse.work.stepping import new_events
from warehouse.workspace import workspace

SQL = load_statements("warehouse.services", "case_inputs")
_APPLICATION = "casework"
Row = dict[str, Any]


def decide_cases(store: Store, as_of: dt.datetime) -> int:
    """Record what has become of cases until `as_of` (UTC); how many rows that are.

    Raises WorkRulesError where the activity table or the matrix of priorities has faults.
    """
    log = store.table(CASE_EVENTS)
    recorded = rows_of(store, CASE_EVENTS)
    rules, now = _rules(), clock.now()
    inputs = _inputs(store, as_of)
    rows = new_events(inputs, recorded, rules, as_of, now)
    if _any_repair_matters(inputs, [*recorded, *rows]):
        _add_effects(inputs, store, as_of)
        rows = new_events(inputs, recorded, rules, as_of, now)
    if rows:
        found = pa.Table.from_pylist(rows, CASE_EVENTS.arrow)
        commit = log.next_commit(_APPLICATION)
        log.append(lambda: [log.write(found)], commit)
    return len(rows)


def a_date_has_come(store: Store, since: dt.datetime, now: dt.datetime) -> bool:
    """Whether a deferral, an acceptance, a suppression or the wait of a case ended in between.

    Cases change then although nothing came in. Times are UTC.
    """
    rejoin = _rules().rejoin
    newest = {row["case_id"]: row for row in rows_of(store, CASE_EVENTS)}
    dates = [row["until"] for row in (*newest.values(), *rows_of(store, CASE_ACTIONS))]
    dates += [
        row["cleared_at"] + rejoin
        for row in newest.values()
        if row["cleared_at"] and row["state"] != "closed" and row["disposition"] == "real"
    ]
    return any(since < date <= now for date in dates if date is not None)


def rows_of(store: Store, table: Table) -> list[Row]:
    """Rows of a small log, in order."""
    found = read_rows(table, (file.path for file in store.table(table).files()))
    rows: list[Row] = found.sort_by("seq").to_pylist()
    return rows


def _rules() -> Rules:
    defaults = load_limits()["judging_defaults"].to_pylist()
    figures = {row["key"]: row["value"] for row in defaults}
    return Rules(
        opens_from=int(figures["case_opens_from"]),
        rejoin=dt.timedelta(days=figures["case_rejoin_days"]),
    )


def _inputs(store: Store, as_of: dt.datetime) -> dict[Machine, Inputs]:
    inputs: dict[Machine, Inputs] = {}
    with workspace(store.inbox, store.settings) as session:
        create_scan(session, CONDITION_LOG.name, CONDITION_LOG, store.table(CONDITION_LOG).files())
        for row in _asked(session, "changes"):
            change = Change(
                row["seq"], row["changed_at"], row["basis"], row["level"], row["reason"],
                row["measured_at"],
            )  # fmt: skip
            _of(inputs, row).changes.append(change)
    for row in rows_of(store, CASE_ACTIONS):
        _of(inputs, row).actions.append(_action(row))
    for row in _works(store, as_of):
        work = Work(row["work_id"], row["worked_at"], row["restoring"], row["order_id"])
        _of(inputs, row).works.append(replace(work, words=row["words"]))
    return inputs


def _of(inputs: dict[Machine, Inputs], row: Row) -> Inputs:
    return inputs.setdefault((row["site"], row["asset"], row["member"]), Inputs())


def _works(store: Store, as_of: dt.datetime) -> list[Row]:
    """Maintenance that stands; where none was ever reported, no view is opened."""
    if not store.table(MAINTENANCE_EVENTS).files():
        return []
    with open_session(store, {}, as_of, asks=[SQL["works"]]) as session:
        return _asked(session, "works")


def _any_repair_matters(inputs: Mapping[Machine, Inputs], log: list[Row]) -> bool:
    """Whether a case is open that restoring work was done on: only then is it compared."""
    newest = {row["case_id"]: row for row in log}
    return any(
        work.restoring and (work.at >= row["opened_at"] or work.id == row["done_by"])
        for row in newest.values()
        if row["state"] != "closed"
        for work in inputs.get((row["site"], row["asset"], row["member"]), Inputs()).works
    )


def _add_effects(inputs: Mapping[Machine, Inputs], store: Store, as_of: dt.datetime) -> None:
    """What each repair came to: this reads the history of the machines that were repaired."""
    machines = {(site, asset) for (site, asset, _), one in inputs.items() if one.works}
    versions = judged_versions(store)
    with open_machines(store, versions, as_of, machines, ("repair_effects",)) as session:
        rows = _asked(session, "effects")
    found = {(row["site"], row["asset"], row["member"], row["work_id"]): row for row in rows}
    for machine, one in inputs.items():
        one.works = [_with_effect(work, found.get((*machine, work.id))) for work in one.works]


def _with_effect(work: Work, effect: Row | None) -> Work:
    if effect is None:
        return work
    known = {"outcome": effect["outcome"], "outcome_at": effect["outcome_at"]}
    return replace(work, **known, words=effect["words"])


def _asked(
    session: duckdb.DuckDBPyConnection, name: str, parameters: Row | None = None
) -> list[Row]:
    rows: list[Row] = run(session, SQL[name], parameters, seconds=3600).to_pylist()
    return rows


def _action(row: Row) -> Action:
    return Action(
        seq=row["seq"], at=row["acted_at"], after_change=row["after_change"], kind=row["kind"],
        by=row["person"], basis=row["basis"], case_id=row["case_id"], until=row["until"],
        disposition=row["disposition"], owner=row["owner"], order_id=row["order_id"],
        comment=row["comment"],
    )  # fmt: skip
