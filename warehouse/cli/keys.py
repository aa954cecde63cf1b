"""API keys: add, list, rotate, revoke."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import Annotated, Any

import typer

from warehouse import clock
from warehouse.access import SCOPES
from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.errors import SettingsError
from warehouse.registry.stored import stored_entities
from warehouse.services.keys import Key, Keyring, NewKey, Wanted
from warehouse.store import open_store

_OF_SOURCES = frozenset({"read:sources", "write:readings"})
"""Scopes about sources: of a key of some sites they open nothing of one that was not named."""

keys_app = typer.Typer(help="Keys that open the HTTP API.", no_args_is_help=True)

Days = Annotated[int, typer.Option("--days", help="Days the key is good for.")]
Number = Annotated[str, typer.Argument(metavar="ID", help="Id of a key, as listed.")]


@keys_app.command("add")
def add(
    name: Annotated[str, typer.Argument(help="What the key is for, such as cmms.")],
    scope: Annotated[
        list[str], typer.Option("--scope", help=f"May be given again: {', '.join(SCOPES)}.")
    ],
    home: Home = DEFAULT_HOME,
    site: Annotated[
        list[str] | None, typer.Option("--site", help="Site it is limited to; may be given again.")
    ] = None,
    source: Annotated[
        list[str] | None,
        typer.Option("--source", help="Source it is limited to; a key of some sites needs it."),
    ] = None,
    days: Days = 365,
    json: Json = False,
) -> None:
    """Make a key. It is shown once: store it where the program that uses it finds it."""
    store = open_store(home)
    known = stored_entities(store)["sites"]["site"].to_pylist()
    if strange := sorted(set(site or ()) - set(known)):
        told = f"site {', '.join(strange)} is not registered; registered: {', '.join(known)}"
        raise SettingsError([told], "mcw keys")
    wanted = Wanted(name, tuple(scope), tuple(site or ()), tuple(source or ()), days)
    _tell(Keyring(store).add(wanted), json)
    if site and not source and (of_sources := _OF_SOURCES.intersection(scope)):
        show.notes.print(
            f"It sees and feeds no source, though it has {' and '.join(sorted(of_sources))}: a key "
            "with --site does so for sources named with --source. Revoke it and make another.",
            markup=False,
            highlight=False,
        )


@keys_app.command("rotate")
def rotate(
    number: Number,
    home: Home = DEFAULT_HOME,
    overlap_hours: Annotated[
        float, typer.Option("--overlap-hours", min=0, help="Hours the old key is good for yet.")
    ] = 168.0,
    days: Days = 365,
    json: Json = False,
) -> None:
    """Make a key for the same; the old one ends after an overlap."""
    overlap = dt.timedelta(hours=overlap_hours)
    _tell(Keyring(open_store(home)).rotate(number, overlap, days), json)


@keys_app.command("revoke")
def revoke(number: Number, home: Home = DEFAULT_HOME) -> None:
    """End a key at once: a running server refuses it within two seconds."""
    key = Keyring(open_store(home)).revoke(number)
    show.notes.print(f"Key {key.id} ({key.name}) is revoked.", markup=False, highlight=False)


@keys_app.command("list")
def list_keys(home: Home = DEFAULT_HOME, json: Json = False) -> None:
    """List the keys, never their secrets."""
    rows = [_row(key) for key in Keyring(open_store(home)).every()]
    if json:
        show.as_json(rows)
    else:
        columns = list(_COLUMNS)
        cells = [[_cell(row[name]) for name in columns] for row in rows]
        show.table(show.counted(len(rows), "key"), columns, cells)


_COLUMNS = ("id", "name", "state", "scopes", "sites", "sources", "expires_at", "last_used")


def _row(key: Key) -> dict[str, Any]:
    row = {name: value for name, value in asdict(key).items() if name != "sha256"}
    for name in ("scopes", "sites", "sources"):
        row[name] = None if row[name] is None else sorted(row[name])
    return row | {"state": key.state(clock.now())}


def _cell(value: Any) -> Any:
    if isinstance(value, list):
        return " ".join(value)
    return f"{value:%Y-%m-%d %H:%M}" if isinstance(value, dt.datetime) else value


def _tell(made: NewKey, json: bool) -> None:
    if json:
        show.as_json({**_row(made.key), "key": made.text})
        return
    show.out.print(made.text, markup=False, highlight=False, soft_wrap=True)
    show.notes.print(
        f"Key {made.key.id} ({made.key.name}), good until {made.key.expires_at:%Y-%m-%d}. "
        "It is shown this once.",
        markup=False,
        highlight=False,
    )
