"""The life of one machine's cases, as a pure function of its inputs and a moment (rules W1, W3).

Changes and actions come in the order in which they were recorded, maintenance in the order of
the work, whatever the order in which it was reported. Which cases there are, and when they are
closed, depends on changes and actions alone; maintenance only says how far an open case has come.
So a late report corrects a state and never makes, joins or parts cases.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from warehouse.work.acting import act
from warehouse.work.case import TOLD, Case, Happening
from warehouse.work.inputs import RANK, SEVERITY, Action, Change, Inputs, Rules, Work

Step = tuple[dt.datetime, Change | Action | Work | tuple[str, Work]]


@dataclass(frozen=True, slots=True)
class Frozen:
    """A closed case and what was known by then: earlier inputs have had their say about it."""

    case: Case
    through_change: int
    through_action: int


@dataclass(slots=True)
class _Basis:
    """What stands about one basis: its level, and its last case, open or closed.

    `rested`: it was clear for long when it came back, and no case has been opened of it since.
    """

    level: str = "normal"
    since: dt.datetime | None = None
    cleared_at: dt.datetime | None = None
    rested: bool = False
    change: int = 0
    case: Case | None = None
    skip: tuple[int, int] = (0, 0)

    @property
    def open_case(self) -> Case | None:
        return self.case if self.case and self.case.is_open else None


@dataclass(slots=True)
class _Life:
    rules: Rules
    bases: dict[str, _Basis] = field(default_factory=dict)
    suppressed: dict[str | None, dt.datetime] = field(default_factory=dict)
    happened: list[Happening] = field(default_factory=list)
    changes: dict[int, Change] = field(default_factory=dict)
    restored: list[Work] = field(default_factory=list)
    change: int = 0
    action: int = 0

    def basis(self, name: str) -> _Basis:
        return self.bases.setdefault(name, _Basis())

    def reason(self, seq: int) -> str:
        """What was said of a change, or nothing."""
        return self.changes[seq].reason if seq in self.changes else ""

    def tell(
        self, found: _Basis, case: Case, kind: str, at: dt.datetime, cause: tuple[str, str],
        reason: str = "", told: bool | None = None, action: Action | None = None,
    ) -> None:  # fmt: skip
        """Note what happened to a case, which is from now on as given."""
        found.case = case
        self.happened.append(
            Happening(
                case, kind, at, cause[0], cause[1], kind in TOLD if told is None else told,
                reason, action.by if action else None, action.comment if action else None,
                self.change, self.action,
            )
        )  # fmt: skip


def fold(
    inputs: Inputs, frozen: Mapping[str, Frozen], rules: Rules, now: dt.datetime
) -> list[Happening]:
    """Everything that happened to a machine's cases until `now`, in order.

    `frozen` has of each basis the last closed case, where one is recorded: it stays as it was
    recorded, whatever the rules are now.
    """
    life = _Life(rules)
    for name, one in frozen.items():
        cleared = one.case.cleared_at
        life.bases[name] = _Basis(
            level=one.case.level, since=one.case.level_since, cleared_at=cleared,
            change=one.case.case_id, case=one.case,
            skip=(one.through_change, one.through_action),
        )  # fmt: skip
    for at, step in _in_order(inputs, now):
        _advance(life, at)
        if isinstance(step, Change):
            _change(life, step, at)
        elif isinstance(step, Action):
            _action(life, step, at)
        elif isinstance(step, Work):
            _worked(life, step, at)
        else:
            _outcome(life, step[1], at)
    _advance(life, now)
    return life.happened


def _in_order(inputs: Inputs, now: dt.datetime) -> Iterator[Step]:
    """Changes and actions as recorded, their times never running back; work between, by time.

    Work that lies ahead, and what it will come to, is not there yet.
    """
    recorded: list[tuple[int, int, int, Change | Action]] = [
        *((one.seq, 0, one.seq, one) for one in inputs.changes),
        *((one.after_change, 1, one.seq, one) for one in inputs.actions),
    ]
    recorded.sort(key=lambda entry: entry[:3])
    timed: list[tuple[dt.datetime, int, int, str, Step]] = []
    latest: dt.datetime | None = None
    for place, (_, _, _, one) in enumerate(recorded):
        latest = one.at if latest is None else max(latest, one.at)
        timed.append((latest, 0, place, "", (latest, one)))
    for work in inputs.works:
        timed.append((work.at, 1, 0, work.id, (work.at, work)))
        if work.outcome and work.outcome_at:
            known = max(work.at, work.outcome_at)
            timed.append((known, 2, 0, work.id, (known, ("outcome", work))))
    timed.sort(key=lambda entry: entry[:4])
    return (entry[4] for entry in timed if entry[1] == 0 or entry[0] <= now)


def _change(life: _Life, change: Change, at: dt.datetime) -> None:
    """The worst of the machine is now this: others stand no higher than it."""
    life.change = change.seq
    life.changes[change.seq] = change
    if change.level not in RANK:
        return
    for name in sorted({*life.bases, change.basis}):
        found = life.basis(name)
        if change.seq <= found.skip[0]:
            continue
        if name == change.basis and change.level != "normal":
            found.change = change.seq
            _set_level(life, name, change.level, at, change.seq)
        elif RANK[found.level] > RANK[change.level]:
            below = change.level
            if name == SEVERITY and RANK[below] < RANK["alert"]:
                below = "normal"
            _set_level(life, name, below, at, change.seq)


def _set_level(life: _Life, name: str, level: str, at: dt.datetime, seq: int) -> None:
    found = life.basis(name)
    if level == found.level:
        return
    was_above = RANK[found.level] >= life.rules.opens_from
    risen = RANK[level] > RANK[found.level]
    if not was_above:
        found.rested = _is_past(life, found, at)
    found.level, found.since = level, at
    cause = ("change", str(seq))
    if RANK[level] >= life.rules.opens_from:
        if found.open_case is None:
            _consider(life, name, at, cause)
        else:
            found.rested = False
            _goes_on(life, found, found.open_case, at, cause, risen)
        found.cleared_at = None
    elif was_above:
        found.cleared_at = at
        if found.open_case:
            case = replace(found.open_case, level=level, level_since=at, cleared_at=at)
            life.tell(found, case, "cleared", at, cause, life.reason(seq))
        elif found.case:
            found.case = replace(found.case, level=level, level_since=at, cleared_at=at)


def _consider(life: _Life, name: str, at: dt.datetime, cause: tuple[str, str]) -> None:
    """A level that opens cases stands, and none is open: open one, reopen the old one, or not."""
    found = life.basis(name)
    if found.level != "danger" and _suppressed(life, name, at):
        return
    old = found.case
    reason = life.reason(found.change)
    since = found.since or at
    if old is None or found.rested:
        found.rested = False
        case = Case(found.change, name, "new", found.level, since, found.level, at)
        life.tell(found, case, "opened", at, cause, reason)
        _restored_meanwhile(life, found, case, at, cause)
    elif RANK[found.level] > RANK[old.worst_told]:
        case = replace(
            old, state="new", level=found.level, level_since=since, worst_told=found.level,
            cleared_at=None, disposition=None, until=None,
        )  # fmt: skip
        life.tell(found, case, "reopened", at, cause, reason)
        _restored_meanwhile(life, found, case, at, cause)


def _restored_meanwhile(
    life: _Life, found: _Basis, case: Case, at: dt.datetime, cause: tuple[str, str]
) -> None:
    """Work between the reading that opens a case and the judging that does so is done on it.

    Where judging is daily, a machine is often repaired in between; what was read before the work
    says nothing of the machine after it.
    """
    change = life.changes.get(found.change)
    if cause[0] != "change" or change is None or change.measured_at is None:
        return
    since = [work for work in life.restored if work.at > change.measured_at]
    if since:
        work = since[-1]
        after = replace(case, state="done", done_by=work.id)
        life.tell(found, after, "done", at, ("work", work.id), work.words)
        if work.outcome_at is not None and work.outcome_at <= at:
            _outcome(life, work, at)


def _is_past(life: _Life, found: _Basis, at: dt.datetime) -> bool:
    """Whether it was clear for so long that a level is a weakness of its own."""
    return found.cleared_at is not None and at - found.cleared_at > life.rules.rejoin


def _suppressed(life: _Life, name: str, at: dt.datetime) -> bool:
    return any(life.suppressed.get(key, at) > at for key in (name, None))


def _goes_on(
    life: _Life, found: _Basis, case: Case, at: dt.datetime, cause: tuple[str, str], risen: bool
) -> None:
    """An open case and another level that opens cases. Nothing is told twice."""
    anew = _is_past(life, found, at)
    worse = RANK[found.level] > RANK[case.worst_told]
    back = case.cleared_at is not None
    told = anew or worse
    after = replace(
        case, level=found.level, level_since=at, cleared_at=None,
        worst_told=found.level if told else case.worst_told,
    )  # fmt: skip
    if worse and case.state == "deferred":
        after = replace(after, state=case.phase, resumes=None, until=None)
    reason = life.reason(int(cause[1])) if cause[0] == "change" else ""
    if back and anew:
        after = replace(after, state="new", resumes=None, until=None)
    if back and not anew and case.phase in ("done", "verified"):
        after = replace(after, state="confirmed", resumes=None, until=None)
        life.tell(found, after, "repair-not-effective", at, cause, reason)
    elif back:
        life.tell(found, after, "returned", at, cause, reason, told)
    else:
        life.tell(found, after, "worsened" if risen else "eased", at, cause, reason, told)


def _action(life: _Life, action: Action, at: dt.datetime) -> None:
    life.action = max(life.action, action.seq)
    if action.kind == "suppress" and action.until:
        life.suppressed[action.basis] = action.until
    elif action.kind == "release":
        life.suppressed.pop(action.basis, None)
        _look_again(life, at, ("action", str(action.seq)))
    elif action.basis:
        found = life.basis(action.basis)
        case = found.open_case
        if action.seq <= found.skip[1] or case is None or case.case_id != action.case_id:
            return
        after, kind = act(case, action)
        life.tell(found, after, kind, at, ("action", str(action.seq)), action=action)


def _look_again(life: _Life, at: dt.datetime, cause: tuple[str, str]) -> None:
    """Nothing holds cases back any more: open those whose level stands."""
    for name in sorted(life.bases):
        found = life.bases[name]
        if RANK[found.level] >= life.rules.opens_from and found.open_case is None:
            _consider(life, name, at, cause)


def _worked(life: _Life, work: Work, at: dt.datetime) -> None:
    """Work makes a case done if it restores, or bears the case's order."""
    if work.restoring:
        life.restored.append(work)
    for name in sorted(life.bases):
        found = life.bases[name]
        case = found.open_case
        if case is None or not case.before("done") or case.opened_at > at:
            continue
        if work.restoring or (work.order_id and work.order_id == case.order_id):
            after = replace(case, state="done", resumes=None, until=None, done_by=work.id)
            life.tell(found, after, "done", at, ("work", work.id), work.words)


def _outcome(life: _Life, work: Work, at: dt.datetime) -> None:
    for name in sorted(life.bases):
        found = life.bases[name]
        case = found.open_case
        if case is None or case.phase != "done" or case.done_by != work.id:
            continue
        better = work.outcome == "effective"
        after = replace(case, state="verified" if better else "confirmed", resumes=None, until=None)
        kind = "verified" if better else "repair-not-effective"
        life.tell(found, after, kind, at, ("effect", work.id), work.words)


def _advance(life: _Life, upto: dt.datetime) -> None:
    """Let the dates come that lie at or before a moment, the earliest first."""
    while due := min(_dates(life, upto), default=None):
        at, name = due
        _date_came(life, at, name)


def _dates(life: _Life, upto: dt.datetime) -> Iterator[tuple[dt.datetime, str]]:
    for until in life.suppressed.values():
        if until <= upto:
            yield until, ""
    for name, found in life.bases.items():
        due = _due(life, found)
        if due is not None and due <= upto:
            yield due, name


def _due(life: _Life, found: _Basis) -> dt.datetime | None:
    """When time itself changes the case of a basis next."""
    case = found.case
    if case is None:
        return None
    dates: list[dt.datetime] = []
    if case.is_open and case.cleared_at and case.disposition == "real":
        dates.append(case.cleared_at + life.rules.rejoin)
    if case.until and (case.state == "deferred" or case.disposition == "accepted-until"):
        dates.append(case.until)
    return min(dates, default=None)


def _date_came(life: _Life, at: dt.datetime, name: str) -> None:
    cause = ("timer", at.isoformat())
    if not name:
        for key in [key for key, until in life.suppressed.items() if until <= at]:
            del life.suppressed[key]
        _look_again(life, at, cause)
        return
    found = life.bases[name]
    case = found.case
    assert case is not None
    if case.is_open and case.disposition == "real" and case.cleared_at \
            and case.cleared_at + life.rules.rejoin <= at:  # fmt: skip
        after = replace(case, state="closed", resumes=None, until=None, done_by=None)
        life.tell(found, after, "closed", at, cause, "clear for long enough, and called real")
    elif case.state == "deferred":
        after = replace(case, state=case.phase, resumes=None, until=None)
        life.tell(found, after, "deferral-expired", at, cause)
    else:
        _acceptance_ends(life, found, case, at, cause)


def _acceptance_ends(
    life: _Life, found: _Basis, case: Case, at: dt.datetime, cause: tuple[str, str]
) -> None:
    if RANK[found.level] < life.rules.opens_from:
        found.case = replace(case, until=None)
        return
    after = replace(
        case, state="new", level=found.level, level_since=found.since or at, cleared_at=None,
        disposition=None, until=None,
    )  # fmt: skip
    life.tell(found, after, "acceptance-expired", at, cause)
