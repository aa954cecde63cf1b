"""What was refused comes in once the registry knows it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.services.deaths import dying_after
from tests.warehouse.services.small_plant import (
    REGISTRY,
    make_plant,
    series,
    stamp,
    write_registry,
)
from warehouse.errors import NotFoundError
from warehouse.inbox import Ledger
from warehouse.inbox.upkeep import newest_ledger
from warehouse.services.ingest import commit_all, judge_now, replay
from warehouse.services.judging import published
from warehouse.services.registry import import_registry
from warehouse.services.rejected import first_rejects, open_rejects

_NEW_DEVICE = {
    "devices": REGISTRY["devices"] + "L9,logger,wired\n",
    "mountings": REGISTRY["mountings"]
    + "L9,1,works,M-2,motor-de,horizontal,2020-01-01T00:00:00Z,passed\n",
}
REGISTRY_MOUNTED = "L1,1,works,M-1,motor-de,horizontal,2020"


def test_registering_a_device_brings_its_history_in(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    known = series(0, 3)
    unknown = [("L9", "1", time, value) for _, _, time, value in series(0, 4)]
    (package,) = plant.ingest([*known, *unknown, ("L1", "1", stamp(9), "CAL")])
    assert package.state == "committed-with-rejects"
    assert package.counts.rejected_by_reason == {"unknown-device": 4, "bad-number": 1}
    judge_now(plant.store)
    assert {g["reason"]: g["items"] for g in open_rejects(plant.store, 50).groups} == {
        "unknown-device": 4,
        "bad-number": 1,
    }

    import_registry(plant.store, write_registry(tmp_path / "registry", **_NEW_DEVICE))
    with Ledger.open(plant.store.inbox) as ledger:
        assert replay(ledger) == [package.number]
        commit_all(plant.store, ledger)
        after = ledger.package(package.number)
    judge_now(plant.store)

    assert after.attempts == 2
    assert (after.counts.items, after.counts.accepted, after.counts.rejected) == (8, 7, 1)
    assert after.counts.rejected_by_reason == {"bad-number": 1}
    placed = plant.ask("SELECT asset, count(*) AS n FROM readings_current GROUP BY ALL ORDER BY 1")
    assert placed == [{"asset": "M-1", "n": 3}, {"asset": "M-2", "n": 4}]
    found = open_rejects(plant.store, 50)
    assert [(g["reason"], g["items"]) for g in found.groups] == [("bad-number", 1)]
    assert [row["reason"] for row in found.rows] == ["bad-number"]


def test_what_a_replay_found_to_be_known_is_open_no_more(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    again = ("L9", "1", stamp(0), "2.00")
    first, second = plant.ingest([again], [again, ("L8", "1", stamp(0), "2.00")])
    import_registry(plant.store, write_registry(tmp_path / "registry", **_NEW_DEVICE))
    for attempt in (2, 3):
        with Ledger.open(plant.store.inbox) as ledger:
            replay(ledger)
            commit_all(plant.store, ledger)
            after = ledger.package(second.number)
        judge_now(plant.store)
        assert (after.attempts, after.counts.duplicate, after.counts.rejected) == (attempt, 1, 1)
        found = open_rejects(plant.store, 50)
        assert [(g["reason"], g["items"]) for g in found.groups] == [("unknown-device", 1)]
        assert [(row["package"], row["device"]) for row in found.rows] == [(second.number, "L8")]
        versions = published(plant.store).versions
        with newest_ledger(plant.store) as ledger:
            values = {"sources": None, "reason": None, "most": 50}
            shown = {
                number: first_rejects(plant.store, ledger, versions, number, **values)
                for number in (first.number, second.number)
            }
        assert [row["device"] for row in shown[second.number]] == ["L8"]
        assert shown[first.number] == []
    recorded = plant.ask("SELECT package, device, attempt FROM rejects ORDER BY ALL")
    assert [
        (row["device"], row["attempt"]) for row in recorded if row["package"] == second.number
    ] == [
        ("L8", 1),
        ("L8", 2),
        ("L9", 1),
    ]


def test_replay_by_source_and_reason(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    unknown, bad, both = plant.ingest(
        [("L9", "1", stamp(0), "2.00")],
        [("L1", "1", stamp(1), "CAL")],
        [("L9", "1", stamp(2), "2.00"), ("L1", "1", stamp(3), "CAL")],
    )
    with Ledger.open(plant.store.inbox) as ledger:
        assert replay(ledger, reason="unknown-device") == [unknown.number, both.number]
        commit_all(plant.store, ledger)
        assert replay(ledger, [bad.number, both.number], reason="bad-number") == [
            bad.number,
            both.number,
        ]
        commit_all(plant.store, ledger)
        assert replay(ledger, source="nobody") == []
        assert replay(ledger, [bad.number], source="logger") == [bad.number]


@pytest.mark.slow
def test_another_reason_on_replay_is_recorded_and_has_the_say(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    (package,) = plant.ingest([*series(0, 2), ("L9", "1", stamp(0), "2.00")])
    later = _NEW_DEVICE["mountings"].replace("horizontal,2020", "horizontal,2026")
    later = later.replace("L1,1,works,M-1,motor-de,horizontal,2026", REGISTRY_MOUNTED)
    import_registry(
        plant.store,
        write_registry(tmp_path / "registry", **{**_NEW_DEVICE, "mountings": later}),
    )
    for _ in range(2):
        with Ledger.open(plant.store.inbox) as ledger:
            replay(ledger)
            commit_all(plant.store, ledger)
    judge_now(plant.store)
    found = open_rejects(plant.store, 50)
    assert [(g["reason"], g["items"]) for g in found.groups] == [("not-mounted", 1)]
    assert [(r["reason"], r["attempt"]) for r in found.rows] == [("not-mounted", 2)]
    stored = plant.ask("SELECT reason, attempt FROM rejects ORDER BY attempt")
    assert [tuple(row.values()) for row in stored] == [("unknown-device", 1), ("not-mounted", 2)]
    assert package.attempts == 1


def test_replay_without_a_change_changes_nothing(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    (package,) = plant.ingest([*series(0, 3), ("L9", "1", stamp(0), "2.00")])
    before = plant.ask("SELECT * FROM readings ORDER BY row")
    for _ in range(2):
        with Ledger.open(plant.store.inbox) as ledger:
            replay(ledger, [package.number])
            commit_all(plant.store, ledger)
            after = ledger.package(package.number)
        assert after.counts == package.counts
    assert plant.ask("SELECT * FROM readings ORDER BY row") == before
    assert plant.ask("SELECT count(*) AS n FROM rejects") == [{"n": 1}]


def test_replay_of_an_unknown_package_is_refused(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    with Ledger.open(plant.store.inbox) as ledger, pytest.raises(NotFoundError, match="77"):
        replay(ledger, [77])


def test_only_packages_with_rejects_are_replayed(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    clean, dirty = plant.ingest(series(0, 2), [("L9", "1", stamp(0), "2.00")])
    with Ledger.open(plant.store.inbox) as ledger:
        assert replay(ledger) == [dirty.number]
        assert ledger.package(clean.number).state == "committed"


def test_a_package_that_waits_is_not_put_in_line_again(tmp_path: Path) -> None:
    """Its commit may be half made: forgotten, it could not be finished."""
    plant = make_plant(tmp_path)
    unknown = [("L9", "1", time, value) for _, _, time, value in series(0, 4)]
    (package,) = plant.ingest([*series(0, 3), *unknown])
    import_registry(plant.store, write_registry(tmp_path / "registry", **_NEW_DEVICE))
    with Ledger.open(plant.store.inbox) as ledger:
        assert replay(ledger) == [package.number]
        with dying_after("readings"):
            commit_all(plant.store, ledger)
        assert replay(ledger) == []
        assert replay(ledger, [package.number]) == []
        commit_all(plant.store, ledger)
        after = ledger.package(package.number)
    assert (after.state, after.counts.accepted, after.counts.rejected) == ("committed", 7, 0)
