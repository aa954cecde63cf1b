"""What a key of one site hands over touches no machine of another, and tells nothing of it."""

from __future__ import annotations

import io
import json
import shutil
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import python_calamine
import xlsxwriter
from starlette.testclient import TestClient

from api.app import create_app
from schemas.tables.readings import READINGS, REJECTS
from schemas.tables.rounds import STOP_RESULTS
from schemas.tables.work import MAINTENANCE_EVENTS
from warehouse.access import SCOPES
from warehouse.inbox import Ledger, Package
from warehouse.services.ingest import commit_all, replay
from warehouse.services.keys import Keyring, Wanted
from warehouse.store import Store, open_store
from warehouse.store.files import read_rows

_SITE, _OTHER = "raw-water", "board-mill"
_SOURCES = ("rw-maint", "mill-gateway", "route-sheet")
_TABLES = (READINGS, STOP_RESULTS, MAINTENANCE_EVENTS)
_WORKBOOK = {"Content-Type": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}


@dataclass(frozen=True, slots=True)
class Doors:
    """A store of its own, a key of one site and one of all."""

    store: Store
    own: TestClient
    every: TestClient

    def take_in(self) -> None:
        with Ledger.open(self.store.inbox) as ledger:
            commit_all(self.store, ledger)

    def replay(self, number: int) -> Package:
        with Ledger.open(self.store.inbox) as ledger:
            replay(ledger, [number])
            commit_all(self.store, ledger)
            return ledger.package(number)

    def package(self, number: int) -> Package:
        with Ledger.open(self.store.inbox) as ledger:
            return ledger.package(number)

    def refused(self, number: int) -> list[dict[str, Any]]:
        """Refused items of a package in the order of its lines."""
        files = self.store.table(REJECTS).files()
        rows = read_rows(REJECTS, (file.path for file in files)).to_pylist()
        found = [row for row in rows if row["package"] == number]
        return sorted(found, key=lambda row: (row["attempt"], row["row"]))

    def sites(self, number: int) -> set[str]:
        """Sites of all that a package brought."""
        found: set[str] = set()
        for table in _TABLES:
            rows = read_rows(table, (file.path for file in self.store.table(table).files()))
            found |= {r["site"] for r in rows.to_pylist() if r["package"] == number}
        return found


@pytest.fixture(scope="module")
def doors(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Doors]:
    target = tmp_path_factory.mktemp("limited") / "store"
    shutil.copytree(home, target)
    store = open_store(target, {"key_rate": 0})
    ring = Keyring(store)
    own = ring.add(Wanted("own", tuple(SCOPES), (_SITE,), _SOURCES)).text
    every = ring.add(Wanted("every", tuple(SCOPES))).text
    with TestClient(create_app(store)) as client:
        second = TestClient(client.app, headers={"Authorization": f"Bearer {every}"})
        client.headers["Authorization"] = f"Bearer {own}"
        yield Doors(store, client, second)


def _event(event: str, **machine: str) -> dict[str, Any]:
    return {
        "event": event,
        "activity": "bearing",
        "started_at": "2025-11-02T06:00:00Z",
        "ended_at": "2025-11-02T14:30:00Z",
        **machine,
    }


def _report(client: TestClient, *events: dict[str, Any]) -> dict[str, Any]:
    body = {"source": "rw-maint", "events": list(events)}
    answer = client.post("/v1/maintenance-events", json=body)
    assert answer.status_code == 202, answer.text
    told: dict[str, Any] = answer.json()
    return told


def _ingest(client: TestClient, *nodes: str) -> dict[str, Any]:
    axis = {"g": 0.1, "ips": 0.05, "kurt": 3.0}
    lines = [
        {"node": node, "msg": 1, "ts": 1762478681, "axes": {"x": axis}, "tempF": 70}
        for node in nodes
    ]
    answer = client.post(
        "/v1/ingest?source=mill-gateway",
        content="\n".join(json.dumps(line) for line in lines),
        headers={"Idempotency-Key": str(uuid.uuid4())},
    )
    assert answer.status_code == 202, answer.text
    told: dict[str, Any] = answer.json()
    return told


def _cells(content: bytes) -> list[list[Any]]:
    book = python_calamine.load_workbook(io.BytesIO(content))
    return book.get_sheet_by_index(0).to_python()


def _sheet(doors: Doors, route: str, day: str, **replaced: str) -> bytes:
    """The sheet of a route, filled in, some columns replaced."""
    rows = _cells(doors.every.get(f"/v1/routes/{route}/sheet").content)
    names, buffer = rows[3], io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as book:
        page = book.add_worksheet("Route")
        for line, row in enumerate(rows):
            if line > 3:
                told = dict(zip(names, row, strict=True))
                told |= {"Date": day, "Time": "10:00:00", "Value": 2.5, **replaced}
                row = [told[name] for name in names]
            page.write_row(line, 0, row)
    return buffer.getvalue()


def _hand_back(client: TestClient, route: str, content: bytes) -> dict[str, Any]:
    answer = client.post(f"/v1/routes/{route}/sheet", content=content, headers=_WORKBOOK)
    assert answer.status_code == 202, answer.text
    told: dict[str, Any] = answer.json()
    return told


def _same_words(doors: Doors, first: int, second: int, ids: dict[str, str]) -> None:
    """Two packages came to the same, and their refused items say the same but for the ids."""
    packages = [doors.package(number) for number in (first, second)]
    assert packages[0].counts == packages[1].counts
    told = [
        [
            (r["line"], r["column_name"], r["reason"], r["detail"], r["raw"], r["device"])
            for r in rows
        ]
        for rows in (doors.refused(first), doors.refused(second))
    ]
    text = repr(told[0])
    for one, other in ids.items():
        text = text.replace(one, other)
    assert text == repr(told[1])


def _external_id(doors: Doors, site: str) -> tuple[str, str]:
    """The external id of a machine of a site, and its tag."""
    rows = doors.every.get(f"/v1/assets?site={site}").json()["items"]
    one = next(row for row in rows if row["external_id"])
    return one["external_id"], one["asset"]


def test_an_event_of_another_site_is_refused_as_one_of_an_unknown_machine(doors: Doors) -> None:
    foreign, _ = _external_id(doors, _OTHER)
    mine, _ = _external_id(doors, _SITE)
    first = _report(doors.own, _event("X-1", object=foreign), _event("X-2", object=mine))
    second = _report(doors.own, _event("X-1", object="FL-99999"), _event("X-3", object=mine))
    doors.take_in()
    _same_words(doors, first["package"], second["package"], {foreign: "FL-99999"})
    package = doors.package(first["package"])
    assert package.counts.rejected_by_reason == {"unknown-machine": 1}
    assert doors.sites(package.number) == {_SITE}


def test_a_machine_of_another_site_named_by_its_tag_is_unknown(doors: Doors) -> None:
    _, theirs = _external_id(doors, _OTHER)
    first = _report(
        doors.own,
        _event("Y-1", site=_OTHER, asset=theirs),
        _event("Y-2", site=_OTHER, asset=theirs, member="motor"),
    )
    second = _report(
        doors.own,
        _event("Y-1", site="nowhere", asset="Q-1"),
        _event("Y-2", site="nowhere", asset="Q-1", member="motor"),
    )
    doors.take_in()
    ids = {_OTHER: "nowhere", theirs: "Q-1"}
    _same_words(doors, first["package"], second["package"], ids)
    assert doors.sites(first["package"]) == set()


def test_readings_of_a_device_of_another_site_are_of_an_unknown_device(doors: Doors) -> None:
    first = _ingest(doors.own, "70b3-0c2a", "WV-31A0")
    second = _ingest(doors.own, "70b3-ffff", "WV-31A0")
    doors.take_in()
    counts = doors.package(first["package"]).counts
    assert counts.rejected_by_reason == {"unknown-device": 4}
    assert counts.accepted > 0
    assert doors.sites(first["package"]) == {_SITE}
    assert doors.package(second["package"]).counts.rejected_by_reason == {"unknown-device": 4}
    theirs, mine = _ingest(doors.own, "70b3-0c2a"), _ingest(doors.own, "70b3-fffe")
    doors.take_in()
    _same_words(doors, theirs["package"], mine["package"], {"70b3-0c2a": "70b3-fffe"})
    every = _ingest(doors.every, "70b3-0c2a", "70b3-0c2a")
    doors.take_in()
    assert doors.sites(every["package"]) <= {_OTHER}
    assert doors.package(every["package"]).counts.rejected == 0


def test_a_stop_that_is_not_of_the_route_in_the_url_is_refused(doors: Doors) -> None:
    foreign = _sheet(doors, "BM-R1", "2025-11-12")
    unknown = _sheet(doors, "BM-R1", "2025-11-12", Route="ZZ-R1")
    mine = _sheet(doors, "RW-R1", "2025-11-12")
    first, second = (_hand_back(doors.own, "RW-R1", one) for one in (foreign, unknown))
    third = _hand_back(doors.own, "RW-R1", mine)
    wrong = _hand_back(doors.every, "RW-R1", _sheet(doors, "BM-R1", "2025-11-13"))
    doors.take_in()
    _same_words(doors, first["package"], second["package"], {"BM-R1": "ZZ-R1"})
    for one in (first, wrong):
        package = doors.package(one["package"])
        assert set(package.counts.rejected_by_reason) == {"unknown-stop"}
        assert (package.counts.accepted, doors.sites(package.number)) == (0, set())
        assert "is not that of the sheet, 'RW-R1'" in doors.refused(package.number)[0]["detail"]
    package = doors.package(third["package"])
    assert (package.counts.rejected, doors.sites(package.number)) == (0, {_SITE})
    right = _hand_back(doors.every, "BM-R1", foreign)
    doors.take_in()
    assert not right["repeated"], "a sheet handed back to the wrong route is no obstacle"
    assert doors.package(right["package"]).counts.rejected == 0


def test_a_replay_keeps_the_limit(doors: Doors) -> None:
    foreign, _ = _external_id(doors, _OTHER)
    number = _report(doors.own, _event("R-1", object=foreign))["package"]
    doors.take_in()
    again = doors.replay(number)
    assert (again.attempts, again.counts.rejected) == (2, 1)
    assert doors.sites(number) == set()


def test_a_repeat_without_a_limit_widens_that_of_the_package(doors: Doors) -> None:
    foreign, _ = _external_id(doors, _OTHER)
    event = _event("W-1", object=foreign)
    number = _report(doors.own, event)["package"]
    doors.take_in()
    again = _report(doors.every, event)
    assert (again["package"], again["repeated"]) == (number, True)
    assert doors.replay(number).counts.accepted == 1
    assert doors.sites(number) == {_OTHER}


def test_a_repeat_while_the_package_waits_widens_it_at_once(doors: Doors) -> None:
    foreign, _ = _external_id(doors, _OTHER)
    event = _event("W-2", object=foreign)
    number = _report(doors.own, event)["package"]
    _report(doors.every, event)
    doors.take_in()
    assert doors.package(number).counts.accepted == 1


def test_a_repeat_by_a_limited_key_tells_nothing_of_the_package(doors: Doors) -> None:
    foreign, _ = _external_id(doors, _OTHER)
    event = _event("W-3", object=foreign)
    number = _report(doors.every, event)["package"]
    doors.take_in()
    body = {"source": "rw-maint", "events": [event]}
    told = doors.own.post("/v1/maintenance-events?wait=5", json=body).json()
    assert (told["package"], told["repeated"]) == (number, True)
    assert (told["state"], told["counts"]) == ("received", None)
    known = doors.every.post("/v1/maintenance-events?wait=5", json=body).json()
    assert known["counts"]["accepted"] == 1
    assert doors.replay(number).counts.rejected == 0, "it is no narrower for that"
