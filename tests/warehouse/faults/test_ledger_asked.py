"""Every command that asks the ledger refuses one that is not the newest, in the same words."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.faults.confined import mcw_here
from tests.warehouse.faults.plants import Sent
from tests.warehouse.faults.test_old_ledger import (
    copy_back,
    copy_ledger,
    damaged,
    gone,
    of_another_store,
)
from warehouse.errors import OldLedgerError
from warehouse.inbox.seal import check_seal, renew_seal
from warehouse.services.ingest import judge_now

Harm = Callable[[Sent, Path], None]


def _older_than_the_dataset(sent: Sent, folder: Path) -> None:
    yesterday = copy_ledger(sent, folder / "yesterday.sqlite")
    sent.take_in(sent.file(1), sent.file(2))
    copy_back(sent, yesterday)


def _older_than_its_inbox(sent: Sent, folder: Path) -> None:
    yesterday = copy_ledger(sent, folder / "yesterday.sqlite")
    sent.receive(sent.file(1))
    copy_back(sent, yesterday)


def _the_whole_inbox(sent: Sent, folder: Path) -> None:
    """Yesterday's folder, its note and all."""
    shutil.copytree(sent.store.inbox, folder / "inbox")
    sent.take_in(sent.file(1), sent.file(2))
    shutil.rmtree(sent.store.inbox)
    shutil.copytree(folder / "inbox", sent.store.inbox)


_TO_GO_ON_WITHOUT: dict[str, tuple[Harm, str]] = {
    "older than the dataset": (_older_than_the_dataset, "the ledger is older than the dataset"),
    "older than its inbox": (_older_than_its_inbox, "the ledger is older than its inbox"),
    "with its whole inbox": (_the_whole_inbox, "the ledger is older than the dataset"),
    "gone": (gone, "the ledger is not there"),
    "damaged": (damaged, "the ledger cannot be used"),
}
_HARMS = _TO_GO_ON_WITHOUT | {
    "of another store": (of_another_store, "the ledger is of another store")
}


_SHORT = ("older than the dataset", "damaged")
"""Kinds of harm that `make test` does; `make test-all` does every one."""


def _cases(harms: dict[str, tuple[Harm, str]]) -> list[Any]:
    return [
        pytest.param(*case, id=name, marks=[pytest.mark.slow] * (name not in _SHORT))
        for name, case in harms.items()
    ]


def _commands(sent: Sent, package: int, folder: Path) -> list[list[str | Path]]:
    return [
        ["inbox"],
        ["inbox", str(package)],
        ["rejects"],
        ["replay"],
        ["retract", str(package)],
        ["retract", str(package), "--yes"],
        ["registry", "import", folder],
        ["ingest", sent.folder / "f0.csv", "-m", sent.mapping],
        ["run", "--once"],
        ["watch", sent.folder, "--once", "-m", sent.mapping],
        ["backup", folder / "backup"],
        ["compact"],
        ["vacuum"],
    ]


@pytest.mark.slow
@pytest.mark.parametrize(("harm", "words"), _cases(_HARMS))
def test_all_commands_complain_in_the_same_way(
    tmp_path: Path, sent: Sent, harm: Harm, words: str
) -> None:
    (package,) = sent.take_in(sent.file(0))
    judge_now(sent.store)
    harm(sent, tmp_path)
    said = set()
    for command in _commands(sent, package, tmp_path):
        ended = mcw_here(*command, "--home", sent.home)
        assert (ended.code, ended.out) == (6, ""), command
        said.add(ended.err)
    (complaint,) = said
    assert words in complaint
    assert "mcw check --mend" in complaint
    assert not (tmp_path / "backup").exists()

    shown = mcw_here("status", "--home", sent.home)
    assert shown.code == 0
    assert f"Ledger: {words}" in shown.out
    told = json.loads(mcw_here("status", "--home", sent.home, "--json").out)
    assert told["ledger"] in complaint
    assert (told["backlog"] is None) == (harm in (gone, damaged))
    assert told["partitions"] == 1, "what the dataset tells is there all the same"
    checked = mcw_here("check", "--home", sent.home)
    assert checked.code == 6
    assert told["ledger"].partition(";")[0] in checked.said


@pytest.mark.slow
@pytest.mark.parametrize(("harm", "words"), _cases(_TO_GO_ON_WITHOUT))
def test_mending_lets_all_commands_work_again(
    tmp_path: Path, sent: Sent, harm: Harm, words: str
) -> None:
    sent.take_in(sent.file(0))
    judge_now(sent.store)
    harm(sent, tmp_path)
    mended = mcw_here("check", "--mend", "--home", sent.home)
    assert mended.code == 0
    assert words in mended.err
    assert "The store is sound" in mended.out
    assert json.loads(mcw_here("status", "--home", sent.home, "--json").out)["ledger"] is None
    for command in (["inbox"], ["rejects"], ["replay"], ["vacuum"], ["backup", tmp_path / "b"]):
        assert mcw_here(*command, "--home", sent.home).code == 0, command
    sent.take_in(*sorted(sent.folder.glob("f*.csv")), sent.file(3))
    judge_now(sent.store)
    sent.check()
    (newest,) = [row["package"] for row in json.loads(
        mcw_here("inbox", "--last", "1", "--json", "--home", sent.home).out)]  # fmt: skip
    assert mcw_here("retract", str(newest), "--home", sent.home).code == 0


def test_a_sound_store_has_nothing_to_say_of_its_ledger(sent: Sent) -> None:
    sent.take_in(sent.file(0))
    assert json.loads(mcw_here("status", "--home", sent.home, "--json").out)["ledger"] is None
    assert not re.search("ledger", mcw_here("status", "--home", sent.home).out, re.IGNORECASE)


def test_a_receipt_beside_the_look_at_the_note_is_no_old_ledger(tmp_path: Path) -> None:
    """The note is read first, and then what the ledger knows."""
    renew_seal(tmp_path, "one", 1)

    def receiving(highest: int) -> int:
        renew_seal(tmp_path, "one", 2)
        return highest

    check_seal(tmp_path, "one", lambda: receiving(2))
    with pytest.raises(OldLedgerError, match="it lacks the last 1 received"):
        check_seal(tmp_path, "one", lambda: receiving(1))
