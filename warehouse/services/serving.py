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
from dataclasses import dataclass, field, replace
from typing import Any

import pyarrow as pa
from deltalake.exceptions import DeltaError

from schemas.tables.conditions import CONDITION_CURRENT
from warehouse.access import Caller
from warehouse.registry.stored import stored_entities
from warehouse.services.memory import Memory
from warehouse.services.rule_faults import rule_faults
from warehouse.services.silences import Judgement as Judgement
from warehouse.services.silences import Row as Row
from warehouse.services.silences import served_at as served_at
from warehouse.store import Snapshot, Store
from warehouse.store.files import read_rows
from warehouse.store.snapshot import SnapshotWatch, numbered

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


@dataclass(slots=True)
class Place:
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
    classes: Mapping[Key, frozenset[str]]
    """Classes of machine in each train."""
    member_ids: Mapping[Key, Mapping[str, str]]
    """What the maintenance system calls the machines in each train, where it names them."""
    rows: pa.Table
    """Columns of `condition_current` of every site: read them through `places` only."""
    places: Mapping[Key, Place]
    moments: Sequence[dt.datetime]
    """When time alone changes what may be said of some asset, in order."""
    memory: Memory = field(default_factory=lambda: Memory())

    def passed(self, now: dt.datetime) -> int:
        """How many of `moments` are past: as long as that stays the same, so do all answers."""
        return bisect_right(self.moments, now)

    def seen_by(self, caller: Caller) -> State:
        """This state without the assets of sites that are not the caller's."""
        sites = caller.sites
        if sites is None:
            return self

        def seen(found: Mapping[Key, Any]) -> dict[Key, Any]:
            return {key: value for key, value in found.items() if key[0] in sites}

        def limit() -> State:
            places = seen(self.places)
            return State(
                snapshot=self.snapshot,
                assets=seen(self.assets),
                order=[key for key in self.order if key[0] in sites],
                roles=seen(self.roles),
                classes=seen(self.classes),
                member_ids=seen(self.member_ids),
                rows=self.rows,
                places=places,
                moments=_moments(places),
            )

        limited: State = self.memory.get(("seen by", sites), limit)
        return limited

    def judgement(self, key: Key, now: dt.datetime) -> Judgement | None:
        """What may be said of an asset at `now`; None where nothing is judged of it.

        Nothing is judged of a measuring station, or of an asset that was removed.
        """
        place = self.places.get(key)
        if place is None or place.judged is None:
            return None
        rows = self.rows.slice(place.first, place.count).to_pylist()
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
        place = self.places.get(key)
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
        assets, order = previous.assets, previous.order
        roles, classes, member_ids = previous.roles, previous.classes, previous.member_ids
    else:
        entities = stored_entities(store, snapshot.versions["registry"])
        listed = {(row["site"], row["asset"]): row for row in entities["assets"].to_pylist()}
        order = sorted(listed)
        assets = {key: listed[key] for key in order}
        roles, classes = _by_member(entities["members"], "role"), _classes(entities["members"])
        member_ids = _by_member(entities["members"], "external_id")
    rows = _conditions(store, snapshot)
    places = _places(rows)
    moments = _moments(places)
    return State(snapshot, assets, order, roles, classes, member_ids, rows, places, moments)


def _moments(places: Mapping[Key, Place]) -> list[dt.datetime]:
    return sorted(moment for place in places.values() for moment in place.moments)


def _classes(members: pa.Table) -> dict[Key, frozenset[str]]:
    classes: dict[Key, set[str]] = {}
    for row in members.select(["site", "asset", "equipment_class"]).to_pylist():
        classes.setdefault((row["site"], row["asset"]), set()).add(row["equipment_class"])
    return {key: frozenset(found) for key, found in classes.items()}


def _by_member(members: pa.Table, name: str) -> dict[Key, dict[str, str]]:
    """One column by asset and member; nulls are left out."""
    found: dict[Key, dict[str, str]] = {}
    for row in members.select(["site", "asset", "member", name]).to_pylist():
        if row[name] is not None:
            found.setdefault((row["site"], row["asset"]), {})[row["member"]] = row[name]
    return found


def _conditions(store: Store, snapshot: Snapshot) -> pa.Table:
    version = snapshot.versions[CONDITION_CURRENT.name]
    files = store.table(CONDITION_CURRENT).files(version)
    rows = read_rows(CONDITION_CURRENT, (file.path for file in files))
    return rows.sort_by(
        [(name, "ascending") for name in CONDITION_CURRENT.sort_by]
    ).combine_chunks()


def _places(rows: pa.Table) -> dict[Key, Place]:
    places: dict[Key, Place] = {}
    names = ("site", "asset", "scope", *SUMMARY)
    for number, row in enumerate(rows.select(names).to_pylist()):
        place = places.setdefault((row["site"], row["asset"]), Place(number))
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
        self._reread: OrderedDict[int, State] = OrderedDict()
        self._again = threading.Lock()
        self._current: State | None = None
        self._rule_faults: list[str] = []
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def current(self) -> State | None:
        """The newest published state; None before the first."""
        return self._current

    @property
    def rule_faults(self) -> list[str]:
        """What stops judging, as last looked at: then what is served is that of before."""
        return self._rule_faults

    def held(self, seq: int) -> State | None:
        """An earlier state, while it is held, or could be read again; None where it is gone."""
        found = self._held.get(seq)
        if found is None:
            with self._again:
                found = self._reread.get(seq) or self._read_again(seq)
        return found

    def _read_again(self, seq: int) -> State | None:
        store = replace(self._store, _logs={})  # a table's log is one thread's
        try:
            snapshot = numbered(store, seq)
            if snapshot is None:
                return None
            found = load_state(store, snapshot, self._current)
        except (DeltaError, OSError):  # its files were removed after their retention
            return None
        self._reread[seq] = found
        while len(self._reread) > STATES_HELD:
            self._reread.popitem(last=False)
        return found

    def now(self, state: State) -> dt.datetime:
        """What `now` means to the judge of this store (setting `clock`)."""
        return self._wall() if self._store.settings.clock == "wall" else state.snapshot.as_of

    def start(self) -> None:
        """Load the newest state, then follow the store in a thread of its own."""
        self._look_at_rules()
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
                self._look_at_rules()
                self._look()
                failed = False
            except Exception:
                # Whatever it is, the last state is still true as of its moment: keep serving it.
                if not failed:
                    _log.exception("cannot follow the store %s; trying again", self._store.home)
                failed = True

    def _look_at_rules(self) -> None:
        faults = rule_faults(self._store)
        if faults and faults != self._rule_faults:
            _log.warning("judging is stopped, what was judged is served on: %s", "; ".join(faults))
        self._rule_faults = faults

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
