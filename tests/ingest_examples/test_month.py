"""The page of a month in the plant: its commands run in order, and say what it says they do."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from ingest_examples.month.build import build
from warehouse.cli import show
from warehouse.cli.app import app

_PAGE = Path(__file__).parents[2] / "docs" / "a-month-in-the-plant.md"
_STEP = re.compile(r"(?m)^    (?P<command>.+)$|^```text\n(?P<said>(?:.*\n)*?)```$")


def _steps() -> Iterator[tuple[list[str], list[str]]]:
    """Commands with the words the page says they print, in order."""
    command: list[str] = []
    for found in _STEP.finditer(_PAGE.read_text(encoding="utf-8")):
        if found["command"]:
            if command:
                yield command, []
            command = shlex.split(found["command"])
        else:
            yield command, found["said"].splitlines()
            command = []
    if command:
        yield command, []


def test_the_page_says_what_happens(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(show.out, "width", 2000)
    ran, quoted = 0, 0
    for words, said in _steps():
        if words[:3] == ["python", "-m", "ingest_examples.month"]:
            build(tmp_path / words[-1])
        elif words[0] == "export":
            for name, value in (word.split("=") for word in words[1:]):
                monkeypatch.setenv(name, value)
        else:
            assert words[0] == "mcw"
            done = CliRunner().invoke(app, words[1:])
            assert done.exit_code == 0, (words, done.output, done.exception)
            output = " ".join(done.output.split())
            assert [line for line in said if line not in output] == [], (words, output)
            ran, quoted = ran + 1, quoted + len(said)
    assert ran > 15
    assert quoted > 15


def test_the_same_bytes_each_time(tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert build(tmp_path / name) > 15
    made = {
        name: {
            path.relative_to(tmp_path / name): path.read_bytes()
            for path in (tmp_path / name).rglob("*") if path.is_file()
        }
        for name in ("one", "two")
    }  # fmt: skip
    assert made["one"] == made["two"]
