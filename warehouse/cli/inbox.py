"""What arrived and what became of it, what was refused, and putting it through again."""

from __future__ import annotations

from collections.abc import Collection
from typing import Annotated

import typer

from schemas.codes import PACKAGE_STATE
from schemas.reasons import REJECT_REASON
from warehouse.cli import show
from warehouse.cli.arrival import package_row, show_packages, take_in
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.inbox import Moment, Package
from warehouse.inbox.counts import COUNTED
from warehouse.inbox.lives import notes
from warehouse.inbox.upkeep import newest_ledger
from warehouse.services.ingest import only_committer, replay
from warehouse.services.rejected import open_rejects
from warehouse.store import open_store

_SHOWN = 50

Source = Annotated[str | None, typer.Option("--source", help="Only those of this source.")]
Reason = Annotated[str | None, typer.Option("--reason", help="Only those refused for this reason.")]


def inbox(
    package: Annotated[
        int | None, typer.Argument(help="Number of one package, to see its whole life.")
    ] = None,
    home: Home = DEFAULT_HOME,
    state: Annotated[
        str | None, typer.Option("--state", help="Only packages in this state.")
    ] = None,
    source: Source = None,
    last: Annotated[
        int | None,
        typer.Option("--last", min=1, help=f"Only so many, the newest; {_SHOWN} in a table."),
    ] = None,
    json: Json = False,
) -> None:
    """List packages received and what became of them; of one, everything that happened to it."""
    _check_word(state, PACKAGE_STATE, "--state")
    store = open_store(home)
    with newest_ledger(store) as ledger:
        if package is not None:
            found = ledger.package(package)
            _show_life(found, ledger.life(found), ledger.payloads.kept(found), json)
            return
        packages = ledger.packages()
    chosen = [p for p in packages if source in (None, p.source) and _is_in(p, state)]
    most = last or (len(chosen) if json else _SHOWN)
    shown = chosen[-most:]
    if json:
        show.as_json([package_row(p) for p in shown])
        return
    if not shown:
        show.out.print("No such package." if packages else "Nothing was received yet.")
        return
    show_packages(shown)
    for one in shown:
        if one.error:
            show.out.print(f"{one.number}: {one.error}", markup=False, highlight=False)
    if len(shown) < len(chosen):
        show.notes.print(f"The newest {len(shown):,} of {len(chosen):,}; --last N shows more.")


def _is_in(package: Package, state: str | None) -> bool:
    """Whether the package is in that state; `duplicate` is one that arrived more than once."""
    return state in (None, package.state) or (state == "duplicate" and package.repeats > 0)


def _check_word(word: str | None, known: Collection[str], option: str) -> None:
    if word is not None and word not in known:
        raise typer.BadParameter(f"{option} {word!r} is not one of {', '.join(known)}")


def _show_life(package: Package, life: list[Moment], kept: bool, json: bool) -> None:
    told = list(zip(life, notes(life), strict=True))
    if json:
        moments = [
            {"at": m.at, "state": m.state, "attempt": m.attempt, "file": m.file, "error": m.error}
            | ({"note": note} if note else {})
            | ({name: getattr(m.counts, name) for name in COUNTED} if m.counts else {})
            for m, note in told
        ]
        show.as_json(package_row(package) | {"payload_kept": kept, "life": moments})
        return
    facts = [
        ("source", package.source),
        ("mapping", package.mapping),
        ("SHA-256", package.sha256),
        ("size", f"{package.bytes:,} bytes, " + ("kept" if kept else "no longer kept")),
        ("state", f"{package.state}: {PACKAGE_STATE[package.state]}"),
    ]
    show.table(f"Package {package.number}", ["what", ""], facts)
    columns = ["at (UTC)", "state", "attempt", "file", *COUNTED]
    rows = [
        [
            m.at.strftime("%Y-%m-%d %H:%M:%S") if m.at else "not recorded",
            f"{m.state}, {note}" if note else m.state,
            m.attempt,
            m.file,
            *(getattr(m.counts, name) if m.counts else None for name in COUNTED),
        ]
        for m, note in told
    ]
    show.table("Its life", columns, rows, right=["attempt", *COUNTED])
    reasons = package.counts.rejected_by_reason
    if reasons:
        rows = [[reason, items, REJECT_REASON[reason].remedy] for reason, items in reasons.items()]
        show.table("Refused", ["reason", "items", "remedy"], rows, right=["items"])
    if package.error:
        show.out.print(package.error, markup=False, highlight=False)


def list_rejects(
    home: Home = DEFAULT_HOME,
    source: Source = None,
    reason: Reason = None,
    json: Json = False,
    show_rows: Annotated[int, typer.Option("--rows", help="Rows shown with their raw text.")] = 10,
) -> None:
    """Show what is refused and still open: by source and reason, with remedy and raw text."""
    _check_word(reason, REJECT_REASON, "--reason")
    found = open_rejects(open_store(home), show_rows, source, reason)
    if json:
        show.as_json({"groups": found.groups, "rows": found.rows})
        return
    if not found.groups:
        show.out.print("Nothing is refused.")
        return
    groups = [
        [g["source"], g["reason"], g["items"], REJECT_REASON[g["reason"]].remedy]
        for g in found.groups
    ]
    show.table("Refused", ["source", "reason", "items", "remedy"], groups, right=["items"])
    names = ("file", "line", "column_name", "reason", "detail", "raw")
    rows = [[str(row[name] or "") for name in names] for row in found.rows]
    show.table("The first of each", names, rows)


def replay_packages(
    packages: Annotated[
        list[int] | None, typer.Argument(help="Package numbers; all with refused items if none.")
    ] = None,
    home: Home = DEFAULT_HOME,
    source: Source = None,
    reason: Reason = None,
    json: Json = False,
) -> None:
    """Put packages with refused items through again, after the registry was mended.

    Each goes through by the mapping it came with: after that was mended, take the file in again.
    """
    _check_word(reason, REJECT_REASON, "--reason")
    store = open_store(home)
    with newest_ledger(store) as ledger:
        with only_committer(store):
            numbers = replay(ledger, packages or [], source, reason)
        take_in(store, ledger)
        done = [ledger.package(number) for number in numbers]
    if json:
        show.as_json([package_row(package) for package in done])
    elif done:
        show_packages(done)
    else:
        show.out.print("Nothing to put through again.")
