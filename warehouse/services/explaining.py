"""Why a machine is judged as it is: every step with its numbers, for whoever asks about one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from typing import Any

import duckdb

from schemas.tables.conditions import CONDITION_CURRENT
from warehouse.errors import NotFoundError
from warehouse.judging import CONDITIONS, judged
from warehouse.judging.explanation import Facts, Step, point_steps, roll_up, series_steps
from warehouse.query import run, words
from warehouse.services.due import open_machines
from warehouse.services.judging import published
from warehouse.sql import load_statements
from warehouse.store import Snapshot, Store
from warehouse.store.files import read_rows

Row = dict[str, Any]
_SQL = load_statements("warehouse.services", "explaining")
_BY_SERIES = ("readings", "days", "boundaries", "baselines", "windows")


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked about: a train, or a machine, position or direction of it."""

    site: str
    asset: str
    member: str | None = None
    position: str | None = None
    axis: str | None = None

    def holds(self, row: Row) -> bool:
        """Whether a point is one of those asked about."""
        wanted = {"member": self.member, "position": self.position, "axis": self.axis}
        return all(value is None or row[name] == value for name, value in wanted.items())

    @property
    def words(self) -> str:
        """The place as it was asked for."""
        below = [self.member, self.position, self.axis]
        return " ".join([f"{self.site}/{self.asset}", *(part for part in below if part)])


@dataclass(frozen=True, slots=True)
class ExplainedSeries:
    """One trend line: its steps in words, and the figures they are told from."""

    name: str
    governs: bool
    steps: list[Step]
    facts: Row


@dataclass(frozen=True, slots=True)
class ExplainedPoint:
    """One point: its condition, its series, which of them governs and why not the others."""

    condition: Row
    series: list[ExplainedSeries]
    steps: list[Step]


@dataclass(frozen=True, slots=True)
class Explanation:
    """The judgement of a train, whole: its rows, the points asked about, and the roll-up.

    `snapshot` is the published state its readings, registry and limits are of;
    `as_published` says whether its conditions are those that were published.
    """

    as_of: dt.datetime
    snapshot: int
    as_published: bool
    asset: Row
    members: list[Row]
    points: list[ExplainedPoint]
    roll_up: list[Step]

    def plain(self) -> Row:
        """As nested rows, for JSON."""
        return asdict(self)


def explain(
    store: Store, asked: Asked, as_of: dt.datetime | None = None, snapshot: Snapshot | None = None
) -> Explanation:
    """Each step of the judgement of what is asked about; state and moment as `open_explaining`.

    Without a position, the point that governs the train or machine is explained. The same
    state and moment give the same answer. Raises NotFoundError for what is not registered
    or not judged, ValueError for an `as_of` without a time zone.
    """
    with open_explaining(store, as_of, snapshot, asked) as explaining:
        return explaining.explain(asked)


@dataclass(frozen=True, slots=True)
class Explaining:
    """A moment worked out once, of which each train may be explained."""

    session: duckdb.DuckDBPyConnection
    as_of: dt.datetime
    snapshot: int
    as_published: bool
    rows: list[Row]
    seconds: float

    def explain(self, asked: Asked) -> Explanation:
        """What `explain` gives."""
        own, chosen = _own_and_chosen(self.rows, asked)
        facts = _facts(self.session, asked, chosen, self.seconds)
        return Explanation(
            as_of=self.as_of,
            snapshot=self.snapshot,
            as_published=self.as_published,
            asset=next(row for row in own if row["scope"] == "asset"),
            members=[row for row in own if row["scope"] == "member"],
            points=[_point(row, facts) for row in chosen],
            roll_up=roll_up(own),
        )


@contextmanager
def open_explaining(
    store: Store,
    as_of: dt.datetime | None = None,
    snapshot: Snapshot | None = None,
    asked: Asked | None = None,
) -> Iterator[Explaining]:
    """What explains the judgements of a published state, the newest unless one is given.

    With `as_of` those of that moment, from the readings, registry and limits of that
    state. Raises ValueError for an `as_of` without a time zone, and NotFoundError where
    what is `asked` about was not judged in the published state, before anything is worked out.
    """
    if as_of is not None and as_of.tzinfo is None:
        raise ValueError("as_of needs a time zone")
    snapshot = snapshot or published(store)
    moment = (as_of or snapshot.as_of).astimezone(dt.UTC)
    as_published = moment == snapshot.as_of.astimezone(dt.UTC)
    told = _told(store, snapshot) if as_published else []
    if as_published and asked is not None:
        _own_and_chosen(told, asked)
    asks = [*_SQL.values(), *(() if as_published else CONDITIONS)]
    machines = None if asked is None else [(asked.site, asked.asset)]
    with open_machines(store, snapshot.versions, moment, machines, words(*asks)) as session:
        rows = told if as_published else judged(session, moment).to_pylist()
        seconds = store.settings.query_seconds
        yield Explaining(session, moment, snapshot.seq, as_published, rows, seconds)


def _told(store: Store, snapshot: Snapshot) -> list[Row]:
    """Conditions as they were published, in the order of the table."""
    files = store.table(CONDITION_CURRENT).files(snapshot.versions[CONDITION_CURRENT.name])
    rows: list[Row] = read_rows(CONDITION_CURRENT, (file.path for file in files)).to_pylist()
    return rows


def _own_and_chosen(rows: list[Row], asked: Asked) -> tuple[list[Row], list[Row]]:
    """Rows of the train asked about, and the points to explain. Raises NotFoundError."""
    own = [row for row in rows if (row["site"], row["asset"]) == (asked.site, asked.asset)]
    if not own:
        raise NotFoundError("judged asset", f"{asked.site}/{asked.asset}")
    return own, _chosen(own, asked)


def _chosen(own: list[Row], asked: Asked) -> list[Row]:
    """The points to explain: those named, or the one that governs."""
    points = [row for row in own if row["scope"] == "point" and asked.holds(row)]
    if asked.position is not None or asked.axis is not None:
        if not points:
            raise NotFoundError("measuring point", asked.words)
        return points
    scope = "asset" if asked.member is None else "member"
    above = [row for row in own if row["scope"] == scope]
    if asked.member is not None:
        above = [row for row in above if row["member"] == asked.member]
    if not above:
        raise NotFoundError("judged machine", asked.words)
    whole = above[0]
    place = (whole["evidence_position"], whole["evidence_axis"])
    found = [row for row in points if (row["position"], row["axis"]) == place][:1] or points[:1]
    if whole["level"] == "unknown" and found and found[0]["level"] != "unknown":
        # What is seen is well, and something else is not seen: that is to be explained, too.
        found += [row for row in points if row["basis"] == whole["basis"]][:1]
    return found


def _facts(
    session: duckdb.DuckDBPyConnection, asked: Asked, chosen: list[Row], seconds: float
) -> list[Facts]:
    """What every step made of each series of the points."""
    places = {(row["position"], row["axis"]) for row in chosen}
    train = {"site": asked.site, "asset": asked.asset}

    def ask(name: str, parameters: Row) -> list[Row]:
        rows: list[Row] = run(session, _SQL[name], parameters, seconds).to_pylist()
        return rows

    series = [
        row for row in ask("series", train)
        if (row["series"]["position"], row["series"]["axis"]) in places
    ]  # fmt: skip
    wanted = {"series": [row["series_id"] for row in series]}
    below = {name: _by_series(ask, name, wanted) for name in _BY_SERIES}
    running = next(iter(ask("running", train)), {})
    findings = ask("findings", train)
    return [
        Facts(
            **{name: rows.get(row["series_id"], []) for name, rows in below.items()},
            row=_without_numbers(row),
            running=running,
            findings=[one for one in findings if _concerns(one, row["series"])],
        )
        for row in series
    ]


def _by_series(
    ask: Callable[[str, Row], list[Row]], name: str, wanted: Row
) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = {}
    for row in ask(name, wanted) if wanted["series"] else []:
        found.setdefault(row.pop("series_id"), []).append(row)
    return found


def _without_numbers(row: Row) -> Row:
    """Without the numbers of this session, which mean nothing outside; no row where none was."""
    return {
        name: _below(value) if isinstance(value, dict) else value
        for name, value in row.items()
        if name != "series_id"
    }


def _below(row: Row) -> Row | None:
    return _without_numbers(row) if any(value is not None for value in row.values()) else None


def _concerns(finding: Row, series: Row) -> bool:
    """Whether a finding is about this series, or about the whole device or point."""
    return all(
        finding[name] is None or finding[name] == series[name]
        for name in ("position", "axis", "quantity")
    )


def _point(condition: Row, facts: list[Facts]) -> ExplainedPoint:
    place = (condition["position"], condition["axis"])
    own = sorted((one for one in facts if one.place == place), key=lambda one: one.order)
    return ExplainedPoint(
        condition=condition,
        series=[
            ExplainedSeries(one.name, number == 0 and not one.row["answered"],
                            series_steps(one), asdict(one))
            for number, one in enumerate(own)
        ],
        steps=point_steps(condition, own),
    )  # fmt: skip
