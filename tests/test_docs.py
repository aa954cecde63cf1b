"""What the pages say is so: generated pages are fresh, named things exist, examples run."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

from schemas.tables import TABLES
from schemas.tables.registry import ENTITIES
from tests.warehouse.cli.running import mcw
from tests.warehouse.services.small_plant import Reading, make_plant, series
from warehouse.adapters import adapters
from warehouse.cli import complete_app
from warehouse.cli.reference import PAGES
from warehouse.mapping import Attributes, File, Mapping, Source, Time, Values

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
_PAGES_TO_READ = [ROOT / "README.md", *sorted(DOCS.glob("*.md"))]


def _text(name: str) -> str:
    return (DOCS / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("page", PAGES)
def test_generated_page_is_fresh(page: str) -> None:
    assert _text(f"{page}.md") == PAGES[page](), f"python -m warehouse.cli.reference {page}"


def test_every_mapping_key_and_attribute_is_explained() -> None:
    text = _text("mappings.md")
    parts = (Attributes, File, Source, Time, Values)
    keys = {field.alias or name for part in parts for name, field in part.model_fields.items()}
    keys |= set(Mapping.model_fields)
    explained = set(re.findall(r"`([a-z_]+)`", text)) | set(re.findall(r"(?m)^\[*([a-z_]+)", text))
    assert sorted(keys - explained - {"description"}) == []


def test_every_adapter_is_explained() -> None:
    loaded, failed = adapters()
    assert failed == {}
    text = _text("mappings.md")
    assert [name for name in loaded if f"`{name}`" not in text] == []


def test_every_entity_is_explained() -> None:
    text = _text("registry.md")
    assert [
        name for name in ENTITIES if f"`{name}`" not in text and f"`{name}.csv`" not in text
    ] == []


def test_every_table_is_explained() -> None:
    text = _text("dataset.md")
    assert [name for name in TABLES if f"| `{name}` |" not in text] == []


def test_every_view_is_named() -> None:
    text = _text("judging.md") + _text("dataset.md")
    views = sorted(path.stem for path in (ROOT / "warehouse" / "views").glob("*.sql"))
    assert len(views) > 20
    assert [name for name in views if f"`{name}`" not in text] == []


def test_every_link_leads_somewhere() -> None:
    broken = [
        f"{page.name}: {target}"
        for page in _PAGES_TO_READ
        for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text(encoding="utf-8"))
        if not (page.parent / target).exists()
    ]
    assert broken == []


def _commands(text: str) -> Iterator[list[str]]:
    """The `mcw ...` lines of a page, as their words."""
    for line in text.splitlines():
        found = re.match(r"^ {4}(?:\.venv/bin/)?mcw (.+?)(?:\s+#.*)?$", line)
        if found:
            yield shlex.split(found[1])


def _fault(words: list[str]) -> str | None:
    """What in a command line does not exist."""
    command: Any = typer.main.get_command(complete_app())
    while hasattr(command, "commands"):
        if not words or words[0] not in command.commands:
            return f"no command {' '.join(words)}"
        command, words = command.commands[words[0]], words[1:]
    known = {option for parameter in command.params for option in parameter.opts}
    unknown = [word for word in words if word.startswith("--") and word not in known]
    return f"{command.name} has no {' '.join(unknown)}" if unknown else None


@pytest.mark.parametrize(
    "page", [page for page in _PAGES_TO_READ if page.name != "cli.md"], ids=lambda page: page.name
)
def test_commands_and_options_exist(page: Path) -> None:
    faults = [_fault(words) for words in _commands(page.read_text(encoding="utf-8"))]
    assert [fault for fault in faults if fault] == []


def test_readme_shows_commands() -> None:
    shown = [words[0] for words in _commands((ROOT / "README.md").read_text(encoding="utf-8"))]
    assert {"demo", "init", "ingest", "worst", "query", "serve"} <= set(shown)


def _files(text: str) -> dict[str, str]:
    """Files of a walk-through: a code block after a line that begins with a path in backticks."""
    blocks = re.findall(r"(?ms)^`([\w./-]+)`[^\n]*\n\n```\w*\n(.*?)^```", text)
    return dict(blocks)


def test_the_walk_through_runs_as_written(tmp_path: Path) -> None:
    text = _text("connect.md")
    files = _files(text)
    assert {"fan.csv", "fan.toml", "registry/sites.csv", "registry/mountings.csv"} <= set(files)
    for name, content in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(content, encoding="utf-8")
    said = {}
    for words in _commands(text):
        if words[0] == "serve":
            continue  # the server is covered in tests/api
        ended = mcw(*words, cwd=tmp_path)
        assert ended.code == 0, (words, ended.said)
        said[words[0]] = ended.said
    assert "14 items: 14 would be readings, 0 refused; 1 declared blank" in said["connect"]
    assert "F-1" in said["worst"]
    assert "unknown" in said["worst"], "readings this old say nothing of today"
    assert "Nothing is refused" in said["rejects"]


def _snippets() -> list[str]:
    return re.findall(r"(?ms)^```python\n(.*?)^```", _text("dataset.md"))


_STATES: dict[str, tuple[list[list[Reading]], int, int]] = {
    "nothing taken in": ([], 0, 0),
    "every reading counts": ([series(0, 5)], 0, 5),
    "one is revised": ([series(0, 5), series(0, 1, value=7.0)], 1, 5),
}
"""Files that come, rows of `superseded` then, and readings that count."""


@pytest.mark.parametrize(("files", "ended", "counting"), _STATES.values(), ids=_STATES.keys())
def test_the_snippets_for_other_engines_run(
    tmp_path: Path, files: list[list[Reading]], ended: int, counting: int
) -> None:
    plant = make_plant(tmp_path, {"clock": "data"})
    plant.ingest(*files)
    assert plant.ask("SELECT count(*) AS n FROM superseded") == [{"n": ended}]
    polars, pandas, duckdb = _snippets()
    code = (polars + "\nprint('polars', current.collect().height)\n" + pandas
            + "\nprint('pandas', len(current))\n" + duckdb)  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", code.replace("demo-store", "store")],
        cwd=tmp_path,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert f"polars {counting}" in done.stdout
    assert f"pandas {counting}" in done.stdout
    assert (f"[('velocity', {counting})]" if counting else "[]") in done.stdout
