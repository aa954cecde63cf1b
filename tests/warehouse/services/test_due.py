"""What is judged anew after a change gives the same conditions as judging everything."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.warehouse.services.small_plant import (
    REGISTRY,
    Plant,
    Reading,
    make_plant,
    stamp,
    write_registry,
)
from tests.warehouse.work.maintenance import FIRST, report
from warehouse.inbox import Ledger
from warehouse.judging import judge
from warehouse.judging.working import CONDITIONS, files_of
from warehouse.services.due import judged_versions, open_judging
from warehouse.services.ingest import only_committer
from warehouse.services.judging import judge_store, judged_now
from warehouse.services.registry import import_registry
from warehouse.services.retracting import retract

_HOUR = 60
_DAYS = 9
_SETTINGS = {"clock": "data", "judge_whole_below": 0}
_ASSETS = "".join(f"works,M-{n},Machine {n},in-service\n" for n in range(1, 6))
_POINTS = "".join(f"works,M-{n},motor-de,motor,true,true\n" for n in range(1, 6))
_PLANT = {
    "assets": "site,asset,name,service_state\n" + _ASSETS,
    "points": "site,asset,position,member,bearing_housing,thrust_end\n" + _POINTS,
    "members": "site,asset,member,role,equipment_class,rated_power_kw,support_horizontal\n"
    + "".join(f"works,M-{n},motor,driver,electric-motor,90,rigid\n" for n in range(1, 6)),
    "mountings": REGISTRY["mountings"].splitlines()[0]
    + "\n"
    + "".join(
        f"L1,{n},works,M-{n},motor-de,horizontal,2020-01-01T00:00:00Z,passed\n" for n in range(1, 6)
    ),
}


def _hourly(machine: int, first_day: int = 0, days: int = _DAYS, off: float = 0.0) -> list[Reading]:
    """Hourly readings about 2 mm/s, those of each machine in an order of their own."""
    hours = range(24 * first_day, 24 * (first_day + days))
    return [
        ("L1", str(machine), stamp(_HOUR * n), f"{2 + off + (n * (7 + machine) % 40) / 100:.2f}")
        for n in hours
    ]


def _as_of_another(machine: int, source: int) -> list[Reading]:
    """What another machine reads, to the last digit."""
    return [(device, str(machine), ts, value) for device, _, ts, value in _hourly(source)]


def _withdraw_last(plant: Plant, undo: bool = False) -> None:
    with Ledger.open(plant.store.inbox) as ledger, only_committer(plant.store):
        number = ledger.packages()[-1].number
        retract(plant.store, ledger, number, undo=undo, dry_run=False)


def _more_power(plant: Plant) -> None:
    before = "M-3,motor,driver,electric-motor,90"
    _register(plant, members=_PLANT["members"].replace(before, before.replace("90", "400")))


def _exchange_bearing(plant: Plant) -> None:
    report(plant, [FIRST.replace("30.06.2025", "05.06.2025").replace("M-1", "M-2")])


def _register(plant: Plant, **replaced: str) -> None:
    folder = write_registry(plant.folder / "registry", **{**_PLANT, **replaced})
    import_registry(plant.store, folder)


_STEPS: dict[str, tuple[Callable[[Plant], object], int | None]] = {
    "one machine": (lambda plant: plant.ingest(_hourly(3, 0, 4)), 1),
    "nothing": (lambda _: None, 0),
    "later of one": (lambda plant: plant.ingest(_hourly(3, 4, 5)), 1),
    "high ones": (lambda plant: plant.ingest(_hourly(4, 6, 3, off=8)), 1),
    "late and others": (lambda plant: plant.ingest(_hourly(4, 0, 6)), 1),
    "revised": (lambda plant: plant.ingest(_hourly(4, 7, 1, off=1)), 1),
    # the copy casts doubt on the machine it is a copy of, which itself did not change
    "a copy of another": (lambda plant: plant.ingest(_as_of_another(5, 3)), 2),
    "the copy withdrawn": (_withdraw_last, 2),
    "and put back": (lambda plant: _withdraw_last(plant, undo=True), 2),
    "another power": (_more_power, 1),
    "another time zone": (
        lambda plant: _register(plant, sites="site,name,time_zone\nworks,Works,Asia/Tokyo\n"),
        None,
    ),
    "a bearing exchanged": (_exchange_bearing, 1),
}
"""What happens, and how many machines are then judged anew; None = every one."""
_SHORT = ("one machine", "later of one", "a copy of another", "another power")


def _conditions(plant: Plant, anew: bool) -> tuple[pa.Table, int | None]:
    as_of = judged_now(plant.store)
    versions = judged_versions(plant.store)
    with open_judging(plant.store, versions, as_of, anew) as session:
        if not anew:
            session.keep()
        return judge(session.connection, None, as_of, 1).conditions, session.due


def _begin(folder: Path) -> Plant:
    plant = make_plant(folder, _SETTINGS)
    _register(plant)
    plant.ingest(_hourly(1) + _hourly(2))
    judge_store(plant.store)
    return plant


@pytest.mark.parametrize("steps", [_SHORT, pytest.param(tuple(_STEPS), marks=pytest.mark.slow)])
def test_each_change_judges_what_it_touched_and_agrees_with_judging_everything(
    tmp_path: Path, steps: tuple[str, ...]
) -> None:
    plant = _begin(tmp_path / "plant")
    for name in steps:
        step, touched = _STEPS[name]
        step(plant)
        found, due = _conditions(plant, anew=False)
        assert due == touched, name
        assert found.equals(_conditions(plant, anew=True)[0]), name


@pytest.mark.slow
@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.permutations([name for name in _STEPS if "copy" not in name and "back" not in name]))
def test_in_whatever_order_things_happen(
    tmp_path_factory: pytest.TempPathFactory, order: list[str]
) -> None:
    plant = _begin(tmp_path_factory.mktemp("due"))
    for name in order:
        _STEPS[name][0](plant)
        found, _ = _conditions(plant, anew=False)
        assert found.equals(_conditions(plant, anew=True)[0]), name


@pytest.mark.slow
def test_a_date_that_passes_touches_its_machine(tmp_path: Path) -> None:
    plant = _begin(tmp_path / "plant")
    plant.ingest(_hourly(3) + _hourly(4) + _hourly(5))
    _register(
        plant,
        limit_assignments="site,asset,member,limit_set,assigned_from,assigned_by,reason\n"
        "works,M-2,motor,iso-20816-3-2022/group-1,2025-06-11T00:00:00Z,analyst,stiffer base\n",
    )
    _conditions(plant, anew=False)
    plant.ingest([("L1", "1", "2025-06-12T00:00:00", "2.00")])
    found, due = _conditions(plant, anew=False)
    assert due == 2
    assert found.equals(_conditions(plant, anew=True)[0])


@pytest.mark.slow
def test_what_is_kept_of_another_make_or_damaged_is_not_used(tmp_path: Path) -> None:
    plant = _begin(tmp_path / "plant")
    (kept,) = plant.store.kept.iterdir()
    kept.write_bytes(b"no judgement")
    assert _conditions(plant, anew=False)[1] is None
    assert _conditions(plant, anew=False)[1] == 0
    plant.store.work.mkdir()
    rules = (files("warehouse.work") / "priorities.toml").read_text(encoding="utf-8")
    rules = rules.replace("A = 4", "A = 3")
    (plant.store.work / "priorities.toml").write_text(rules, encoding="utf-8")
    assert _conditions(plant, anew=False)[1] is None


@pytest.mark.slow
def test_what_a_stopped_program_had_begun_is_in_nobodys_way(tmp_path: Path) -> None:
    plant = _begin(tmp_path / "plant")
    for name in ("unfinished.duckdb", "unfinished.duckdb.wal"):
        (plant.store.kept / name).write_bytes(b"half")
    plant.ingest(_hourly(3, 0, 4))
    assert _conditions(plant, anew=False)[1] == 1
    assert len(list(plant.store.kept.iterdir())) == 1
    for path in plant.store.kept.iterdir():
        path.unlink()
    plant.store.kept.rmdir()
    plant.store.kept.write_text("no folder, so nothing can be kept")
    assert judge_store(plant.store).due is None


def test_what_sees_the_fleet_reads_no_readings_but_what_is_kept() -> None:
    by_name = {file.name: file for file in files_of()}

    def reads(name: str) -> bool:
        file = by_name.get(name)
        if file is None or (file.kept is not None and name not in CONDITIONS):
            return name == "readings"
        return bool(re.search(r"(FROM|JOIN) readings\b", file.query)) or any(
            map(reads, file.depends)
        )

    of_machines = {name for name in by_name if reads(name)}
    assert {"readings_current", "running_states", "daily_statistics"} <= of_machines
    # what doubts readings sees the whole fleet, and so does all that conditions are told from
    assert not of_machines & {"trust_doubts", "trends", "point_evidence", *CONDITIONS}
