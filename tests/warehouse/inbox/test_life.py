"""A package's life: every step of it, with its time and counts, whoever took it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from tests.warehouse.services.small_plant import make_plant, series, write_registry
from tests.warehouse.services.test_replay import _NEW_DEVICE
from warehouse.inbox import Ledger, Moment
from warehouse.services.ingest import commit_all, only_committer, receive, replay
from warehouse.services.registry import import_registry
from warehouse.services.retracting import retract


def _story(life: list[Moment]) -> list[tuple[object, ...]]:
    return [
        (m.state, m.attempt, m.counts.accepted if m.counts else None, m.file is not None)
        for m in life
    ]


def test_everything_that_happens_is_in_it(tmp_path: Path) -> None:
    started = dt.datetime.now(dt.UTC) - dt.timedelta(seconds=1)
    plant = make_plant(tmp_path)
    unknown = [("L9", "1", time, value) for _, _, time, value in series(0, 4)]
    (package,) = plant.ingest([*series(0, 3), *unknown])
    with Ledger.open(plant.store.inbox) as ledger:
        again = plant.arrive("sent-twice.csv", [*series(0, 3), *unknown])
        (receipt,) = receive(plant.store, ledger, [again])
        assert (receipt.package, receipt.repeated) == (package.number, True)
        import_registry(plant.store, write_registry(tmp_path / "registry", **_NEW_DEVICE))
        replay(ledger)
        commit_all(plant.store, ledger)
        with only_committer(plant.store):
            retract(plant.store, ledger, package.number, dry_run=False)
            retract(plant.store, ledger, package.number, dry_run=False, undo=True)
        life = ledger.life(package)
    assert _story(life) == [
        ("received", 1, None, True),
        ("committed-with-rejects", 1, 3, False),
        ("duplicate", 1, None, True),
        ("received", 2, None, False),
        ("committed", 2, 7, False),
        ("retracted", 2, 7, False),
        ("committed", 2, 7, False),
    ]
    times = [moment.at for moment in life if moment.at]
    assert len(times) == len(life)
    assert times == sorted(times)
    assert started < times[0]
    assert times[-1] <= dt.datetime.now(dt.UTC)
    assert life[2].file == "sent-twice.csv"


def test_a_failure_says_why(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    bad = tmp_path / "bad.csv"
    bad.write_text("a,b\n1,2\n", encoding="utf-8")
    arrival = plant.arrive("good.csv", series(0, 2))
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [type(arrival)(bad, arrival.mapping), arrival])
        commit_all(plant.store, ledger)
        failed, good = ledger.packages()
        assert (failed.state, good.state) == ("failed", "committed")
        last = ledger.life(failed)[-1]
    assert last.state == "failed"
    assert "lacks the column" in (last.error or "")
