"""Maintenance events through the inbox: counted, refused, replayed, the latest version counting."""

from __future__ import annotations

import datetime as dt
import itertools
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from schemas.tables.work import MAINTENANCE_EVENTS
from tests.warehouse.services.small_plant import Plant, make_plant, series, write_registry
from tests.warehouse.work.maintenance import FIRST, HEADER, MAPPING, export, report, shifted
from warehouse.errors import StoreError, WorkRulesError
from warehouse.inbox import Ledger
from warehouse.services import brought
from warehouse.services.checking import check_store
from warehouse.services.ingest import (
    commit_all,
    only_committer,
    receive,
    replay,
    try_mapping,
)
from warehouse.services.registry import import_registry
from warehouse.services.retracting import retract
from warehouse.store.files import read_rows

_CURRENT = "SELECT work_id, asset, activity, worked_at, resets FROM maintenance_current ORDER BY 1"
_MACHINES = "site,asset,member,role,equipment_class,external_id\n"


@pytest.fixture(name="plant")
def _plant(tmp_path: Path) -> Plant:
    return make_plant(tmp_path / "plant")


def _stored(plant: Plant) -> list[dict[str, Any]]:
    files = plant.store.table(MAINTENANCE_EVENTS).files()
    rows: list[dict[str, Any]] = read_rows(MAINTENANCE_EVENTS, (f.path for f in files)).to_pylist()
    return rows


def test_an_event_is_stored_with_all_it_says(plant: Plant) -> None:
    (package,) = report(plant, [FIRST])
    assert (package.state, package.counts.accepted) == ("committed", 1)
    (row,) = _stored(plant)
    said = {"event": "4711", "status": "valid", "site": "works", "asset": "M-1",
            "member": "motor", "activity": "bearing", "failure": "potential", "down_hours": 4.5,
            "order_id": "4711", "package": package.number}  # fmt: skip
    assert {name: row[name] for name in said} == said
    assert row["started_at"] == dt.datetime(2025, 6, 30, 6, tzinfo=dt.UTC)  # Vienna has UTC+2 then
    assert row["version_at"] == dt.datetime(2025, 7, 1, 8, tzinfo=dt.UTC)
    assert check_store(plant.store).faults == []


def _as_workbook(path: Path, header: list[str], cells: list[str]) -> None:
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, header)
        sheet.write_row(1, 0, [*cells[:-1], 4.5])


def _as_json(path: Path, header: list[str], cells: list[str]) -> None:
    record = dict(zip(header, cells, strict=True)) | {"Down": 4.5}
    path.write_text(json.dumps([record]), encoding="utf-8")


@pytest.mark.parametrize(
    ("adapter", "name", "write"),
    [("workbook", "o.xlsx", _as_workbook), ("json-records", "o.json", _as_json)],
)
def test_workbooks_and_json_say_the_same_as_delimited_text(
    plant: Plant, adapter: str, name: str, write: Callable[[Path, list[str], list[str]], None]
) -> None:
    report(plant, [FIRST])
    mapping = MAPPING.replace('"delimited"', f'"{adapter}"').replace('decimal = ","\n', "")
    mapping = mapping.replace('delimiter = ";"\n', "").replace('"orders"', '"other"')
    arrival = export(plant, name, [], mapping)
    write(arrival.file, HEADER.split(";"), FIRST.split(";"))
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [arrival])
        commit_all(plant.store, ledger)
    first, second = sorted(_stored(plant), key=lambda row: str(row["source"]), reverse=True)
    assert (first["source"], second["source"]) == ("other", "orders")
    assert first["digest"] == second["digest"]
    assert first["version_at"] == second["version_at"]


def test_hours_may_have_marks_between_thousands(plant: Plant) -> None:
    mapping = MAPPING.replace('decimal = ","\n', 'decimal = ","\nthousands = "."\n')
    arrival = export(plant, "long.csv", [shifted(FIRST, Down="1.204,5")], mapping)
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [arrival])
        commit_all(plant.store, ledger)
    assert [row["down_hours"] for row in _stored(plant)] == [1204.5]


def test_what_is_wrong_is_refused_with_its_place_and_reason(plant: Plant) -> None:
    faulty = {
        "unknown-machine": {"Tag": "M-9"},
        "unknown-activity": {"Job": "Irgendwas"},
        "bad-time": {"From": "31.06.2025 08:00"},
        "missing-hour": {"From": "30.03.2025 02:30"},
        "ambiguous-hour": {"From": "27.10.2024 02:30", "To": ""},
        "bad-number": {"Down": "4.5"},
        "bad-code": {"Failure": "sudden"},
        "impossible-event": {"To": "30.06.2025 07:00"},
        "blank-identity": {"Order": ""},
    }
    lines = [shifted(FIRST, **{"Order": str(n)} | c) for n, c in enumerate(faulty.values())]
    (package,) = report(plant, [*lines, FIRST])
    assert package.counts.rejected_by_reason == dict.fromkeys(faulty, 1)
    assert (package.counts.accepted, package.counts.items) == (1, 10)
    rows = plant.ask("SELECT line, reason, column_name, raw FROM rejects ORDER BY line")
    assert [row["reason"] for row in rows] == list(faulty)
    assert (rows[0]["line"], rows[0]["column_name"], rows[0]["raw"]) == (
        2, "Tag", "works/M-9/motor",
    )  # fmt: skip


def test_copies_are_dropped_and_amendments_kept(plant: Plant) -> None:
    amended = shifted(FIRST, Changed="02.07.2025 10:00", Job="Fett")
    first, again, later = report(plant, [FIRST, FIRST], [FIRST, ""], [amended])
    assert (first.counts.accepted, first.counts.duplicate) == (1, 1)
    assert again.counts.duplicate == 1
    assert later.counts.revised == 1
    assert len(_stored(plant)) == 2
    (row,) = plant.ask(_CURRENT)
    assert (row["activity"], row["resets"]) == ("lubricate", "temperature-mute")


@pytest.mark.slow
def test_whatever_the_order_of_arrival_the_latest_version_counts(tmp_path: Path) -> None:
    versions = [
        FIRST,
        shifted(FIRST, Changed="02.07.2025 10:00", To="30.06.2025 16:00"),
        shifted(FIRST, Changed="03.07.2025 10:00", Job="Fett"),
    ]
    other = shifted(FIRST, Order="4712", Tag="M-2")
    cancelled = shifted(other, Changed="05.07.2025 10:00", Status="VOID")
    ends = []
    for number, order in enumerate(itertools.permutations([*versions])):
        plant = make_plant(tmp_path / str(number))
        around = [cancelled, *order, other] if number % 2 else [other, *order, cancelled]
        report(plant, *([line] for line in around))
        ends.append(plant.ask(_CURRENT))
    assert ends[0][0]["activity"] == "lubricate"
    assert [len(end) for end in ends] == [1] * 6
    assert all(end == ends[0] for end in ends)


def test_without_a_version_the_receipt_is_one_and_a_daily_export_adds_nothing(plant: Plant) -> None:
    mapping = MAPPING.replace('version_at = { from = "Changed" }\n', "")
    exports = [FIRST], [FIRST, ""], [shifted(FIRST, Job="Fett")], [FIRST, "", ""]
    with Ledger.open(plant.store.inbox) as ledger:
        for number, lines in enumerate(exports):
            receive(plant.store, ledger, [export(plant, f"{number}.csv", lines, mapping)])
            commit_all(plant.store, ledger)
    assert [row["activity"] for row in sorted(_stored(plant), key=lambda r: r["version_at"])] == [
        "bearing", "lubricate", "bearing",
    ]  # fmt: skip


def test_a_machine_registered_since_comes_in_by_a_replay(plant: Plant) -> None:
    line = shifted(FIRST, Order="4712", Tag="M-3")
    (package,) = report(plant, [line, FIRST])
    assert package.counts.rejected == 1
    more = write_registry(
        plant.folder / "more",
        assets="site,asset,name,service_state\nworks,M-3,Machine 3,in-service\n",
        members="site,asset,member,role,equipment_class\n"
        "works,M-3,motor,driver,electric-motor\n",
    )  # fmt: skip
    import_registry(plant.store, more)
    with only_committer(plant.store), Ledger.open(plant.store.inbox) as ledger:
        assert replay(ledger) == [package.number]
    with Ledger.open(plant.store.inbox) as ledger:
        commit_all(plant.store, ledger)
        counts = ledger.package(package.number).counts
    assert (counts.accepted, counts.rejected, counts.items) == (2, 0, 2)
    assert [row["asset"] for row in plant.ask(_CURRENT)] == ["M-1", "M-3"]
    assert len(_stored(plant)) == 2
    assert check_store(plant.store).faults == []


@pytest.mark.slow
@pytest.mark.parametrize("table", ["rejects", "maintenance_events", "ledger"])
def test_stopped_before_any_step_nothing_is_lost_or_doubled(
    plant: Plant, table: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    append = brought._append

    def stop(*arguments: Any) -> None:
        if arguments[1].name == table:
            raise KeyboardInterrupt
        append(*arguments)

    def stop_finishing(*_: Any) -> None:
        raise KeyboardInterrupt

    arrival = export(plant, "orders.csv", [FIRST, shifted(FIRST, Order="5", Tag="M-9")])
    with Ledger.open(plant.store.inbox) as ledger:
        (receipt,) = receive(plant.store, ledger, [arrival])
        with monkeypatch.context() as patch:
            patch.setattr(brought, "_append", stop)
            if table == "ledger":
                patch.setattr(Ledger, "finish", stop_finishing)
            with pytest.raises(KeyboardInterrupt):
                commit_all(plant.store, ledger)
        commit_all(plant.store, ledger)
        counts = ledger.package(receipt.package).counts
    assert (counts.accepted, counts.rejected, counts.duplicate) == (1, 1, 0)
    assert len(_stored(plant)) == 1
    assert plant.ask("SELECT count(*) AS n FROM rejects") == [{"n": 1}]
    assert check_store(plant.store).faults == []


def test_machines_are_known_by_external_ids(plant: Plant) -> None:
    folder = write_registry(
        plant.folder / "ids",
        members=_MACHINES + "works,M-1,motor,driver,electric-motor,EQ-1\n"
        "works,M-2,motor,driver,electric-motor,EQ-2\n",
        assets="site,asset,name,service_state,external_id\nworks,M-1,Machine 1,in-service,FL-1\n"
        "works,M-2,Machine 2,in-service,FL-2\n",
    )
    import_registry(plant.store, folder)
    mapping = MAPPING.replace('asset = { from = "Tag" }\nmember = "motor"\n', "").replace(
        'site = "works"', 'object = { from = "Tag" }'
    )
    lines = [shifted(FIRST, Order=str(n), Tag=tag) for n, tag in enumerate(("EQ-2", "FL-1", "X"))]
    trial = try_mapping(plant.store, export(plant, "ids.csv", lines, mapping))
    assert [(row["asset"], row["member"]) for row in trial.sample] == [
        ("M-2", "motor"), ("M-1", None),
    ]  # fmt: skip
    assert [row["detail"] for row in trial.rejects] == [
        "object: no asset or member has this external id"
    ]
    assert _stored(plant) == []


def test_faults_of_the_activity_table_hold_back_events_and_nothing_else(plant: Plant) -> None:
    rules = plant.store.work / "activities.toml"
    rules.parent.mkdir()
    rules.write_text("format_version = 2\n", encoding="utf-8")
    arrivals = [export(plant, "o.csv", [FIRST]), plant.arrive("r.csv", series(0, 3))]
    with Ledger.open(plant.store.inbox) as ledger:
        receipts = receive(plant.store, ledger, arrivals)
        with pytest.raises(WorkRulesError, match=r"activities\.toml: activity: Field required"):
            commit_all(plant.store, ledger)
        states = [ledger.package(one.package).state for one in receipts]
        assert states == ["received", "committed"]
        rules.unlink()
        commit_all(plant.store, ledger)
    assert len(_stored(plant)) == 1


def test_events_are_not_withdrawn(plant: Plant) -> None:
    (package,) = report(plant, [FIRST])
    with (
        only_committer(plant.store),
        Ledger.open(plant.store.inbox) as ledger,
        pytest.raises(StoreError, match="holds maintenance events; have the maintenance system"),
    ):
        retract(plant.store, ledger, package.number)
