"""Numbers in words: the right plural, and nothing said of what is not there."""

from __future__ import annotations

import re
from pathlib import Path

from typer.testing import CliRunner

from tests.warehouse.services.small_plant import make_plant, series, write_file, write_mapping
from warehouse.cli.app import app
from warehouse.services.replacing import Replaced
from warehouse.wording import counted, listed


def test_a_number_with_its_noun() -> None:
    assert [counted(n, "file") for n in (0, 1, 2, 1000)] == [
        "0 files",
        "1 file",
        "2 files",
        "1,000 files",
    ]
    assert [counted(n, "entry", "entries") for n in (1, 2)] == ["1 entry", "2 entries"]


def test_what_is_not_there_is_not_listed() -> None:
    assert listed((2, "2 new"), (0, "0 known"), (1, "1 refused")) == "2 new, 1 refused"
    assert listed((0, "0 new")) == ""
    assert Replaced(placed=1).words == "1 stored reading placed anew"
    assert Replaced(unplaced=2, returned=1).words == (
        "2 on no machine now (see `mcw rejects`), 1 back that had been on no machine"
    )


_WRONG = re.compile(r"\b1 (packages|files|readings|items|conditions|partitions|commits)\b")
_NOISE = re.compile(r"\b0 (packages|files|data files|readings|payloads|revised|failed)\b")


def test_the_commands_say_one_package_and_nothing_of_none(tmp_path: Path) -> None:
    plant = make_plant(tmp_path, {"clock": "data"})
    home, mapping = str(plant.store.home), str(write_mapping(tmp_path))
    (tmp_path / "drop").mkdir()
    file = str(write_file(tmp_path / "drop" / "a.csv", series(0, 1)))
    said = ""
    for words in (
        ["status"],
        ["inbox"],
        ["vacuum"],
        ["compact"],
        ["connect", "check", file, "-m", mapping],
        ["watch", str(tmp_path / "drop"), "-m", mapping, "--once"],
        ["watch", str(tmp_path / "drop"), "-m", mapping, "--once", "--pattern", "*.none"],
        ["run", "--once"],
        ["judge"],
        ["status"],
        ["vacuum", "--yes"],
        ["backup", str(tmp_path / "backup")],
    ):
        done = CliRunner().invoke(app, [*words, "--home", home], catch_exceptions=False)
        assert done.exit_code == 0, done.output
        said += done.output
    restored = ["restore", str(tmp_path / "backup"), str(tmp_path / "restored")]
    said += CliRunner().invoke(app, restored, catch_exceptions=False).output
    assert _WRONG.findall(said) == []
    assert _NOISE.findall(said) == []
    assert "1 item: 1 would be a reading, 0 refused. Nothing" in said
    assert "a.csv: 1 reading\n" in said
    assert "1 file taken in\n" in said
    assert "no new file\n" in said
    assert "Nothing to remove." in said
