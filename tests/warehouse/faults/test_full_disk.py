"""The disk is full, for real: said with its own exit code, and after room is made nothing is lost.

A small disk of its own where this machine lets one be made, and a bound on the
size of files, which stops writes in other places, everywhere.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.warehouse.cli.running import Ended
from tests.warehouse.faults.confined import Confined, confined
from tests.warehouse.faults.plants import Sent, leftovers
from tests.warehouse.services.small_plant import Plant, series
from warehouse.errors import DiskFullError
from warehouse.store import open_store

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="needs namespaces and rlimits")
_LARGE = 10_000
"""Readings of a file too large for the ledger: its bytes are kept beside it."""


def _no_room(ended: Ended) -> None:
    assert ended.code == DiskFullError.exit_code, ended.said
    assert any(word in ended.err for word in ("is full", "that large", "no room"))
    assert "make room" in ended.err or "ulimit" in ended.err


def _place(ended: Ended) -> str:
    """Where it happened, below the store."""
    return ended.err.partition(": ")[0].rpartition("/store")[2].partition("/part-")[0]


@pytest.mark.slow
def test_taking_in_at_any_moment_of_a_filling_disk(tmp_path: Path) -> None:
    places = set()
    with confined(tmp_path / "disk") as small:
        disk = small.seen(tmp_path / "disk")
        sent = Sent.begin(disk / "plant")
        for step in range(1, 40):
            command = sent.ingest(sent.file(step))
            small.fill(disk, leave=step * 32_000)
            ended = small.mcw(*command)
            small.make_room(disk)
            if ended.code == 0:
                break
            _no_room(ended)
            places.add(_place(ended))
            again = small.mcw(*command)
            assert again.code == 0, again.said
            status = small.mcw("status", "--home", sent.home, "--json")
            assert '"judge_behind": 0' in status.out, "what was committed is judged, too"
        copy = sent.copied_to(tmp_path / "copy")
    assert len(places) > 2, "in the ledger, and in several tables"
    copy.check()


@pytest.mark.slow
def test_a_large_file_is_kept_whole_or_not_at_all(tmp_path: Path, bounded: Confined) -> None:
    sent = Sent.begin(tmp_path / "plant")
    file = sent.file(0, series(0, _LARGE))
    _no_room(bounded.mcw(*sent.ingest(file), largest_file=200_000))
    assert [path for path in sent.home.glob("inbox/payloads/**/*") if path.is_file()] == []
    assert bounded.mcw(*sent.ingest(file)).code == 0
    sent.check()


def test_a_store_is_begun_and_gone_on_with(tmp_path: Path, bounded: Confined) -> None:
    home = tmp_path / "store"
    for largest in (100, 2_500):
        _no_room(bounded.mcw("init", "--home", home, largest_file=largest))
        assert not (home / "store.toml").exists()
    assert bounded.mcw("init", "--home", home).code == 0
    assert bounded.mcw("check", "--home", home).code == 0
    assert leftovers(home) == []


@pytest.mark.slow
def test_housekeeping_and_judging(tmp_path: Path, bounded: Confined) -> None:
    sent = Sent.begin(tmp_path / "plant")
    sent.take_in(*map(sent.file, range(4)))
    home = ("--home", sent.home)
    backup, again = tmp_path / "backup", tmp_path / "again"
    commands: list[tuple[list[str | Path], tuple[int, ...]]] = [
        (["judge", *home], (5_000,)),
        (["compact", *home], (500, 40_000)),
        (["backup", backup, *home], (9_000, 40_000)),
        (["restore", backup, again], (9_000, 40_000)),
    ]
    for command, bounds in commands:
        for largest in bounds:
            _no_room(bounded.mcw(*command, largest_file=largest))
            for folder in (backup, again):
                assert not any(folder.glob("tables")) or (folder / "store.toml").exists()
        done = bounded.mcw(*command)
        assert done.code == 0, done.said
    sent.check()
    Sent(Plant(open_store(again), tmp_path), sent.expected).check()


@pytest.mark.slow
def test_intermediate_results_of_a_query(tmp_path: Path) -> None:
    with confined(tmp_path / "disk") as small:
        sent = Sent.begin(small.seen(tmp_path / "disk") / "plant")
        (sent.home / "mcw.toml").write_text("memory_limit_mb = 100\n", encoding="utf-8")
        home = ("--home", sent.home)
        statement = (
            "SELECT max(s) AS s FROM (SELECT repeat('x', 90) || i AS s, random() AS r"
            " FROM range(1_400_000) AS t (i) ORDER BY r OFFSET 10)"
        )
        ended = small.mcw("query", statement, *home)
        _no_room(ended)
        assert "memory_limit_mb" in ended.err
        assert leftovers(sent.home) == []
        assert small.mcw("query", "SELECT 1 AS n", *home).code == 0


def test_a_result_that_finds_no_room_leaves_no_half_file(tmp_path: Path, bounded: Confined) -> None:
    sent = Sent.begin(tmp_path / "plant")
    target = tmp_path / "numbers.csv"
    words = ("query", "SELECT i FROM range(20_000) AS t (i)", "--csv", target, "--home", sent.home)
    _no_room(bounded.mcw(*words, largest_file=30_000))
    assert not target.exists()
    assert bounded.mcw(*words).code == 0
    assert len(target.read_text(encoding="utf-8").splitlines()) == 20_001


@pytest.mark.parametrize("largest", [2_000, 60_000])
def test_taking_in_where_files_may_not_grow(
    tmp_path: Path, bounded: Confined, largest: int
) -> None:
    sent = Sent.begin(tmp_path / "plant")
    file = sent.file(0)
    _no_room(bounded.mcw(*sent.ingest(file), largest_file=largest))
    assert bounded.mcw(*sent.ingest(file)).code == 0
    sent.check()
