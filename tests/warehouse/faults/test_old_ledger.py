"""An old ledger copied back, one of another store, one that is gone: refused, and a way out."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from tests.warehouse.faults.confined import mcw_here
from tests.warehouse.faults.plants import Sent
from tests.warehouse.services.small_plant import Plant, series
from warehouse.errors import LedgerError
from warehouse.inbox import Ledger
from warehouse.services.ingest import Arrival, only_committer, receive
from warehouse.services.retracting import retract
from warehouse.store import open_store


def copy_ledger(sent: Sent, target: Path) -> Path:
    """A copy of the ledger, as someone keeps it."""
    path = sent.store.inbox / "ledger.sqlite"
    with closing(sqlite3.connect(path)) as ledger, closing(sqlite3.connect(target)) as copy:
        ledger.backup(copy)
    return target


def copy_back(sent: Sent, copy: Path) -> None:
    for path in sent.store.inbox.glob("ledger.sqlite*"):
        path.unlink()
    shutil.copyfile(copy, sent.store.inbox / "ledger.sqlite")


def _refused(sent: Sent, file: Path, words: str) -> None:
    """Receiving, taking in and checking say what is wrong and what to do."""
    for command in (sent.ingest(file), ["run", "--once", "--home", sent.home]):
        ended = mcw_here(*command)
        assert ended.code == LedgerError.exit_code
        assert words in ended.err
        assert "mcw check --mend" in ended.err
    checked = mcw_here("check", "--home", sent.home)
    assert checked.code == 6
    assert words in checked.out


@pytest.mark.slow
def test_yesterdays_ledger_is_refused_and_mended_with_nothing_lost(
    tmp_path: Path, sent: Sent
) -> None:
    first, second = sent.take_in(sent.file(0), sent.file(1))
    (waiting,) = sent.receive(sent.file(2))
    yesterday = copy_ledger(sent, tmp_path / "yesterday.sqlite")
    sent.take_in(sent.file(3), sent.file(4))
    store = sent.store
    with Ledger.open(store.inbox) as ledger, only_committer(store):
        retract(store, ledger, first, dry_run=False)
    for reading in series(0, 40):
        del sent.expected[reading[:3]]
    (late,) = sent.receive(sent.file(5))

    copy_back(sent, yesterday)
    _refused(sent, sent.folder / "f5.csv", "the ledger is older than")
    mended = mcw_here("check", "--mend", "--home", sent.home)
    assert mended.code == 0, mended.said
    assert "recorded from the dataset 2 packages" in mended.said
    assert "1 package had been received and left no readings" in mended.said

    with Ledger.open(sent.store.inbox) as ledger:
        assert [p.number for p in ledger.pending()] == [waiting]
        assert ledger.package(first).state == "retracted"
        assert ledger.package(second).state == "committed"
    sent.take_in(*(sent.folder / f"f{number}.csv" for number in range(1, 6)))
    sent.check()
    with Ledger.open(sent.store.inbox) as ledger:
        assert min(p.number for p in ledger.packages()[-3:]) > late, "no number is given twice"
    store = sent.store
    with Ledger.open(store.inbox) as ledger, only_committer(store):
        assert retract(store, ledger, second, dry_run=False).rows == 40


@pytest.mark.slow
def test_a_ledger_without_its_last_changes_is_refused(sent: Sent) -> None:
    """Someone takes away the file of the changes that a killed program left."""
    sent.take_in(sent.file(0))
    file = sent.file(1)
    code = (
        "import os, sys\nfrom pathlib import Path\nfrom warehouse.inbox import Ledger\n"
        "from warehouse.services.ingest import Arrival, receive\n"
        "from warehouse.store import open_store\n"
        "store = open_store(Path(sys.argv[1]))\nledger = Ledger.open(store.inbox)\n"
        "receive(store, ledger, [Arrival(Path(sys.argv[2]), Path(sys.argv[3]))])\n"
        f"os.kill(os.getpid(), {int(signal.SIGKILL)})\n"
    )
    words = [sys.executable, "-c", code, str(sent.home), str(file), str(sent.mapping)]
    assert subprocess.run(words, check=False, env=os.environ).returncode == -signal.SIGKILL
    inbox = sent.store.inbox
    for name in ("ledger.sqlite-wal", "ledger.sqlite-shm"):
        (inbox / name).unlink()
    _refused(sent, file, "it lacks the last 1 received")
    assert mcw_here("check", "--mend", "--home", sent.home).code == 0
    sent.take_in(file)
    sent.check()


def test_a_ledger_of_the_moment_before_a_commit_is_refused(sent: Sent) -> None:
    sent.take_in(sent.file(0))
    with closing(sqlite3.connect(sent.store.inbox / "ledger.sqlite")) as ledger, ledger:
        ledger.execute("UPDATE packages SET state = 'received', items = 0, accepted = 0")
        ledger.execute("UPDATE members SET accepted = 0")
        ledger.execute("UPDATE groups SET committed = 0")
    ended = mcw_here("run", "--once", "--home", sent.home)
    assert ended.code == LedgerError.exit_code
    assert "from before its last commit" in ended.err
    gone(sent, sent.folder)
    assert mcw_here("check", "--mend", "--home", sent.home).code == 0
    sent.take_in(sent.folder / "f0.csv", sent.file(1))
    sent.check()


def test_a_ledger_that_lacks_a_package_of_the_dataset_is_found(sent: Sent) -> None:
    """What comes of an old ledger beside the newest file of its changes."""
    first, _ = sent.take_in(sent.file(0), sent.file(1))
    with closing(sqlite3.connect(sent.store.inbox / "ledger.sqlite")) as ledger, ledger:
        ledger.execute("DELETE FROM packages WHERE seq = 1")
    checked = mcw_here("check", "--home", sent.home, "--json")
    assert checked.code == 6
    (finding,) = json.loads(checked.out)["findings"]
    assert finding["sample"] == [{"package": first, "ledger": None, "readings": 40}]


def of_another_store(sent: Sent, folder: Path) -> None:
    (folder / "other").mkdir()
    Ledger.open(folder / "other").close()
    copy_back(sent, folder / "other" / "ledger.sqlite")


def gone(sent: Sent, _: Path) -> None:
    for path in sent.store.inbox.glob("ledger.sqlite*"):
        path.unlink()


def damaged(sent: Sent, _: Path) -> None:
    (sent.store.inbox / "ledger.sqlite").write_bytes(b"no database, but long enough" * 100)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (of_another_store, "the ledger is of another store"),
        (gone, "the ledger is not there"),
        (damaged, "the ledger"),
    ],
)
def test_another_ledger_or_none_is_refused_and_a_new_one_begun(
    tmp_path: Path, sent: Sent, harm: Callable[[Sent, Path], None], words: str
) -> None:
    sent.take_in(sent.file(0), sent.file(1))
    harm(sent, tmp_path)
    ended = mcw_here(*sent.ingest(sent.folder / "f0.csv"))
    assert ended.code == LedgerError.exit_code
    assert words in ended.err
    if harm is of_another_store:
        refused = mcw_here("check", "--mend", "--home", sent.home)
        assert refused.code == 6
        assert "take this one away" in refused.err
        gone(sent, tmp_path)
    assert mcw_here("check", "--mend", "--home", sent.home).code == 0
    sent.take_in(sent.folder / "f0.csv", sent.folder / "f1.csv", sent.file(2))
    sent.check()


def test_a_ledger_replaced_under_a_running_program_receives_nothing(
    tmp_path: Path, sent: Sent
) -> None:
    sent.take_in(sent.file(0))
    copy = copy_ledger(sent, tmp_path / "copy.sqlite")
    store = sent.store
    with Ledger.open(store.inbox) as ledger:
        copy_back(sent, copy)
        with pytest.raises(LedgerError, match="replaced while it was in use"):
            receive(store, ledger, [Arrival(sent.file(1), sent.mapping)])
    sent.take_in(sent.folder / "f1.csv")
    sent.check()


def test_a_copied_store_says_what_it_is_a_copy_of(tmp_path: Path, sent: Sent) -> None:
    sent.take_in(sent.file(0))
    copy = tmp_path / "copy"
    shutil.copytree(sent.home, copy)

    def copied_from(home: Path) -> object:
        return json.loads(mcw_here("status", "--home", home, "--json").out)["copy_of"]

    assert copied_from(sent.home) is None
    assert copied_from(copy) == str(sent.home)
    working = Sent(Plant(open_store(copy), tmp_path), sent.expected)
    working.take_in(working.file(1))
    assert copied_from(copy) == str(sent.home), "working on it does not make it another"
    assert "was copied from" in mcw_here("status", "--home", copy).out
    shutil.rmtree(sent.home)
    assert copied_from(copy) is None, "it has moved"
