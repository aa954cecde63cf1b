"""Loads the `.sql` files and creates their views in dependency order.

A header line `-- depends: a, b` names the views and macros a file needs, and
`-- materialise: yes` marks a view that judging keeps as a temporary table while
it works, because several others read it; `-- materialise: when asked` one that is
kept so only for a query that stands on it: many at once would not fit the memory.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import asdict, dataclass
from functools import cache
from graphlib import TopologicalSorter
from importlib.resources import files

import duckdb
import pyarrow as pa

from schemas.trust import TRUST_CHECK, UNIT_SLIPS
from warehouse.sql import identifier, load_sql
from warehouse.trends import create_bounds, create_functions

_CREATE = re.compile(r"^CREATE OR REPLACE (VIEW|MACRO) (\w+)", re.MULTILINE)
_DUE = {"site, asset": "machines_due", "series_id": "series_due", "stream_id": "streams_due"}
"""Relations of what is judged anew, by the key of the rows."""


@dataclass(frozen=True, slots=True)
class Kept:
    """How rows of a view are told apart: their key, and the relation of keys worked out anew."""

    key: str
    due: str


@dataclass(frozen=True, slots=True)
class SqlFile:
    """One `.sql` file: its name, text, what it depends on, whether it is materialised.

    `apart`: a query that stands on it has it worked out before, judging or not.
    `kept`: rows of unchanged machines are taken from the judgement before.
    """

    name: str
    text: str
    depends: tuple[str, ...]
    materialise: bool
    apart: bool
    kind: str
    kept: Kept | None
    remembered: bool

    @property
    def purpose(self) -> str:
        """The purpose in the header: its line, and those that go on with it."""
        found = re.search(r"^-- purpose:(.*(?:\n-- {2,}.*)*)", self.text, re.MULTILINE)
        return " ".join(found.group(1).replace("\n--", " ").split()) if found else ""

    @property
    def as_temporary_table(self) -> str:
        """The statement that keeps the view's rows as a temporary table of the same name."""
        return _CREATE.sub(r"CREATE OR REPLACE TEMPORARY TABLE \2", self.text, count=1)

    @property
    def query(self) -> str:
        """The query of a view, without its name."""
        _, _, query = self.text.partition(f"CREATE OR REPLACE VIEW {self.name} AS")
        return query.strip().removesuffix(";")


@cache
def sql_files() -> tuple[SqlFile, ...]:
    """Every file of this package, each after those it depends on; ties by name."""
    found = {
        entry.name.removesuffix(".sql"): entry.read_text(encoding="utf-8")
        for entry in files("warehouse.views").iterdir()
        if entry.name.endswith(".sql")
    }
    parsed = {name: _parse(name, text) for name, text in sorted(found.items())}
    order = TopologicalSorter({name: sorted(one.depends) for name, one in parsed.items()})
    return tuple(parsed[name] for name in order.static_order())


def _parse(name: str, text: str) -> SqlFile:
    created = _CREATE.search(text)
    if created is None or created.group(2) != name:
        raise ValueError(f"{name}.sql must create one view or macro of that name")
    depends = _header(text, "depends")
    return SqlFile(
        name=name,
        text=text,
        depends=tuple(part.strip() for part in depends.split(",") if part.strip()),
        materialise=_header(text, "materialise") == "yes",
        apart=_header(text, "materialise") in ("yes", "when asked"),
        kind=created.group(1),
        kept=_kept(_header(text, "kept")),
        remembered=_header(text, "remembered") == "yes",
    )


def _kept(header: str) -> Kept | None:
    key, _, due = header.partition(" unless ")
    return Kept(key, due or _DUE[key]) if key else None


def _header(text: str, key: str) -> str:
    found = re.search(rf"^-- {key}:(.*)$", text, re.MULTILINE)
    return found.group(1).strip() if found else ""


def create_views(
    connection: duckdb.DuckDBPyConnection, wanted: Collection[str] | None = None
) -> None:
    """Create every view and macro on `connection`, or those wanted, and the functions they use.

    Needs the base relations (`readings`, `superseded`, `rejects`, the registry
    entities), the tables of `warehouse.limits.load_limits`, the session
    variable `as_of` (TIMESTAMPTZ) and the session time zone UTC. A missing
    relation raises duckdb.CatalogException. Gives it the relations `trust_checks` and `unit_slips`.
    """
    prepare(connection)
    stubs: list[str] = []
    try:
        for file in sql_files():
            if wanted is not None and file.name not in wanted:
                continue
            connection.execute(file.text)
            if file.apart:
                # The next views bind to this empty stub instead of the whole tree below: 5x faster.
                connection.execute(_stub(connection, file.name))
                stubs.append(file.name)
    finally:
        _drop(connection, stubs)


def prepare(connection: duckdb.DuckDBPyConnection) -> None:
    """Give a connection what every view may use: functions, defaults, closed lists of the schema.

    Needs the relation `judging_defaults` (`warehouse.limits.load_limits`).
    """
    create_functions(connection)
    create_bounds(connection)
    for name, rows in _listed().items():
        connection.register(name, rows)
    connection.execute(load_sql("warehouse", "judging_defaults"))


@cache
def _listed() -> dict[str, pa.Table]:
    """The closed lists that views join, as relations."""
    checks = [
        {"check_code": one.code, "meaning": one.meaning, "remedy": one.remedy}
        for one in TRUST_CHECK.values()
    ]
    return {
        "trust_checks": pa.Table.from_pylist(checks),
        "unit_slips": pa.Table.from_pylist([asdict(one) for one in UNIT_SLIPS]),
    }


_STUBS: dict[str, str] = {}
"""Statements that make the stubs, once found: a view has the same columns whatever it stands on."""


def _stub(connection: duckdb.DuckDBPyConnection, name: str) -> str:
    if name not in _STUBS:
        view = connection.table(name)
        columns = zip(view.columns, view.types, strict=True)
        listed = ", ".join(f"{identifier(column)} {kind}" for column, kind in columns)
        _STUBS[name] = f"CREATE TEMPORARY TABLE {identifier(name)} ({listed})"
    return _STUBS[name]


def _drop(connection: duckdb.DuckDBPyConnection, names: list[str]) -> None:
    for name in reversed(names):
        connection.execute(f"DROP TABLE temp.{identifier(name)}")


def shared_views(named: set[str], leaves: frozenset[str]) -> list[SqlFile]:
    """Views marked to be materialised that the named ones are or stand on, in dependency order.

    Nothing below the `leaves` is looked at: they stand for themselves.
    """
    needed = views_below(named, leaves)
    return [file for file in sql_files() if file.apart and file.name in needed]


def views_naming(tables: Collection[str]) -> frozenset[str]:
    """The tables, and the views whose own text names one of them."""
    named = {file.name for file in sql_files() if not _words(file.text).isdisjoint(tables)}
    return frozenset({*tables, *named})


@cache
def _words(text: str) -> frozenset[str]:
    """The words of a file, among them what it reads."""
    return frozenset(re.findall(r"\w+", text))


def views_below(named: Collection[str], leaves: frozenset[str]) -> set[str]:
    """The named views and those they stand on, the `leaves` and what is below them left out."""
    by_name = {file.name: file for file in sql_files()}
    needed: set[str] = set()
    open_names = [name for name in named if name in by_name]
    while open_names:
        name = open_names.pop()
        if name not in needed and name not in leaves:
            needed.add(name)
            open_names.extend(by_name[name].depends)
    return needed
