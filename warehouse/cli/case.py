"""Cases: what wants somebody's attention, what a planner needs of it, and what was done."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

import typer

from schemas.tables.conditions import BASIS
from schemas.tables.work import DISPOSITION
from warehouse.cli import show
from warehouse.cli.case_words import told
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.cli.stopped import tell_if_stopped
from warehouse.services import cases
from warehouse.services.displaying import Display, Displays, displays_of
from warehouse.store import open_store
from warehouse.work.inputs import Machine

case_app = typer.Typer(help="What wants somebody's attention.", no_args_is_help=True)

Case = Annotated[int, typer.Argument(help="Number of the case.")]
Person = Annotated[str, typer.Option("--by", help="Who does it: a name.")]
Comment = Annotated[str | None, typer.Option("--comment", help="Reason or remark.")]
Until = Annotated[
    dt.datetime, typer.Option("--until", formats=["%Y-%m-%d"], help="Day of the site it ends on.")
]
Order = Annotated[str | None, typer.Option("--order", help="Work order in the maintenance system.")]
Owner = Annotated[str | None, typer.Option("--owner", help="Who takes care of it.")]
_LISTED = (
    "case",
    "priority",
    "machine",
    "basis",
    "level",
    "since",
    "state",
    "owner",
    "order",
)


@case_app.command("list")
def list_cases(
    home: Home = DEFAULT_HOME,
    site: Annotated[str | None, typer.Option("--site", help="Only this site.")] = None,
    every: Annotated[bool, typer.Option("--all", help="Closed ones too.")] = False,
    json: Json = False,
) -> None:
    """List the open cases, the most urgent first."""
    store = open_store(home)
    found = cases.list_cases(store, site, every)
    displays = displays_of(store)
    tell_if_stopped(store)
    if json:
        show.as_json(displays.beside(found, ("level_since", "until", "cleared_at", "opened_at")))
        return
    moments = displays.moments(row["site"] for row in found)
    rows = [
        [
            str(row["case_id"]), row["priority"], _machine(row), row["basis"],
            f"{row['level']}, cleared" if row["cleared_at"] else row["level"],
            moments(row["site"], row["level_since"]),
            _state(row, displays.of(row["site"])), row["owner"], row["order_id"],
        ]
        for row in found
    ]  # fmt: skip
    columns = _timed(_LISTED, "since", found, displays)
    show.table(show.counted(len(rows), "case"), columns, rows, right=["case", "priority"])


def _timed(
    columns: tuple[str, ...], name: str, rows: list[dict[str, Any]], displays: Displays
) -> list[str]:
    """Columns, that of times named by its zone unless sites read their own."""
    is_local = displays.local(row["site"] for row in rows)
    return [f"{one} (UTC)" if one == name and not is_local else one for one in columns]


def _machine(row: dict[str, Any]) -> str:
    return "/".join(row[name] for name in ("site", "asset", "member"))


def _state(row: dict[str, Any], display: Display) -> str:
    """State with its day of the site, or with what it was closed as."""
    words = [row["state"], row["disposition"] or ""]
    if row["until"]:
        words.append(f"until {display.day(row['until'])}")
    return " ".join(filter(None, words))


@case_app.command("show")
def show_case(case: Case, home: Home = DEFAULT_HOME, json: Json = False) -> None:
    """Tell a planner what a case is about, and its whole life."""
    store = open_store(home)
    found = cases.summary(store, case)
    displays = displays_of(store)
    display = displays.of(found["case"]["site"])
    if json:
        found["measured"] = (
            found["measured"]
            and displays.beside(
                [found["measured"] | {"site": found["case"]["site"]}], ("measured_at",)
            )[0]
        )
        show.as_json(found)
        return
    for line in told(found, display):
        show.out.print(line, markup=False, highlight=False, soft_wrap=True)


@case_app.command("acknowledge")
def acknowledge(
    case: Case, by: Person, owner: Owner = None, comment: Comment = None,
    home: Home = DEFAULT_HOME, json: Json = False,
) -> None:  # fmt: skip
    """Say that you have seen a case."""
    _act(home, json, case, "acknowledge", by, owner=owner, comment=comment)


@case_app.command("confirm")
def confirm(
    case: Case, by: Person, comment: Comment = None, home: Home = DEFAULT_HOME, json: Json = False,
) -> None:  # fmt: skip
    """Say that a second look has confirmed a case."""
    _act(home, json, case, "confirm", by, comment=comment)


@case_app.command("request")
def request(
    case: Case, by: Person, order: Order = None, comment: Comment = None,
    home: Home = DEFAULT_HOME, json: Json = False,
) -> None:  # fmt: skip
    """Ask maintenance for work; name its order where there is one."""
    _act(home, json, case, "request", by, order_id=order, comment=comment)


@case_app.command("defer")
def defer(
    case: Case, by: Person, until: Until, comment: Comment = None,
    home: Home = DEFAULT_HOME, json: Json = False,
) -> None:  # fmt: skip
    """Put a case off to a day; a worse level brings it back before."""
    _act(home, json, case, "defer", by, until=until.date(), comment=comment)


@case_app.command("done")
def done(
    case: Case, by: Person, order: Order = None, comment: Comment = None,
    home: Home = DEFAULT_HOME, json: Json = False,
) -> None:  # fmt: skip
    """Report work as done; maintenance events do the same by themselves."""
    _act(home, json, case, "done", by, order_id=order, comment=comment)


@case_app.command("verify")
def verify(
    case: Case, by: Person, comment: Comment = None, home: Home = DEFAULT_HOME, json: Json = False,
) -> None:  # fmt: skip
    """Say that the machine is better than before the work."""
    _act(home, json, case, "verify", by, comment=comment)


@case_app.command("dispose")
def dispose(
    case: Case,
    as_: Annotated[str, typer.Argument(metavar="AS", help=f"One of {', '.join(DISPOSITION)}.")],
    by: Person,
    until: Annotated[
        dt.datetime | None,
        typer.Option("--until", formats=["%Y-%m-%d"], help="Day it is accepted until."),
    ] = None,
    comment: Comment = None,
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Say what a case was. `real` closes once the machine was well for long enough, others now."""
    day = until.date() if until else None
    _act(home, json, case, "dispose", by, disposition=as_, until=day, comment=comment)


@case_app.command("assign")
def assign(
    case: Case,
    owner: Annotated[str, typer.Argument(help="Who takes care of it.")],
    by: Person,
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Name who takes care of a case."""
    _act(home, json, case, "assign", by, owner=owner)


@case_app.command("comment")
def comment_on(
    case: Case,
    text: Annotated[str, typer.Argument(help="What there is to say.")],
    by: Person,
    order: Order = None,
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Say something about a case, or name its order."""
    _act(home, json, case, "comment", by, comment=text, order_id=order)


def _act(home: Any, json: bool, case: int, kind: str, by: str, **said: Any) -> None:
    store = open_store(home)
    row = cases.act(store, case, kind, by, **said)
    if json:
        show.as_json(row)
    else:
        state = _state(row, displays_of(store).of(row["site"]))
        show.notes.print(
            f"Case {case} ({_machine(row)}, {row['basis']}) is {state}.", highlight=False
        )


MachineName = Annotated[str, typer.Argument(metavar="MACHINE", help="SITE/ASSET/MEMBER.")]
Basis = Annotated[str | None, typer.Option("--basis", help="Only this basis; else whatever it is.")]


@case_app.command("suppress")
def suppress(
    machine: MachineName, by: Person, until: Until,
    reason: Annotated[str, typer.Option("--reason", help="Why no case is wanted.")],
    basis: Basis = None, home: Home = DEFAULT_HOME,
) -> None:  # fmt: skip
    """Want no new case of a machine until a day. Danger is told all the same."""
    place, wanted = _place(machine), _basis(basis)
    cases.suppress(open_store(home), place, wanted, by, until=until.date(), comment=reason)
    show.notes.print(f"No new case of {machine} until {until:%Y-%m-%d}.", highlight=False)


@case_app.command("release")
def release(
    machine: MachineName, by: Person, basis: Basis = None, comment: Comment = None,
    home: Home = DEFAULT_HOME,
) -> None:  # fmt: skip
    """End a suppression before its day."""
    place, wanted = _place(machine), _basis(basis)
    cases.suppress(open_store(home), place, wanted, by, release=True, comment=comment)
    show.notes.print(f"Cases of {machine} are opened again.", highlight=False)


def _place(machine: str) -> Machine:
    parts = machine.split("/")
    if len(parts) != 3 or not all(parts):
        raise typer.BadParameter(f"{machine!r} is not of the form SITE/ASSET/MEMBER")
    return parts[0], parts[1], parts[2]


def _basis(basis: str | None) -> str | None:
    if basis is not None and basis not in BASIS:
        raise typer.BadParameter(f"--basis {basis!r} is not one of {', '.join(BASIS)}")
    return basis


@case_app.command("suppressions")
def list_suppressions(home: Home = DEFAULT_HOME, json: Json = False) -> None:
    """List the machines of which no case is wanted now, by whom and why."""
    store = open_store(home)
    found = cases.suppressions(store)
    displays = displays_of(store)
    if json:
        show.as_json(displays.beside(found, ("until",)))
        return
    moments = displays.moments(row["site"] for row in found)
    rows = [
        [
            _machine(row), row["basis"] or "any", moments(row["site"], row["until"]),
            row["person"], row["reason"],
        ]
        for row in found
    ]  # fmt: skip
    columns = _timed(("machine", "basis", "until", "by", "reason"), "until", found, displays)
    show.table(show.counted(len(rows), "suppression"), columns, rows)


@case_app.command("notices")
def list_notices(
    home: Home = DEFAULT_HOME,
    after: Annotated[int, typer.Option("--after", help="Only those with a higher number.")] = 0,
    json: Json = False,
) -> None:
    """List what the maintenance system is told, each once, by its number."""
    store = open_store(home)
    found = cases.notices(store, after)
    displays = displays_of(store)
    if json:
        show.as_json(displays.beside(found, ("happened_at", "level_since", "until")))
        return
    moments = displays.moments(row["site"] for row in found)
    rows = [
        [
            str(row["notice"]), moments(row["site"], row["happened_at"]), str(row["case_id"]),
            _machine(row), row["basis"], row["kind"], row["level"], row["person"],
            row["comment"] or row["reason"],
        ]
        for row in found
    ]  # fmt: skip
    named = ("notice", "at", "case", "machine", "basis", "what", "level", "by", "why")
    columns = _timed(named, "at", found, displays)
    show.table(show.counted(len(rows), "notification"), columns, rows, right=["notice", "case"])
