"""The limit of a package: kept with it, the same at each attempt, wider only by a wider receipt."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.services.small_plant import (
    MAPPING,
    REGISTRY,
    Plant,
    make_plant,
    write_registry,
)
from warehouse.event_mapping import parse_any_mapping
from warehouse.inbox import Delivery, Ledger, Package, Receipt
from warehouse.inbox.groups import Groups
from warehouse.services.checking import check_store
from warehouse.services.ingest import commit_all, replay
from warehouse.services.posted_events import events_delivery
from warehouse.services.registry import import_registry

_OWN, _OTHER, _BOTH = (frozenset(s.split()) for s in ("works", "mill", "works mill"))
_POINT = MAPPING.replace(
    'channel = { from = "channel" }\n',
    'channel = { from = "channel" }\nsite = { from = "site" }\n'
    'asset = "M-1"\nposition = "motor-de"\n',
)
_HEADER = "device,channel,time,value,site\n"


@pytest.fixture(name="plant")
def _plant(tmp_path: Path) -> Plant:
    """The small plant twice: another site has the same machines, and a logger L9."""
    plant = make_plant(tmp_path / "plant")
    more = {}
    for name in ("sites", "assets", "members", "points", "mountings"):
        header, *lines = REGISTRY[name].splitlines()
        other = [line.replace("works", "mill").replace("L1", "L9") for line in lines]
        more[name] = "\n".join([header, *lines, *other]) + "\n"
    more["devices"] = REGISTRY["devices"] + "L9,logger,wired\n"
    import_registry(plant.store, write_registry(plant.folder / "registry", **more))
    return plant


def _receive(ledger: Ledger, text: str, lines: str, sites: frozenset[str] | None = None) -> Receipt:
    mapping = parse_any_mapping(text, "mapping of the test")
    content = (_HEADER + lines).encode()
    return ledger.receive_all(
        [Delivery(Path("f.csv"), mapping, text, content, sites=sites)]
    )[0]  # fmt: skip


def _taken(plant: Plant, ledger: Ledger, receipt: Receipt) -> Package:
    commit_all(plant.store, ledger)
    return ledger.package(receipt.package)


def _event(number: str, site: str, **more: str) -> dict[str, Any]:
    said = {"event": number, "site": site, "asset": "M-1", "activity": "bearing"}
    return said | {"started_at": "2025-07-01T06:00:00Z"} | more


def _report(ledger: Ledger, event: dict[str, Any], sites: frozenset[str] | None = None) -> Receipt:
    made = events_delivery("orders", [event])
    delivery = Delivery(
        made.path, made.mapping, made.mapping_text, made.content, made.name, sites=sites
    )
    return ledger.receive_all([delivery])[0]


_LINES = "L1,1,2025-07-01T10:00:00,2.5,\nL9,1,2025-07-01T10:00:00,2.5,\n"


def test_each_attempt_has_the_limit_of_the_receipt(plant: Plant) -> None:
    with Ledger.open(plant.store.inbox) as ledger:
        first = _taken(plant, ledger, _receive(ledger, MAPPING, _LINES, _OWN))
        assert first.counts.rejected_by_reason == {"unknown-device": 1}
        replay(ledger, [first.number])
        commit_all(plant.store, ledger)
        again = ledger.package(first.number)
        assert (again.attempts, again.counts.rejected_by_reason) == (2, {"unknown-device": 1})
    assert {row[0] for row in plant.current()} == {"L1"}


def test_packages_of_several_limits_wait_and_go_in_together(plant: Plant) -> None:
    limits = (None, _OWN, _OTHER, _BOTH, frozenset[str]())
    with Ledger.open(plant.store.inbox) as ledger:
        receipts = [
            _receive(ledger, MAPPING, _LINES.replace("10:00", f"1{n}:00"), limit)
            for n, limit in enumerate(limits)
        ]
        commit_all(plant.store, ledger)
        counts = [ledger.package(one.package).counts.accepted for one in receipts]
    assert counts == [2, 1, 1, 2, 0]
    assert check_store(plant.store).faults == []


@pytest.mark.parametrize("wider", [None, _BOTH, _OTHER])
def test_a_wider_receipt_holds_from_the_next_attempt(
    plant: Plant, wider: frozenset[str] | None
) -> None:
    with Ledger.open(plant.store.inbox) as ledger:
        first = _taken(plant, ledger, _receive(ledger, MAPPING, _LINES, _OWN))
        again = _receive(ledger, MAPPING, _LINES, wider)
        assert (again.repeated, again.wider) == (True, wider == _OTHER)
        assert ledger.package(first.number).attempts == 1, "nothing is taken in by itself"
        replay(ledger, [first.number])
        assert _taken(plant, ledger, again).counts.rejected == 0


def test_a_narrower_receipt_narrows_nothing_and_says_so(plant: Plant) -> None:
    with Ledger.open(plant.store.inbox) as ledger:
        _receive(ledger, MAPPING, _LINES)
        again = _receive(ledger, MAPPING, _LINES, _OWN)
        assert again.wider
        assert _taken(plant, ledger, again).counts.accepted == 2
        assert not _receive(ledger, MAPPING, _LINES).wider


def test_what_is_planned_ends_by_the_limit_it_was_planned_by(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wider receipt between reading the limit and planning, then a stop before the commit."""

    class Stopped(BaseException):
        pass

    plan = Groups.plan

    def stopped(groups: Groups, *asked: Any) -> Any:
        with Ledger.open(plant.store.inbox) as other:
            _receive(other, MAPPING, _LINES)
        plan(groups, *asked)
        raise Stopped

    with Ledger.open(plant.store.inbox) as ledger:
        receipt = _receive(ledger, MAPPING, _LINES, _OWN)
        with monkeypatch.context() as patched:
            patched.setattr(Groups, "plan", stopped)
            with pytest.raises(Stopped):
                commit_all(plant.store, ledger)
        package = _taken(plant, ledger, receipt)
        assert (package.error, package.counts.accepted, package.counts.rejected) == (None, 1, 1)
        replay(ledger, [package.number])
        assert _taken(plant, ledger, receipt).counts.accepted == 2


def test_a_reading_of_another_site_is_not_taken_from_it(plant: Plant) -> None:
    """Where the file names the machine, the same reading could be claimed for another one."""
    line = "X,1,2025-07-01T10:00:00,{value},{site}\n"
    with Ledger.open(plant.store.inbox) as ledger:
        _taken(plant, ledger, _receive(ledger, _POINT, line.format(value="2.5", site="mill")))
        claimed = line.format(value="9.9", site="works")
        more = claimed.replace("10:00", "11:00")
        mine = _taken(plant, ledger, _receive(ledger, _POINT, claimed + more, _OWN))
        assert mine.counts.rejected_by_reason == {"other-site": 1}
        assert mine.counts.accepted == 1
        later = claimed.replace("9.9", "7.7")
        assert _taken(plant, ledger, _receive(ledger, _POINT, later)).counts.revised == 1
    (refused,) = plant.ask("SELECT detail, ts_text FROM rejects")
    assert refused["detail"] == (
        "device 'X' channel '1' at 2025-07-01T10:00:00Z is a reading of another site"
    )
    rows = plant.ask("SELECT site, value FROM readings_current ORDER BY ts")
    assert [(row["site"], row["value"]) for row in rows] == [("works", 7.7), ("works", 9.9)]
    assert check_store(plant.store).faults == []


def test_an_event_of_another_site_is_not_taken_from_it(plant: Plant) -> None:
    first, moved = ({"version_at": f"2025-07-0{day}T06:00:00Z"} for day in (2, 3))
    with Ledger.open(plant.store.inbox) as ledger:
        _taken(plant, ledger, _report(ledger, _event("E1", "mill")))
        for more in (moved, {**moved, "status": "cancelled"}):
            mine = _taken(plant, ledger, _report(ledger, _event("E1", "works", **more), _OWN))
            assert mine.counts.rejected_by_reason == {"other-site": 1}
        own = _taken(plant, ledger, _report(ledger, _event("E2", "works", **first), _OWN))
        assert own.counts.accepted == 1
        _taken(plant, ledger, _report(ledger, _event("E2", "mill", **moved)))
        replay(ledger, [own.number])
        again = _taken(plant, ledger, Receipt(own.number, repeated=False))
        assert (again.error, again.counts.accepted) == (None, 1), "it was its own to store"
    rows = plant.ask("SELECT event, site FROM maintenance_current ORDER BY 1")
    assert [(row["event"], row["site"]) for row in rows] == [("E1", "mill"), ("E2", "mill")]
