"""Importing at scale and from workbooks: every fault named, only what changed recorded."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from tests.benchmarks.logger_file import make_logger_file
from tests.warehouse.registry_scale.plant import HEADER, mounting, mountings_folder
from warehouse.errors import RegistryError, SourceMissingError, UnreadableSourceError
from warehouse.registry.differences import Change
from warehouse.registry.stored import registry_events, stored_entities
from warehouse.services.registry import import_registry
from warehouse.services.registry_changes import export_registry, import_changes
from warehouse.store import Store, create_store

EXAMPLES = Path(__file__).parents[3] / "ingest_examples" / "registry"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return create_store(tmp_path / "store")


def _workbook(path: Path, sheets: dict[str, list[list[Any]]]) -> Path:
    with xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd hh:mm"}) as book:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                for column, cell in enumerate(row):
                    if isinstance(cell, str):
                        sheet.write_string(number, column, cell)
                    else:
                        sheet.write(number, column, cell)
    return path


def _faults(store: Store, source: Path) -> list[str]:
    with pytest.raises(RegistryError) as caught:
        import_registry(store, source)
    assert registry_events(store).num_rows == 0, "nothing is imported where there is a fault"
    return caught.value.faults


@pytest.mark.parametrize("target", ["out", "out.xlsx"])
def test_importing_an_export_changes_nothing(store: Store, tmp_path: Path, target: str) -> None:
    import_registry(store, EXAMPLES)
    events = registry_events(store).num_rows
    counts = export_registry(store, tmp_path / target)
    again = import_changes(store, tmp_path / target)
    assert registry_events(store).num_rows == events == sum(counts.values())
    assert {kind: sum(c[kind] for c in again.counts.values()) for kind in ("new", "changed")} == {
        "new": 0,
        "changed": 0,
    }
    assert again.stated == counts


@pytest.mark.parametrize("target", ["out", "out.xlsx"])
def test_an_export_makes_the_same_registry_elsewhere(
    store: Store, tmp_path: Path, target: str
) -> None:
    import_registry(store, EXAMPLES)
    export_registry(store, tmp_path / target)
    other = create_store(tmp_path / "other")
    import_registry(other, tmp_path / target)
    assert stored_entities(other) == stored_entities(store)


def test_a_dry_run_tells_and_imports_nothing(store: Store, tmp_path: Path) -> None:
    case = make_logger_file(tmp_path / "case", 20)
    import_registry(store, case.registry)
    events = registry_events(store).num_rows
    folder = mountings_folder(
        tmp_path / "c",
        mounting("01", "motor-p01"),
        mounting("02", "motor-p09"),
        mounting("99", "motor-p01"),
    )
    found = import_changes(store, folder, dry_run=True)
    assert found.counts["mountings"] == {"new": 1, "changed": 1, "unchanged": 1, "withdrawn": 0}
    told = found.differences.by_entity["mountings"]
    assert told.new == ["logger-1/99/2000-01-01T00:00:00+00:00"]
    assert told.changed == [
        Change("logger-1/02/2000-01-01T00:00:00+00:00", {"position": ("motor-p02", "motor-p09")})
    ]
    assert registry_events(store).num_rows == events
    done = import_changes(store, folder)
    assert done.counts == found.counts
    assert registry_events(store).num_rows == events + 2, "unchanged entities make no event"


def test_cells_of_a_workbook_are_read_by_their_column(store: Store, tmp_path: Path) -> None:
    case = make_logger_file(tmp_path / "case", 20)
    import_registry(store, case.registry)
    book = _workbook(
        tmp_path / "plant.xlsx",
        {
            "devices": [["device", "kind", "method", "interval_minutes"], [101, "x", "wired", 7.5]],
            "mountings": [
                HEADER.split(","),
                [101, 3, "bench", "M-1", "motor-p01", "axial", dt.datetime(2025, 3, 1, 6, 30), None,
                 "passed"],
            ],
            "_notes": [["whatever stands here is not read"]],
        },
    )  # fmt: skip
    assert import_registry(store, book) == {"devices": 1, "mountings": 1}
    found = stored_entities(store)
    (device,) = [d for d in found["devices"].to_pylist() if d["device"] == "101"]
    assert device["interval_minutes"] == 7.5
    (row,) = [m for m in found["mountings"].to_pylist() if m["device"] == "101"]
    assert (row["channel"], row["mounted_to"]) == ("3", None)
    assert row["mounted_from"] == dt.datetime(2025, 3, 1, 6, 30, tzinfo=dt.UTC)


def test_every_fault_of_a_workbook_names_sheet_line_column_and_cell(
    store: Store, tmp_path: Path
) -> None:
    june = dt.datetime(2025, 6, 15)
    book = _workbook(
        tmp_path / "plant.xlsx",
        {
            "sites": [["site", "name", "time_zone"], ["a", "A", "UTC"], ["B b", "B", "Mars/Base"]],
            "devices": [["device", "kind", "method"], [june, "x", "wired"], ["d", "x", "by ear"]],
            "mounting": [["device"], ["d"]],
        },
    )
    faults = "\n".join(_faults(store, book))
    assert "plant.xlsx sheet sites line 3 column site (cell A3): 'B b' is no slug" in faults
    assert "plant.xlsx sheet sites line 3 column time_zone (cell C3)" in faults
    assert "sheet devices line 2 column device (cell A2): holds the date 2025-06-15" in faults
    assert "where a code is expected" in faults
    assert "sheet devices line 3 column method (cell C3): 'by ear' is not one of" in faults
    assert "sheet mounting: is no kind of thing; allowed: sites" in faults


def test_a_quoted_line_break_and_blank_lines_keep_the_line_numbers(
    store: Store, tmp_path: Path
) -> None:
    text = 'site,name,time_zone\n\na,"A\nB",UTC\n\nb,B,Mars/Base\n'
    (tmp_path / "sites.csv").write_text(text)
    (fault,) = _faults(store, tmp_path)
    assert fault.startswith("sites.csv line 6 column time_zone: ")


def test_overlaps_with_stored_mountings_name_both(store: Store, tmp_path: Path) -> None:
    case = make_logger_file(tmp_path / "case", 20)
    import_registry(store, case.registry)
    events = registry_events(store).num_rows
    late = mounting("05", "motor-p06", start="2020-01-01T00:00:00Z")
    with pytest.raises(RegistryError) as caught:
        import_registry(store, mountings_folder(tmp_path / "c", late))
    assert caught.value.faults == [
        "mountings.csv line 2: device logger-1 channel 05 is mounted from 2020-01-01T00:00Z "
        "while the registry has it on bench/M-1 until further notice"
    ]
    assert registry_events(store).num_rows == events


def test_one_long_mounting_overlaps_each_short_one_within_it(store: Store, tmp_path: Path) -> None:
    case = make_logger_file(tmp_path / "case", 20)
    import_registry(store, case.registry)
    folder = mountings_folder(
        tmp_path / "c",
        mounting("x", "motor-p01", "2001-01-01T00:00:00Z", "2009-01-01T00:00:00Z"),
        mounting("x", "motor-p02", "2002-01-01T00:00:00Z", "2003-01-01T00:00:00Z"),
        mounting("x", "motor-p03", "2004-01-01T00:00:00Z", "2005-01-01T00:00:00Z"),
    )
    with pytest.raises(RegistryError) as caught:
        import_registry(store, folder)
    assert [fault.partition(":")[0] for fault in caught.value.faults] == [
        "mountings.csv line 3",
        "mountings.csv line 4",
    ]


def test_what_others_need_is_not_withdrawn(store: Store, tmp_path: Path) -> None:
    case = make_logger_file(tmp_path / "case", 20)
    import_registry(store, case.registry)
    (tmp_path / "devices.csv").write_text("device,withdraw\nlogger-1,true\nnobody,true\n")
    with pytest.raises(RegistryError) as caught:
        import_registry(store, tmp_path)
    assert len([f for f in caught.value.faults if "logger-1 is needed by mountings" in f]) == 20
    assert "devices.csv line 3: nobody is not in devices; nothing to take back" in (
        caught.value.faults
    )


def test_sources_that_are_none(store: Store, tmp_path: Path) -> None:
    with pytest.raises(SourceMissingError, match="it is not there"):
        import_registry(store, tmp_path / "nowhere")
    (tmp_path / "plant.xlsx").write_text("no workbook")
    with pytest.raises(UnreadableSourceError, match="no readable workbook"):
        import_registry(store, tmp_path / "plant.xlsx")
    (tmp_path / "plant.txt").write_text("text")
    with pytest.raises(UnreadableSourceError, match="neither a folder nor a workbook"):
        import_registry(store, tmp_path / "plant.txt")
