"""Withdrawing a package, and taking that back."""

from __future__ import annotations

from typing import Annotated

import typer

from warehouse.cli import show
from warehouse.cli.arrival import take_in
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.inbox.upkeep import newest_ledger
from warehouse.services.ingest import only_committer
from warehouse.services.retracting import Retraction, retract
from warehouse.store import open_store
from warehouse.wording import listed


def retract_package(
    package: Annotated[int, typer.Argument(help="Package number, as `mcw inbox` lists it.")],
    home: Home = DEFAULT_HOME,
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without this, only show it.")] = False,
    undo: Annotated[bool, typer.Option("--undo", help="Bring a withdrawn package back.")] = False,
    json: Json = False,
) -> None:
    """Withdraw a package that was read by a wrong mapping; a dry run unless --yes is given."""
    store = open_store(home)
    with newest_ledger(store) as ledger:
        with only_committer(store):
            found = retract(store, ledger, package, undo=undo, dry_run=not yes)
        if yes:
            take_in(store, ledger)
    if json:
        show.as_json({name: getattr(found, name) for name in found.__slots__} | {"done": yes})
        return
    show.out.print(_words(found, yes, undo), highlight=False, soft_wrap=True)


def _words(found: Retraction, done: bool, undo: bool) -> str:
    if found.already:
        since = f" since {found.already_since:%Y-%m-%d %H:%M:%S} UTC" if found.already_since else ""
        return (
            f"Package {found.package} is retracted already{since}; nothing changes. "
            f"`mcw retract {found.package} --undo --yes` brings it back."
        )
    facts = listed(
        (found.stop_counting, show.counted(found.stop_counting, "stops counting", "stop counting")),
        (found.count_again, show.counted(found.count_again, "counts again", "count again")),
    )
    words = f"{show.counted(found.rows, 'reading')}; {facts or 'what counts stays the same'}"
    if found.reopened:
        others = show.counted(len(found.reopened), "package")
        words += f"; {others} with copies looked at again"
    if not done:
        return f"Package {found.package}: {words}. This was a dry run; --yes does it."
    verb = "brought back" if undo else "retracted"
    undone = "" if undo else f" `mcw retract {found.package} --undo --yes` brings it back."
    return f"Package {found.package} is {verb}: {words}.{undone}"
