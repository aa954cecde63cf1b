"""A route's sheet out and back through the inbox: coded stops, refusals, copies, corrections."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.cli.running import mcw
from tests.warehouse.services.small_plant import (
    REGISTRY,
    Plant,
    copy_plant,
    make_plant,
    write_registry,
)
from warehouse.errors import NotFoundError, RegistryError, RouteError
from warehouse.inbox import Ledger, Package
from warehouse.services import committing, routes
from warehouse.services.checking import check_store
from warehouse.services.ingest import (
    Arrival,
    commit_all,
    judge_now,
    only_committer,
    receive,
    replay,
    try_mapping,
)
from warehouse.services.judging import judged_now
from warehouse.services.registry import import_registry
from warehouse.services.rejected import open_rejects
from warehouse.services.retracting import retract
from warehouse.work.route_sheet import COLUMNS, sheet_mapping, workbook

_ROUTES = (
    "route,stop,walk_order,site,asset,position,axis,interval_days,window_days,meter,quantity,"
    "detector,band,unit,temperature_unit\n"
    "R1,6-01,1,works,M-1,motor-de,horizontal,14,3,MTR,velocity,derived-peak,10-1000Hz,[in_i]/s,\n"
    "R1,6-02,2,works,M-1,motor-de,vertical,14,3,MTR,velocity,derived-peak,10-1000Hz,[in_i]/s,\n"
    "R1,6-03,3,works,M-2,motor-de,vertical,14,3,MTR,velocity,rms,10-1000Hz,mm/s,Cel\n"
)
_DAY = dt.date(2025, 6, 2)
_VISITS = (
    "SELECT stop, result, observations, note, person, visited_at FROM stop_results_current "
    "ORDER BY visited_at, stop"
)
Filled = dict[str, dict[str, Any]]


@pytest.fixture(name="routed", scope="module")
def _routed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A judged store with a route: made once, copied from then on."""
    folder = tmp_path_factory.mktemp("routed")
    plant = make_plant(folder / "plant", {"clock": "data"})
    import_registry(plant.store, write_registry(folder / "registry", routes=_ROUTES))
    judge_now(plant.store)
    return plant.store.home


@pytest.fixture(name="plant")
def _plant(routed: Path, tmp_path: Path) -> Plant:
    return copy_plant(routed, tmp_path / "plant")


def _sheet(plant: Plant, name: str, filled: Filled, day: dt.date = _DAY) -> Arrival:
    """The sheet the program writes, with what a technician fills in by stop."""
    rows = [
        row | {"Date": row["Date"]} | filled.get(row["Stop"], {})
        for row in routes.sheet(plant.store, "R1", day)
    ]
    path, mapping = plant.folder / name, plant.folder / "route.toml"
    path.write_bytes(workbook(rows, "Route R1"))
    mapping.write_text(routes.mapping_text(plant.store, "R1"), encoding="utf-8")
    return Arrival(path, mapping)


def _bring(plant: Plant, name: str, filled: Filled, day: dt.date = _DAY) -> Package:
    with Ledger.open(plant.store.inbox) as ledger:
        (receipt,) = receive(plant.store, ledger, [_sheet(plant, name, filled, day)])
        commit_all(plant.store, ledger)
        return ledger.package(receipt.package)


_WALK: Filled = {
    "6-01": {"Time": "09:00", "Value": 0.2, "Observation": "leak; noise", "Remarks": "drips"},
    "6-02": {"Result": "no-access", "Walked by": "A. Example"},
    "6-03": {"Time": "09:10", "Value": 2.5, "Temperature": 41.0},
}


def test_a_filled_sheet_brings_readings_and_stops(plant: Plant) -> None:
    package = _bring(plant, "walk.xlsx", _WALK)
    assert (package.state, package.counts.accepted) == ("committed", 3)
    values = plant.ask("SELECT position, axis, quantity, detector, value FROM readings_current")
    assert {(r["quantity"], r["detector"], round(r["value"], 3)) for r in values} == {
        ("velocity", "derived-peak", 5.08),  # 0.2 in/s are 5.08 mm/s by definition of the inch
        ("velocity", "rms", 2.5),
        ("temperature", "value", 41.0),
    }
    found = {row["stop"]: row for row in plant.ask(_VISITS)}
    assert {stop: row["result"] for stop, row in found.items()} == {
        "6-01": "measured", "6-02": "no-access", "6-03": "measured",
    }  # fmt: skip
    assert found["6-01"]["observations"] == "leak noise"
    assert found["6-02"]["person"] == "A. Example"
    # no time of its own: the stop before it in the sheet, 09:00 in Vienna, lends its own
    assert found["6-02"]["visited_at"] == dt.datetime(2025, 6, 2, 7, tzinfo=dt.UTC)
    assert check_store(plant.store).faults == []


@pytest.mark.slow
def test_the_same_walk_twice_is_a_copy(plant: Plant) -> None:
    first = _bring(plant, "walk.xlsx", _WALK)
    assert _bring(plant, "walk.xlsx", _WALK).number == first.number
    more = _WALK | {"6-03": _WALK["6-03"] | {"Walked by": "B. Example"}}  # other bytes
    again = _bring(plant, "saved-again.xlsx", more)
    assert (again.number != first.number, again.counts.duplicate) == (True, 3)
    # of the stops only the one that says something new is stored again
    assert len(plant.ask("SELECT * FROM stop_results")) == 4


def test_a_later_sheet_of_the_same_walk_counts(plant: Plant) -> None:
    _bring(plant, "walk.xlsx", _WALK)
    _bring(plant, "mended.xlsx", _WALK | {"6-02": {"Result": "unsafe", "Walked by": "A. Example"}})
    found = {row["stop"]: row["result"] for row in plant.ask(_VISITS)}
    assert found == {"6-01": "measured", "6-02": "unsafe", "6-03": "measured"}
    assert len(plant.ask("SELECT * FROM stop_results")) == 4


def test_a_word_that_is_no_code_is_refused_with_its_place(plant: Plant) -> None:
    package = _bring(plant, "walk.xlsx", _WALK | {"6-02": {"Result": "closed"}})
    assert package.counts.rejected_by_reason == {"bad-code": 1}
    (row,) = plant.ask("SELECT line, column_name, reason, detail, raw FROM rejects")
    assert (row["line"], row["column_name"], row["raw"]) == (6, "Result", "closed")
    assert "no-access" in row["detail"]
    assert check_store(plant.store).faults == []


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"Result": "measured"}, "no value stands beside it"),
        ({"Time": "09:05", "Value": 0.1, "Result": "unsafe"}, "a value stands beside it"),
        ({"Result": "no-time", "Observation": "rattle"}, "'rattle' is not one of"),
    ],
)
def test_what_contradicts_itself_is_refused(plant: Plant, said: dict[str, Any], words: str) -> None:
    tried = try_mapping(plant.store, _sheet(plant, "walk.xlsx", _WALK | {"6-02": said}))
    assert tried.counts.rejected_by_reason == {"bad-code": 1}
    assert words in str(tried.rejects[0]["detail"])
    assert plant.ask("SELECT * FROM stop_results") == []


def _open(plant: Plant) -> list[tuple[str, str]]:
    """Stop and reason of each refused item that is told as open."""
    judge_now(plant.store)
    return sorted((row["channel"], row["reason"]) for row in open_rejects(plant.store, 50).rows)


def test_a_refused_result_is_told_beside_its_value_taken_or_refused(plant: Plant) -> None:
    said: Filled = {
        "6-01": {"Time": "09:00", "Value": 0.2, "Result": "not-running", "Observation": "leak"},
        "6-02": {"Time": "09:05", "Value": "o.2", "Result": "unsafe"},
        "6-03": {"Time": "09:10", "Value": 2.5, "Observation": "rattle"},
    }
    package = _bring(plant, "walk.xlsx", said)
    refused = [("6-01", "bad-code"), ("6-02", "bad-code"), ("6-02", "bad-number"),
               ("6-03", "bad-code")]  # fmt: skip
    assert package.counts.rejected_by_reason == {"bad-code": 3, "bad-number": 1}
    assert (package.counts.items, package.counts.accepted) == (6, 2)
    assert _open(plant) == refused
    found = plant.ask("SELECT channel, reason FROM rejects_newest ORDER BY ALL")
    assert [(row["channel"], row["reason"]) for row in found] == refused
    # what was taken was measured, whatever word stands beside; a refused word is not kept
    stood = {row["stop"]: (row["result"], row["observations"]) for row in plant.ask(_VISITS)}
    assert stood == {"6-01": ("measured", "leak"), "6-03": ("measured", None)}
    assert check_store(plant.store).faults == []


def test_a_stop_whose_values_were_all_refused_was_not_measured(plant: Plant) -> None:
    said: Filled = {
        "6-01": {"Time": "09:00", "Value": "o.2", "Observation": "leak"},
        "6-02": {"Time": "09:05", "Value": "o.2", "Result": "measured"},
        "6-03": {"Time": "09:10", "Value": "2..5", "Temperature": 41.0},
    }
    package = _bring(plant, "walk.xlsx", said)
    assert package.counts.rejected_by_reason == {"bad-number": 3}
    stood = {row["stop"]: (row["result"], row["observations"]) for row in plant.ask(_VISITS)}
    assert stood == {"6-01": (None, "leak"), "6-02": (None, None), "6-03": ("measured", None)}
    (walk,) = plant.ask("SELECT measured, unexplained FROM route_walks")
    assert walk == {"measured": 1, "unexplained": 2}
    with Ledger.open(plant.store.inbox) as ledger:  # taken in again, nothing is measured twice
        replay(ledger, [package.number])
        commit_all(plant.store, ledger)
    assert len(plant.ask("SELECT * FROM stop_results")) == 3


@pytest.mark.slow
def test_a_stop_registered_later_is_settled_by_a_replay(plant: Plant, tmp_path: Path) -> None:
    arrival = _sheet(plant, "walk.xlsx", _WALK)
    first = "".join(_ROUTES.splitlines(keepends=True)[:2])
    plant = make_plant(tmp_path / "young", {"clock": "data"})
    import_registry(plant.store, write_registry(tmp_path / "first", routes=first))
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [arrival])
        commit_all(plant.store, ledger)
    unknown = [("6-02", "unknown-stop"), ("6-03", "unknown-stop"), ("6-03", "unknown-stop")]
    assert _open(plant) == unknown
    import_registry(plant.store, write_registry(tmp_path / "whole", routes=_ROUTES))
    with Ledger.open(plant.store.inbox) as ledger:
        replay(ledger)
        commit_all(plant.store, ledger)
    assert _open(plant) == []
    assert {row["stop"]: row["result"] for row in plant.ask(_VISITS)} == {
        "6-01": "measured", "6-02": "no-access", "6-03": "measured",
    }  # fmt: skip


def test_the_clock_of_the_data_reaches_the_last_stop_that_was_not_measured(plant: Plant) -> None:
    late = {"6-02": {"Time": "09:20", "Result": "unsafe"}, "6-03": {"Result": "no-time"}}
    _bring(plant, "walk.xlsx", _WALK | late)
    assert judged_now(plant.store) == dt.datetime(2025, 6, 2, 7, 20, tzinfo=dt.UTC)
    stood = {row["stop"]: row["result"] for row in plant.ask(_VISITS)}
    assert stood == {"6-01": "measured", "6-02": "unsafe", "6-03": "no-time"}
    # a date that cannot be is refused, and moves no clock
    ahead = dt.date(dt.datetime.now(dt.UTC).year + 1, 1, 31)
    wrong: Filled = {"6-02": {"Time": "09:20", "Result": "unsafe"}}
    package = _bring(plant, "ahead.xlsx", wrong, ahead)
    assert package.counts.rejected_by_reason == {"time-out-of-range": 1}
    assert judged_now(plant.store) == dt.datetime(2025, 6, 2, 7, 20, tzinfo=dt.UTC)


def test_a_sheet_without_any_time_is_refused(plant: Plant) -> None:
    package = _bring(plant, "walk.xlsx", {"6-01": {"Result": "no-time"}})
    assert package.counts.rejected_by_reason == {"bad-time": 1}


def test_a_retracted_sheet_counts_no_more(plant: Plant) -> None:
    package = _bring(plant, "walk.xlsx", _WALK)
    with only_committer(plant.store), Ledger.open(plant.store.inbox) as ledger:
        retract(plant.store, ledger, package.number, dry_run=False)
    assert plant.ask(_VISITS) == []


def test_a_sheet_shows_the_last_value_and_the_boundary_as_the_meter_does(plant: Plant) -> None:
    _bring(plant, "walk.xlsx", _WALK)
    judge_now(plant.store)
    rows = {row["Stop"]: row for row in routes.sheet(plant.store, "R1")}
    assert rows["6-01"]["Last value"] == 0.2
    assert rows["6-01"]["Last on"] == "2025-06-02"
    # B/C of a 90 kW motor on rigid support (ISO 20816-3 group 2): 2.8 mm/s rms
    assert rows["6-01"]["Alert above"] == pytest.approx(2.8 * 2**0.5 / 25.4, rel=1e-3)
    assert rows["6-03"]["Last value"] == 2.5
    assert rows["6-02"]["Last value"] is None
    assert rows["6-01"]["Expected"] == "running"
    assert set(rows["6-01"]) <= set(COLUMNS)


def test_observations_stand_beside_the_condition(plant: Plant) -> None:
    _bring(plant, "walk.xlsx", _WALK)
    judge_now(plant.store)
    rows = plant.ask(
        "SELECT scope, observations FROM condition_current WHERE asset = 'M-1' AND observations "
        "IS NOT NULL ORDER BY scope"
    )
    assert [row["scope"] for row in rows] == ["asset", "member", "point", "point"]
    assert {row["observations"] for row in rows} == {"motor-de: leak, noise (drips), 2025-06-02"}


def test_a_route_that_does_not_say_what_is_read_has_no_sheet(plant: Plant, tmp_path: Path) -> None:
    bare = "route,stop,walk_order,site,asset,position,axis,interval_days\n"
    stop = "R2,1,1,works,M-1,motor-de,vertical,14\n"
    import_registry(plant.store, write_registry(tmp_path / "bare", **REGISTRY, routes=bare + stop))
    judge_now(plant.store)
    with pytest.raises(RouteError, match="stop 1 of route R2 does not say its quantity"):
        routes.sheet(plant.store, "R2")
    with pytest.raises(NotFoundError, match="route 'R9'"):
        routes.sheet(plant.store, "R9")


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("[in_i]/s,\n", "Cel,\n", "unit 'Cel' does not measure velocity derived-peak"),
        ("velocity,derived-peak", "velocity,", "quantity, unit without detector"),
        ("10-1000Hz", "wide", "band 'wide' is not of the form"),
        ("derived-peak,10-1000Hz", "derived-peak,", "band is needed"),
        ("mm/s,Cel", "mm/s,mm/s", "unit 'mm/s' does not measure temperature"),
    ],
)
def test_a_stop_that_cannot_be_read_is_refused_at_import(
    plant: Plant, tmp_path: Path, before: str, after: str, words: str
) -> None:
    told = write_registry(tmp_path / "faulty", routes=_ROUTES.replace(before, after))
    with pytest.raises(RegistryError, match=re.escape(words)):
        import_registry(plant.store, told)


def test_sheet_and_mapping_by_the_command(plant: Plant) -> None:
    home, out, told = str(plant.store.home), plant.folder / "s.xlsx", plant.folder / "s.toml"
    assert mcw("route", "sheet", "R1", "--out", str(out), "--home", home).code == 0
    assert mcw("route", "mapping", "R1", "--out", str(told), "--home", home).code == 0
    taken = mcw("ingest", str(out), "--mapping", str(told), "--home", home)
    assert (taken.code, "there is no reading in it" in taken.said) == (0, True)
    assert mcw("route", "sheet", "R9", "--home", home).code == 2
    assert mcw("route", "sheet", "R1", "--out", "s.csv", "--home", home).code == 2


def test_the_shipped_mapping_has_the_zone_of_the_site() -> None:
    assert 'zone = "America/Chicago"' in sheet_mapping("America/Chicago")


@pytest.mark.slow
def test_a_program_stopped_between_stops_and_readings_is_made_good(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    def die(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(committing, "commit_group", die)
        with pytest.raises(KeyboardInterrupt):
            _bring(plant, "walk.xlsx", _WALK)
    assert len(plant.ask("SELECT * FROM stop_results")) == 3
    assert plant.ask("SELECT * FROM readings") == []
    with Ledger.open(plant.store.inbox) as ledger:
        commit_all(plant.store, ledger)
    assert len(plant.ask("SELECT * FROM stop_results")) == 3
    assert len(plant.ask("SELECT * FROM readings")) == 3
    assert check_store(plant.store).faults == []
