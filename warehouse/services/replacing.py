"""Readings whose mounting was corrected afterwards are written again with their new place.

The reading keeps its identity; only its place changes. The old row is ended in
`superseded` (why: re-placed) by a package of the ledger's own making, one of
the same source, and the new row belongs to that package. A reading on no machine
any more is ended too and stands as a refused item (`not-mounted`) under the row
it will take when a later correction gives it a place again: nothing is lost,
nothing counts twice.

The order is superseded, rejects, readings, ledger, and each commit carries the
package's number. Once `superseded` holds them, the rows to write are known: a
stop anywhere is made good by the next call.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import duckdb
import numpy as np
import pyarrow as pa

from schemas.identity import same_reading
from schemas.reasons import KEPT_REJECTS
from schemas.tables.readings import IDENTITY, READINGS, REJECTS, SUPERSEDED
from schemas.tables.registry import REGISTRY
from schemas.units import VIBRATION_QUANTITIES
from warehouse import clock
from warehouse.errors import MappingError, NotFoundError
from warehouse.inbox import Ledger, Package
from warehouse.inbox.package import RE_PLACED
from warehouse.mapping import Mapping, parse_mapping
from warehouse.mapping_parts import Taken
from warehouse.registry import empty_entities, placements
from warehouse.registry.stored import stored_entities
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.delta import Commit, DataFile
from warehouse.store.scan import create_scan
from warehouse.wording import counted, listed
from warehouse.workspace import workspace

_SQL = "warehouse.services"
_ALL = 2**62
_EVERY_SOURCE = "*"
_RULE_SCHEMA = pa.schema(
    [
        ("mapping", pa.string()),
        ("measure", pa.int32()),
        ("place_rule", pa.string()),
        ("route", pa.string()),
        ("states_axis", pa.bool_()),
        *((name, pa.string()) for name in IDENTITY[1:7]),
    ]
)


@dataclass(frozen=True, slots=True)
class Replaced:
    """Readings that got another place, that are on no machine now, and that came back."""

    placed: int = 0
    unplaced: int = 0
    returned: int = 0

    @property
    def any(self) -> bool:
        """Whether anything was written."""
        return bool(self.placed or self.unplaced or self.returned)

    @property
    def words(self) -> str:
        """What was done, without what was not."""
        return listed(
            (self.placed, f"{counted(self.placed, 'stored reading')} placed anew"),
            (self.unplaced, f"{self.unplaced:,} on no machine now (see `mcw rejects`)"),
            (self.returned, f"{self.returned:,} back that had been on no machine"),
        )

    def __add__(self, other: Replaced) -> Replaced:
        return Replaced(
            self.placed + other.placed,
            self.unplaced + other.unplaced,
            self.returned + other.returned,
        )


def needs_replacing(store: Store, ledger: Ledger) -> bool:
    """Whether the registry has changed since every stored reading was last placed by it."""
    return ledger.placed_by() != store.table(REGISTRY).version() or ledger.replacing() is not None


def replace_readings(store: Store, ledger: Ledger) -> Replaced:
    """Place stored readings as the registry says now. Whoever calls holds the inbox alone.

    Only channels and stops that changed since the last call are looked at.
    """
    total = Replaced()
    if not needs_replacing(store, ledger):
        return total
    version = store.table(REGISTRY).version()
    while store.table(READINGS).files():
        done = _one_commit(store, ledger)
        if done is None:
            break
        total += done
    ledger.record_placed_by(version)
    return total


def foresee_replacing(store: Store, ledger: Ledger, after: dict[str, pa.Table]) -> Replaced:
    """What placing stored readings by another registry would come to; nothing is changed."""
    if not store.table(READINGS).files():
        return Replaced()
    with workspace(store.inbox, store.settings) as session:
        work = _Replacing(store, ledger, session)
        work.prepare(after)
        work.find_moved(_EVERY_SOURCE, most=_ALL)
        placed = work.count("moved", "placed")
        unplaced = work.count("moved") - placed
        work.find_written()
        return Replaced(placed, unplaced, work.count("written"))


def _one_commit(store: Store, ledger: Ledger) -> Replaced | None:
    """One re-placing package of at most `chunk_rows` readings; None where there is nothing left."""
    with workspace(store.inbox, store.settings) as session:
        work = _Replacing(store, ledger, session)
        work.prepare()
        begun = ledger.replacing()
        source = work.find_moved(begun.source if begun else None, store.settings.chunk_rows)
        if source is None and begun is None:
            source = work.find_returning()
        if source is None and begun is None:
            return None
        return work.commit(begun or ledger.begin_replacing(str(source)))


@dataclass(frozen=True, slots=True)
class _Replacing:
    """One re-placing package on its way into the store."""

    store: Store
    ledger: Ledger
    session: duckdb.DuckDBPyConnection

    def prepare(self, after: dict[str, pa.Table] | None = None) -> None:
        """Registry before and after, what it changed, the readings, how they are placed.

        After is the newest registry, unless another is given.
        """
        before = self.ledger.placed_by()
        known = empty_entities() if before is None else stored_entities(self.store, before)
        for name, entities in (
            ("places_before", known),
            ("places_after", after or stored_entities(self.store)),
        ):
            self.session.register(name, placements(entities))
        statement = load_sql("warehouse.registry", "touched")
        self.session.register("touched", self.session.sql(statement).to_arrow_table())
        quantities = pa.table({"quantity": sorted(VIBRATION_QUANTITIES)})
        self.session.register("vibration", quantities)
        files = self.store.table(READINGS).files()
        create_scan(self.session, "all_rows", READINGS, files)
        near = files if before is None else self._near(files)
        create_scan(self.session, "stored_rows", READINGS, near)
        self.scan_superseded()
        self._run("replace_candidates", all="true" if before is None else "false")

    def _near(self, files: list[DataFile]) -> list[DataFile]:
        """Files of the sites where the changed channels and stops were: others cannot hold them."""
        found = self.session.execute(load_sql(_SQL, "replace_sites")).fetchall()
        folders = {f"p_site={site}" for (site,) in found}
        return [file for file in files if folders & set(file.path.parts)]

    def scan_superseded(self) -> None:
        """The entries of `superseded` as they stand now."""
        create_scan(self.session, "superseded", SUPERSEDED, self.store.table(SUPERSEDED).files())

    def find_moved(self, source: str | None, most: int) -> str | None:
        """Table `moved`: at most so many current readings of one source to be written again.

        Readings of the source given, or of the first that has any; returns which.
        """
        self._rules("candidates")
        placed = load_sql(_SQL, "replace_placed", readings="candidates")
        parameters = {"most": most, "source": source}
        self.session.execute(load_sql(_SQL, "replace_moved", placed=placed), parameters)
        return self._first_source("moved")

    def _first_source(self, name: str) -> str | None:
        statement = load_sql(_SQL, "replace_source", name=name)
        found: str | None = self.session.execute(statement).fetchall()[0][0]
        return found

    def find_written(self) -> None:
        """Tables `waiting` and `written`: what is ended and unwritten, and what has a place."""
        self.scan_superseded()
        self._run("replace_waiting")
        self._rules("waiting")
        placed = load_sql(_SQL, "replace_placed", readings="waiting")
        self._run("replace_written", placed=placed)

    def find_returning(self) -> str | None:
        """A source of which readings that were on no machine have a place now."""
        self.find_written()
        return self._first_source("written")

    def _find_overtaken(self, package: int) -> None:
        """Table `overtaken`: what comes back, or stands already, and does not count from now on."""
        self.find_written()
        statement = load_sql(
            _SQL,
            "replace_overtaken",
            identity=", ".join(IDENTITY),
            same_reading=same_reading("all_rows", "coming"),
        )
        self.session.execute(statement, {"package": package})

    def commit(self, package: Package) -> Replaced:
        """Superseded, rejects, readings, ledger."""
        commit = Commit(f"{self.ledger.inbox_id}/{RE_PLACED}", package.seq)
        self._append_superseded(commit, package)
        self.find_written()
        own = f"ended_by = {package.number}"
        placed, ended = self.count("written", own), self.count("waiting", own)
        returned = self.count("written") - placed
        self._append_rejects(commit, package)
        if not self._append_readings(commit, package):
            self.session.execute("TRUNCATE written")
        counted = self.session.execute(load_sql(_SQL, "replace_counts")).fetchall()
        self.ledger.end_replacing(package, counted)
        return Replaced(placed, ended - placed, returned)

    def _append_superseded(self, commit: Commit, package: Package) -> None:
        log = self.store.table(SUPERSEDED)
        self._find_overtaken(package.number)
        parameters = {"ended_by": package.number, "recorded_at": clock.now()}
        found = self._table("replace_superseded", parameters).cast(SUPERSEDED.arrow)
        actions = lambda: [log.write(found)] if found.num_rows else []  # noqa: E731
        log.append(actions, commit, {"mcw.package": package.number})

    def _append_rejects(self, commit: Commit, package: Package) -> None:
        log = self.store.table(REJECTS)
        parameters = {"package": package.number, "kept": KEPT_REJECTS}
        found = self._table("replace_rejects", parameters).cast(REJECTS.arrow)
        actions = lambda: [log.write(found)] if found.num_rows else []  # noqa: E731
        log.append(actions, commit, {"mcw.package": package.number})

    def _append_readings(self, commit: Commit, package: Package) -> bool:
        log = self.store.table(READINGS)
        found = self._table("replace_readings", {})
        return log.append(
            lambda: [log.write(rows, partition) for partition, rows in _partitions(found)],
            commit,
            {"mcw.package": package.number},
        )

    def _rules(self, readings: str) -> None:
        statement = load_sql(_SQL, "replace_mappings", readings=readings)
        versions = [version for (version,) in self.session.execute(statement).fetchall()]
        rows = [row for version in versions for row in self._rules_of(version)]
        self.session.register("place_rules", pa.Table.from_pylist(rows, _RULE_SCHEMA))

    def _rules_of(self, version: str) -> list[dict[str, object]]:
        """How a mapping's readings are placed; nothing where another inbox holds the mapping."""
        try:
            return place_rules(version, parse_mapping(self.ledger.mapping_text(version), version))
        except (NotFoundError, MappingError):
            return []

    def count(self, name: str, condition: str = "true") -> int:
        """Rows of a table of the session."""
        statement = load_sql(_SQL, "replace_count", name=name, condition=condition)
        ((number,),) = self.session.execute(statement).fetchall()
        return int(number)

    def _run(self, name: str, **fragments: str) -> None:
        self.session.execute(load_sql(_SQL, name, **fragments))

    def _table(self, name: str, parameters: dict[str, Any]) -> pa.Table:
        return self.session.sql(load_sql(_SQL, name), params=parameters or None).to_arrow_table()


def place_rules(version: str, mapping: Mapping) -> list[dict[str, object]]:
    """How the readings of each measure find their place, and by which constants one knows them."""
    rules: list[dict[str, object]] = []
    for measure in range(len(mapping.measure)):
        attributes = mapping.attributes(measure)
        route = attributes.get("route")
        rule = "stop" if route else "point" if "asset" in attributes else "mounting"
        constants = {
            name: None if isinstance(value := attributes.get(name), Taken) else value
            for name in IDENTITY[1:7]
        }
        if "feature" not in attributes:
            constants["feature"] = "overall"
        rules.append(
            {
                "mapping": version,
                "measure": measure,
                "place_rule": rule,
                "route": route if isinstance(route, str) else None,
                "states_axis": "axis" in attributes,
                **constants,
            }
        )
    return rules


def _partitions(rows: pa.Table) -> Iterator[tuple[dict[str, str], pa.Table]]:
    """Sorted rows cut where the site or the month changes, in the columns of `readings`."""
    if not rows.num_rows:
        return
    words = [rows.column(name).combine_chunks() for name in ("site", "p_month")]
    encoded = [word.dictionary_encode().indices.to_numpy() for word in words]
    change = np.logical_or.reduce([codes[1:] != codes[:-1] for codes in encoded])
    kept = rows.select(list(READINGS.column_names)).cast(READINGS.arrow)
    edges = [0, *(np.flatnonzero(change) + 1).tolist(), rows.num_rows]
    for start, stop in pairwise(edges):
        site, month = (word[start].as_py() for word in words)
        yield {"p_site": site, "p_month": month}, kept.slice(start, stop - start)
