from __future__ import annotations

import re

import pytest

from tests.warehouse.views.plant import Plant, keep_as_tables
from warehouse.query import work_out
from warehouse.services.fleet_views import FLEET
from warehouse.views import SqlFile, sql_files

FILES = sql_files()
NAMES = {file.name for file in FILES}
VIEWS = [file for file in FILES if file.kind == "VIEW"]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_header_is_whole_and_true(file: SqlFile) -> None:
    for key in ("purpose", "grain", "columns", "depends"):
        assert re.search(rf"^-- {key}:", file.text, re.MULTILINE), f"{file.name}: no {key}"
    body = "\n".join(line for line in file.text.splitlines() if not line.startswith("--"))
    used = {name for name in NAMES if re.search(rf"\b{name}\b", body)} - {file.name}
    assert used <= set(file.depends), "used but not in the header"
    assert set(file.depends) <= used, "in the header but not used"


def test_files_come_after_what_they_depend_on() -> None:
    order = [file.name for file in FILES]
    for file in FILES:
        for name in file.depends:
            assert order.index(name) < order.index(file.name)


def test_empty_store_gives_no_rows_and_every_column() -> None:
    full = Plant().train().read(1.0).connect()
    empty = Plant().connect()
    keep_as_tables(empty)
    keep_as_tables(full)
    for file in VIEWS:
        found = empty.table(file.name)
        assert found.fetchall() == [], file.name
        assert found.columns == full.table(file.name).columns
        assert found.types == full.table(file.name).types


def test_header_names_every_column_of_the_small_views() -> None:
    with Plant().connect() as empty:
        for name in (
            "running_signals",
            "daily_statistics",
            "trends",
            "source_health",
            "worst_machines",
            *FLEET,
        ):
            text = next(file.text for file in FILES if file.name == name)
            header = " ".join(line for line in text.splitlines() if line.startswith("--"))
            work_out(empty, name)
            for column in empty.table(name).columns:
                assert re.search(rf"\b{column}\b", header), f"{name}: {column}"
