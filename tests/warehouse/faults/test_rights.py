"""No right to read or write: named with its own exit code; what needs no right works on."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.warehouse.cli.running import Ended
from tests.warehouse.faults.confined import Confined, confined
from tests.warehouse.faults.plants import Sent
from tests.warehouse.services.small_plant import series, write_registry
from warehouse.errors import NoRightError, SourceMissingError

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="needs POSIX permissions")


@contextmanager
def _without_right(path: Path, mode: int = 0, *, below: bool = False) -> Iterator[None]:
    """Take rights away from a path, and from all below it, for the time of the `with`."""
    paths = [*(sorted(path.rglob("*")) if below else ()), path]
    before = {one: one.stat().st_mode for one in paths}
    for one in reversed(paths) if below else paths:
        one.chmod(mode if one.is_dir() else mode & 0o666)
    try:
        yield
    finally:
        path.chmod(before[path])
        for one in sorted(paths):
            one.chmod(before[one])


def _no_right(ended: Ended, place: str) -> None:
    assert ended.code == NoRightError.exit_code, ended.said
    assert place in ended.err.partition(": ")[0]
    assert "Permission denied" in ended.err or "Read-only file system" in ended.err


def _reading(sent: Sent) -> list[list[str | Path]]:
    words: list[list[str | Path]] = [
        ["status"],
        ["inbox"],
        ["rejects"],
        ["worst"],
        ["check"],
        ["query", "SELECT count(*) FROM readings_current"],
        ["registry", "show", "assets"],
        ["connect", "check", sent.folder / "f0.csv", "-m", sent.mapping],
    ]
    return [[*one, "--home", sent.home] for one in words]


def _writing(sent: Sent, number: int, folder: Path) -> list[list[str | Path]]:
    drop = folder / "drop"
    drop.mkdir()
    large = sent.folder / "large.csv"
    large.write_text("device,channel,time,value\n" + "\n" * 300_000, encoding="utf-8")
    sent.file(2, series(200, 3)).rename(drop / "f2.csv")
    os.utime(drop / "f2.csv", (1e9, 1e9))
    home: list[str | Path] = ["--home", sent.home]
    return [
        sent.ingest(sent.file(1)),
        sent.ingest(large),
        ["watch", drop, "-m", sent.mapping, "--once", *home],
        ["run", "--once", *home],
        ["judge", *home],
        ["replay", str(number), *home],
        ["retract", str(number), "--yes", *home],
        ["registry", "import", write_registry(folder / "registry"), *home],
        ["compact", *home],
        ["vacuum", "--yes", *home],
        ["backup", folder / "backup", *home],
    ]


@pytest.mark.slow
def test_a_store_for_reading_only_is_read_and_says_so_to_writers(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    (number,) = sent.take_in(sent.file(0))
    assert bounded.mcw("judge", "--home", sent.home).code == 0
    writing = _writing(sent, number, tmp_path)
    with _without_right(sent.home, 0o555, below=True):
        for command in _reading(sent):
            ended = bounded.mcw(*command)
            assert ended.code == 0, ended.said
        for command in writing:
            _no_right(bounded.mcw(*command), str(sent.home))
    for command in (writing[0], writing[2], writing[10]):
        ended = bounded.mcw(*command)
        assert ended.code == 0, ended.said
    sent.check()


@pytest.mark.slow
def test_a_disk_mounted_for_reading_only(sent: Sent) -> None:
    sent.take_in(sent.file(0))
    with confined(mounts=True) as process:
        process.mount_read_only(sent.home)
        for command in _reading(sent)[:2]:
            ended = process.mcw(*command)
            assert ended.code == 0, ended.said
        ended = process.mcw(*sent.ingest(sent.file(1)))
        _no_right(ended, str(sent.home))
        assert "commands that read work" in ended.err
        process.mount_read_only(sent.home, writable=True)
    sent.take_in(sent.folder / "f1.csv")
    sent.check()


def test_what_may_not_be_used_is_named(sent: Sent, bounded: Confined) -> None:
    sent.take_in(sent.file(0))
    assert bounded.mcw("judge", "--home", sent.home).code == 0
    file = sent.file(1)
    ingest, inbox, query = sent.ingest(file), _reading(sent)[1], _reading(sent)[5]
    for place, named, command in (
        ("store.toml", "store.toml", query),
        ("mcw.toml", "mcw.toml", query),
        ("inbox", "inbox", inbox),
        ("inbox/ledger.sqlite", "inbox", inbox),
        ("tables", "tables", query),
        ("tables/readings", "tables/readings", query),
        ("tables/readings/_delta_log", "tables/readings", query),
        ("tables/readings/p_site=*/p_month=*/*.parquet", "tables/readings", query),
    ):
        (path,) = sent.home.glob(place)
        with _without_right(path):
            _no_right(bounded.mcw(*ingest), str(sent.home))
            _no_right(bounded.mcw(*command), str(sent.home / named))
    sent.take_in(file)
    sent.check()


@pytest.mark.slow
def test_one_file_that_may_not_be_read_keeps_no_other_out(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    drop = tmp_path / "drop"
    drop.mkdir()
    locked = sent.file(1).rename(drop / "f1.csv")
    os.utime(locked, (1e9, 1e9))
    watch: list[str | Path] = ["watch", drop, "-m", sent.mapping, "--once", "--home", sent.home]
    with _without_right(locked):
        ended = bounded.mcw(*sent.ingest(locked, sent.file(0)))
        assert ended.code == SourceMissingError.exit_code
        assert "f1.csv: not there, or not to be read" in ended.err
        assert "f0.csv" in ended.out
        ended = bounded.mcw(*watch)
        assert ended.code == SourceMissingError.exit_code
        assert "f1.csv: Permission denied" in ended.err
    assert bounded.mcw(*watch).code == 0
    sent.check()


@pytest.mark.slow
def test_other_things_that_may_not_be_read_or_written(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    sent.take_in(sent.file(0))
    home: list[str | Path] = ["--home", sent.home]
    assert bounded.mcw("judge", *home).code == 0
    registry = write_registry(tmp_path / "registry")
    closed = tmp_path / "closed"
    closed.mkdir()
    unread: dict[Path, list[str | Path]] = {
        sent.mapping: ["ingest", sent.folder / "f0.csv", "-m", sent.mapping, *home],
        closed: ["watch", closed, "-m", sent.mapping, "--once", *home],
        registry / "sites.csv": ["registry", "import", registry, *home],
    }
    for path, command in unread.items():
        with _without_right(path):
            ended = bounded.mcw(*command)
            assert ended.code == SourceMissingError.exit_code, ended.said
            assert str(path) in ended.err
    with _without_right(closed, 0o555):
        written: list[list[str | Path]] = [
            ["backup", closed / "backup", *home],
            ["registry", "export", closed / "out", *home],
            ["init", "--home", closed / "store"],
            ["query", "SELECT 1 AS n", "--csv", closed / "n.csv", *home],
        ]
        for command in written:
            _no_right(bounded.mcw(*command), str(closed))
    sent.check()
