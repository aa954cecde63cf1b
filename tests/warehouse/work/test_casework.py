"""Cases of a store: from readings to the verified repair, exactly once, told by `mcw case`."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from schemas.tables.work import CASE_ACTIONS, CASE_EVENTS
from tests.warehouse.services.small_plant import (
    REGISTRY,
    Plant,
    Reading,
    copy_plant,
    make_plant,
    write_registry,
)
from tests.warehouse.work.maintenance import FIRST, report, shifted
from warehouse.cli.app import app
from warehouse.errors import CaseError, NotFoundError, WarehouseError
from warehouse.services import casework, judging
from warehouse.services.cases import act, list_cases, notices, summary, suppress, suppressions
from warehouse.services.casework import a_date_has_come, rows_of
from warehouse.services.checking import check_store
from warehouse.services.ingest import judge_now
from warehouse.services.judging import is_behind
from warehouse.services.meetings import meeting_sheet
from warehouse.services.registry import import_registry

_MOTOR = ("works", "M-1", "motor")


def six_hourly(first: int, days: int, value: float) -> list[Reading]:
    """Four readings a day of one channel from a day of the history on."""
    start = dt.datetime(2025, 6, 1) + dt.timedelta(days=first)
    moments = [start + dt.timedelta(hours=6 * n) for n in range(4 * days)]
    return [
        ("L1", "1", f"{at:%Y-%m-%dT%H:%M}", f"{value + n % 3 / 100:.2f}")
        for n, at in enumerate(moments)
    ]


@pytest.fixture(name="ill", scope="module")
def _ill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A judged store with a machine in danger: made once, copied from then on."""
    plant = make_plant(tmp_path_factory.mktemp("ill") / "plant", {"clock": "data"})
    plant.ingest(six_hourly(0, 29, 5.5))
    judge_now(plant.store)
    return plant.store.home


@pytest.fixture(name="plant")
def _plant(ill: Path, tmp_path: Path) -> Plant:
    return copy_plant(ill, tmp_path)


def _mcw(plant: Plant, *words: str) -> tuple[int, str]:
    done = CliRunner().invoke(app, ["case", *words, "--home", str(plant.store.home)])
    if isinstance(done.exception, WarehouseError):
        return done.exception.exit_code, done.exception.message
    return done.exit_code, done.output


def _log(plant: Plant) -> list[dict[str, Any]]:
    return rows_of(plant.store, CASE_EVENTS)


def _relimited(plant: Plant, **registry: str) -> tuple[str, str]:
    """Change the registry, judge: what the last line of the case's life and the sheet say."""
    import_registry(plant.store, write_registry(plant.folder / "registry", **registry))
    judge_now(plant.store)
    (case,) = list_cases(plant.store)
    life = _mcw(plant, "show", str(case["case_id"]))[1]
    rows = meeting_sheet(plant.store, dt.date(2025, 6, 1)).rows
    return life, next(row["change"] for row in rows if row["case_id"] == case["case_id"])


def test_a_changed_support_is_told_where_the_level_changed_with_it(plant: Plant) -> None:
    flexible = REGISTRY["members"].replace("rigid", "flexible")
    before, behind = "rigid support, boundaries 1.40 / 2.80 / 4.50", "2.30 / 4.50 / 7.10 mm/s"
    life, change = _relimited(plant, members=flexible)
    for said in (life, change):
        assert f"{before} mm/s -> ISO 20816-3:2022 group-2, flexible support, boundaries" in said
        assert behind in said
        assert "assigned by" not in said
    assert change.startswith("opened at danger, now alert; limits changed 2025-06-29: ISO 20816-3")
    _, again = _relimited(plant, members=flexible)
    assert again == change


def test_an_assignment_by_hand_is_told_with_who_made_it(plant: Plant) -> None:
    head = "site,asset,member,limit_set,assigned_from,assigned_by,reason\n"
    line = "works,M-1,motor,iso-20816-3-2022/group-1,2020-01-01T00:00:00Z,N. Obody,agreed\n"
    life, change = _relimited(plant, limit_assignments=head + line)
    for said in (life, change):
        assert "group-2, rigid support" in said
        assert "mm/s, assigned by N. Obody (agreed)" in said


def test_a_level_that_readings_changed_tells_of_no_limits(plant: Plant) -> None:
    plant.ingest(six_hourly(29, 10, 3.5))
    life, change = _relimited(plant)
    assert "now alert" in change
    assert "limits changed" not in change + life


def test_from_the_first_danger_to_the_repair_that_helped(plant: Plant) -> None:
    (case,) = list_cases(plant.store)
    said = {"site": "works", "asset": "M-1", "member": "motor", "basis": "severity",
            "level": "danger", "state": "new", "priority": 2}  # fmt: skip
    assert {name: case[name] for name in said} == said
    number = case["case_id"]
    act(plant.store, number, "confirm", "A. Example")
    act(plant.store, number, "request", "A. Example", order_id="4711")
    assert not is_behind(plant.store)
    report(plant, [FIRST])
    assert is_behind(plant.store)
    plant.ingest(six_hourly(29, 10, 1.9))
    judge_now(plant.store)
    found = summary(plant.store, number)
    assert found["case"]["state"] == "verified"
    (repair,) = found["repairs"]
    assert repair["outcome"] == "effective"
    assert "1.91 mm/s after, 5.51 mm/s before" in repair["words"].replace(
        "1.91 mm/s after, 5.51 before", "1.91 mm/s after, 5.51 mm/s before"
    )
    assert [row["kind"] for row in notices(plant.store)] == [
        "opened", "confirmed", "work-requested", "done", "verified",
    ]  # fmt: skip
    before = _log(plant)
    judge_now(plant.store)
    assert _log(plant) == before
    assert check_store(plant.store).faults == []


@pytest.mark.slow
def test_a_report_that_is_taken_back_puts_the_case_right(plant: Plant) -> None:
    report(plant, [FIRST])
    plant.ingest(six_hourly(29, 3, 5.5))
    judge_now(plant.store)
    assert list_cases(plant.store)[0]["state"] == "done"
    report(plant, [shifted(FIRST, Changed="05.07.2025 10:00", Status="VOID")])
    judge_now(plant.store)
    assert list_cases(plant.store)[0]["state"] == "new"
    assert _log(plant)[-1]["kind"] == "corrected"
    assert _log(plant)[-1]["notice"] is None


def test_a_repair_that_did_not_help_comes_back(plant: Plant) -> None:
    report(plant, [FIRST])
    plant.ingest(six_hourly(29, 8, 5.4))
    judge_now(plant.store)
    assert notices(plant.store)[-1]["kind"] == "repair-not-effective"
    assert list_cases(plant.store)[0]["state"] == "confirmed"


@pytest.mark.slow
@pytest.mark.parametrize("before", ["decide_cases", "publish"])
def test_stopped_between_steps_everything_is_told_once(
    tmp_path: Path, before: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    plant = make_plant(tmp_path / "stopped", {"clock": "data"})
    plant.ingest(six_hourly(0, 29, 5.5))
    with monkeypatch.context() as patch:
        patch.setattr(judging, before, stop)
        with pytest.raises(KeyboardInterrupt):
            judge_now(plant.store)
    judge_now(plant.store)
    assert [(row["notice"], row["kind"]) for row in notices(plant.store)] == [(1, "opened")]


def test_an_action_recorded_before_the_stop_counts_once(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    (case,) = list_cases(plant.store)
    decide, calls = casework.decide_cases, []

    def stop_second(*arguments: Any) -> int:
        calls.append(arguments)
        if len(calls) == 2:
            raise KeyboardInterrupt
        return decide(*arguments)

    with monkeypatch.context() as patch:
        patch.setattr("warehouse.services.case_actions.decide_cases", stop_second)
        with pytest.raises(KeyboardInterrupt):
            act(plant.store, case["case_id"], "confirm", "A. Example")
    with pytest.raises(CaseError, match="is confirmed already"):
        act(plant.store, case["case_id"], "confirm", "A. Example")
    assert len(rows_of(plant.store, CASE_ACTIONS)) == 1
    assert [row["kind"] for row in _log(plant)] == ["opened", "confirmed"]


def test_provisional_mountings_raise_no_case(tmp_path: Path) -> None:
    plant = make_plant(tmp_path / "provisional", {"clock": "data"})
    mountings = (
        "device,channel,site,asset,position,axis,mounted_from,commissioning\n"
        "L1,1,works,M-1,motor-de,horizontal,2020-01-01T00:00:00Z,provisional\n"
    )
    import_registry(plant.store, write_registry(plant.folder / "new", mountings=mountings))
    plant.ingest(six_hourly(0, 10, 9.9))
    judge_now(plant.store)
    assert plant.ask("SELECT DISTINCT reason FROM readings") == [{"reason": "provisional-mounting"}]
    assert list_cases(plant.store, every=True) == []


@pytest.mark.slow
def test_a_suppression_has_a_reason_and_an_end_and_hides_no_danger(tmp_path: Path) -> None:
    plant = make_plant(tmp_path / "suppressed", {"clock": "data"})
    plant.ingest(six_hourly(0, 10, 2.0))
    judge_now(plant.store)
    with pytest.raises(CaseError, match="a reason is needed"):
        suppress(plant.store, _MOTOR, None, "A. Example", until=dt.date(2025, 6, 30))
    with pytest.raises(CaseError, match="must lie ahead"):
        suppress(plant.store, _MOTOR, None, "A. Example", until=dt.date(2025, 6, 9), comment="x")
    with pytest.raises(NotFoundError, match="M-9"):
        suppress(plant.store, ("works", "M-9", "motor"), None, "A. Example")
    suppress(plant.store, _MOTOR, None, "A. Example", until=dt.date(2025, 6, 20), comment="run-in")
    assert suppressions(plant.store)[0]["reason"] == "run-in"
    plant.ingest(six_hourly(10, 8, 3.5))
    judge_now(plant.store)
    assert list_cases(plant.store) == []
    plant.ingest(six_hourly(18, 3, 3.5))
    judge_now(plant.store)
    (case,) = list_cases(plant.store)
    assert case["level"] == "alert"
    assert case["opened_at"] == dt.datetime(2025, 6, 19, 22, tzinfo=dt.UTC)  # midnight in Vienna


@pytest.mark.slow
def test_a_date_that_comes_is_noticed_though_nothing_came_in(plant: Plant) -> None:
    (case,) = list_cases(plant.store)
    day = dt.date(2025, 8, 1)
    act(plant.store, case["case_id"], "defer", "A. Example", until=day)
    before, ends = (
        dt.datetime(2025, 7, 1, tzinfo=dt.UTC),
        dt.datetime(2025, 7, 31, 22, tzinfo=dt.UTC),
    )
    assert a_date_has_come(plant.store, before, ends)
    assert not a_date_has_come(plant.store, before, ends - dt.timedelta(seconds=1))
    assert not a_date_has_come(plant.store, ends, ends + dt.timedelta(days=99))


@pytest.mark.slow
def test_the_commands_say_what_they_do(plant: Plant) -> None:
    code, listed = _mcw(plant, "list", "--json")
    number = str(json.loads(listed)[0]["case_id"])
    assert code == 0
    assert _mcw(plant, "acknowledge", number, "--by", "A. Example", "--owner", "B. Example")[0] == 0
    code, said = _mcw(plant, "acknowledge", number, "--by", "A. Example")
    assert (code, said.partition("; ")[0]) == (2, f"case: case {number} is acknowledged already")
    assert _mcw(plant, "defer", number, "--by", "A. Example", "--until", "2025-08-01")[0] == 0
    code, shown = _mcw(plant, "show", number)
    assert code == 0
    for part in (
        "danger since 2025-06-29 18:00 UTC",
        "deferred until 2025-07-31 22:00 UTC",
        "is in zone D: above C/D 4.50 mm/s",
        "inspect while it runs, by 2025-06-30 18:00 UTC, needs no outage",
        "owner B. Example, not analyst-confirmed",
        "isolation and permit",
    ):
        assert part in shown, shown
    code, row = _mcw(plant, "dispose", number, "process", "--by", "A. Example", "--json")
    assert (code, json.loads(row)["state"]) == (0, "closed")
    assert _mcw(plant, "list")[1].startswith("0 cases")
    assert "false-alarm" in _mcw(plant, "dispose", number, "wrong", "--by", "A")[1]
    code, told = _mcw(plant, "notices", "--after", "1", "--json")
    assert [one["kind"] for one in json.loads(told)] == ["deferred", "closed"]
    assert _mcw(plant, "show", "99") == (2, "there is no case of number 99")
