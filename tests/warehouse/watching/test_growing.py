"""Files whose writer pauses: nothing of what is written after the pause is lost, moved or not."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

import pytest

from tests.warehouse.services.small_plant import MAPPING
from tests.warehouse.watching.sites import Site, until
from warehouse.inbox import Ledger
from warehouse.mapping import parse_mapping
from warehouse.services.folder import PATIENCE, Mark, WatchedFolder, mark_of
from warehouse.services.line_ends import line_end_check
from warehouse.services.moving import MovedFiles, move_to
from warehouse.services.stopping import Stop
from warehouse.services.watching import Watch, Watched

REST = 0.1
COLUMNS = ",".join(["time", *(f"ch{c:02d}" for c in range(1, 21))]) + "\n"


def _line(day: int, end: str = "\n") -> str:
    return ",".join([f"2016-02-{day:02d}T00:00:00", *["2.00"] * 20]) + end


def _watch(site: Site, ledger: Ledger, said: list[str], moved: Path | None) -> Watch:
    folder = WatchedFolder(site.folder, "*.csv", REST)
    return Watch(site.store, ledger, folder, site.mapping, said.append, moved)


@contextmanager
def _watching(site: Site, moved: Path | None) -> Iterator[list[str]]:
    """A watch at work, and what it says."""
    said: list[str] = []
    stop = Stop()

    def work() -> None:
        with Ledger.open(site.store.inbox) as ledger:
            _watch(site, ledger, said, moved).run(stop)

    worker = Thread(target=work)
    worker.start()
    try:
        yield said
    finally:
        stop.ask()
        worker.join()


def _once(site: Site, moved: Path | None = None) -> tuple[Watched, list[str]]:
    said: list[str] = []
    with Ledger.open(site.store.inbox) as ledger:
        return _watch(site, ledger, said, moved).run_once(Stop()), said


def _told(said: list[str], times: int) -> Callable[[], bool]:
    return lambda: len(said) >= times


def _days(site: Site) -> int:
    """Days of which the dataset has readings: one a line."""
    accepted = sum(package.counts.accepted for package in site.packages())
    assert accepted % 20 == 0
    return accepted // 20


@pytest.mark.slow
@pytest.mark.parametrize("moves", [False, True])
def test_a_writer_that_pauses_and_holds_the_file_open_loses_nothing(
    site: Site, tmp_path: Path, moves: bool
) -> None:
    done = tmp_path / "done"
    path = site.folder / "a.csv"
    with _watching(site, done if moves else None) as said, path.open("w") as stream:
        stream.write(COLUMNS + _line(1))
        stream.flush()
        until(_told(said, 1))
        if moves:
            until(lambda: not path.exists())
        for day in (2, 3):
            stream.write(_line(day))
            stream.flush()
            until(_told(said, day))
    assert _days(site) == 3
    assert [p.counts.duplicate for p in site.packages()] == [0, 20, 40]
    assert (done / "a.csv").exists() == moves
    assert ("grew after it was moved" in said[-1]) == moves


@pytest.mark.slow
def test_a_writer_that_pauses_and_appends_by_name_finds_its_file(
    site: Site, tmp_path: Path
) -> None:
    path = site.folder / "a.csv"
    path.write_text(COLUMNS)
    with _watching(site, tmp_path / "done") as said:
        for day in (1, 2, 3):
            with path.open("a") as stream:
                stream.write(_line(day))
            until(_told(said, day))
        until(lambda: not path.exists())
    assert _days(site) == 3
    assert [p.name for p in (tmp_path / "done").iterdir()] == ["a.csv"]


def test_an_end_that_comes_alone_fails_and_is_told_why(site: Site, tmp_path: Path) -> None:
    path = site.folder / "a.csv"
    path.write_text(COLUMNS + _line(1))
    with _watching(site, tmp_path / "done") as said:
        until(lambda: not path.exists() and said)
        path.write_text(_line(2))
        until(_told(said, 2))
    assert "a.csv: failed: " in said[1]
    assert f"was moved to {tmp_path / 'done'} before" in said[1]
    assert path.exists(), "what failed stays where it is"


@pytest.mark.slow
def test_what_was_written_after_a_watch_had_ended_is_found_by_the_next(
    site: Site, tmp_path: Path
) -> None:
    done = tmp_path / "done"
    for name in ("a.csv", "b.csv"):
        site.drop(name, day=1 if name == "a.csv" else 2)
    assert _once(site, done)[0] == Watched(taken=2)
    stranger = done / "stranger.csv"
    stranger.write_text(COLUMNS + _line(9))
    with (done / "a.csv").open("a") as stream:
        stream.write(_line(3))
    found, said = _once(site, done)
    assert (found, _days(site)) == (Watched(taken=1), 3)
    assert "a.csv" in said[0]
    assert _once(site, done) == (Watched(), []), "it is known as it is now"
    assert sorted(p.name for p in done.iterdir()) == ["a.csv", "b.csv", "stranger.csv"]


class _Written(MovedFiles):
    """A folder to move to where the writer is quicker than the one who moves."""

    def move(self, path: Path, mark: Mark) -> Path | None:
        with path.open("a") as stream:
            stream.write(_line(2))
        return super().move(path, mark)


@pytest.mark.slow
def test_a_file_written_to_in_the_last_moment_is_not_moved(site: Site, tmp_path: Path) -> None:
    path = site.folder / "a.csv"
    path.write_text(COLUMNS + _line(1))
    os.utime(path, (1e9, 1e9))
    with Ledger.open(site.store.inbox) as ledger:
        watch = _watch(site, ledger, [], tmp_path / "done")
        watch._moved = _Written(tmp_path / "done", REST)
        watch._look(Stop())
        assert path.exists()
        watch._moved = MovedFiles(tmp_path / "done", REST)
        assert watch.run_once(Stop()).taken == 1
    assert not path.exists()
    assert _days(site) == 2


def test_what_is_written_while_a_file_is_read_makes_it_another_one(tmp_path: Path) -> None:
    folder = WatchedFolder(tmp_path, "*", REST)
    path = tmp_path / "a.csv"
    path.write_text("x\n")
    os.utime(path, (1e9, 1e9))
    assert folder.complete() == [path]
    path.write_text("x\ny\n")  # while it is read
    folder.done(path)
    time.sleep(2 * REST)
    assert folder.complete() == [path]


def test_another_file_of_the_same_size_and_time_is_another_one(tmp_path: Path) -> None:
    folder = WatchedFolder(tmp_path, "*.csv", 0)
    path, other = tmp_path / "a.csv", tmp_path / "other"
    for one in (path, other):
        one.write_text("x\n")
        os.utime(one, (1e9, 1e9))
    assert folder.complete() == [path]
    folder.done(path)
    other.replace(path)
    assert folder.complete() == [path]


@pytest.mark.slow
def test_a_file_that_breaks_off_within_a_line_is_waited_for_and_then_said(site: Site) -> None:
    path = site.folder / "a.csv"
    path.write_text(COLUMNS + _line(1, end=""))
    began = time.monotonic()
    found, said = _once(site)
    assert (found.taken, _days(site)) == (1, 1)
    assert time.monotonic() - began >= PATIENCE * REST - 0.05
    assert said == [
        "a.csv: 20 readings; its last line has no end, though it has not changed for 1 s"
    ]


def test_a_line_that_is_ended_while_it_is_waited_for_is_taken_whole(site: Site) -> None:
    path = site.folder / "a.csv"
    path.write_text(COLUMNS + _line(1)[:-3])
    with _watching(site, None) as said:
        time.sleep(4 * REST)
        assert said == []
        with path.open("a") as stream:
            stream.write(_line(1)[-3:])
        until(_told(said, 1))
    assert len(site.packages()) == 1
    assert "no end" not in said[0]


def _ended(tmp_path: Path, content: bytes, mapping: str = MAPPING) -> bool:
    path = tmp_path / "file"
    path.write_bytes(content)
    return line_end_check(parse_mapping(mapping, "m"))(path)


@pytest.mark.parametrize("encoding", ["utf-8", "latin-1", "utf-16", "utf-16-be", "utf-32", "cp500"])
def test_the_end_of_a_line_is_known_in_every_encoding(tmp_path: Path, encoding: str) -> None:
    mapping = MAPPING.replace("[time]", f'[file]\nencoding = "{encoding}"\n\n[time]')
    assert _ended(tmp_path, "a;b\n".encode(encoding), mapping)
    assert _ended(tmp_path, "a;b\r\n".encode(encoding), mapping)
    assert not _ended(tmp_path, "a;b\n1;2".encode(encoding), mapping)
    assert not _ended(tmp_path, b"", mapping)


def test_only_files_of_lines_have_a_last_line(tmp_path: Path) -> None:
    records = MAPPING.replace('"delimited"', '"json-records"')
    lines = records.replace("[time]", "[file]\nlines = true\n\n[time]")
    assert _ended(tmp_path, b"[{}]", records)
    assert not _ended(tmp_path, b"{}", lines)
    assert _ended(tmp_path, b"{}\n", lines)
    assert _ended(tmp_path, b"PK", MAPPING.replace('"delimited"', '"workbook"'))


def _refuse_to_rename(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    rename = Path.rename

    def far(path: Path, target: Path) -> Path:
        if path.name == name:
            raise OSError(errno.EXDEV, "another disk")
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", far)


def test_a_file_goes_to_another_disk_unless_it_changes_on_the_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, done = tmp_path / "a.csv", tmp_path / "done"
    done.mkdir()
    path.write_text("one\n")
    mark = mark_of(path)
    assert mark
    _refuse_to_rename(monkeypatch, "a.csv")
    monkeypatch.setattr("warehouse.services.moving.shutil.copy2", _copy_and_change)
    assert move_to(path, done, mark) is None
    assert (path.read_text(), list(done.iterdir())) == ("one\ntwo\n", [])
    monkeypatch.undo()
    _refuse_to_rename(monkeypatch, "a.csv")
    mark = mark_of(path)
    assert mark
    moved = move_to(path, done, mark)
    assert moved == (done / "a.csv", mark_of(done / "a.csv"))
    assert not path.exists()


def _copy_and_change(source: Path, target: Path) -> None:
    target.write_bytes(source.read_bytes())
    with source.open("a") as stream:
        stream.write("two\n")


def test_names_and_files_that_are_gone_are_forgotten(tmp_path: Path) -> None:
    moved = MovedFiles(tmp_path / "done", 0)
    path = tmp_path / "a.csv"
    path.write_text("x\n")
    mark = mark_of(path)
    assert mark
    assert moved.move(path, mark) == tmp_path / "done" / "a.csv"
    assert moved.holds("a.csv")
    assert not moved.holds("b.csv")
    (tmp_path / "done" / "a.csv").unlink()
    assert moved.complete() == []
