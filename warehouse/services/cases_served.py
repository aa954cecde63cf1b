"""Cases for one caller: lists, one with all a planner needs, notifications, and acting on them.

Reading is of a published state. Acting is done alone with the store, by the
same services as the command line, once for each name of a request.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from schemas.tables.work import CASE_ACTIONS, CASE_EVENTS
from warehouse.errors import AheadError, BusyError, NotFoundError
from warehouse.query.session import run
from warehouse.services.case_actions import (
    Noted,
    act_on_case,
    settle,
    standing,
    suppress_cases,
)
from warehouse.services.cases import SUMMARY, summary_in, suppressions_in
from warehouse.services.casework import rows_of
from warehouse.services.desk import Desk
from warehouse.services.exporting import described_by, plain_values
from warehouse.services.judging import judged_now
from warehouse.services.locks import holding
from warehouse.services.requests import Remembered, Request, Requests
from warehouse.services.serving import State
from warehouse.sql import load_statements
from warehouse.store import Store
from warehouse.store.files import read_rows
from warehouse.work.inputs import Machine

Row = dict[str, Any]
_SQL = load_statements("warehouse.services", "cases_served")
_OF_LIST = ("cases", "case_summaries")
_OF_NOTICES = ("case_notifications",)
_WAIT_SECONDS = 10.0
_LOOK_SECONDS = 0.05


def cases_table(desk: Desk, state: State, filters: Mapping[str, Sequence[str]]) -> pa.Table:
    """Cases of a published state, the most urgent first; without `state` the open ones."""
    chosen = _every_case(desk, state)
    if "state" not in filters:
        chosen = chosen.filter(pc.not_equal(chosen["state"], "closed"))
    for name, allowed in filters.items():
        chosen = chosen.filter(pc.is_in(chosen[name], pa.array(allowed, pa.string())))
    return described_by(CASE_EVENTS, chosen)


def _every_case(desk: Desk, state: State) -> pa.Table:
    about = ("cases", state.snapshot.seq, desk.caller.sites)
    return desk.places.tables.get(about, lambda: _asked(desk, state, "list", {}, _OF_LIST))


def case_of(desk: Desk, state: State, case_id: int) -> Row:
    """What `cases.summary` gives, of a published state. Raises NotFoundError."""
    if case_id not in _every_case(desk, state)["case_id"].to_pylist():
        raise NotFoundError("case", str(case_id))
    with desk.session(state.snapshot, SUMMARY) as session:
        return summary_in(session, case_id)


@dataclass(frozen=True, slots=True)
class Notices:
    """Notifications of a page, where to go on, whether there are more, the newest number seen."""

    rows: list[Row]
    after: int
    more: bool
    newest: int


def notices_after(
    desk: Desk, state: State, after: int, limit: int, sites: Sequence[str] | None = None
) -> Notices:
    """Notifications behind a number, at most `limit`, as of a published state.

    Raises AheadError where the log never came to that number.
    """
    values = {"after": after, "limit": limit + 1, "site": sites}
    rows = _asked(desk, state, "notices", values, _OF_NOTICES).to_pylist()
    newest = _asked(desk, state, "last_notice", {}, _OF_NOTICES)["notice"][0].as_py() or 0
    if len(rows) > limit:
        return Notices(rows[:limit], rows[limit - 1]["notice"], more=True, newest=newest)
    if after > newest and after > _highest_notice(desk):
        raise AheadError(after, newest)
    return Notices(rows, max(after, newest), more=False, newest=newest)


def _highest_notice(desk: Desk) -> int:
    """The number of the newest notification of any site, published or about to be."""
    with desk.places.one() as store:
        log = store.table(CASE_EVENTS)
        rows = read_rows(CASE_EVENTS, (file.path for file in log.files()))
    return pc.max(rows["notice"]).as_py() or 0


def suppressions_of(desk: Desk, state: State) -> list[Row]:
    """Suppressions in force, of a published state."""
    with desk.relations(state.snapshot, ("case_suppressions",)) as session:
        return suppressions_in(session)


def _asked(desk: Desk, state: State, name: str, values: Row, views: Sequence[str]) -> pa.Table:
    with desk.relations(state.snapshot, views) as session:
        return run(session, _SQL[name], values, desk.places.store.settings.query_seconds)


@dataclass(frozen=True, slots=True)
class Acted:
    """What came of a request: the answer, whether it came before, or with something else."""

    answer: Row
    repeated: bool = False
    clashes: bool = False


def act_once(desk: Desk, name: str, case_id: int, kind: str, person: str, said: Row) -> Acted:
    """Record an action of a person on a case, once for each name, and how the case stands then.

    Raises NotFoundError for a case that is not there or not the caller's business,
    CaseError where the action does not fit, BusyError while others hold the store.
    """
    request = _request(desk, name, [case_id, kind, person, said])

    def act(store: Store, noted: Noted) -> Row:
        _check_site(desk, "case", str(case_id), standing(store, case_id)["site"])
        return act_on_case(store, case_id, kind, person, noted, **said)

    def again(store: Store) -> Row:
        return standing(store, case_id)

    return _once(desk, request, {"case_id": case_id, "kind": kind, "person": person}, act, again)


def suppress_once(
    desk: Desk, name: str, machine: Machine, basis: str | None, kind: str, person: str, said: Row
) -> Acted:
    """Record that no case of a machine is wanted until a date, or again; once for each name.

    `kind` is `suppress` or `release`. Raises as `act_once`.
    """
    request = _request(desk, name, [machine, basis, kind, person, said])
    told = dict(zip(("site", "asset", "member"), machine, strict=True))
    row = {**told, "basis": basis, "kind": kind, "person": person}

    def act(store: Store, noted: Noted) -> Row:
        _check_site(desk, "machine", "/".join(machine), machine[0])
        suppress_cases(store, machine, basis, person, kind == "release", noted, **said)
        return row

    return _once(desk, request, row, act, lambda _: row)


def _once(
    desk: Desk,
    request: Request,
    wanted: Row,
    act: Callable[[Store, Noted], Row],
    again: Callable[[Store], Row],
) -> Acted:
    with desk.places.one() as store, _alone(store):
        requests = Requests(store)
        known = requests.find(request)
        if known and known.digest != request.digest:
            return Acted({}, clashes=True)
        if known and known.answer is not None:
            return Acted(json.loads(known.answer), repeated=True)
        if known and _was_recorded(store, known, wanted):
            settle(store, judged_now(store))  # it was stopped before it could
            answer = plain_values(again(store))
        else:
            answer = plain_values(act(store, lambda action: requests.intend(request, action.seq)))
        requests.answer(request, json.dumps(answer))
        return Acted(answer)


def _was_recorded(store: Store, known: Remembered, wanted: Row) -> bool:
    """Whether the action a stopped request was about to record is there."""
    rows = [row for row in rows_of(store, CASE_ACTIONS) if row["seq"] == known.action]
    return any(all(row[name] == value for name, value in wanted.items()) for row in rows)


def _request(desk: Desk, name: str, asked: object) -> Request:
    text = json.dumps(asked, sort_keys=True, default=str)
    return Request(desk.caller.name, name, hashlib.sha256(text.encode()).hexdigest())


def _check_site(desk: Desk, kind: str, name: str, site: str) -> None:
    sites = desk.caller.sites
    if sites is not None and site not in sites:
        raise NotFoundError(kind, name)


@contextmanager
def _alone(store: Store) -> Iterator[None]:
    """Hold the inbox alone, waited for as long as a request may. Raises BusyError."""
    why, remedy = "packages are being committed or judged", "ask again in a few seconds"
    until = time.monotonic() + _WAIT_SECONDS
    with ExitStack() as held:
        while True:
            try:
                held.enter_context(holding(store, "committer", why, remedy, wait=False))
                break
            except BusyError:
                if time.monotonic() > until:
                    raise
                time.sleep(_LOOK_SECONDS)
        yield
