"""One random sequence: lived through as it came, and again with its maintenance in order.

What must hold is checked from the log alone, by plain rules of its own.
"""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from tests.proofs.work.world import (
    MACHINES,
    START,
    Arrived,
    Version,
    draw_action,
    draw_change,
    draw_versions,
    inputs_of,
    moment,
)
from warehouse.work.acting import faults_of
from warehouse.work.case import Case
from warehouse.work.inputs import RANK, Action, Change, Machine, Rules
from warehouse.work.stepping import case_of, known_from, new_events

Row = dict[str, Any]
RULES = Rules()
_WEAKNESS = ("opened", "worsened", "returned", "reopened")


@dataclass(slots=True)
class Plan:
    """What happened, in the order of happening: everything but when maintenance was told."""

    changes: dict[Machine, list[Change]] = field(default_factory=lambda: _empty())
    actions: dict[Machine, list[Action]] = field(default_factory=lambda: _empty())
    steps: list[tuple[dt.datetime, int, int]] = field(default_factory=list)
    """Moments at which cases were looked at, and the changes and actions there were."""


def _empty() -> dict[Machine, list[Any]]:
    return {machine: [] for machine in MACHINES}


def live(seed: int) -> tuple[Plan, list[Version], list[Row], list[str]]:
    """A sequence as it comes: what happened, the maintenance, the log, and what was wrong."""
    draw = random.Random(seed)
    length = draw.randint(6, 24)
    pace = draw.choice((0.2, 3.0, 12.0))
    versions = draw_versions(draw, length * pace)
    on_the_way = versions[:]
    draw.shuffle(on_the_way)
    plan, arrived = Plan(), Arrived()
    log: list[Row] = []
    wrong: list[str] = []
    days, seq, number = 0.0, 0, 0
    for _ in range(length):
        days += draw.expovariate(1 / pace)
        kind = draw.random()
        machine = draw.choice(MACHINES)
        if kind < 0.5:
            seq += 1
            plan.changes[machine].append(draw_change(draw, seq, days))
        elif kind < 0.8:
            cases = list(known_from(log)[machine].newest.values()) if log_of(log, machine) else []
            action = draw_action(draw, number + 1, days, seq, cases)
            case = next((c for c in cases if c.case_id == action.case_id), None)
            known = case is not None or action.kind in ("suppress", "release")
            if known and not faults_of(action, case):
                number += 1
                plan.actions[machine].append(action)
        elif on_the_way:
            arrived.versions.append(on_the_way.pop())
            if draw.random() < 0.3:
                arrived.versions.append(draw.choice(arrived.versions))
        plan.steps.append((moment(days), seq, number))
        if draw.random() < 0.15:
            _look(plan, arrived, log, moment(days))  # stopped before anything was recorded
        log += _look(plan, arrived, log, moment(days))
        if again := _look(plan, arrived, log, moment(days)):
            wrong.append(f"recorded twice: {[row['kind'] for row in again]}")
    arrived.versions += on_the_way
    end = moment(days + 100)
    plan.steps.append((end, seq, number))
    log += _look(plan, arrived, log, end)
    return plan, versions, log, wrong


def log_of(log: list[Row], machine: Machine) -> list[Row]:
    """Rows of one machine."""
    return [row for row in log if (row["site"], row["asset"], row["member"]) == machine]


def _look(plan: Plan, arrived: Arrived, log: list[Row], now: dt.datetime) -> list[Row]:
    return new_events(inputs_of(plan.changes, plan.actions, arrived), log, RULES, now, now)


def live_again(plan: Plan, arrivals: Callable[[dt.datetime], list[Version]]) -> list[Row]:
    """The same, with maintenance arriving as `arrivals` says it has by a moment."""
    log: list[Row] = []
    for now, seq, number in plan.steps:
        by_then = Plan(
            {m: [c for c in found if c.seq <= seq] for m, found in plan.changes.items()},
            {m: [a for a in found if a.seq <= number] for m, found in plan.actions.items()},
        )
        log += _look(by_then, Arrived(arrivals(now)), log, now)
    return log


def in_order(versions: list[Version]) -> Callable[[dt.datetime], list[Version]]:
    """Each event's last version, told at once when the work is over."""
    last = {one.event: one for one in versions}.values()
    return lambda now: [one for one in last if one.work is None or one.work.at <= now]


def at_the_end(versions: list[Version], end: dt.datetime) -> Callable[[dt.datetime], list[Version]]:
    """Everything on the last day, newest first."""
    return lambda now: versions[::-1] if now >= end else []


def standing(log: list[Row]) -> dict[int, Case]:
    """How each case stands by the log."""
    return {row["case_id"]: case_of(row) for row in log}


def violations(seed: int) -> list[str]:
    """Everything that is wrong with the sequence of a seed."""
    plan, versions, log, wrong = live(seed)
    logs = {
        "as it came": log,
        "in order": live_again(plan, in_order(versions)),
        "at the end": live_again(plan, at_the_end(versions, plan.steps[-1][0])),
    }
    for name, found in logs.items():
        wrong += [f"{name}: {fault}" for fault in _faults(found)]
        wrong += [f"{name}: {fault}" for fault in _missed(plan, found)]
        if standing(found) != standing(log):
            wrong.append(f"{name}: another end than as it came")
    return [f"seed {seed}: {fault}" for fault in wrong]


def _faults(log: list[Row]) -> Iterator[str]:
    """What the log alone shows to be wrong."""
    state: dict[int, Row] = {}
    notices = [row["notice"] for row in log if row["notice"] is not None]
    if notices != list(range(1, len(notices) + 1)):
        yield f"notices are not numbered through: {notices}"
    if [row["seq"] for row in log] != list(range(1, len(log) + 1)):
        yield "rows are not numbered through"
    for row in log:
        state[row["case_id"]] = row
        of_key = [r for r in state.values() if _key(r) == _key(row) and r["state"] != "closed"]
        if len(of_key) > 1:
            yield f"two open cases of {_key(row)}"
        if row["state"] == "closed" and row["disposition"] is None:
            yield f"case {row['case_id']} is closed without a disposition"
    told = Counter(_notice(row) for row in log if row["notice"] is not None)
    yield from (f"told {times} times: {what}" for what, times in told.items() if times > 1)
    for case_id in state:
        yield from _twice(case_id, [row for row in log if row["case_id"] == case_id])


def _key(row: Row) -> tuple[str, ...]:
    return row["site"], row["asset"], row["member"], row["basis"]


def _notice(row: Row) -> tuple[Any, ...]:
    return row["case_id"], row["kind"], row["cause"], row["cause_id"]


def _twice(case_id: int, rows: list[Row]) -> Iterator[str]:
    """The same weakness told twice: no higher level, and it was never well for long."""
    told: Row | None = None
    cleared: dt.datetime | None = None
    for row in sorted(
        (r for r in rows if r["kind"] != "corrected"), key=lambda r: r["happened_at"]
    ):
        if row["kind"] == "cleared":
            cleared = row["happened_at"]
        if row["kind"] in _WEAKNESS and row["notice"] is not None:
            rested = cleared is not None and row["happened_at"] - cleared > RULES.rejoin
            if told and RANK[row["level"]] <= RANK[told["level"]] and not rested:
                yield f"case {case_id} tells {row['level']} again"
            told = row


def _missed(plan: Plan, log: list[Row]) -> Iterator[str]:
    """A level that stands at the end, of which no case speaks though nobody asked for silence."""
    end = plan.steps[-1][0]
    for machine in MACHINES:
        last = [c for c in plan.changes[machine] if c.level != "unknown"]
        if not last or last[-1].level == "normal":
            continue
        worst = last[-1]
        mine = [row for row in log_of(log, machine) if row["basis"] == worst.basis]
        newest = case_of(mine[-1]) if mine else None
        if newest is None or (not newest.is_open and newest.disposition == "real"):
            silent = worst.level != "danger" and any(
                a.until and a.until > end for a in plan.actions[machine] if a.kind == "suppress"
            )
            if not silent:
                yield f"{worst.level} of {worst.basis} stands since {worst.at - START}, no case"
