"""The background process: what others received is committed and judged; one runner a store."""

from __future__ import annotations

import datetime as dt
import signal
import sqlite3
import threading
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from schemas.tables.readings import READINGS
from tests.warehouse.watching.sites import Process, Site, until
from warehouse.errors import BusyError, StoreError
from warehouse.inbox import Ledger
from warehouse.services.desk import Desk
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.packages import wait_for_package
from warehouse.services.running import Runner, only_runner
from warehouse.services.stopping import Stop
from warehouse.store.snapshot import newest


def _receive(site: Site, *paths: Path) -> None:
    with Ledger.open(site.store.inbox) as ledger:
        receive(site.store, ledger, [Arrival(path, site.mapping) for path in paths])


def _say_received_at(site: Site, moment: str) -> None:
    with sqlite3.connect(site.store.inbox / "ledger.sqlite") as ledger:
        ledger.execute("UPDATE packages SET received_at = ?", (moment,))
    ledger.close()


def test_a_step_commits_judges_and_then_rests(site: Site) -> None:
    _receive(site, site.drop("a.csv"), site.drop("b.csv", 2))
    said: list[str] = []
    with Ledger.open(site.store.inbox) as ledger:
        runner = Runner(site.store, ledger, said.append)
        assert runner.step(Stop())
        published = newest(site.store)
        assert not runner.step(Stop())
    assert {p.state for p in site.packages()} == {"committed"}
    assert published is not None
    assert newest(site.store) == published, "nothing new, nothing judged"
    assert said[0] == "2 packages committed, 40 items accepted"


def test_what_was_committed_but_never_judged_is_judged(site: Site) -> None:
    with Ledger.open(site.store.inbox) as ledger:
        Runner(site.store, ledger, print).step(Stop())
        before = newest(site.store)
        _receive(site, site.drop("a.csv"))
        commit_all(site.store, ledger)
        assert Runner(site.store, ledger, print).step(Stop())
    after = newest(site.store)
    assert before is not None
    assert after is not None
    assert after.versions["readings"] > before.versions["readings"]


def test_a_stop_asked_for_leaves_the_rest_for_the_next(site: Site) -> None:
    _receive(site, site.drop("a.csv"))
    stop = Stop()
    stop.ask()
    with Ledger.open(site.store.inbox) as ledger:
        runner = Runner(site.store, ledger, print)
        runner.step(stop)
        assert newest(site.store) is None
        runner.step(Stop())
        assert not ledger.any_pending()


def test_an_unusable_package_is_said_and_blocks_none(site: Site) -> None:
    bad = site.folder / "bad.csv"
    bad.write_bytes(b"\x00")
    _receive(site, bad, site.drop("a.csv"))
    said: list[str] = []
    with Ledger.open(site.store.inbox) as ledger:
        Runner(site.store, ledger, said.append).step(Stop())
    assert [p.state for p in site.packages()] == ["failed", "committed"]
    assert any("failed: bad.csv" in text for text in said)


@pytest.mark.slow
def test_packages_come_together_for_a_while_before_they_are_committed(site: Site) -> None:
    store = site.opened(commit_seconds=3600)
    _receive(site, site.drop("a.csv"))
    with Ledger.open(store.inbox) as ledger:
        runner = Runner(store, ledger, print)
        runner.step(Stop())
        _receive(site, site.drop("b.csv", 2))
        runner.step(Stop())
        assert [p.state for p in site.packages()] == ["received", "received"]
        hour_ago = dt.datetime.now(dt.UTC) - dt.timedelta(hours=1)
        _say_received_at(site, hour_ago.isoformat())
        runner.step(Stop())
        assert not ledger.any_pending()
    assert store.table(READINGS).version() == 1, "one commit for both"


def test_what_somebody_waits_for_is_committed_at_once(site: Site) -> None:
    store = site.opened(commit_seconds=3600)
    _receive(site, site.drop("a.csv"))
    with Ledger.open(store.inbox) as ledger:
        runner = Runner(store, ledger, print)
        runner.step(Stop())
        assert ledger.any_pending()
        places = SimpleNamespace(one=lambda: nullcontext(store))
        wait_for_package(cast("Desk", SimpleNamespace(places=places)), site.packages()[0].number, 0)
        runner.step(Stop())
        assert not ledger.any_pending()
        _receive(site, site.drop("b.csv", 2))
        runner.step(Stop())
        assert ledger.any_pending(), "nobody waits for this one"


def test_enough_bytes_do_not_wait(site: Site) -> None:
    store = site.opened(commit_seconds=3600, commit_mb=1)
    large = site.drop("a.csv")
    with large.open("a") as stream:
        stream.write(" " * 1_000_000)
    _receive(site, large)
    with Ledger.open(store.inbox) as ledger:
        Runner(store, ledger, print).step(Stop())
        assert not ledger.any_pending()


def test_a_clock_put_back_keeps_nothing_waiting(site: Site) -> None:
    store = site.opened(commit_seconds=3600)
    _receive(site, site.drop("a.csv"))
    _say_received_at(site, "2090-01-01T00:00:00+00:00")
    with Ledger.open(store.inbox) as ledger:
        Runner(store, ledger, print).step(Stop())
        assert not ledger.any_pending()


class _Troubled(Runner):
    """A runner two of whose steps meet trouble that passes."""

    trouble = 2

    def step(self, stop: Stop) -> bool:
        if self.trouble:
            self.trouble -= 1
            raise StoreError(self.store.home, "the share is away", "bring it back")
        stop.ask()
        return super().step(Stop())


def test_trouble_is_said_once_and_tried_again(site: Site) -> None:
    _receive(site, site.drop("a.csv"))
    said: list[str] = []
    with Ledger.open(site.store.inbox) as ledger:
        _Troubled(site.store, ledger, said.append).run(Stop())
        assert not ledger.any_pending()
    assert [text for text in said if "share" in text] == [
        f"{site.home}: the share is away; bring it back (trying again)"
    ]


def test_a_second_runner_is_refused_and_told_who_is_at_work(site: Site) -> None:
    with only_runner(site.store, wait=False):
        with Process(site, "run") as second:
            assert second.process.wait(30) == BusyError.exit_code
        assert "another `mcw run` is at work here: process " in second.said()
        assert "--wait" in second.said()


def test_a_second_runner_that_waits_takes_over(site: Site) -> None:
    held, release = threading.Event(), threading.Event()

    def hold() -> None:
        with only_runner(site.store, wait=False):
            held.set()
            release.wait(30)

    holder = threading.Thread(target=hold)
    holder.start()
    held.wait(10)
    took_over = threading.Event()

    def wait() -> None:
        with only_runner(site.store, wait=True):
            took_over.set()

    waiter = threading.Thread(target=wait)
    waiter.start()
    assert not took_over.wait(0.3)
    release.set()
    assert took_over.wait(10)
    holder.join()
    waiter.join()


@pytest.mark.slow
def test_the_command_works_for_receivers_elsewhere_and_is_killed_safely(site: Site) -> None:
    with Process(site, "run") as run:
        until(lambda: "at work on" in run.said())
        _receive(site, site.drop("a.csv"))
        until(lambda: "judged" in run.said() and "1 package " in run.said())
        assert run.end(signal.SIGKILL) == -signal.SIGKILL
    _receive(site, site.drop("b.csv", 2))
    with Process(site, "run") as run:
        until(lambda: "1 package committed, 20 items accepted" in run.said())
        assert run.end(signal.SIGTERM) == 0
        assert run.said().rstrip().endswith("stopped")
    with sqlite3.connect(site.store.inbox / "ledger.sqlite") as ledger:
        states = ledger.execute("SELECT state, accepted FROM packages ORDER BY seq").fetchall()
    ledger.close()
    assert states == [("committed", 20), ("committed", 20)]
