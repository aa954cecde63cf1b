"""What `docs/fleet.md` shows is what the commands print of the demo.

`WRITE=1 pytest tests/ingest_examples/test_fleet_page.py` writes the page again.
"""

from __future__ import annotations

import os
import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.ingest_examples.scenario import scenario_of_run
from warehouse.cli import complete_app, show

_PAGE = Path(__file__).parents[2] / "docs" / "fleet.md"
_SHOWN = re.compile(r"(?ms)^    mcw ([^\n]+) --home demo-store\n\n```text\n(.*?)```$")
_WIDTH = 118


def test_the_page_shows_what_is_printed(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = str(scenario_of_run(tmp_path_factory).store.home)
    monkeypatch.setattr(show.out, "_width", _WIDTH)

    def printed(shown: re.Match[str]) -> str:
        words = [*shlex.split(shown[1]), "--home", home]
        ended = CliRunner().invoke(complete_app(), words, catch_exceptions=False)
        assert ended.exit_code == 0, ended.stderr
        table = ended.stdout[: ended.stdout.index("┘") + 1]
        lines = "\n".join(line.rstrip() for line in table.splitlines())
        return f"    mcw {shown[1]} --home demo-store\n\n```text\n{lines}\n```"

    text = _PAGE.read_text(encoding="utf-8")
    assert len(_SHOWN.findall(text)) >= 7
    page = _SHOWN.sub(printed, text)
    if os.environ.get("WRITE") == "1":
        _PAGE.write_text(page, encoding="utf-8")
    assert page == text
