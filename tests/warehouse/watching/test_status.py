"""The state of a store at a glance: what waits, what is late, what is silent."""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
from contextlib import closing

import pytest
from typer.testing import CliRunner

from tests.warehouse.watching.sites import Site
from warehouse.cli.app import app
from warehouse.inbox import Ledger
from warehouse.mapping import parse_mapping
from warehouse.services.folder import WatchedFolder
from warehouse.services.ingest import Arrival, commit_all, judge_now, receive
from warehouse.services.silence import Receipts, clock_faults
from warehouse.services.status import store_status
from warehouse.services.stopping import Stop
from warehouse.services.watching import Watch


def _received_at(site: Site, *times: dt.datetime) -> None:
    with closing(sqlite3.connect(site.store.inbox / "ledger.sqlite")) as ledger, ledger:
        for seq, time in enumerate(times, 1):
            ledger.execute(
                "UPDATE packages SET received_at = ? WHERE seq = ?", (time.isoformat(), seq)
            )
            ledger.execute("UPDATE life SET at = ? WHERE seq = ?", (time.isoformat(), seq))
            ledger.execute("UPDATE sources SET received_at = ?", (time.isoformat(),))


def _receive(site: Site, *days: int) -> None:
    with Ledger.open(site.store.inbox) as ledger:
        paths = [site.drop(f"{day}.csv", day) for day in days]
        receive(site.store, ledger, [Arrival(path, site.mapping) for path in paths])


def _ago(**parts: float) -> dt.datetime:
    return dt.datetime.now(dt.UTC) - dt.timedelta(**parts)


def test_an_empty_store_has_a_status(site: Site) -> None:
    found = store_status(site.store)
    assert (found.packages, found.backlog, found.oldest_waiting_seconds) == ({}, 0, None)
    assert (found.last_commit, found.judged_at, found.partitions) == (None, None, 0)
    assert CliRunner().invoke(app, ["status", "--home", str(site.home)]).exit_code == 0


def test_what_waits_and_for_how_long(site: Site) -> None:
    _receive(site, 1, 2)
    _received_at(site, _ago(hours=2), _ago(hours=1))
    found = store_status(site.store)
    assert (found.packages, found.backlog) == ({"received": 2}, 2)
    assert found.oldest_waiting_seconds == pytest.approx(7200, abs=60)


def test_how_far_the_judge_is_behind(site: Site) -> None:
    _receive(site, 1)
    with Ledger.open(site.store.inbox) as ledger:
        commit_all(site.store, ledger)
        judge_now(site.store)
        assert store_status(site.store).judge_behind == 0
        _receive(site, 2)
        commit_all(site.store, ledger)
    found = store_status(site.store)
    assert (found.judge_behind, found.partitions, found.files_most) == (1, 1, 2)
    assert found.judge_lag_seconds is not None
    assert found.last_commit is not None
    assert found.store_bytes > 10_000


def test_a_source_is_silent_after_three_intervals(site: Site) -> None:
    _receive(site, 1)
    now = dt.datetime.now(dt.UTC)
    with Ledger.open(site.store.inbox) as ledger:
        receipts = Receipts(ledger)
        (quiet,) = receipts.sources(now + dt.timedelta(hours=2, minutes=59))
        (silent,) = receipts.sources(now + dt.timedelta(hours=3, minutes=1))
    assert (quiet.silent, silent.silent) == (False, True)
    assert "one is due every 60 min" in silent.words(now)


def test_a_source_without_an_interval_is_never_silent(site: Site) -> None:
    text = site.mapping.read_text()
    site.mapping.write_text(text.replace("interval_minutes = 60\n", ""))
    _receive(site, 1)
    with Ledger.open(site.store.inbox) as ledger:
        (source,) = Receipts(ledger).sources(_ago(days=-1000))
    assert (source.interval_minutes, source.silent) == (None, False)


def test_an_interval_is_positive_and_versions_without_one_stay_what_they_were(site: Site) -> None:
    text = site.mapping.read_text()
    without = parse_mapping(text.replace("interval_minutes = 60\n", ""), "m")
    assert without.version == "bench-logger@3413e236"
    assert parse_mapping(text, "m").version != without.version
    with pytest.raises(Exception, match="greater than 0"):
        parse_mapping(text.replace("interval_minutes = 60", "interval_minutes = 0"), "m")


def test_watch_names_a_silent_source_once_and_when_it_is_back(site: Site) -> None:
    _receive(site, 1)
    _received_at(site, _ago(hours=5))
    said: list[str] = []
    with Ledger.open(site.store.inbox) as ledger:
        folder = WatchedFolder(site.folder, "none*", 0)
        watch = Watch(site.store, ledger, folder, site.mapping, said.append)
        for _ in range(2):
            watch._next_look = 0
            watch.run_once(Stop())
        _receive(site, 2)
        watch._next_look = 0
        watch.run_once(Stop())
    spoken = [text for text in said if text.startswith("source")]
    assert len(spoken) == 2
    assert spoken[0].startswith("source bench-logger is silent: its last new file came ")
    assert spoken[1] == "source bench-logger is back"


def test_a_clock_gone_wrong_is_said(site: Site) -> None:
    now = dt.datetime.now(dt.UTC)
    _receive(site, 1, 2)
    with Ledger.open(site.store.inbox) as ledger:
        assert clock_faults(ledger, now) == []
        _received_at(site, _ago(minutes=5), _ago(hours=-5))
        (ahead,) = clock_faults(ledger, now)
        assert "but this machine's clock says" in ahead
        _received_at(site, _ago(days=800), _ago(minutes=5))
        (jump,) = clock_faults(ledger, now)
        assert "the one before it of" in jump


def test_the_command_shows_all_of_it(site: Site) -> None:
    _receive(site, 1)
    _received_at(site, _ago(hours=5))
    shown = CliRunner().invoke(app, ["status", "--home", str(site.home)])
    assert shown.exit_code == 0
    assert "source bench-logger is silent" in shown.stdout
    as_json = json.loads(
        CliRunner().invoke(app, ["status", "--home", str(site.home), "--json"]).stdout
    )
    assert as_json["packages"] == {"received": 1}
    assert as_json["sources"][0]["silent"] is True
    assert {"rejects", "disk_free", "store_bytes", "files_median", "judge_lag_seconds"} <= set(
        as_json
    )
