"""Random sequences of what cases are decided from: changes, persons' actions, maintenance.

Everything is drawn from one seed. Maintenance is planned beforehand, each event in one to three
versions, and arrives whenever it likes.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass, field, replace

from schemas.tables.work import DISPOSITION
from warehouse.work.case import Case
from warehouse.work.inputs import Action, Change, Inputs, Machine, Work

START = dt.datetime(2025, 1, 1, tzinfo=dt.UTC)
MACHINES: tuple[Machine, ...] = (("works", "M-1", "motor"), ("works", "M-1", "pump"))
BASES = ("severity", "hf-change", "trend")
LEVELS = ("normal", "watch", "alert", "danger", "unknown")
_KINDS = ("acknowledge", "confirm", "request", "defer", "done", "verify", "dispose", "assign",
          "comment", "suppress", "release")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Version:
    """One version of a maintenance event as the maintenance system sends it; None: cancelled."""

    machine: Machine
    event: str
    number: int
    work: Work | None


@dataclass(slots=True)
class Arrived:
    """Versions that have arrived, in any order, some twice."""

    versions: list[Version] = field(default_factory=list)

    def current(self, machine: Machine) -> list[Work]:
        """The newest version of each event of a machine, unless it takes it back."""
        newest: dict[str, Version] = {}
        for one in self.versions:
            if one.machine == machine and one.number >= newest.get(one.event, one).number:
                newest[one.event] = one
        return [one.work for one in newest.values() if one.work]


def moment(days: float) -> dt.datetime:
    """So many days after the beginning."""
    return START + dt.timedelta(days=round(days, 3))


def draw_change(draw: random.Random, seq: int, days: float) -> Change:
    """A change of a machine's condition; now and then the clock was put back."""
    level = draw.choice(LEVELS)
    basis = "severity" if level == "normal" else draw.choice(BASES)
    late = draw.random() < 0.05
    at = days - (2 if late else 0)
    read = moment(at - draw.choice((0.1, 1, 3)))
    return Change(seq, moment(at), basis, level, f"change {seq}", read)


def draw_action(
    draw: random.Random, seq: int, days: float, after_change: int, cases: list[Case]
) -> Action:
    """Something a person does, sensible or not."""
    kind = draw.choice(_KINDS)
    case = draw.choice(cases) if cases and kind not in ("suppress", "release") else None
    disposition = draw.choice(list(DISPOSITION)) if kind == "dispose" else None
    dated = kind in ("defer", "suppress") or disposition == "accepted-until"
    return Action(
        seq=seq,
        at=moment(days),
        after_change=after_change,
        kind=kind,
        by="A. Example",
        basis=case.basis if case else draw.choice([*BASES, None]),
        case_id=case.case_id if case else None,
        until=moment(days + draw.choice((0.5, 5, 20, 60))) if dated else None,
        disposition=disposition,
        owner=draw.choice((None, "B. Example")) if kind != "assign" else "C. Example",
        order_id=draw.choice((None, None, "WO-1", "WO-2")),
        comment="because",
    )


def draw_versions(draw: random.Random, last_day: float) -> list[Version]:
    """Maintenance of the whole sequence: late, amended and cancelled, in the order of versions."""
    found = []
    for number in range(draw.randint(0, 5)):
        machine = draw.choice(MACHINES)
        event = f"cmms/E-{number}"
        work = _draw_work(draw, event, draw.uniform(0, last_day))
        for version in range(1, draw.choice((1, 1, 2, 3)) + 1):
            cancelled = version > 1 and draw.random() < 0.3
            found.append(Version(machine, event, version, None if cancelled else work))
            work = _amended(draw, work)
    return found


def _draw_work(draw: random.Random, event: str, day: float) -> Work:
    outcome = draw.choice((None, "effective", "not-effective"))
    return Work(
        id=event,
        at=moment(day),
        restoring=draw.random() < 0.6,
        order_id=draw.choice((None, "WO-1", "WO-2")),
        outcome=outcome,
        outcome_at=moment(day + draw.choice((0, 3, 14))) if outcome else None,
    )


def _amended(draw: random.Random, work: Work) -> Work:
    if draw.random() < 0.5:
        return replace(work, restoring=not work.restoring)
    return _draw_work(draw, work.id, (work.at - START).days + draw.uniform(0, 3))


def inputs_of(
    changes: dict[Machine, list[Change]], actions: dict[Machine, list[Action]], arrived: Arrived
) -> dict[Machine, Inputs]:
    """What is known of each machine."""
    return {
        machine: Inputs(changes[machine], actions[machine], arrived.current(machine))
        for machine in MACHINES
    }
