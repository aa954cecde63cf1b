"""Mappings the server reads packages with: those given to it, and those in force in the ledger.

`HOME/mappings` holds one file a source. A source that has none there is read
by the mapping its newest package came with.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from warehouse import clock
from warehouse.durable import write_whole
from warehouse.errors import MappingError, NotFoundError, StoreConflictError
from warehouse.event_mapping import parse_any_mapping
from warehouse.inbox import Ledger
from warehouse.mapping import AnyMapping
from warehouse.refusals import plain_refusals
from warehouse.services.ingest import usable_mapping
from warehouse.services.locks import holding
from warehouse.store import Store
from warehouse.workspace import own_folder


@dataclass(frozen=True, slots=True)
class KnownMapping:
    """The mapping of a source: its text, and whether the server was given it."""

    source: str
    mapping: AnyMapping
    text: str
    given: bool

    @property
    def items(self) -> str:
        """What it takes in: `readings` or `maintenance-events`."""
        return getattr(self.mapping, "items", "readings")


def mapping_of(store: Store, ledger: Ledger, source: str) -> KnownMapping:
    """The mapping packages of a source are read with. Raises NotFoundError."""
    path = _path(store, source)
    if path.is_file():
        text = path.read_text(encoding="utf-8")
        return KnownMapping(source, usable_mapping(path, _called(source)), text, given=True)
    for row in ledger.asked("last_receipts"):
        if row["source"] == source:
            text = ledger.mapping_text(row["mapping"])
            return KnownMapping(source, parse_any_mapping(text, row["mapping"]), text, given=False)
    raise NotFoundError("mapping of source", source)


def version_used(store: Store, ledger: Ledger, source: str) -> str | None:
    """Version of the mapping packages of a source are read with; None where there is none."""
    try:
        return mapping_of(store, ledger, source).mapping.version
    except (MappingError, NotFoundError):
        return None


def known_mappings(store: Store, ledger: Ledger) -> list[KnownMapping]:
    """The mapping of every source, by source; one that cannot be read any more is left out."""
    names = {row["source"] for row in ledger.asked("last_receipts")}
    names |= {mapping.source.id for mapping in _given(store)}
    found = []
    for name in sorted(names):
        try:
            found.append(mapping_of(store, ledger, name))
        except (MappingError, NotFoundError):
            continue
    return found


def _given(store: Store) -> Iterator[AnyMapping]:
    for path in sorted(store.mappings.glob("*.toml")):
        try:
            yield usable_mapping(path)
        except MappingError:
            continue


def keep_mapping(
    store: Store, source: str, text: str, version: str | None, used: str | None = None
) -> AnyMapping:
    """Give the server the mapping of a source, in place of the version named; None: of none.

    `used` is the version its packages came with, which stands where none was given and must be
    named then too.
    Raises MappingError with every fault, StoreConflictError where another version is
    in place by now.
    """
    with holding(store, "mappings", wait=True):
        path = _path(store, source)
        now = usable_mapping(path).version if path.is_file() else None
        if version != (now or used):
            raise StoreConflictError(path, _in_place(now or used, version), "read it anew")
        with mapping_file(store, text) as given:
            mapping = usable_mapping(given, _called(source))
        if mapping.source.id != source:
            raise MappingError([f"source.id is {mapping.source.id!r}, but must be {source!r}"])
        with plain_refusals(store.mappings):
            store.mappings.mkdir(exist_ok=True)
            write_whole(path, text)
    return mapping


def _called(source: str) -> str:
    """How faults name it to callers, who know nothing of files of the server."""
    return f"mapping of {source!r}"


def _in_place(now: str | None, version: str | None) -> str:
    if now is None:
        return "was never given, and no package came with one"
    return f"is at version {now}, " + (f"not {version}" if version else "so it is not the first")


@contextmanager
def mapping_file(store: Store, text: str) -> Iterator[Path]:
    """The text of a mapping as a file, for the time of the `with`."""
    with own_folder(store.inbox) as folder:
        path = folder / f"mapping-{clock.now():%Y%m%dT%H%M%S}.toml"
        path.write_text(text, encoding="utf-8")
        yield path


def _path(store: Store, source: str) -> Path:
    return store.mappings / f"{quote(source, safe='')}.toml"
