"""Commissioning of new and moved sensors: checks from readings taken meanwhile (rule W5).

The only writer of `commissioning_steps`. A mounting is provisional until it is passed here; its
readings are stored and shown until then, and count from its start on once it is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from typing import Any

import duckdb
import pyarrow as pa

from schemas.tables.rounds import COMMISSIONING_CHECK, COMMISSIONING_STEPS
from schemas.units import UNITS, to_canonical, unit_kind
from warehouse import clock
from warehouse.errors import CommissioningError, NotFoundError
from warehouse.query import answers, open_published, run, work_out
from warehouse.registry.stored import stored_entities
from warehouse.services.casework import rows_of
from warehouse.services.ingest import only_committer
from warehouse.services.judging import published
from warehouse.services.registry_changes import restate
from warehouse.sql import load_statements
from warehouse.store import Store
from warehouse.store.delta import Commit
from warehouse.store.snapshot import publish
from warehouse.work.commissioning import (
    Figures,
    Finding,
    compared,
    interval_seen,
    latest,
    needed_checks,
    open_checks,
    plausible,
    proven_running,
    tapped,
)

_SQL = load_statements("warehouse.services", "commissioning")
_APPLICATION = "commissioning"
_STATEMENTS = {"running": "running", "interval": "interval", "plausible": "first_readings"}
"""Checks that need nothing of a person but that readings came, and what they look at."""
Row = dict[str, Any]
_Step = tuple[Row, str, Finding]
"""A mounting, the step, and what was found."""


def list_mountings(store: Store, every: bool = False) -> list[Row]:
    """Mountings that are provisional, with what is still open; with `every` all of today."""
    steps = rows_of(store, COMMISSIONING_STEPS)
    found = []
    for mounting in stored_entities(store)["mountings"].to_pylist():
        if mounting["mounted_to"] is None and (every or mounting["commissioning"] != "passed"):
            still = open_checks(_steps_of(steps, mounting), needed_checks(mounting["axis"]))
            passed = mounting["commissioning"] == "passed"
            found.append(mounting | {"open": {} if passed else still})
    return sorted(found, key=lambda row: (row["site"], row["asset"], row["device"], row["channel"]))


def show_mounting(store: Store, device: str, channel: str) -> Row:
    """A mounting, its checks as they stand, and every step. Raises NotFoundError."""
    mounting = _mounting(store, device, channel)
    steps = _steps_of(rows_of(store, COMMISSIONING_STEPS), mounting)
    standing = latest(steps)
    checks = [
        {"check": check, "meaning": COMMISSIONING_CHECK[check]}
        | {name: standing[check][name] if check in standing else None
           for name in ("outcome", "found", "person", "recorded_at")}
        for check in needed_checks(mounting["axis"])
    ]  # fmt: skip
    return {"mounting": mounting, "checks": checks, "steps": steps}


def start(
    store: Store, device: str, channel: str | None, person: str, comment: str | None = None
) -> list[Row]:
    """Begin: mountings are provisional from here on, checks of before count no more.

    Without a channel all of the device that are on. Raises NotFoundError where none is.
    """
    mountings = _mountings(store, device, channel)
    restate(store, {"mountings": [one | {"commissioning": "provisional"} for one in mountings]})
    return _record(store, [(one, "start", _noted("the checks begin")) for one in mountings],
                   person, comment=comment)  # fmt: skip


def tap(store: Store, device: str, channel: str, at: dt.datetime, person: str) -> Row:
    """Check which axis answered a tap along the axis of this channel at `at` (UTC aware)."""
    mounting = _provisional(store, device, channel)
    if mounting["axis"] is None:
        raise CommissioningError([f"channel {channel} has no axis that could be tapped"])
    with _session(store, "tap") as session:
        rows = _ask(session, "tap", device=device, at=at)
        finding = tapped(channel, mounting["axis"], rows, _figures(session))
    (row,) = _record(store, [(mounting, "tap", finding)], person, at=at)
    return row


def compare(
    store: Store, device: str, channel: str, at: dt.datetime, value: float, unit: str,
    quantity: str, detector: str, band: str | None, person: str,
) -> Row:  # fmt: skip
    """Check a handheld reading of the same quantity, detector and band, taken at `at` (UTC aware).

    Raises CommissioningError where the unit does not measure that quantity.
    """
    mounting = _provisional(store, device, channel)
    known = UNITS.get((unit_kind(quantity, detector), unit))
    if known is None:
        raise CommissioningError([f"unit {unit!r} does not measure {quantity} {detector}"])
    with _session(store, "nearest") as session:
        rows = _ask(
            session, "nearest", device=device, channel=channel, at=at,
            mounted_from=mounting["mounted_from"],
        )  # fmt: skip
        kind = (quantity, detector, band)
        finding = compared(kind, to_canonical(value, known), rows, _figures(session))
    (row,) = _record(store, [(mounting, "compare", finding)], person, at=at)
    return row


def check(store: Store, device: str, channel: str | None, person: str) -> list[Row]:
    """Check what readings alone tell: running proof, interval, plausibility.

    Without a channel all provisional ones of the device.
    """
    found: list[_Step] = []
    with _session(store, *_STATEMENTS.values()) as session:
        work_out(session, " ".join(_SQL[name] for name in _STATEMENTS.values()))
        figures = _figures(session)
        for mounting in _all_provisional(store, device, channel):
            needed = needed_checks(mounting["axis"])
            found += [
                (mounting, name, _automatic(session, mounting, name, figures))
                for name in _STATEMENTS
                if name in needed
            ]
    return _record(store, found, person)


def _automatic(
    session: duckdb.DuckDBPyConnection, mounting: Row, name: str, figures: Figures
) -> Finding:
    of = {key: mounting[key] for key in ("device", "channel", "mounted_from")}
    rows = _rows(session, _STATEMENTS[name], of)
    if name == "running":
        return proven_running(rows)
    return interval_seen(rows[0], figures) if name == "interval" else plausible(rows, figures)


def waive(store: Store, device: str, channel: str, name: str, person: str, reason: str) -> Row:
    """Do without a check, for a reason. Raises CommissioningError for one that is not needed."""
    mounting = _provisional(store, device, channel)
    needed = needed_checks(mounting["axis"])
    if name not in needed:
        raise CommissioningError([f"check {name!r} is not one of {', '.join(needed)}"])
    if not reason.strip():
        raise CommissioningError(["a check is waived for a reason; none is given"])
    finding = Finding("waived", f"waived: {reason}")
    (row,) = _record(store, [(mounting, name, finding)], person, comment=reason)
    return row


def pass_mountings(
    store: Store, device: str, channel: str | None, person: str, comment: str | None = None
) -> list[Row]:
    """Let mountings count: their readings since their start do from now on.

    Without a channel all provisional ones of the device. Raises CommissioningError naming every
    check that is neither passed nor waived; then none has passed.
    """
    mountings = _all_provisional(store, device, channel)
    steps = rows_of(store, COMMISSIONING_STEPS)
    faults = [
        f"{name} of channel {one['channel']} is {outcome}"
        for one in mountings
        for name, outcome in open_checks(_steps_of(steps, one), needed_checks(one["axis"])).items()
    ]
    if faults:
        raise CommissioningError(faults)
    passed = [(one, "pass", _noted("the mounting counts")) for one in mountings]
    made = _record(store, passed, person, comment=comment)
    restate(store, {"mountings": [one | {"commissioning": "passed"} for one in mountings]})
    return made


def fail(store: Store, device: str, channel: str, person: str, reason: str) -> Row:
    """Say what is wrong with a mounting; it stays provisional."""
    mounting = _provisional(store, device, channel)
    (row,) = _record(store, [(mounting, "fail", _noted(reason))], person, comment=reason)
    return row


def _mountings(store: Store, device: str, channel: str | None) -> list[Row]:
    """Mountings of a device that are on, or of one channel. Raises NotFoundError where none is."""
    rows = stored_entities(store)["mountings"].to_pylist()
    found = [
        row
        for row in rows
        if row["device"] == device
        and row["mounted_to"] is None
        and channel in (None, row["channel"])
    ]
    if not found:
        raise NotFoundError("mounting that is on", f"{device}/{channel}" if channel else device)
    return sorted(found, key=lambda row: str(row["channel"]))


def _mounting(store: Store, device: str, channel: str) -> Row:
    return _mountings(store, device, channel)[0]


def _all_provisional(store: Store, device: str, channel: str | None) -> list[Row]:
    found = _mountings(store, device, channel)
    kept = [row for row in found if row["commissioning"] == "provisional"]
    if not kept:
        name = f"{device}/{channel}" if channel else device
        raise CommissioningError(
            [f"{name} has passed; where it was moved, start its commissioning anew"]
        )
    return kept


def _provisional(store: Store, device: str, channel: str) -> Row:
    return _all_provisional(store, device, channel)[0]


def _steps_of(steps: Iterable[Row], mounting: Row) -> list[Row]:
    key = ("device", "channel", "mounted_from")
    return [row for row in steps if all(row[name] == mounting[name] for name in key)]


def _session(store: Store, *names: str) -> Any:
    asks = [_SQL[name] for name in ("settings", *names)]
    return open_published(store, published(store), asks=asks)


def _ask(session: duckdb.DuckDBPyConnection, name: str, **parameters: Any) -> list[Row]:
    return answers(session, _SQL[name], parameters or None, seconds=600)


def _rows(session: duckdb.DuckDBPyConnection, name: str, parameters: Row) -> list[Row]:
    rows: list[Row] = run(session, _SQL[name], parameters or None, seconds=600).to_pylist()
    return rows


def _figures(session: duckdb.DuckDBPyConnection) -> Figures:
    return {row["key"]: row["value"] for row in _ask(session, "settings")}


def _noted(words: str) -> Finding:
    return Finding("noted", words)


def _record(
    store: Store, found: Sequence[_Step], person: str,
    at: dt.datetime | None = None, comment: str | None = None,
) -> list[Row]:  # fmt: skip
    """Append steps as one commit, and publish them."""
    if not person.strip():
        raise CommissioningError(["a named person is needed"])
    with only_committer(store):
        steps = rows_of(store, COMMISSIONING_STEPS)
        last = max((one["seq"] for one in steps), default=0)
        rows = [
            {
                "seq": seq, "step": step, "device": mounting["device"],
                "channel": mounting["channel"], "mounted_from": mounting["mounted_from"],
                "outcome": finding.outcome, "found": finding.found, "at": at,
                "value": finding.value, "reference": finding.reference, "unit": finding.unit,
                "person": person, "comment": comment, "recorded_at": clock.now(),
            }
            for seq, (mounting, step, finding) in enumerate(found, last + 1)
        ]  # fmt: skip
        if rows:
            log = store.table(COMMISSIONING_STEPS)
            table = pa.Table.from_pylist(rows, COMMISSIONING_STEPS.arrow)
            log.append(lambda: [log.write(table)], Commit(_APPLICATION, last + len(rows)))
            publish(store, published(store).as_of, (COMMISSIONING_STEPS,))
    return rows
