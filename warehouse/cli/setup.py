"""Setting up: a store, its settings, its registry, the adapters installed."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from schemas.tables.readings import READINGS, SUPERSEDED
from warehouse.adapters import adapters
from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.inbox import Ledger
from warehouse.registry.differences import Change
from warehouse.registry.stored import stored_entities
from warehouse.services.ingest import judge_now
from warehouse.services.judging import is_behind
from warehouse.services.registry_changes import Imported, export_registry, import_changes
from warehouse.settings import load_settings
from warehouse.store import create_store, open_store

config_app = typer.Typer(help="Settings of a store.", no_args_is_help=True)
_SHOWN = 10
registry_app = typer.Typer(help="What stands where.", no_args_is_help=True)


def init(home: Home = DEFAULT_HOME) -> None:
    """Create an empty store."""
    store = create_store(home)
    Ledger.open(store.inbox).close()
    show.notes.print(f"Store created in {store.home.resolve()}")


@config_app.command("show")
def show_config(
    home: Home = DEFAULT_HOME,
    origin: Annotated[bool, typer.Option("--origin", help="Say where each comes from.")] = False,
    json: Json = False,
) -> None:
    """Show the settings in force."""
    loaded = load_settings(home)
    values = loaded.settings.model_dump()
    if json:
        show.as_json(
            {n: {"value": v, "origin": loaded.origins[n]} for n, v in values.items()}
            if origin
            else values
        )
        return
    columns = ["setting", "value", *(["origin"] if origin else [])]
    rows = [
        [name, str(value), *([loaded.origins[name]] if origin else [])]
        for name, value in values.items()
    ]
    show.table("Settings", columns, rows)


@config_app.command("validate")
def validate_config(home: Home = DEFAULT_HOME) -> None:
    """Check the settings; every fault is named."""
    load_settings(home)
    show.notes.print("The settings are valid.")


@registry_app.command("import")
def import_folder(
    source: Annotated[
        Path,
        typer.Argument(
            metavar="PATH",
            help="Folder with sites.csv, assets.csv, ... or a workbook.",
            readable=False,
        ),
    ],
    home: Home = DEFAULT_HOME,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Show what would change; import nothing.")
    ] = False,
    json: Json = False,
) -> None:
    """Import registry files: all of them, or none and every fault listed."""
    store = open_store(home)
    done = import_changes(store, source, dry_run)
    if not dry_run and is_behind(store, (READINGS, SUPERSEDED)):
        judge_now(store)
    for note in done.notes:
        show.notes.print(f"{note}.", markup=False, highlight=False, soft_wrap=True)
    if json:
        said = {**done.stated, "changes": done.counts, "replaced": asdict(done.replaced)}
        said["notes"] = done.notes
        details = {name: asdict(one) for name, one in done.differences.by_entity.items()}
        show.as_json(said | ({"dry_run": True, "details": details} if dry_run else {}))
        return
    kinds = ["new", "changed", "unchanged", "withdrawn"]
    rows = [[name, *(counts[kind] for kind in kinds)] for name, counts in done.counts.items()]
    title = "Would be imported (nothing was)" if dry_run else "Imported"
    show.table(title, ["entity", *kinds], rows, right=kinds)
    if dry_run:
        _show_details(done)
    elif done.replaced.any:
        show.notes.print(f"{done.replaced.words}.", highlight=False, soft_wrap=True)


def _show_details(done: Imported) -> None:
    """What a dry run found: the entities by name, and what would become of stored readings."""
    for name, found in done.differences.by_entity.items():
        changed = [f"{one.id} changes: {_fields(one)}" for one in found.changed]
        for lines in (
            [f"{one} is new" for one in found.new],
            changed,
            [f"{one} is withdrawn" for one in found.withdrawn],
        ):
            for line in lines[:_SHOWN]:
                _tell(f"{name}: {line}")
            if len(lines) > _SHOWN:
                _tell(f"{name}: and {len(lines) - _SHOWN:,} more; --json lists all")
    _tell(f"With the import: {done.replaced.words or 'no stored reading placed anew'}.")


def _fields(change: Change) -> str:
    return ", ".join(
        f"{name} {show.exactly(before) or 'blank'} -> {show.exactly(after) or 'blank'}"
        for name, (before, after) in change.fields.items()
    )


def _tell(line: str) -> None:
    show.out.print(line, markup=False, highlight=False, soft_wrap=True)


@registry_app.command("export")
def export_entities(
    target: Annotated[
        Path, typer.Argument(help="Folder for CSVs, or a file that ends in .xlsx.", readable=False)
    ],
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Write the registry as it stands, in the form `import` reads."""
    counts = export_registry(open_store(home), target)
    if json:
        show.as_json(counts)
    else:
        show.table("Exported", ["entity", "rows"], counts.items(), right=["rows"])


@registry_app.command("show")
def show_entities(
    entity: Annotated[str, typer.Argument(help="sites, assets, members, points, mountings, ...")],
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Show one kind of entity as it stands."""
    found = stored_entities(open_store(home))
    if entity not in found:
        raise typer.BadParameter(f"{entity!r} is not one of {', '.join(found)}")
    rows = found[entity].to_pylist()
    if json:
        show.as_json(rows)
    else:
        columns = found[entity].column_names
        show.table(entity, columns, [[row[name] for name in columns] for row in rows])


def list_adapters(json: Json = False) -> None:
    """List the adapters installed, and those that failed to load."""
    loaded, failed = adapters()
    rows = [(name, "ready", " ".join(one.suffixes)) for name, one in loaded.items()]
    rows += [(name, "failed", why) for name, why in failed.items()]
    if json:
        show.as_json([dict(zip(("adapter", "state", "detail"), r, strict=True)) for r in rows])
    else:
        show.table("Adapters", ["adapter", "state", "usual file names"], rows)
