"""The clock goes wrong: nothing is decided wrongly, and when it is right again nothing is lost."""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from tests.warehouse.faults.confined import mcw_here
from tests.warehouse.faults.plants import Sent
from tests.warehouse.services.small_plant import Reading, series
from warehouse import clock
from warehouse.errors import ClockError
from warehouse.inbox import Ledger
from warehouse.services.folder import WatchedFolder
from warehouse.services.housekeeping import compact
from warehouse.services.ingest import commit_all
from warehouse.services.stopping import Stop
from warehouse.services.watching import Watch
from warehouse.store.snapshot import publish

Jump = Callable[[float], None]
_READ = clock.now
_YEARS = 365.25


@pytest.fixture
def jump(monkeypatch: pytest.MonkeyPatch) -> Jump:
    """Have the clock show so many days more than it does."""

    def to(days: float) -> None:
        monkeypatch.setattr(clock, "now", lambda: _READ() + dt.timedelta(days=days))

    return to


def _of_today(day: int, value: float) -> list[Reading]:
    """Readings of the last days, a minute apart."""
    start = _READ() + dt.timedelta(days=day)
    return [
        ("L1", "1", f"{start + dt.timedelta(minutes=n):%Y-%m-%dT%H:%M}", f"{value:.2f}")
        for n in range(5)
    ]


@pytest.mark.parametrize("back", [1, 200])
def test_the_later_receipt_wins_though_the_clock_went_back(
    sent: Sent, jump: Jump, back: int
) -> None:
    sent.take_in(sent.file(0, series(0, 10, value=2.0)))
    jump(-back)
    sent.take_in(sent.file(1, series(0, 10, value=3.0)))
    sent.take_in(sent.file(2, series(5, 10, value=4.0)))
    assert sent.current() == sent.expected
    with Ledger.open(sent.store.inbox) as ledger:
        first, second, third = ledger.packages()
        said = ledger.life(second)[0].at
    assert first.received_at < second.received_at < third.received_at
    assert said is not None
    assert first.received_at - said > dt.timedelta(days=back) - dt.timedelta(hours=1)


@pytest.mark.slow
@pytest.mark.parametrize("days", [30 * _YEARS, -1.7 * _YEARS], ids=["ahead", "behind"])
def test_what_a_wrong_clock_refused_comes_in_by_replay(sent: Sent, jump: Jump, days: float) -> None:
    sent.take_in(sent.file(0, series(0, 5)))
    jump(days)
    if clock.now() < clock.EARLIEST:
        jump(-(_READ() - clock.EARLIEST).days + 1)
    (number,) = sent.take_in(sent.file(1, _of_today(-1, 3.0)))
    with Ledger.open(sent.store.inbox) as ledger:
        assert ledger.package(number).counts.rejected_by_reason == {"time-out-of-range": 5}
    jump(0)
    sent.take_in(sent.file(2, _of_today(-2, 4.0)))
    assert mcw_here("replay", "--home", sent.home).code == 0
    sent.check()


def test_a_device_whose_clock_is_ahead_is_refused_then_and_later(sent: Sent) -> None:
    ahead = _of_today(3, 5.0)
    (number,) = sent.take_in(sent.file(0, [*_of_today(-1, 2.0), *ahead]))
    store = sent.store
    with Ledger.open(store.inbox) as ledger:
        ledger.reopen([ledger.package(number)])
        later = (_READ() + dt.timedelta(days=10)).isoformat()
        with closing(sqlite3.connect(store.inbox / "ledger.sqlite")) as other, other:
            other.execute("UPDATE life SET at = ? WHERE attempt = 2", (later,))
        commit_all(store, ledger)
        assert ledger.package(number).attempts == 2
        assert ledger.package(number).counts.rejected_by_reason == {"time-out-of-range": 5}
    for reading in ahead:
        del sent.expected[reading[:3]]
    assert sent.current() == sent.expected


def test_a_clock_of_before_this_program_receives_nothing(
    tmp_path: Path, sent: Sent, jump: Jump
) -> None:
    drop = tmp_path / "drop"
    drop.mkdir()
    file = sent.file(0)
    file = file.rename(drop / file.name)
    jump(-55 * _YEARS)
    ended = mcw_here(*sent.ingest(file))
    assert ended.code == ClockError.exit_code
    assert "UTC, which cannot be; set the clock" in ended.err
    assert "which cannot be" in mcw_here("status", "--home", sent.home).out
    said: list[str] = []
    with Ledger.open(sent.store.inbox) as ledger:
        folder = WatchedFolder(drop, "*.csv", 0)
        watch = Watch(sent.store, ledger, folder, sent.mapping, said.append)
        stop = Stop()
        threading.Timer(0.5, stop.ask).start()
        assert watch.run(stop).taken == 0
        assert ledger.packages() == []
        assert len([text for text in said if "set the clock" in text]) == 1
        jump(0)
        assert watch.run_once(Stop()).taken == 1
    sent.check()


@pytest.mark.slow
def test_vacuum_removes_nothing_by_a_clock_that_jumped(sent: Sent, jump: Jump) -> None:
    store = sent.store
    sent.take_in(*map(sent.file, range(3)))
    publish(store, clock.now())
    list(compact(store))
    publish(store, clock.now())
    home = ("--home", sent.home)
    files = {path for path in sent.home.rglob("*") if path.is_file()}

    jump(5 * _YEARS)
    assert mcw_here("vacuum", "--yes", *home).code == 0
    publish(store, clock.now())
    assert mcw_here("vacuum", "--yes", *home).code == 0
    assert files - {path for path in sent.home.rglob("*") if path.is_file()} == set()

    jump(1)
    ended = mcw_here("vacuum", "--yes", *home)
    assert ended.code == ClockError.exit_code
    assert "`mcw judge` publishes a state of today" in ended.err
    assert mcw_here("judge", *home).code == 0
    assert mcw_here("vacuum", "--yes", *home).code == 0
    assert files - {path for path in sent.home.rglob("*") if path.is_file()} == set()

    for days in range(2, 20, 4):
        jump(days)
        publish(store, clock.now())
    assert json.loads(mcw_here("vacuum", "--yes", *home, "--json").out)["files"] != []
    sent.check()


def test_status_and_the_background_process_name_what_is_wrong(sent: Sent, jump: Jump) -> None:
    home = ("--home", sent.home)
    jump(400)
    sent.take_in(sent.file(0))
    jump(0)
    assert "but this machine's clock says" in mcw_here("status", *home).out
    assert "but this machine's clock says" in mcw_here("run", "--once", *home).err
    sent.take_in(sent.file(1))
    found = mcw_here("status", *home).out
    assert "counts as of" in found
    assert "`mcw replay`" in found


@pytest.mark.slow
def test_what_was_judged_in_the_future_is_judged_again(sent: Sent, jump: Jump) -> None:
    home = ("--home", sent.home)
    sent.take_in(sent.file(0))
    jump(400)
    assert mcw_here("judge", *home).code == 0
    jump(0)
    assert "judged:" in mcw_here("run", "--once", *home).err
    assert "judged:" not in mcw_here("run", "--once", *home).err
