"""Published states held ready to be asked: what the HTTP API answers from.

A thread follows the store: it loads each newly published state whole and then
swaps one reference, so that a request sees one state and never waits for a
table. Silence is never served as healthy: what the judge said holds until
`stale_after`, whether or not anybody judged again (rules J6 and J7).
"""

from __future__ import annotations

import datetime as dt
import logging
import threading
from bisect import bisect_right
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from schemas.tables.conditions import CONDITION_CURRENT
from warehouse.judging.advice import next_step
from warehouse.registry.stored import stored_entities
from warehouse.store import Snapshot, Store
from warehouse.store.snapshot import SnapshotWatch

Row = dict[str, Any]
Key = tuple[str, str]
"""Site and asset tag."""

STATES_HELD = 8
"""Published states kept for those who are still paging through one of them."""

SUMMARY = (
    "level", "zone", "basis", "reason", "next_step", "since", "coverage", "measured_at",
    "stale_after",
)  # fmt: skip
"""Columns of a condition that a list of assets shows."""

_FIRST = dt.datetime.min.replace(tzinfo=dt.UTC)
_LAST = dt.datetime.max.replace(tzinfo=dt.UTC)
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What was judged of an asset: its own row, its machines', its points'."""

    asset: Row
    members: tuple[Row, ...]
    points: tuple[Row, ...]


def served_at(judged: Judgement, roles: Mapping[str, str], now: dt.datetime) -> Judgement:
    """What may be said of an asset at `now`, from what was judged before.

    A level whose evidence no longer holds becomes `unknown`, the level kept as
    `last_level`; coverage is counted again without it, and an asset of which
    too little is still seen is not `normal` (rule J7). `roles` gives the role of
    each member in its train. Rows that were taken back carry `stale`.
    """
    points = tuple(_row_at(row, now) for row in judged.points)
    members = tuple(_row_at(row, now) for row in judged.members)
    asset = _row_at(judged.asset, now)
    if any(row.get("stale") for row in points):
        members = tuple(_covered_member(row, points) for row in members)
        asset = _covered_asset(asset, members, roles)
    return Judgement(asset, members, points)


def _row_at(row: Row, now: dt.datetime) -> Row:
    until = row["stale_after"]
    if row["level"] == "unknown" or until is None or now < until:
        return row
    taken_back = _taken_back(row, "no-fresh-reading") | {
        "reason": f"No judgeable reading since {_moment(row['measured_at'])}; "
        f"last told: {row['reason']}",
        "since": until.astimezone(dt.UTC).date(),
    }
    return taken_back | {"coverage": "none", "measured_points": 0} if _is_point(row) else taken_back


def _taken_back(row: Row, basis: str) -> Row:
    return row | {
        "stale": True,
        "level": "unknown",
        "zone": None,
        "basis": basis,
        "last_level": row["level"],
        "held_since": row.get("held_since") or row.get("measured_at"),
        "next_step": next_step(basis, "unknown"),
    }


def _is_point(row: Row) -> bool:
    return bool(row["scope"] == "point")


def _moment(moment: dt.datetime | None) -> str:
    return f"{moment.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC" if moment else "the start"


def _covered_member(member: Row, points: Sequence[Row]) -> Row:
    own = [row for row in points if row["member"] == member["member"]]
    seen = [row for row in own if row["judgeable_points"] and row["level"] != "unknown"]
    measured = len({row["position"] for row in seen})
    radial = any(row["axis"] != "axial" for row in seen)
    whole = radial or 0 < measured == member["judgeable_points"]
    return member | {
        "measured_points": measured,
        "coverage": "normal" if whole else "partial" if measured else "none",
    }


def _covered_asset(asset: Row, members: Sequence[Row], roles: Mapping[str, str]) -> Row:
    measured = sum(row["measured_points"] for row in members)
    machines = [row for row in members if roles.get(row["member"]) in ("driver", "driven")]
    every = bool(machines) and all(row["coverage"] == "normal" for row in machines)
    pointless = not machines or any(not row["judgeable_points"] for row in machines)
    whole = every or (0 < measured == asset["judgeable_points"] and not pointless)
    counted = asset | {
        "measured_points": measured,
        "coverage": "normal" if whole else "partial" if measured else "none",
    }
    if asset["level"] != "normal" or whole:
        return counted
    unseen = ", ".join(row["member"] for row in machines if row["coverage"] != "normal")
    return _taken_back(counted, "partial-coverage") | {
        "reason": "What is seen is normal, but not enough of the train is any more: "
        f"{unseen or 'a bearing'}. Worst seen: {asset['reason']}",
    }


@dataclass(slots=True)
class _Place:
    """Where the rows of one asset stand, and when what may be said of it changes by itself."""

    first: int
    count: int = 0
    moments: list[dt.datetime] = field(default_factory=list)
    judged: Row | None = None
    summary: tuple[dt.datetime, dt.datetime, Row] | None = None

    def span(self, now: dt.datetime) -> tuple[dt.datetime, dt.datetime]:
        """From when until when the answer at `now` stays the same."""
        passed = bisect_right(self.moments, now)
        since = self.moments[passed - 1] if passed else _FIRST
        return since, self.moments[passed] if passed < len(self.moments) else _LAST


@dataclass(frozen=True, slots=True)
class State:
    """One published state: the registered assets, in order, and what was judged of them."""

    snapshot: Snapshot
    assets: Mapping[Key, Row]
    order: Sequence[Key]
    roles: Mapping[Key, Mapping[str, str]]
    _rows: pa.Table
    _places: Mapping[Key, _Place]

    def judgement(self, key: Key, now: dt.datetime) -> Judgement | None:
        """What may be said of an asset at `now`; None where nothing is judged of it.

        Nothing is judged of a measuring station, or of an asset that was removed.
        """
        place = self._places.get(key)
        if place is None or place.judged is None:
            return None
        rows = self._rows.slice(place.first, place.count).to_pylist()
        judged = Judgement(
            next(row for row in rows if row["scope"] == "asset"),
            tuple(row for row in rows if row["scope"] == "member"),
            tuple(row for row in rows if row["scope"] == "point"),
        )
        return served_at(judged, self.roles.get(key, {}), now)

    def summary(self, key: Key, now: dt.datetime) -> Row | None:
        """Columns `SUMMARY` of the asset's own row of `judgement`, without reading the others.

        Remembered until time alone changes it.
        """
        place = self._places.get(key)
        if place is None or place.judged is None:
            return None
        if not place.moments or now < place.moments[0]:
            return place.judged
        if place.summary is None or not place.summary[0] <= now < place.summary[1]:
            judgement = self.judgement(key, now)
            if judgement is not None:
                row = {name: judgement.asset[name] for name in SUMMARY}
                place.summary = (*place.span(now), row)
        return place.summary[2] if place.summary else None

    def after(self, last: Key | None) -> Iterator[Key]:
        """Keys of the assets after `last`, in order; all of them for None."""
        start = 0 if last is None else bisect_right(self.order, last)
        return iter(self.order[start:])


def load_state(store: Store, snapshot: Snapshot, previous: State | None = None) -> State:
    """The state a snapshot ties together, read whole.

    The registry is taken over from `previous` where it stands at the same version.
    """
    if previous and previous.snapshot.versions["registry"] == snapshot.versions["registry"]:
        assets, order, roles = previous.assets, previous.order, previous.roles
    else:
        entities = stored_entities(store, snapshot.versions["registry"])
        listed = {(row["site"], row["asset"]): row for row in entities["assets"].to_pylist()}
        order = sorted(listed)
        assets = {key: listed[key] for key in order}
        roles = _roles(entities["members"])
    rows = _conditions(store, snapshot)
    return State(snapshot, assets, order, roles, rows, _places(rows))


def _roles(members: pa.Table) -> dict[Key, dict[str, str]]:
    roles: dict[Key, dict[str, str]] = {}
    for row in members.select(["site", "asset", "member", "role"]).to_pylist():
        roles.setdefault((row["site"], row["asset"]), {})[row["member"]] = row["role"]
    return roles


def _conditions(store: Store, snapshot: Snapshot) -> pa.Table:
    version = snapshot.versions[CONDITION_CURRENT.name]
    found = [
        pq.read_table(file.path, schema=CONDITION_CURRENT.arrow, partitioning=None)
        for file in store.table(CONDITION_CURRENT).files(version)
    ]
    rows = pa.concat_tables([CONDITION_CURRENT.arrow.empty_table(), *found])
    return rows.sort_by(
        [(name, "ascending") for name in CONDITION_CURRENT.sort_by]
    ).combine_chunks()


def _places(rows: pa.Table) -> dict[Key, _Place]:
    places: dict[Key, _Place] = {}
    names = ("site", "asset", "scope", *SUMMARY)
    for number, row in enumerate(rows.select(names).to_pylist()):
        place = places.setdefault((row["site"], row["asset"]), _Place(number))
        place.count += 1
        if row["scope"] == "asset":
            place.judged = row
        if row["level"] != "unknown" and row["stale_after"] is not None:
            place.moments.append(row["stale_after"])
    for place in places.values():
        place.moments.sort()
    return places


def _wall() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


class Serving:
    """Follows the published states of a store, and holds the last few of them."""

    def __init__(self, store: Store, wall: Callable[[], dt.datetime] = _wall) -> None:
        self._store = store
        self._wall = wall
        self._watch = SnapshotWatch(store)
        self._held: OrderedDict[int, State] = OrderedDict()
        self._current: State | None = None
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def current(self) -> State | None:
        """The newest published state; None before the first."""
        return self._current

    def held(self, seq: int) -> State | None:
        """An earlier state, while it is held."""
        return self._held.get(seq)

    def now(self, state: State) -> dt.datetime:
        """What `now` means to the judge of this store (setting `clock`)."""
        return self._wall() if self._store.settings.clock == "wall" else state.snapshot.as_of

    def start(self) -> None:
        """Load the newest state, then follow the store in a thread of its own."""
        self._look()
        self._thread = threading.Thread(target=self._follow, name="follow-store", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop following; returns when the thread has ended."""
        self._stop.set()
        if self._thread:
            self._thread.join()

    def _follow(self) -> None:
        failed = False
        while not self._stop.wait(self._store.settings.poll_seconds):
            try:
                self._look()
                failed = False
            except Exception:
                # Whatever it is, the last state is still true as of its moment: keep serving it.
                if not failed:
                    _log.exception("cannot follow the store %s; trying again", self._store.home)
                failed = True

    def _look(self) -> None:
        snapshot = self._watch.newer()
        if snapshot is None or (self._current and self._current.snapshot.seq == snapshot.seq):
            return
        try:
            state = load_state(self._store, snapshot, self._current)
        except BaseException:
            self._watch.again()
            raise
        self._held[snapshot.seq] = state
        while len(self._held) > STATES_HELD:
            self._held.popitem(last=False)
        self._current = state
