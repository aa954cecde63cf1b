"""The program dies at any step of taking files in; started again, the dataset is as if it had not.

Death is simulated by an error no code catches, raised before or after a step;
`proof` of a real kill stands apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.services.deaths import PowerCut
from tests.warehouse.services.small_plant import Plant, Reading, make_plant, series, stamp
from warehouse.inbox import Counts, Ledger
from warehouse.inbox.database import Database
from warehouse.services.ingest import commit_all, receive
from warehouse.store.delta import DeltaLog

_FIRST: list[Reading] = series(0, 6)
_SECOND: list[Reading] = [
    *series(4, 4),  # two revise the first, two are new
    ("L1", "1", stamp(0), "9.00"),  # revises the first
    ("L1", "1", stamp(1), "CAL"),  # no number
    ("L9", "1", stamp(1), "2.00"),  # no such device
    ("L1", "2", stamp(1441), "4.00"),  # another day
]
_EXPECTED = {
    **{("L1", "1", stamp(n)): f"{2 + n / 100:.2f}" for n in range(1, 4)},
    **{("L1", "1", stamp(4 + n)): f"{2 + n / 100:.2f}" for n in range(4)},
    ("L1", "1", stamp(0)): "9.00",
    ("L1", "2", stamp(1441)): "4.00",
}
_REVISED = 3
_TABLES = ("rejects", "superseded", "readings")
_TRANSACTIONS = 4
"""Of the ledger, while both files are taken in."""


def _die_in_append(table: str, after: bool) -> Callable[[pytest.MonkeyPatch], None]:
    def arm(patch: pytest.MonkeyPatch) -> None:
        append = DeltaLog.append

        def dying(self: DeltaLog, *arguments: Any, **named: Any) -> bool:
            if self.table.name != table:
                return append(self, *arguments, **named)
            if after:
                append(self, *arguments, **named)
            raise PowerCut(table)

        patch.setattr(DeltaLog, "append", dying)

    return arm


def _die_in_transaction(number: int) -> Callable[[pytest.MonkeyPatch], None]:
    """Die before the ledger's `number`-th transaction ends."""

    def arm(patch: pytest.MonkeyPatch) -> None:
        transaction: Callable[[Database], AbstractContextManager[Any]] = Database.transaction
        begun = [0]

        @contextmanager
        def dying(self: Database) -> Iterator[Any]:
            begun[0] += 1
            with transaction(self) as ledger:
                yield ledger
                if begun[0] == number:
                    raise PowerCut(f"transaction {number}")

        patch.setattr(Database, "transaction", dying)

    return arm


def _check(plant: Plant) -> None:
    found = plant.current()
    assert {row[:3]: f"{row[3]:.2f}" for row in found} == _EXPECTED
    assert len(found) == len(_EXPECTED)
    with Ledger.open(plant.store.inbox) as ledger:
        packages = ledger.packages()
        assert ledger.pending() == []
    total = [sum(getattr(p.counts, name) for p in packages)
             for name in ("items", "accepted", "duplicate", "revised", "rejected")]  # fmt: skip
    assert total == [14, 9, 0, _REVISED, 2]
    for package in packages:
        assert package.counts.accounted == package.counts.items
    (stored,) = plant.ask(
        "SELECT (SELECT count(*) FROM readings) AS rows,"
        " (SELECT count(*) FROM superseded) AS ended,"
        " (SELECT count(*) FROM rejects) AS refused,"
        " (SELECT count(*) FROM (SELECT DISTINCT package, row FROM readings)) AS places"
    )
    assert stored == {"rows": 9 + _REVISED, "ended": _REVISED, "refused": 2, "places": 9 + _REVISED}


def _crash_then_start_again(
    folder: Path, arm: Callable[[pytest.MonkeyPatch], None], apart: bool = False
) -> tuple[Plant, bool]:
    """Both files go in together, or the second alone once the first is there."""
    plant = make_plant(folder)
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [plant.arrive("first.csv", _FIRST)])
        if apart:
            commit_all(plant.store, ledger)
        receive(plant.store, ledger, [plant.arrive("second.csv", _SECOND)])
        with pytest.MonkeyPatch.context() as patch:
            arm(patch)
            try:
                commit_all(plant.store, ledger)
                died = False
            except PowerCut:
                died = True
    with Ledger.open(plant.store.inbox) as ledger:
        commit_all(plant.store, ledger)
    return plant, died


def _die(plant: Plant, ledger: Ledger, arm: Callable[[pytest.MonkeyPatch], None]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        arm(patch)
        with pytest.raises(PowerCut):
            commit_all(plant.store, ledger)


def test_without_a_crash(tmp_path: Path) -> None:
    plant, died = _crash_then_start_again(tmp_path, lambda _: None)
    assert not died
    _check(plant)


def _matrix() -> Iterator[Any]:
    """Each table, before and after its commit, the files together or apart; most apart are slow."""
    for table, after, apart in product(_TABLES, (False, True), (False, True)):
        slow = apart and (table, after) != ("readings", True)
        name = f"{table}-{'after' if after else 'before'}-{'apart' if apart else 'together'}"
        yield pytest.param(table, after, apart, id=name, marks=[pytest.mark.slow] * slow)


@pytest.mark.parametrize(("table", "after", "apart"), list(_matrix()))
def test_death_around_a_commit(tmp_path: Path, table: str, after: bool, apart: bool) -> None:
    plant, died = _crash_then_start_again(tmp_path, _die_in_append(table, after), apart)
    assert died
    _check(plant)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(1, _TRANSACTIONS + 1))
def test_death_in_a_ledger_transaction(tmp_path: Path, number: int) -> None:
    plant, died = _crash_then_start_again(tmp_path, _die_in_transaction(number))
    assert died
    _check(plant)


def test_no_ledger_transaction_is_left_out(tmp_path: Path) -> None:
    _, died = _crash_then_start_again(tmp_path, _die_in_transaction(_TRANSACTIONS + 1))
    assert not died, "one more transaction: count it in _TRANSACTIONS"


def test_death_twice_in_a_row(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [plant.arrive("first.csv", _FIRST)])
        receive(plant.store, ledger, [plant.arrive("second.csv", _SECOND)])
        for arm in (_die_in_append("superseded", True), _die_in_append("readings", True)):
            _die(plant, ledger, arm)
        commit_all(plant.store, ledger)
    _check(plant)


def test_counts_survive_a_death_between_dataset_and_ledger(tmp_path: Path) -> None:
    """Counted once, before the commit: recounting would call every reading a duplicate."""
    plant = make_plant(tmp_path)
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [plant.arrive("first.csv", _FIRST)])
        _die(plant, ledger, _die_in_append("readings", True))
        commit_all(plant.store, ledger)
        (package,) = ledger.packages()
    assert package.counts == Counts(items=6, accepted=6)
    assert len(plant.current()) == 6
