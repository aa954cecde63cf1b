"""The client package: sync and async give the same, page by page, against a live server."""

from __future__ import annotations

import asyncio
import datetime as dt
import gzip
import shutil
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from api.client import AsyncClient, Client, ProblemError
from ingest_examples import FILES
from tests.api.live import live_server
from warehouse.access import SCOPES
from warehouse.services.keys import Keyring, Wanted
from warehouse.store import open_store

_TARGETS = "https://cmms.example.org"
_PACK = FILES / "district-cooling/cooling-edge/edge2_2025-11-08.senml"


@pytest.fixture(scope="module")
def server(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """Address and key of a server over a copy of the judged store."""
    target = tmp_path_factory.mktemp("client") / "store"
    shutil.copytree(home, target)
    key = Keyring(open_store(target)).add(Wanted("client", tuple(SCOPES))).text
    with live_server(target, push_targets=_TARGETS) as address:
        yield address, key


def test_pages_and_changes_are_iterated_to_their_end(server: tuple[str, str]) -> None:
    with Client(*server) as client:
        assets = list(client.assets(limit=7))
        assert len(assets) == 45
        judged = next(one for one in assets if one.links.condition)
        assert client.condition(judged.site, judged.asset).level == judged.level
        rows = list(client.conditions(limit=10, level=["alert", "unknown"]))
        assert {row["level"] for row in rows} == {"alert", "unknown"}
        changes = [one.seq for one in client.changes(limit=3)]
        assert changes == sorted(changes)
        assert list(client.changes(after=changes[-1])) == []
        found = client.lookup([(judged.site, judged.asset)], ["nobody"])
        assert found.missing_external_ids == ["nobody"]
        assert len(list(client.rows("assets", limit=20))) == 45
        assert list(client.readings(site="board-mill", quantity="velocity", points=4))
        assert client.download("/v1/conditions", "csv").startswith(b'"site"')


def test_packages_are_handed_over(server: tuple[str, str]) -> None:
    with Client(*server) as client:
        content = _PACK.read_bytes()
        first = client.ingest("cooling-edge", content, _PACK.name, name="one")
        again = client.ingest("cooling-edge", content, _PACK.name, name="one")
        packed = client.ingest("cooling-edge", gzip.compress(content), coding="gzip")
        assert first.package == again.package == packed.package
        assert (again.repeated, packed.repeated) == (False, True)
        assert client.package(first.package).file == _PACK.name


def test_a_problem_is_an_error_that_says_what_is_wrong(server: tuple[str, str]) -> None:
    with Client(*server) as client, pytest.raises(ProblemError, match="no asset 'x/y'") as caught:
        client.condition("x", "y")
    assert caught.value.problem.type == "/problems/not-found"
    with Client(server[0]) as nobody, pytest.raises(ProblemError, match="key is needed"):
        list(nobody.assets())
    with Client(*server) as client, pytest.raises(ProblemError, match="switched off"):
        client.query("SELECT 1")


def test_work_goes_both_ways(server: tuple[str, str]) -> None:
    event = {
        "event": "WO-1", "site": "board-mill", "asset": "P-203", "activity": "lubricate",
        "started_at": dt.datetime(2025, 11, 2, 6, tzinfo=dt.UTC),
    }  # fmt: skip
    with Client(*server) as client:
        listed = list(client.cases(limit=1))
        case = client.case(listed[0]["case_id"])
        assert (case.site, case.level) == (listed[0]["site"], listed[0]["level"])
        first = client.act(case.case_id, "acknowledge", "A. Example", owner="B. Example", name="a")
        again = client.act(case.case_id, "acknowledge", "A. Example", owner="B. Example", name="a")
        assert (first.state, first.owner, again.repeated) == ("acknowledged", "B. Example", True)
        with pytest.raises(ProblemError, match="acknowledged already"):
            client.act(case.case_id, "acknowledge", "A. Example")
        numbers = [one.notice for one in client.notifications(limit=2)]
        assert numbers == sorted(set(numbers)) != []
        package = client.report("maintenance", [event]).package
        assert client.report("maintenance", [event]).repeated
        assert client.package(package).source == "maintenance"
        assert client.explanation(case.site, case.asset).roll_up
        (route,) = (one["route"] for one in client.routes(site="board-mill"))
        assert client.route(route).links.sheet == f"/v1/routes/{route}/sheet"
        workbook = client.sheet(route, dt.date(2025, 11, 26))
        assert client.hand_back(route, workbook).state == "received"


def test_lists_for_meetings_come_whole(server: tuple[str, str]) -> None:
    day, last = dt.date(2025, 11, 1), dt.date(2025, 11, 3)
    with Client(*server) as client:
        sheet = client.meeting_sheet(day, limit=1, display="site")
        assert [sheet.since, sheet.next, sheet.machines > 0] == [day, None, True]
        assert len(sheet.items) == len(client.meeting_sheet(day).items) > 1
        assert {"heading", "display"} <= sheet.items[0].keys()
        found = client.outage_list(day, last, (last + dt.timedelta(2), last + dt.timedelta(3)))
        assert (found.first, found.next_last) == (day, dt.date(2025, 11, 6))
        some = client.outage_list(day, last, criticality=["A"])
        assert {row["criticality"] for row in some.items} <= {"A"}
        with pytest.raises(ProblemError, match="ends before it begins"):
            client.outage_list(last, day)
        whole = client.outage_list(day, last).items

    async def ask() -> tuple[object, object]:
        async with AsyncClient(*server) as client:
            told = await client.meeting_sheet(day, display="site")
            return told.items, (await client.outage_list(day, last)).items

    assert asyncio.run(ask()) == (sheet.items, whole)


def test_sensors_that_are_not_passed_and_their_checks(server: tuple[str, str]) -> None:
    async def ask(device: str, channel: str) -> tuple[int, object]:
        async with AsyncClient(*server) as client:
            rows = [one async for one in client.mountings(every=True)]
            return len(rows), await client.mounting(device, channel)

    with Client(*server) as client:
        every = list(client.mountings(every=True))
        of_site = list(client.mountings(every=True, site="board-mill"))
        assert 0 < len(of_site) < len(every)
        device, channel = every[0]["device"], every[0]["channel"]
        one = client.mounting(device, channel)
        assert (one.mounting["device"], one.mounting["channel"]) == (device, channel)
        with pytest.raises(ProblemError, match="none"):
            client.mounting("none", "none")
    assert asyncio.run(ask(device, channel)) == (len(every), one)


def test_subscriptions_are_managed(server: tuple[str, str]) -> None:
    with Client(*server) as client:
        made = client.subscribe("planner", f"{_TARGETS}/hooks", ["case", "level"], ["board-mill"])
        assert made.secret.startswith("whsec_")
        assert (made.events, made.sites) == (["case", "level"], ["board-mill"])
        assert [one.id for one in client.subscriptions()] == [made.id]
        event = client.ping(made.id)
        (delivery,) = client.deliveries(made.id, state="waiting", limit=1)
        assert delivery.event == event
        assert client.resend(made.id, [delivery.number]) == [event]
        assert client.rotate_secret(made.id, overlap_hours=1) != made.secret
        assert client.switch_subscription(made.id, "disabled").state == "disabled"
        assert "disabled by key" in str(client.subscription(made.id).why)
        with pytest.raises(ProblemError) as refused:
            client.subscribe("other", "https://elsewhere.example.org")
        assert refused.value.problem.type == "/problems/push-refused"
        client.unsubscribe(made.id)
        assert list(client.subscriptions()) == []
        with pytest.raises(ProblemError, match=made.id):
            client.unsubscribe(made.id)


def test_subscriptions_are_managed_async(server: tuple[str, str]) -> None:
    async def manage() -> None:
        async with AsyncClient(*server) as client:
            made = await client.subscribe("async", f"{_TARGETS}/async", from_start=True)
            assert made.id in [one.id async for one in client.subscriptions()]
            event = await client.ping(made.id)
            told = [one async for one in client.deliveries(made.id, limit=2)]
            ping = next(one for one in told if one.event == event)
            assert await client.resend(made.id, [ping.number]) == [event]
            assert (await client.rotate_secret(made.id)).startswith("whsec_")
            assert (await client.switch_subscription(made.id, "disabled")).state == "disabled"
            assert (await client.subscription(made.id)).name == "async"
            await client.unsubscribe(made.id)

    asyncio.run(manage())


def test_async_works_alike(server: tuple[str, str]) -> None:
    async def ask() -> None:
        async with AsyncClient(*server) as client:
            listed = [one async for one in client.cases()]
            case = await client.case(listed[0]["case_id"])
            done = await client.act(case.case_id, "comment", "A. Example", comment="seen")
            assert done.case_id == case.case_id
            assert [one.notice async for one in client.notifications()]
            assert (await client.explanation(case.site, case.asset)).asset["asset"] == case.asset
            routes = [one["route"] async for one in client.routes(site="board-mill")]
            assert (await client.route(routes[0])).stops
            workbook = await client.sheet(routes[0])
            assert (await client.hand_back(routes[0], workbook, "other.xlsx")).package
            event = {"event": "WO-2", "site": "board-mill", "asset": "P-203",
                     "activity": "inspect", "started_at": "2025-11-02T06:00:00Z"}  # fmt: skip
            assert (await client.report("maintenance", [event])).package

    asyncio.run(ask())


def test_async_gives_the_same(server: tuple[str, str]) -> None:
    async def ask() -> tuple[list[str], list[int], str]:
        async with AsyncClient(*server) as client:
            assets = [one async for one in client.assets(limit=7)]
            changes = [one.seq async for one in client.changes(limit=3)]
            first = next(one for one in assets if one.links.condition)
            condition = await client.condition(first.site, first.asset)
            return [one.asset for one in assets], changes, condition.level

    assets, changes, level = asyncio.run(ask())
    with Client(*server) as client:
        assert assets == [one.asset for one in client.assets(limit=7)]
        assert changes == [one.seq for one in client.changes(limit=3)]
        first = next(one for one in client.assets() if one.links.condition)
        assert client.condition(first.site, first.asset).level == level


def test_callers_who_go_away_leave_their_places(server: tuple[str, str]) -> None:
    url, key = server
    port = int(url.rpartition(":")[2])
    for number in range(6):
        with socket.create_connection(("127.0.0.1", port)) as wire:
            path = "/v1/readings?format=ndjson" if number % 2 else "/v1/readings?format=arrow"
            told = f"GET {path} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {key}\r\n\r\n"
            wire.sendall(told.encode())
            if number > 2:
                assert wire.recv(100)
    with Client(*server) as client:
        assert len(list(client.rows("sites"))) == 3
        assert client.download("/v1/readings", "csv", site="board-mill", quantity="velocity")
