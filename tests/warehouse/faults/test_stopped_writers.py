"""A writer stopped in the middle of a commit: suspended, asked to stop, or ended at once."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest

from tests.warehouse.faults.confined import Confined
from tests.warehouse.faults.held import Background
from tests.warehouse.faults.plants import Sent, leftovers
from tests.warehouse.services.small_plant import series

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals")
_IN_THE_MIDDLE = "append readings"
"""Entries of `superseded` are committed by then, and the readings are not."""


@pytest.mark.slow
def test_a_suspended_writer_is_waited_for_by_name_and_waiting_can_be_stopped(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    home: list[str | Path] = ["--home", sent.home]
    first = sent.ingest(sent.file(0))
    sent.receive(sent.file(1))
    with (
        Background(tmp_path / "first", *first, hold=_IN_THE_MIDDLE) as suspended,
        Background(tmp_path / "second", "run", *home) as waiting,
    ):
        suspended.signal(signal.SIGSTOP)
        waiting.until_said("waiting for another program")
        assert f"process {suspended.process.pid} (mcw ingest)" in waiting.said()
        assert f"kill -CONT {suspended.process.pid}" in waiting.said()
        waiting.signal(signal.SIGTERM)
        assert waiting.ended() == 0
        assert waiting.said().rstrip().endswith("stopped")
        suspended.let_go_on()
        suspended.signal(signal.SIGCONT)
        assert suspended.ended() == 0
    assert bounded.mcw("run", "--once", *home).code == 0
    sent.check()


@pytest.mark.slow
def test_ctrl_c_ends_taking_in_after_the_commit(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    with (sent.home / "mcw.toml").open("a", encoding="utf-8") as settings:
        settings.write("chunk_rows = 1000\n")
    first, second = series(0, 700), series(1440, 700)
    command = sent.ingest(sent.file(0, [*first, *second]))
    with Background(tmp_path / "first", *command, hold=_IN_THE_MIDDLE) as writer:
        writer.signal(signal.SIGINT)
        writer.until_said("stopping after this step")
        writer.let_go_on()
        assert writer.ended() == 128 + signal.SIGINT
        assert "Stopped by SIGINT. Nothing is lost" in writer.said()
    assert set(sent.current()) == {row[:3] for row in first}, "one commit was made, no other"
    again = bounded.mcw(*command)
    assert again.code == 0, again.said
    assert bounded.mcw("status", "--home", sent.home, "--json").out.count('"judge_behind": 0') == 1
    sent.check()


def test_a_second_signal_ends_at_once_and_loses_nothing(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    command = sent.ingest(sent.file(0))
    with Background(tmp_path / "first", *command, hold=_IN_THE_MIDDLE) as writer:
        writer.signal(signal.SIGTERM)
        writer.until_said("once more ends at once")
        writer.signal(signal.SIGTERM)
        assert writer.ended() == -signal.SIGTERM
    assert sent.current() == {}
    left = leftovers(sent.home)
    assert left, "whoever is killed clears nothing away: the next one does, once that is old"
    for path in left:
        os.utime(path, (1e9, 1e9))
    assert bounded.mcw(*command).code == 0
    sent.check()


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_background_work_ends_cleanly_in_the_middle_of_a_commit(
    tmp_path: Path, sent: Sent, bounded: Confined, number: int
) -> None:
    home: list[str | Path] = ["--home", sent.home]
    command: list[str | Path] = ["run", *home]
    if number == signal.SIGINT:
        drop = tmp_path / "drop"
        drop.mkdir()
        sent.file(0).rename(drop / "f0.csv")
        command = ["watch", drop, "-m", sent.mapping, *home]
    else:
        sent.receive(sent.file(0))
    with Background(tmp_path / "first", *command, hold=_IN_THE_MIDDLE) as worker:
        worker.signal(number)
        worker.until_said("stopping after this step")
        worker.let_go_on()
        assert worker.ended() == 0
    assert sent.current() == sent.expected, "the commit was made"
    assert bounded.mcw("run", "--once", *home).code == 0
    sent.check()


@pytest.mark.slow
def test_housekeeping_ends_at_once_and_leaves_nothing_half_done(
    tmp_path: Path, sent: Sent, bounded: Confined
) -> None:
    sent.take_in(*map(sent.file, range(4)))
    command: list[str | Path] = ["compact", "--home", sent.home]
    with Background(tmp_path / "first", *command, hold="exchange readings") as housekeeper:
        files = set(sent.home.glob("tables/readings/p_site=*/*/*.parquet"))
        assert len(files) > 4, "the new file is written"
        housekeeper.signal(signal.SIGTERM)
        assert housekeeper.ended() == 128 + signal.SIGTERM
        assert "Stopped by SIGTERM" in housekeeper.said()
    assert len(list(sent.home.glob("tables/readings/p_site=*/*/*.parquet"))) == 4
    assert bounded.mcw(*command).code == 0
    assert bounded.mcw("judge", "--home", sent.home).code == 0
    sent.check()
