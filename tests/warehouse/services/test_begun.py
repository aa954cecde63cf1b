"""What a stopped program had begun is finished before anything else changes."""

from __future__ import annotations

from pathlib import Path

from tests.warehouse.services.deaths import dying_after, half_committed
from tests.warehouse.services.small_plant import (
    REGISTRY,
    Plant,
    Reading,
    make_plant,
    stamp,
    write_registry,
)
from warehouse.inbox import Ledger
from warehouse.services.ingest import commit_all, only_committer, replay
from warehouse.services.registry import import_registry
from warehouse.services.retracting import retract

_NEW_DEVICE = {
    "devices": REGISTRY["devices"] + "L9,logger,wired\n",
    "mountings": REGISTRY["mountings"]
    + "L9,1,works,M-2,motor-de,horizontal,2020-01-01T00:00:00Z,passed\n",
}
_MOVED = {"mountings": REGISTRY["mountings"].replace("L1,1,works,M-1", "L1,1,works,M-2")}


def _at(minute: int, *values: str, device: str = "L1") -> list[Reading]:
    return [(device, "1", stamp(minute), value) for value in values]


def _retract(plant: Plant, number: int) -> None:
    with Ledger.open(plant.store.inbox) as ledger, only_committer(plant.store):
        retract(plant.store, ledger, number, dry_run=False)


def _commit(plant: Plant) -> None:
    with Ledger.open(plant.store.inbox) as ledger:
        commit_all(plant.store, ledger)


def test_a_commit_half_made_is_finished_before_a_package_is_withdrawn(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    first, _ = plant.ingest(_at(0, "1.00"), _at(0, "2.00"))
    half_committed(plant, _at(0, "3.00"))
    _retract(plant, first.number)
    _commit(plant)
    assert [row[3] for row in plant.current()] == [3.0]


def test_a_commit_half_made_is_finished_before_the_registry_changes(tmp_path: Path) -> None:
    """It was planned without the new device: its values would belong to no recorded commit."""
    plant = make_plant(tmp_path)
    plant.ingest(_at(0, "1.00"))
    strange = [*_at(0, "1.00", "2.00", device="L9"), *_at(2000, "4.00", device="L9")]
    number = half_committed(plant, [*_at(0, "3.00"), *strange])
    import_registry(plant.store, write_registry(tmp_path / "registry", **_NEW_DEVICE))
    with Ledger.open(plant.store.inbox) as ledger:
        assert ledger.package(number).counts.rejected_by_reason == {"unknown-device": 3}
        replay(ledger)
        commit_all(plant.store, ledger)
        after = ledger.package(number)
    assert (after.counts.items, after.counts.accounted, after.counts.rejected) == (4, 4, 0)
    shown = [(row[0], row[3]) for row in plant.current()]
    assert shown == [("L1", 3.0), ("L9", 2.0), ("L9", 4.0)]


def test_a_re_placing_half_made_is_finished_before_a_package_is_withdrawn(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    (package,) = plant.ingest(_at(0, "1.00"))
    with dying_after("superseded"):
        import_registry(plant.store, write_registry(tmp_path / "registry", **_MOVED))
    _retract(plant, package.number)
    _commit(plant)
    assert plant.current() == []
