"""A package is withdrawn, and brought back: the last value of what was not withdrawn counts."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.services.deaths import dying_after
from tests.warehouse.services.small_plant import Plant, Reading, make_plant, stamp
from warehouse.errors import StoreError
from warehouse.inbox import Ledger
from warehouse.services.checking import check_store
from warehouse.services.ingest import commit_all, only_committer, receive
from warehouse.services.retracting import retract


def _at(minute: int, *values: str) -> list[Reading]:
    return [("L1", "1", stamp(minute), value) for value in values]


def _retract(plant: Plant, number: int, *, undo: bool = False) -> None:
    with Ledger.open(plant.store.inbox) as ledger:
        with only_committer(plant.store):
            retract(plant.store, ledger, number, undo=undo, dry_run=False)
        commit_all(plant.store, ledger)


def _values(plant: Plant) -> list[float]:
    return [row[3] for row in plant.current()]


def test_what_came_while_a_package_was_withdrawn_still_counts_once_it_is_back(
    tmp_path: Path,
) -> None:
    """The third value was a copy of the first while the second was withdrawn, and is none now."""
    plant = make_plant(tmp_path)
    _, second = plant.ingest(_at(0, "1.00"), _at(0, "2.00"))
    _retract(plant, second.number)
    plant.ingest(_at(0, "1.00", "--"))
    _retract(plant, second.number, undo=True)
    assert _values(plant) == [1.0]
    assert not check_store(plant.store).faults


def test_copies_of_a_package_that_is_brought_back_count_where_the_first_is_withdrawn(
    tmp_path: Path,
) -> None:
    plant = make_plant(tmp_path)
    first, second = plant.ingest(_at(0, "1.00"), [*_at(0, "1.00"), *_at(5, "7.00")])
    _retract(plant, second.number)
    _retract(plant, first.number)
    assert _values(plant) == []
    _retract(plant, second.number, undo=True)
    assert _values(plant) == [1.0, 7.0]
    with Ledger.open(plant.store.inbox) as ledger:
        after = ledger.package(second.number)
    assert (after.state, after.counts.items, after.counts.accounted) == ("committed", 2, 2)


def test_a_retraction_stopped_half_way_is_done_by_the_same_command(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    first, _ = plant.ingest(_at(0, "1.00"), _at(0, "1.00", "--"))
    with dying_after("superseded", "replace"):
        _retract(plant, first.number)
    plant.ingest(_at(0, "1.00", "--", "--"))
    _retract(plant, first.number)
    assert _values(plant) == [1.0]
    assert not check_store(plant.store).faults


def test_a_package_in_another_state_is_refused(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    failed = tmp_path / "failed.csv"
    failed.write_text("a,b\n", encoding="utf-8")
    with Ledger.open(plant.store.inbox) as ledger:
        arrival = plant.arrive("good.csv", _at(0, "1.00"))
        receive(plant.store, ledger, [type(arrival)(failed, arrival.mapping)])
        commit_all(plant.store, ledger)
        (package,) = ledger.packages()
    for undo in (False, True):
        with pytest.raises(StoreError, match="only a package that is"):
            _retract(plant, package.number, undo=undo)
