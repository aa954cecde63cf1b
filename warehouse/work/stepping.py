"""From what the rules say now to the rows of the log that are new: each thing once.

The log is never changed. What it has already is known again by case, kind and cause; where the
newest state of a case is not what its last row says, since maintenance was reported late, changed
or taken back, a row `corrected` says how it stands.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from warehouse.work.case import CASE_COLUMNS, Case, Happening
from warehouse.work.folding import Frozen, fold
from warehouse.work.inputs import Inputs, Machine, Rules

Row = dict[str, Any]


@dataclass(slots=True)
class Known:
    """What the log says of one machine: its closed cases, what was recorded, how each stands."""

    frozen: dict[str, Frozen] = field(default_factory=dict)
    recorded: set[tuple[int, str, str, str]] = field(default_factory=set)
    newest: dict[int, Case] = field(default_factory=dict)

    def learn(self, row: Mapping[str, Any]) -> None:
        """Take in the next row of the log."""
        case = case_of(row)
        self.recorded.add((case.case_id, row["kind"], row["cause"], row["cause_id"]))
        self.newest[case.case_id] = case
        if not case.is_open:
            through = (row["through_change"], row["through_action"])
            self.frozen[case.basis] = Frozen(case, *through)


def case_of(row: Mapping[str, Any]) -> Case:
    """The case as a row of `case_events` states it."""
    return Case(**{name: row[name] for name in CASE_COLUMNS})


def known_from(log: Iterable[Mapping[str, Any]]) -> dict[Machine, Known]:
    """What the log says of each machine; its rows in order."""
    found: dict[Machine, Known] = {}
    for row in log:
        machine = (row["site"], row["asset"], row["member"])
        found.setdefault(machine, Known()).learn(row)
    return found


@dataclass(slots=True)
class _Numbers:
    seq: int
    notice: int


def new_events(
    inputs: Mapping[Machine, Inputs],
    log: Iterable[Mapping[str, Any]],
    rules: Rules,
    now: dt.datetime,
    recorded_at: dt.datetime,
) -> list[Row]:
    """Rows to add to `case_events`, numbered on from the log, for a moment `now` (UTC)."""
    rows = list(log)
    numbers = _Numbers(
        max((row["seq"] for row in rows), default=0),
        max((row["notice"] or 0 for row in rows), default=0),
    )
    known = known_from(rows)
    added: list[Row] = []
    for machine in sorted(inputs):
        told = known.get(machine, Known())
        happened = fold(inputs[machine], told.frozen, rules, now)
        for one in _new(happened, told, now):
            added.append(_row(machine, one, numbers) | {"recorded_at": recorded_at})
    return added


def _new(happened: list[Happening], told: Known, now: dt.datetime) -> list[Happening]:
    """What the log does not have yet, and how each case stands where that is not its last row."""
    added: list[Happening] = []
    last: dict[int, Happening] = {}
    standing = dict(told.newest)
    for one in happened:
        last[one.case.case_id] = one
        if one.identity not in told.recorded:
            added.append(one)
            standing[one.case.case_id] = one.case
    for case_id, one in last.items():
        if standing[case_id] != one.case:
            added.append(_corrected(one, now))
    return added


def _corrected(one: Happening, now: dt.datetime) -> Happening:
    return replace(
        one, kind="corrected", at=now, cause="work-changed", cause_id=now.isoformat(),
        told=False, by=None, comment=None,
        reason="maintenance reported late, changed or took back an event",
    )  # fmt: skip


def _row(machine: Machine, one: Happening, numbers: _Numbers) -> Row:
    numbers.seq += 1
    if one.told:
        numbers.notice += 1
    return {
        "seq": numbers.seq,
        "site": machine[0],
        "asset": machine[1],
        "member": machine[2],
        **{name: getattr(one.case, name) for name in CASE_COLUMNS},
        "kind": one.kind,
        "happened_at": one.at,
        "notice": numbers.notice if one.told else None,
        "person": one.by,
        "comment": one.comment,
        "reason": one.reason or None,
        "cause": one.cause,
        "cause_id": one.cause_id,
        "through_change": one.through_change,
        "through_action": one.through_action,
    }
