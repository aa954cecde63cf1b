"""Watching a folder: complete files only, each once, none blocked by another."""

from __future__ import annotations

import os
import signal
import threading
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.warehouse.watching.sites import Process, Site, until
from warehouse.cli.app import app
from warehouse.errors import DiskFullError, MappingError, SourceMissingError, StoreError
from warehouse.inbox import Ledger
from warehouse.services.folder import WatchedFolder, mark_of
from warehouse.services.moving import move_to
from warehouse.services.stopping import Stop
from warehouse.services.watching import Watch, Watched


def _watch(
    site: Site, said: list[str], ledger: Ledger, pattern: str = "*.csv", moved: Path | None = None
) -> Watch:
    store = site.store
    folder = WatchedFolder(site.folder, pattern, store.settings.watch_rest_seconds)
    return Watch(store, ledger, folder, site.mapping, said.append, moved)


def _once(site: Site, said: list[str], moved: Path | None = None) -> Watched:
    with Ledger.open(site.store.inbox) as ledger:
        return _watch(site, said, ledger, moved=moved).run_once(Stop())


def test_a_file_is_complete_when_it_has_come_to_rest(tmp_path: Path) -> None:
    folder = WatchedFolder(tmp_path, "*.csv", 0.2)
    path = tmp_path / "a.csv"
    path.write_text("x")
    assert folder.complete() == []
    assert folder.growing == [path]
    time.sleep(0.12)
    path.write_text("xy")
    time.sleep(0.12)
    assert folder.complete() == [], "it changed in between"
    time.sleep(0.22)
    assert folder.complete() == [path]
    folder.done(path)
    assert folder.complete() == []
    path.write_text("xyz")
    os.utime(path, (1e9, 1e9))
    assert folder.complete() == [path], "changed: a new file under an old name"


def test_a_file_from_the_future_is_complete_too(tmp_path: Path) -> None:
    folder = WatchedFolder(tmp_path, "*", 0.1)
    path = tmp_path / "a.csv"
    path.write_text("x")
    os.utime(path, (4e9, 4e9))
    assert folder.complete() == []
    time.sleep(0.12)
    assert folder.complete() == [path]


def test_files_are_taken_in_name_order_and_failures_block_none(site: Site) -> None:
    site.drop("b.csv", 2)
    site.drop("c.csv", 3)
    (site.folder / "a.csv").write_bytes(b"\x00\x01 no table\n")
    (site.folder / "note.txt").write_text("not asked for")
    said: list[str] = []
    assert _once(site, said) == Watched(taken=3, repeated=0, failed=1)
    found = site.packages()
    assert [(p.file, p.state) for p in found] == [
        ("a.csv", "failed"),
        ("b.csv", "committed"),
        ("c.csv", "committed"),
    ]
    assert said[0].startswith("a.csv: failed: ")
    assert said[1] == "b.csv: 20 readings"


@pytest.mark.slow
def test_the_same_file_again_is_a_repeated_receipt_after_a_restart_only(site: Site) -> None:
    site.drop("a.csv")
    with Ledger.open(site.store.inbox) as ledger:
        watch = _watch(site, [], ledger)
        assert watch.run_once(Stop()).taken == 1
        assert watch.run_once(Stop()) == Watched()
    assert [p.repeats for p in site.packages()] == [0]
    said: list[str] = []
    assert _once(site, said) == Watched(repeated=1)
    assert [p.repeats for p in site.packages()] == [1]
    assert said[0].startswith(f"a.csv: duplicate of package {site.packages()[0].number}, received ")


def test_committed_files_are_moved_when_asked_failed_ones_stay(site: Site, tmp_path: Path) -> None:
    site.drop("a.csv")
    (site.folder / "bad.csv").write_bytes(b"\x00")
    done = tmp_path / "done"
    _once(site, [], done)
    assert [p.name for p in done.iterdir()] == ["a.csv"]
    assert [p.name for p in site.folder.iterdir()] == ["bad.csv"]


def test_moving_never_overwrites(tmp_path: Path) -> None:
    (tmp_path / "to").mkdir()
    for content in ("one", "two", "three"):
        (tmp_path / "a.csv").write_text(content)
        mark = mark_of(tmp_path / "a.csv")
        assert mark
        assert move_to(tmp_path / "a.csv", tmp_path / "to", mark)
    assert sorted(p.read_text() for p in (tmp_path / "to").iterdir()) == ["one", "three", "two"]


def test_what_cannot_be_watched_is_said_at_once(site: Site) -> None:
    with Ledger.open(site.store.inbox) as ledger:
        gone = WatchedFolder(site.folder / "gone", "*", 0.1)
        with pytest.raises(SourceMissingError, match=r"gone: it is not there; a folder"):
            Watch(site.store, ledger, gone, site.mapping, print)
        site.mapping.write_text("format_version = 1")
        with pytest.raises(MappingError):
            _watch(site, [], ledger)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_that_may_not_be_read_is_said_once_and_tried_again(site: Site) -> None:
    locked = site.drop("a.csv")
    locked.chmod(0)
    said: list[str] = []
    with Ledger.open(site.store.inbox) as ledger:
        watch = _watch(site, said, ledger)
        assert watch.run_once(Stop()).unread == 1
        assert watch.run_once(Stop()) == Watched()
        locked.chmod(0o600)
        assert watch.run_once(Stop()).taken == 1
    assert len([text for text in said if "Permission denied" in text]) == 1


@pytest.mark.slow
def test_a_full_disk_is_said_once_and_the_file_kept_for_later(site: Site) -> None:
    site.drop("a.csv")
    said: list[str] = []
    with Ledger.open(site.store.inbox) as ledger:
        watch = _watch(site, said, ledger)
        roomy = watch.store
        full = roomy.settings.model_copy(update={"free_disk_mb": 10**9})
        watch.store = type(roomy)(roomy.home, full)
        with pytest.raises(DiskFullError, match="free_disk_mb"):
            watch.run_once(Stop())
        stop = Stop()
        threading.Timer(0.5, stop.ask).start()
        assert watch.run(stop) == Watched()
        watch.store = roomy
        assert watch.run_once(Stop()).taken == 1
    assert len([text for text in said if "free_disk_mb" in text]) == 1


def test_a_move_to_folder_that_cannot_be(site: Site) -> None:
    site.mapping.with_name("file").write_text("")
    with (
        Ledger.open(site.store.inbox) as ledger,
        pytest.raises(StoreError, match="Not a directory"),
    ):
        _watch(site, [], ledger, moved=site.mapping.with_name("file") / "below")


def test_a_folder_is_not_moved_into_itself(site: Site) -> None:
    site.drop("a.csv")
    words = ["watch", str(site.folder), "-m", str(site.mapping), "--home", str(site.home)]
    found = CliRunner().invoke(app, [*words, "--once", "--move-to", f"{site.folder}/."])
    assert found.exit_code == 2
    assert "is the watched folder itself" in found.stderr
    assert site.packages() == []


def test_the_command_takes_files_as_they_come_and_stops_cleanly(site: Site) -> None:
    arguments = ("watch", str(site.folder), "-m", str(site.mapping), "--pattern", "*.csv")
    with Process(site, *arguments) as watch:
        until(lambda: "watching" in watch.said())
        growing = site.folder / "0.csv"
        growing.write_text("time,ch01\n")
        site.drop("a.csv")
        until(lambda: "a.csv: 20 readings" in watch.said())
        site.drop("b.csv", 2)
        until(lambda: "b.csv: 20 readings" in watch.said())
        assert watch.end(signal.SIGINT) == 0
        assert "taken in" in watch.said()
    assert {p.state for p in site.packages() if p.file != "0.csv"} == {"committed"}
