"""Where things lie in a store's folder, and whether this program may open it."""

from __future__ import annotations

import tomllib
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from schemas import FORMAT_VERSION
from schemas.columns import Table
from schemas.tables import TABLES
from warehouse import clock
from warehouse.durable import write_whole
from warehouse.errors import StoreError, StoreMissingError, StoreVersionError
from warehouse.refusals import plain_refusals
from warehouse.settings import FILE_NAME, Settings, load_settings, render_file
from warehouse.store.delta import DataFile, DeltaLog

_IDENTITY_FILE = "store.toml"


@dataclass(frozen=True, slots=True)
class Store:
    """An open store: its folder and the settings in force."""

    home: Path
    settings: Settings
    format_version: int = FORMAT_VERSION
    _logs: dict[str, DeltaLog] = field(default_factory=dict, repr=False, compare=False)

    @property
    def inbox(self) -> Path:
        """Folder of ledger and payloads."""
        return self.home / "inbox"

    @property
    def tables(self) -> Path:
        """Folder of the dataset, one Delta table a folder."""
        return self.home / "tables"

    @property
    def limits(self) -> Path:
        """Folder of the plant's own limit sets and their precedence; it may be absent."""
        return self.home / "limits"

    @property
    def work(self) -> Path:
        """Folder of the plant's own activity table and priorities; it may be absent."""
        return self.home / "work"

    @property
    def kept(self) -> Path:
        """Folder of what the judge works on from; it may be absent, or thrown away."""
        return self.home / "kept"

    @property
    def known_tables(self) -> tuple[Table, ...]:
        """Tables that a store of its format version has."""
        return tuple(table for table in TABLES.values() if table.since <= self.format_version)

    @property
    def mappings(self) -> Path:
        """Folder of the mappings that the server was given; it may be absent."""
        return self.home / "mappings"

    def table(self, table: Table) -> DeltaLog:
        """The Delta table of that description."""
        if table.name not in self._logs:
            self._logs[table.name] = DeltaLog(
                self.tables / table.name, table, self.format_version == FORMAT_VERSION
            )
        return self._logs[table.name]

    def files(self, table: Table, version: int | None = None) -> list[DataFile]:
        """Active files of a table; none of one that a store of its format version does not have."""
        return self.table(table).files(version) if table in self.known_tables else []


def create_store(home: Path, settings: Mapping[str, Any] | None = None) -> Store:
    """A new, empty store at `home`. Raises StoreError where there is one, or no right to write."""
    if (home / _IDENTITY_FILE).exists():
        raise StoreError(home, "there is a store already", "choose another folder")
    with plain_refusals(home):
        return _create(home, settings or {})


def _create(home: Path, settings: Mapping[str, Any]) -> Store:
    """What is there of a store that was begun is gone on with; its identity is written last."""
    home.mkdir(parents=True, exist_ok=True)
    (home / "inbox").mkdir(exist_ok=True)
    (home / "tables").mkdir(exist_ok=True)
    if not (home / FILE_NAME).exists():
        write_whole(home / FILE_NAME, render_file(settings))
    loaded = load_settings(home)
    for table in TABLES.values():
        DeltaLog.create(home / "tables" / table.name, table, loaded.settings.remember_days)
    identity = (
        "# Identity of this store. Written by the program; do not edit.\n"
        f"format_version = {FORMAT_VERSION}\n"
        f'store_id = "{uuid.uuid4()}"\n'
        f"created_at = {clock.now().isoformat(timespec='seconds')}\n"
    )
    write_whole(home / _IDENTITY_FILE, identity)
    return Store(home, loaded.settings)


def open_store(home: Path, overrides: Mapping[str, Any] | None = None) -> Store:
    """The store at `home`; one of an older format version is for reading only.

    Raises StoreMissingError where there is none, StoreVersionError where it has
    a newer format version, SettingsError where its settings are not valid.
    """
    version = format_version(home)
    if version > FORMAT_VERSION:
        raise StoreVersionError(
            home,
            f"its format version is {version}",
            f"a program that reads version {version} is needed; this one reads up to version "
            f"{FORMAT_VERSION}",
        )
    return Store(home, load_settings(home, overrides).settings, version)


def format_version(home: Path) -> int:
    """The format version the store at `home` is written in.

    Raises StoreMissingError where there is no store, StoreError where it may
    not be read or names no version.
    """
    identity = home / _IDENTITY_FILE
    if not identity.exists():
        raise StoreMissingError(home, "there is no store", "create one with `mcw init`")
    try:
        with plain_refusals(identity):
            version = tomllib.loads(identity.read_text(encoding="utf-8")).get("format_version")
    except ValueError:  # not TOML, or no text at all
        version = None
    if type(version) is not int or version < 1:
        raise StoreError(identity, "it names no format version", "restore the newest backup")
    return version


def state_format_version(home: Path, version: int) -> None:
    """Record, in one step, that the store at `home` is now written in that version."""
    identity = home / _IDENTITY_FILE
    before = format_version(home)
    text = identity.read_text(encoding="utf-8")
    write_whole(identity, text.replace(f"format_version = {before}", f"format_version = {version}"))
