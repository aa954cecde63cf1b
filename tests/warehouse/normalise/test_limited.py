"""A law of packages of some sites: they are taken in as if the registry had these sites only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import duckdb
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schemas.tables.work import MAINTENANCE_EVENTS
from tests.warehouse.normalise.small import RECEIVED_AT, mapping_text
from warehouse.adapters import Decoding, adapter, decode
from warehouse.event_mapping import EventMapping, parse_any_mapping
from warehouse.normalise import normalise, rejects
from warehouse.normalise.events import event_items, event_reasons, refused_events
from warehouse.normalise.stops import refused_stops, stop_items, with_stops
from warehouse.registry import current_entities, placements, read_folder, to_events
from warehouse.registry.entities import empty_entities
from warehouse.store.scan import create_scan

_SITES = ("east", "west")
_OWN = frozenset({"east"})
_SINCE = "2000-01-01T00:00:00Z"
_LINES = {
    "sites": ("site,name,time_zone", "{site},{site},UTC"),
    "assets": (
        "site,asset,name,service_state,external_id",
        "{site},M-{site},M,in-service,FL-{site}",
    ),
    "members": (
        "site,asset,member,role,equipment_class,external_id",
        "{site},M-{site},motor,driver,electric-motor,EQ-{site}",
    ),
    "points": (
        "site,asset,position,member,bearing_housing,thrust_end",
        "{site},M-{site},motor-de,motor,true,false",
    ),
    "devices": ("device,kind,method\nshared,logger,wired", "D-{site},logger,wired"),
    "mountings": (
        "device,channel,site,asset,position,axis,mounted_from,mounted_to,commissioning",
        f"D-{{site}},1,{{site}},M-{{site}},motor-de,axial,{_SINCE},,passed\n"
        f"shared,{{site}},{{site}},M-{{site}},motor-de,axial,{_SINCE},,passed",
    ),
    "routes": (
        "route,stop,walk_order,site,asset,position,axis,interval_days",
        "R-{site},1,1,{site},M-{site},motor-de,axial,28",
    ),
}  # fmt: skip
_NAMES = (*_SITES, "none")
_RECORD = st.tuples(
    st.one_of(st.sampled_from([f"D-{n}" for n in _NAMES]), st.just("shared")),
    st.sampled_from(["1", "2", *_NAMES]),
    st.sampled_from([f"R-{n}" for n in _NAMES]),
    st.sampled_from(_NAMES),
    st.sampled_from([f"M-{n}" for n in _NAMES]),
    st.sampled_from([f"{kind}-{n}" for kind in ("FL", "EQ") for n in _NAMES]),
)
_HEADER = "d,c,r,s,a,o,e,t,v,x"
_STOP = '\n[stop]\nresult = { from = "x" }\n'
_MOUNTED = {"device": '{ from = "d" }', "channel": '{ from = "c" }'}
_POINT = _MOUNTED | {
    "site": '{ from = "s" }',
    "asset": '{ from = "a" }',
    "position": '"motor-de"',
}
_MAPPINGS = {
    "mounting": mapping_text(**_MOUNTED),
    "point": mapping_text(**_POINT),
    "stop": mapping_text(**_MOUNTED, method="route", route='{ from = "r" }') + _STOP,
}
_EVENTS = """format_version = 1
items = "maintenance-events"
name = "orders"
[source]
id = "orders"
adapter = "delimited"
[time]
zone = "UTC"
[event]
event = { from = "e" }
started_at = { from = "t" }
activity = "bearing"
"""
_NAMED = {
    "object": 'object = { from = "o" }\n',
    "tag": 'site = { from = "s" }\nasset = { from = "a" }\nmember = "motor"\n',
}


@cache
def _entities(*sites: str) -> dict[str, pa.Table]:
    """The registry of some sites."""
    with TemporaryDirectory() as folder:
        for name, (header, line) in _LINES.items():
            lines = [header, *(line.format(site=site) for site in sites)]
            (Path(folder) / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        rows = read_folder(Path(folder), empty_entities())
    return current_entities(to_events(rows, 1, RECEIVED_AT))


def _file(records: Sequence[tuple[str, ...]]) -> str:
    lines = [
        ",".join((*record, f"E{n}", f"2026-01-10T10:{n:02}:00", "2.5", ""))
        for n, record in enumerate(records)
    ]
    return "\n".join([_HEADER, *lines]) + "\n"


@contextmanager
def _decoded(
    records: Sequence[tuple[str, ...]], text: str, sites: frozenset[str] | None
) -> Iterator[tuple[Decoding, duckdb.DuckDBPyConnection]]:
    mapping = parse_any_mapping(text, "mapping of the test")
    with TemporaryDirectory() as folder, duckdb.connect(config={"threads": 1}) as session:
        session.execute("SET TimeZone = 'UTC'")
        path = Path(folder) / "file.csv"
        path.write_text(_file(records), encoding="utf-8")
        decoding = Decoding(path, "file.csv", mapping, RECEIVED_AT, package=1, sites=sites)
        assert decode(adapter("delimited"), [decoding], session) == {}
        yield decoding, session


def _readings(
    records: Sequence[tuple[str, ...]], text: str, limit: frozenset[str] | None, *registered: str
) -> list[Any]:
    """All that becomes of records: counts, refused items, places of the others, stops."""
    with _decoded(records, text, limit) as (decoding, session):
        places = placements(_entities(*registered))
        counted = normalise([decoding], places, session)
        mapping = decoding.of_readings
        found: list[Any] = [rejects(mapping, session).to_pylist()]
        taken = "SELECT row, site, asset FROM items JOIN key_places USING (stream_no) ORDER BY row"
        found.append(session.execute(taken).fetchall())
        if mapping.stop:
            stop_items(mapping, session)
            counted = with_stops(counted, session)
            found.append(refused_stops(mapping, session).to_pylist())
            found.append(session.execute("SELECT route, stop, site FROM stop_items").fetchall())
        return [counted, *found]


def _events(
    records: Sequence[tuple[str, ...]], text: str, limit: frozenset[str] | None, *registered: str
) -> list[Any]:
    with _decoded(records, text, limit) as (decoding, session):
        assert isinstance(decoding.mapping, EventMapping)
        create_scan(session, "stored_events", MAINTENANCE_EVENTS, [])
        activities = pa.table({"activity": ["bearing"]})
        event_items([decoding], _entities(*registered), activities, session)
        taken = "SELECT row, site, asset FROM event_items WHERE reason IS NULL ORDER BY row"
        return [
            refused_events(decoding.mapping, session).to_pylist(),
            event_reasons(session),
            session.execute(taken).fetchall(),
        ]


@pytest.mark.parametrize("kind", _MAPPINGS)
@given(records=st.lists(_RECORD, min_size=1, max_size=12))
@settings(max_examples=15, deadline=None)
def test_readings_and_stops_see_their_sites_only(kind: str, records: list[tuple[str, ...]]) -> None:
    text = _MAPPINGS[kind]
    assert _readings(records, text, _OWN, *_SITES) == _readings(records, text, None, *_OWN)


@pytest.mark.parametrize("named", _NAMED)
@given(records=st.lists(_RECORD, min_size=1, max_size=12))
@settings(max_examples=15, deadline=None)
def test_events_see_their_sites_only(named: str, records: list[tuple[str, ...]]) -> None:
    text = _EVENTS + _NAMED[named]
    assert _events(records, text, _OWN, *_SITES) == _events(records, text, None, *_OWN)


def test_without_a_limit_every_site_is_seen() -> None:
    records = [("D-west", "1", "R-west", "west", "M-west", "FL-west")]
    for text in _MAPPINGS.values():
        assert _readings(records, text, None, *_SITES)[2] == [(2, "west", "M-west")]
        assert _readings(records, text, frozenset(), *_SITES)[2] == []
    for named in _NAMED.values():
        assert _events(records, _EVENTS + named, None, *_SITES)[2] == [(2, "west", "M-west")]
        assert _events(records, _EVENTS + named, frozenset(), *_SITES)[2] == []


def test_packages_of_several_limits_are_not_taken_in_together() -> None:
    with _decoded([], _MAPPINGS["mounting"], None) as (one, session):
        other = Decoding(one.payload, "b", one.mapping, RECEIVED_AT, package=2, sites=_OWN)
        with pytest.raises(ValueError, match="several limits"):
            normalise([one, other], placements(_entities(*_SITES)), session)
