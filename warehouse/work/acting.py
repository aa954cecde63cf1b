"""What persons do about cases: what is allowed when, and what it makes of the case."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from schemas.tables.conditions import BASIS
from schemas.tables.work import CASE_ACTION, DISPOSITION
from warehouse.work.case import Case
from warehouse.work.inputs import Action

_GOES_TO = {
    "acknowledge": ("acknowledged", "acknowledged"),
    "confirm": ("confirmed", "confirmed"),
    "request": ("work-requested", "work-requested"),
    "done": ("done", "done"),
    "verify": ("verified", "verified"),
}
"""Action to the state it leads to, and the kind of event it makes."""


def act(case: Case, action: Action) -> tuple[Case, str]:
    """An open case after an action, and the kind of event it makes.

    Total: an action that maintenance has overtaken, reported late, changes no state and is noted.
    """
    case = replace(
        case, owner=action.owner or case.owner, order_id=action.order_id or case.order_id
    )
    if action.kind in _GOES_TO:
        return _go_on(case, action)
    if action.kind == "defer":
        after = replace(case, state="deferred", resumes=case.phase, until=action.until)
        return after, "deferred"
    if action.kind == "dispose":
        return _dispose(case, action)
    return case, "assigned" if action.kind == "assign" else "commented"


def _go_on(case: Case, action: Action) -> tuple[Case, str]:
    state, kind = _GOES_TO[action.kind]
    if action.kind == "confirm":
        case = replace(case, confirmed_by=action.by)
    if not case.before(state):
        return case, "commented"
    after = replace(case, state=state, resumes=None, until=None)
    return (replace(after, done_by=action.by) if action.kind == "done" else after), kind


def _dispose(case: Case, action: Action) -> tuple[Case, str]:
    """`real` waits until the machine is well; everything else ends the case.

    A closed case does not name the work: a late report would have to change what is closed.
    """
    if action.disposition == "real":
        return replace(case, disposition="real"), "disposed"
    after = replace(
        case, state="closed", disposition=action.disposition, until=action.until, resumes=None,
        done_by=None,
    )  # fmt: skip
    return after, "closed"


def faults_of(action: Action, case: Case | None) -> list[str]:
    """What in the state of the case keeps an action from being recorded, and what is allowed."""
    if case is None or not (faults := list(_case_faults(action, case))):
        return []
    return [*faults, f"allowed now: {', '.join(allowed_now(case)) or 'nothing, it is closed'}"]


def allowed_now(case: Case) -> list[str]:
    """Actions the state of a case allows, in the order in which a case goes on."""
    if not case.is_open:
        return []
    return [
        kind for kind in CASE_ACTION if kind not in _OF_MACHINES and not list(_refusals(kind, case))
    ]


_OF_MACHINES = ("suppress", "release")
"""Actions on no case."""


def field_faults(action: Action) -> Iterator[tuple[str, str]]:
    """What an action itself lacks or has wrong, whatever it is of: the field and the fault."""
    if action.kind not in CASE_ACTION:
        yield "action", f"{action.kind!r} is not one of {', '.join(CASE_ACTION)}"
    if not action.by.strip():
        yield "person", "a named person is needed"
    yield from _until_faults(action)
    if action.kind == "dispose" and action.disposition not in DISPOSITION:
        allowed = ", ".join(DISPOSITION)
        yield (
            "disposition",
            f"one is needed: {allowed}"
            if action.disposition is None
            else f"{action.disposition!r} is not one of {allowed}",
        )
    if action.basis is not None and action.basis not in BASIS:
        yield "basis", f"{action.basis!r} is not one of {', '.join(BASIS)}"
    if action.kind in ("suppress", "comment") and not (action.comment or "").strip():
        yield "comment", f"a {'reason' if action.kind == 'suppress' else 'comment'} is needed"
    if action.kind == "assign" and not (action.owner or "").strip():
        yield "owner", "an owner is needed"


def _until_faults(action: Action) -> Iterator[tuple[str, str]]:
    dated = action.kind in ("defer", "suppress") or action.disposition == "accepted-until"
    if dated and action.until is None:
        yield "until", "a date is needed until which it holds"
    if not dated and action.until is not None:
        yield "until", "a date has no meaning here"
    if action.until is not None and action.until <= action.at:
        yield "until", f"the date {action.until:%Y-%m-%d %H:%M} UTC has passed; it must lie ahead"


def _case_faults(action: Action, case: Case) -> Iterator[str]:
    if not case.is_open:
        yield f"case {case.case_id} is closed as {case.disposition}; open cases only"
    else:
        yield from _refusals(action.kind, case)


def _refusals(kind: str, case: Case) -> Iterator[str]:
    """Why the state of an open case does not allow an action."""
    if kind in _GOES_TO and not case.before(_GOES_TO[kind][0]):
        yield f"case {case.case_id} is {case.phase} already"
    elif kind == "verify" and case.phase != "done":
        yield f"case {case.case_id} is {case.phase}; only work that is done can be verified"
    elif kind == "defer" and case.state == "deferred":
        yield f"case {case.case_id} is deferred until {case.until:%Y-%m-%d} already"
