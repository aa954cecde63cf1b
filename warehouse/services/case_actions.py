"""What named persons do about cases, recorded: the only writer of `case_actions`.

Whoever calls holds the inbox alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pyarrow as pa

from schemas.tables.conditions import CONDITION_LOG
from schemas.tables.registry import SITES
from schemas.tables.work import CASE_ACTIONS, CASE_EVENTS
from warehouse import clock
from warehouse.errors import CaseError, CaseFieldError, NotFoundError
from warehouse.registry.stored import stored_entities
from warehouse.services.casework import decide_cases, rows_of
from warehouse.services.judging import judged_now, published
from warehouse.store import Store
from warehouse.store.delta import Commit
from warehouse.store.snapshot import publish
from warehouse.work.acting import faults_of, field_faults
from warehouse.work.inputs import Action, Machine
from warehouse.work.stepping import case_of, known_from

_APPLICATION = "case-actions"
Row = dict[str, Any]
Noted = Callable[[Action], None]
"""Told of an action that fits, before it is recorded."""


def act_on_case(
    store: Store, case_id: int, kind: str, person: str, noted: Noted | None = None, **said: Any
) -> Row:
    """Record what a named person does about a case, and how the case stands then.

    `said` may have until (a date), disposition, owner, order_id, comment. Raises NotFoundError
    for an unknown case, CaseFieldError with every field that lacks or is wrong, CaseError where the
    state of the case forbids it; then nothing is recorded.
    """
    decide_cases(store, judged_now(store))
    known = known_from(rows_of(store, CASE_EVENTS))
    for machine, one in known.items():
        if case_id in one.newest:
            case = one.newest[case_id]
            action = _new_action(store, kind, person, machine, case.basis, case_id, said)
            _record(store, machine, action, faults_of(action, case), noted)
            return standing(store, case_id)
    raise NotFoundError("case", str(case_id))


def suppress_cases(
    store: Store, machine: Machine, basis: str | None, person: str, release: bool = False,
    noted: Noted | None = None, **said: Any,
) -> None:  # fmt: skip
    """Want no case of a machine until a date (`until`), with a reason (`comment`); or end that.

    Danger is told all the same. Raises NotFoundError for a machine that is not registered,
    CaseFieldError with every field that lacks or is wrong.
    """
    members = stored_entities(store)["members"].to_pylist()
    if machine not in {(row["site"], row["asset"], row["member"]) for row in members}:
        raise NotFoundError("machine", "/".join(machine))
    kind = "release" if release else "suppress"
    action = _new_action(store, kind, person, machine, basis, None, said)
    _record(store, machine, action, faults_of(action, None), noted)


def _new_action(
    store: Store, kind: str, person: str, machine: Machine, basis: str | None,
    case_id: int | None, said: Row,
) -> Action:  # fmt: skip
    until = said.pop("until", None)
    return Action(
        seq=max((row["seq"] for row in rows_of(store, CASE_ACTIONS)), default=0) + 1,
        at=judged_now(store),
        after_change=_highest_change(store),
        kind=kind,
        by=person,
        basis=basis,
        case_id=case_id,
        until=None if until is None else _morning(store, machine[0], until),
        **said,
    )


def _highest_change(store: Store) -> int:
    return max((file.last_seq or 0 for file in store.table(CONDITION_LOG).files()), default=0)


def _morning(store: Store, site: str, day: dt.date) -> dt.datetime:
    """When a day begins at a site."""
    sites = {row["site"]: row for row in stored_entities(store)[SITES.name].to_pylist()}
    zone = ZoneInfo(sites[site]["time_zone"]) if site in sites else dt.UTC
    return dt.datetime.combine(day, dt.time(), zone).astimezone(dt.UTC)


def _record(
    store: Store, machine: Machine, action: Action, faults: list[str], noted: Noted | None
) -> None:
    if fields := list(field_faults(action)):
        raise CaseFieldError(fields)
    if faults:
        raise CaseError(faults)
    if noted:
        noted(action)
    row = {
        "seq": action.seq, "kind": action.kind, "case_id": action.case_id, "site": machine[0],
        "asset": machine[1], "member": machine[2], "basis": action.basis, "person": action.by,
        "acted_at": action.at, "after_change": action.after_change, "until": action.until,
        "disposition": action.disposition, "owner": action.owner, "order_id": action.order_id,
        "comment": action.comment, "recorded_at": clock.now(),
    }  # fmt: skip
    log = store.table(CASE_ACTIONS)
    rows = pa.Table.from_pylist([row], CASE_ACTIONS.arrow)
    log.append(lambda: [log.write(rows)], Commit(_APPLICATION, action.seq))
    settle(store, action.at)


def settle(store: Store, at: dt.datetime) -> None:
    """Decide what recorded actions make of cases, and publish it."""
    decide_cases(store, at)
    publish(store, published(store).as_of, (CASE_ACTIONS, CASE_EVENTS))


def standing(store: Store, case_id: int) -> Row:
    """How a case stands by the log. Raises NotFoundError."""
    rows = [row for row in rows_of(store, CASE_EVENTS) if row["case_id"] == case_id]
    if not rows:
        raise NotFoundError("case", str(case_id))
    case = case_of(rows[-1])
    place = {name: rows[-1][name] for name in ("site", "asset", "member")}
    return {"case_id": case.case_id, **place, "basis": case.basis, "state": case.state,
            "level": case.level, "disposition": case.disposition, "until": case.until,
            "owner": case.owner, "order_id": case.order_id}  # fmt: skip
