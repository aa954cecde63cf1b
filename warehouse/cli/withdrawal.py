"""Withdrawing a package, and taking that back."""

from __future__ import annotations

from typing import Annotated

import typer

from warehouse.cli import show
from warehouse.cli.arrival import take_in
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.inbox.upkeep import newest_ledger
from warehouse.services.ingest import only_committer
from warehouse.services.retracting import retract
from warehouse.store import open_store


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
    done = "" if yes else " This was a dry run; --yes does it."
    show.out.print(
        f"Package {found.package}: {show.counted(found.rows, 'reading')}; "
        f"{found.stop_counting:,} stop counting, {found.count_again:,} count again; "
        f"{show.counted(len(found.reopened), 'package')} with copies looked at again.{done}",
        highlight=False,
    )
