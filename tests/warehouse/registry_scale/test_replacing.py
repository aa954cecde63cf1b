"""A mounting corrected afterwards places the stored readings anew, and loses none."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.warehouse.registry_scale.plant import (
    HEADER,
    OPEN,
    current,
    mounting,
    mountings_folder,
    open_not_mounted,
    rows_twice,
    store_with_readings,
)
from warehouse.cli.app import app
from warehouse.inbox import Ledger
from warehouse.services import replacing
from warehouse.services.ingest import Arrival, commit_all, only_committer, receive, replay
from warehouse.services.registry_changes import import_changes, replace_readings
from warehouse.store import Store

READINGS = 400
A_CHANNEL = READINGS // 20


def _close_at(folder: Path, store: Store, end: str) -> replacing.Replaced:
    lines = mountings_folder(folder, mounting("01", "motor-p01", end=end))
    return import_changes(store, lines).replaced


def test_another_point_and_axis_move_the_readings_of_that_channel_only(
    tmp_path: Path, measured: Store
) -> None:
    store = measured
    before = current(store)
    changed = mountings_folder(tmp_path / "c", mounting("01", "motor-p07", axis="vertical"))
    done = import_changes(store, changed).replaced
    after = current(store)
    assert (done.placed, done.unplaced, done.returned) == (A_CHANNEL, 0, 0)
    assert [row[:2] + row[4:] for row in after] == [row[:2] + row[4:] for row in before]
    assert {row[2:4] for row in after if row[0] == "01"} == {("motor-p07", "vertical")}
    others = [row for row in before if row[0] != "01"]
    assert [row for row in after if row[0] != "01"] == others
    assert rows_twice(store) == 0


def test_readings_outside_every_mounting_are_refused_and_come_back(
    tmp_path: Path, measured: Store
) -> None:
    store = measured
    before = current(store)
    done = _close_at(tmp_path / "c", store, "2016-01-01T00:10:00Z")
    assert (done.placed, done.unplaced) == (0, A_CHANNEL - 10)
    assert len(current(store)) + open_not_mounted(store) == READINGS
    done = _close_at(tmp_path / "c", store, "2016-01-01T00:15:00Z")
    assert (done.unplaced, done.returned) == (0, 5)
    assert len(current(store)) + open_not_mounted(store) == READINGS
    assert _close_at(tmp_path / "c", store, "").returned == 5
    assert current(store) == before
    assert open_not_mounted(store) == 0
    assert rows_twice(store) == 0


def test_a_start_corrected_by_withdrawing_the_old_mounting(tmp_path: Path, measured: Store) -> None:
    store = measured
    folder = mountings_folder(
        tmp_path / "c",
        mounting("01", "motor-p01") + ",true",
        mounting("01", "motor-p01", start="2016-01-01T00:05:00Z") + ",",
        header="device,channel,site,asset,position,axis,mounted_from,mounted_to,commissioning,"
        "withdraw",
    )
    done = import_changes(store, folder)
    assert done.counts["mountings"] == {"new": 1, "changed": 0, "unchanged": 0, "withdrawn": 1}
    assert done.replaced.unplaced == 5
    assert len(current(store)) == READINGS - 5


@pytest.mark.slow
def test_commissioning_passed_afterwards_lifts_the_doubt(tmp_path: Path, measured: Store) -> None:
    store = measured
    before = current(store)
    line = mounting("01", "motor-p01", commissioning="provisional")
    import_changes(store, mountings_folder(tmp_path / "c", line))
    doubted = {row[5:] for row in current(store) if row[0] == "01"}
    assert doubted == {("suspect", "provisional-mounting")}
    import_changes(store, mountings_folder(tmp_path / "c", mounting("01", "motor-p01")))
    assert current(store) == before


@pytest.mark.slow
def test_moved_readings_can_be_moved_again_and_back(tmp_path: Path, measured: Store) -> None:
    store = measured
    before = current(store)
    for position in ("motor-p07", "motor-p08", "motor-p01"):
        import_changes(store, mountings_folder(tmp_path / "c", mounting("01", position)))
        assert {row[2] for row in current(store) if row[0] == "01"} == {position}
    assert current(store) == before
    assert rows_twice(store) == 0


def test_a_replay_of_everything_changes_nothing_afterwards(tmp_path: Path, measured: Store) -> None:
    store = measured
    _close_at(tmp_path / "c", store, "2016-01-01T00:10:00Z")
    before = current(store)
    with Ledger.open(store.inbox) as ledger:
        replay(ledger)
        replay(ledger, [package.number for package in ledger.packages() if package.bytes == 0])
        assert not ledger.pending()
    assert current(store) == before


@pytest.mark.slow
def test_it_works_in_pieces_of_chunk_rows(tmp_path: Path) -> None:
    store, _ = store_with_readings(tmp_path, 24_000)
    small = Store(store.home, store.settings.model_copy(update={"chunk_rows": 500}))
    changed = mountings_folder(tmp_path / "c", mounting("01", "motor-p07"))
    assert import_changes(small, changed).replaced.placed == 1_200
    assert rows_twice(store) == 0
    assert len(current(store)) == 24_000


class _PowerCutError(Exception):
    pass


@pytest.mark.slow
@pytest.mark.parametrize("step", ["_append_rejects", "_append_readings", "scan_superseded"])
def test_stopped_anywhere_it_is_made_good(
    tmp_path: Path, measured: Store, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    store = measured
    calls = []

    def cut(*_: object) -> None:
        calls.append(step)
        if len(calls) > (1 if step == "scan_superseded" else 0):
            raise _PowerCutError
        real(*_)

    real = getattr(replacing._Replacing, step)
    folder = mountings_folder(
        tmp_path / "c",
        mounting("01", "motor-p09", end="2016-01-01T00:10:00Z"),
        mounting("02", "motor-p02", start=OPEN, end="2016-01-01T00:10:00Z"),
    )
    with monkeypatch.context() as patch:
        patch.setattr(replacing._Replacing, step, cut)
        with pytest.raises(_PowerCutError):
            import_changes(store, folder)
    again = Store(store.home, store.settings)
    with only_committer(again), Ledger.open(again.inbox) as ledger:
        replace_readings(again, ledger)
        assert not replacing.needs_replacing(again, ledger)
    assert len(current(again)) == READINGS - 20
    assert open_not_mounted(again) == 20
    assert {row[2] for row in current(again) if row[0] == "01"} == {"motor-p09"}
    assert rows_twice(again) == 0


ROUTE_MAPPING = """format_version = 1
name = "walk"

[source]
id = "walk"
adapter = "delimited"
method = "route"

[time]
from = "time"

[record]
device = "meter-1"
channel = { from = "stop" }
route = { from = "route" }
quantity = "velocity"
detector = "rms"
unit = "mm/s"
band = "10-1000Hz"

[[measure]]
from = "v"
axis = "vertical"

[[measure]]
from = "h"
feature = "1x"
"""


def test_a_stop_moved_takes_its_readings_along(tmp_path: Path, measured: Store) -> None:
    head = "route,stop,walk_order,site,asset,position,axis,interval_days"
    stops = tmp_path / "stops"
    stops.mkdir()
    lines = [f"R{r},A1,1,bench,M-1,motor-p0{r},horizontal,14" for r in (1, 2)]
    (stops / "routes.csv").write_text("\n".join([head, *lines]))
    import_changes(measured, stops)
    (tmp_path / "walk.toml").write_text(ROUTE_MAPPING)
    (tmp_path / "walk.csv").write_text(
        "route,stop,time,v,h\n"
        "R1,A1,2016-02-01T10:00:00Z,1.0,1.1\nR2,A1,2016-02-01T11:00:00Z,2.0,2.1\n"
    )
    with Ledger.open(measured.inbox) as ledger:
        receive(measured, ledger, [Arrival(tmp_path / "walk.csv", tmp_path / "walk.toml")])
        commit_all(measured, ledger)
    lines[1] = "R2,A1,1,bench,M-1,motor-p09,axial,14"
    (stops / "routes.csv").write_text("\n".join([head, *lines]))
    assert import_changes(measured, stops).replaced == replacing.Replaced(placed=2)
    walked = [row for row in current(measured) if row[0] == "A1"]
    assert [row[2:5] for row in walked] == [
        ("motor-p01", "horizontal", 1.1),
        ("motor-p01", "vertical", 1.0),
        ("motor-p09", "axial", 2.1),
        ("motor-p09", "vertical", 2.0),
    ], "an axis the source states stays; the other is the stop's"


def test_nothing_is_looked_at_where_no_place_changed(tmp_path: Path, measured: Store) -> None:
    (tmp_path / "sites.csv").write_text("site,name,time_zone\nbench,New name,UTC\n")
    assert not import_changes(measured, tmp_path).replaced.any
    with Ledger.open(measured.inbox) as ledger:
        assert not replacing.needs_replacing(measured, ledger)
        assert [package.bytes > 0 for package in ledger.packages()] == [True]


@pytest.mark.slow
def test_a_dry_run_foresees_what_becomes_of_stored_readings(
    tmp_path: Path, measured: Store
) -> None:
    store = measured
    before = current(store)
    for number, line in enumerate(
        (
            mounting("01", "motor-p07"),
            mounting("01", "motor-p07", end="2016-01-01T00:10:00Z"),
            mounting("01", "motor-p07", end="2016-01-01T00:15:00Z"),
            mounting("01", "motor-p01"),
            mounting("01", "motor-p01"),
        )
    ):
        lines = mountings_folder(tmp_path / f"c{number}", line)
        foreseen = import_changes(store, lines, dry_run=True).replaced
        assert foreseen == import_changes(store, lines).replaced
    assert not foreseen.any
    assert current(store) == before


def test_a_dry_run_says_what_it_found_and_changes_nothing(tmp_path: Path, measured: Store) -> None:
    store = measured
    before = current(store)
    lines = mountings_folder(
        tmp_path / "c",
        mounting("01", "motor-p07", end="2016-01-01T00:15:00Z"),
        *(mounting(f"x{n:02d}", "motor-p01") for n in range(12)),
    )
    words = ["registry", "import", str(lines), "--home", str(store.home), "--dry-run"]
    said = CliRunner().invoke(app, words, catch_exceptions=False).stdout
    assert (
        "mountings: logger-1/01/2000-01-01T00:00:00+00:00 changes: position motor-p01 -> "
        "motor-p07, mounted_to blank -> 2016-01-01T00:15:00Z\n" in said
    )
    assert "mountings: logger-1/x00/2000-01-01T00:00:00+00:00 is new\n" in said
    assert "mountings: and 2 more; --json lists all\n" in said
    assert said.endswith(
        "With the import: 15 stored readings placed anew, "
        "5 on no machine now (see `mcw rejects`).\n"
    )
    found = json.loads(CliRunner().invoke(app, [*words, "--json"]).stdout)
    assert (found["dry_run"], found["replaced"]["placed"]) == (True, 15)
    assert len(found["details"]["mountings"]["new"]) == 12
    assert current(store) == before


def test_a_dry_run_foresees_a_withdrawn_mounting(tmp_path: Path, measured: Store) -> None:
    lines = mountings_folder(
        tmp_path / "c",
        mounting("01", "motor-p01") + ",true",
        header=f"{HEADER},withdraw",
    )
    found = import_changes(measured, lines, dry_run=True)
    assert found.differences.by_entity["mountings"].withdrawn == [
        "logger-1/01/2000-01-01T00:00:00+00:00"
    ]
    assert found.replaced == import_changes(measured, lines).replaced
    assert found.replaced.unplaced == A_CHANNEL
