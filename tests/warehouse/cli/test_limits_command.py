"""`mcw limits`: what is in force, what a set says, and the plant's own files checked."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from schemas.tables.registry import REGISTRY
from tests.warehouse.limits.own_sets import OWN_SET, write_own
from tests.warehouse.services.small_plant import REGISTRY as FILES
from tests.warehouse.services.small_plant import Plant, make_plant, series, write_registry
from warehouse.cli import complete_app, show
from warehouse.errors import LimitSetError
from warehouse.inbox import Ledger
from warehouse.limits import loader
from warehouse.services.backup import back_up, restore
from warehouse.services.judging import judge_store
from warehouse.services.limits import check_limits
from warehouse.services.registry import import_registry
from warehouse.services.registry_changes import import_changes
from warehouse.services.rule_faults import rule_faults
from warehouse.services.running import Runner
from warehouse.services.stopping import Stop
from warehouse.store import open_store


@pytest.fixture(scope="module", name="taken_in")
def _taken_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with 2.0 to 2.03 mm/s on a motor of 90 kW: zone B of group 2."""
    plant = make_plant(tmp_path_factory.mktemp("limits"), {"clock": "data"})
    plant.ingest(series(0, 4))
    return plant.store.home


@pytest.fixture
def plant(taken_in: Path, tmp_path: Path) -> Plant:
    shutil.copytree(taken_in, tmp_path / "store")
    return Plant(open_store(tmp_path / "store"), tmp_path)


@pytest.fixture(autouse=True)
def _wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cells are not broken over lines."""
    monkeypatch.setattr(show.out, "width", 250)


def _mcw(plant: Plant, *words: str) -> tuple[int, str]:
    command = ["limits", *words, "--home", str(plant.store.home)]
    done = CliRunner().invoke(complete_app(), command)
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done.exit_code, done.stdout


def _listed(plant: Plant, *words: str) -> Any:
    return json.loads(_mcw(plant, *words, "--json")[1])


def test_the_sets_are_listed_with_edition_confidence_and_use(plant: Plant) -> None:
    found = {one["limit_set"]: one for one in _listed(plant)}
    pumps = found["iso-10816-7-2009"]
    assert (pumps["edition"], pumps["confidences"], pumps["used"]) == ("2009", "V1", "in force")
    assert pumps["applies_to"] == "centrifugal-pump"
    assert found["iso-14694-2003"]["disputed"]
    used = {name: one["used"] for name, one in found.items()}
    assert used["iso-10816-1-1995"] == "for information"
    assert used["iso-10816-6-1995"] == "by hand"
    assert used["api-610"] == "never in service"
    said = _mcw(plant)[1]
    assert "not verified" in said
    assert "Screening aid" in said


def test_a_set_is_shown_whole(plant: Plant) -> None:
    one = _listed(plant, "iso-10816-7-2009")
    assert len(one["groups"]) == 4
    (row,) = [
        row
        for row in one["rows"]
        if row["limit_group"] == "category-I-over-200-kW" and row["quantity"] == "velocity"
    ]
    assert (row["supports"], row["middle_name"], row["middle"]) == ("rigid, flexible", "B/C", 5.0)
    assert (row["alarm_setting"], row["trip_setting"]) == (6.3, 9.5)
    assert len(one["acceptance"]) == 32
    code, said = _mcw(plant, "iso-10816-7-2009")
    assert code == 0
    assert "6.3" in said
    assert "Screening aid" in said


@pytest.mark.parametrize("name", ["iso-14694-2003", "iec-60034-14-2018", "hi-9.6.4-2022",
                                  "iso-20816-8-2018", "temperature-common-practice"])  # fmt: skip
def test_every_kind_of_set_can_be_shown(plant: Plant, name: str) -> None:
    assert _mcw(plant, name)[0] == 0


def test_an_unknown_set_is_told(plant: Plant) -> None:
    with pytest.raises(Exception, match="no limit set 'iso-1'"):
        _mcw(plant, "iso-1")


def test_a_plants_own_set_judges_its_machines(plant: Plant) -> None:
    judge_store(plant.store)
    write_own(plant.store.limits)
    judge_store(plant.store)
    (row,) = plant.ask(
        "SELECT level, zone, limit_set, limit_verified FROM condition_current"
        " WHERE asset = 'M-1' AND scope = 'member'"
    )
    assert (row["level"], row["zone"]) == ("alert", "above-alarm")
    assert (row["limit_set"], row["limit_verified"]) == ("works-12", True)
    others = plant.ask("SELECT limit_set FROM fitting_limits WHERE place IS NULL")
    assert {one["limit_set"] for one in others} == {
        "iso-20816-3-2022",
        "temperature-common-practice",
    }


def test_check_says_what_is_sound(plant: Plant) -> None:
    assert "The plant's own sets: none" in _mcw(plant, "--check")[1]
    write_own(plant.store.limits)
    (plant.store.limits / "works.tml").write_text("", encoding="utf-8")
    found = _listed(plant, "--check")
    assert (found["sets"], found["own_order"]) == (["works-12"], True)
    assert found["order"] == ["works-12", "iso-10816-7-2009"]
    assert found["dropped"] == [
        "iso-14694-2003", "iso-20816-8-2018", "iso-20816-3-2022", "temperature-common-practice",
    ]  # fmt: skip
    assert found["passed_over"] == ["works.tml"]
    assert (
        "in this order (the plant's own): works-12, iso-10816-7-2009" in _mcw(plant, "--check")[1]
    )


def test_a_broken_file_fails_and_nothing_is_judged_by_other_limits(plant: Plant) -> None:
    before = judge_store(plant.store).snapshot
    write_own(plant.store.limits, OWN_SET.replace("alarm", "alrm"))
    for refused in (lambda: _mcw(plant, "--check"), lambda: judge_store(plant.store)):
        with pytest.raises(LimitSetError, match=r"works\.toml: row #1, alrm: is no key"):
            refused()
    asked, app = ["query", "--home", str(plant.store.home)], complete_app()
    assert CliRunner().invoke(app, [*asked, "SELECT * FROM worst_machines"]).exit_code == 0
    refused_query = CliRunner().invoke(app, [*asked, "SELECT * FROM points_limits"])
    assert isinstance(refused_query.exception, LimitSetError)
    plant.ingest(series(10, 2))
    with Ledger.open(plant.store.inbox) as ledger:
        runner = Runner(plant.store, ledger, print)
        with pytest.raises(LimitSetError):
            runner.step(Stop())
    write_own(plant.store.limits)
    assert judge_store(plant.store).snapshot.seq == before.seq + 1


_FLEXIBLE = FILES["members"].replace("rigid", "flexible")


def _said(plant: Plant, *words: str) -> tuple[str, str]:
    """What a command says on stdout and stderr."""
    done = CliRunner().invoke(complete_app(), [*words, "--home", str(plant.store.home)])
    assert done.exit_code == 0, (done.output, done.exception)
    return done.stdout, done.stderr


def test_lists_of_what_was_judged_say_that_judging_is_stopped(
    plant: Plant, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(show.notes, "width", 2000)
    judge_store(plant.store)
    lists: list[tuple[str, ...]] = [
        ("worst",), ("sheet",), ("outage", "2025-11-24", "2025-11-26"), ("case", "list"),
    ]  # fmt: skip
    assert all(_said(plant, *words)[1] == "" for words in lists)
    write_own(plant.store.limits, OWN_SET.replace("alarm", "alrm"))
    told = "limit sets: limits/works.toml: row #1, alrm: is no key"
    for words in lists:
        assert told in _said(plant, *words)[1], words
    assert told in json.loads(_said(plant, "sheet", "--json")[0])["cautions"][0]
    assert told in _said(plant, "status")[0]
    import_registry(plant.store, write_registry(tmp_path / "more", members=_FLEXIBLE))
    found = json.loads(_said(plant, "status", "--json")[0])
    assert (found["judge_behind"], told in found["rule_faults"][0]) == (1, True)
    write_own(plant.store.limits)
    judge_store(plant.store)
    found = json.loads(_said(plant, "status", "--json")[0])
    assert (found["judge_behind"], found["rule_faults"]) == (0, [])
    assert _said(plant, "worst")[1] == ""


def test_a_faulty_file_is_read_again_only_when_it_changes(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_own(plant.store.limits, OWN_SET.replace("alarm", "alrm"))
    first = rule_faults(plant.store)
    monkeypatch.setattr(loader, "read_set", lambda *_: pytest.fail("it was read again"))
    assert first == rule_faults(plant.store) != []
    monkeypatch.undo()
    write_own(plant.store.limits)
    assert rule_faults(plant.store) == []


def test_an_assignment_in_vain_is_a_fault(plant: Plant, tmp_path: Path) -> None:
    head = "site,asset,member,limit_set,assigned_from,assigned_by,reason\n"
    lines = "works,M-1,motor,iso-9,2020-01-01T00:00:00Z,N. Obody,agreed\n"
    registry = write_registry(tmp_path / "more", limit_assignments=head + lines)
    import_registry(plant.store, registry)
    with pytest.raises(LimitSetError, match="works/M-1/motor: limit set iso-9, assigned by N"):
        check_limits(plant.store)


_HEAD = "site,asset,member,position,limit_set,limit_group,assigned_from,assigned_by,reason\n"


def _assign(plant: Plant, folder: Path, *lines: str, options: tuple[str, ...] = ()) -> str:
    """Import assignments by the command; what it says on stderr."""
    text = _HEAD + "".join(f"works,M-1,motor,{line},N. Obody,agreed\n" for line in lines)
    registry = write_registry(folder, limit_assignments=text)
    command = ["registry", "import", str(registry), "--home", str(plant.store.home)]
    done = CliRunner().invoke(complete_app(), [*command, *options])
    assert done.exit_code == 0, done.output
    return done.stderr


def test_a_dry_run_says_which_assigned_sets_could_not_be_used(plant: Plant, tmp_path: Path) -> None:
    before = plant.store.table(REGISTRY).version()
    said = _assign(
        plant,
        tmp_path / "more",
        "motor-de,no-such-set,,2020-01-01T00:00:00Z",
        ",iso-20816-3-2022,group-1,2020-01-01T00:00:00Z",
        options=("--dry-run",),
    )
    assert said.splitlines() == [
        "limit_assignments: works/M-1/motor/motor-de: limit set no-such-set, assigned by N. Obody,"
        " is not loaded."
    ]
    assert plant.store.table(REGISTRY).version() == before


def test_faults_of_files_and_assignments_are_told_in_one_round(
    plant: Plant, tmp_path: Path
) -> None:
    write_own(plant.store.limits, OWN_SET.replace("alarm", "alrm"))
    registry = tmp_path / "more"
    text = _HEAD + "".join(
        f"works,M-1,motor,{line},N. Obody,agreed\n"
        for line in (
            "motor-de,no-such-set,,2020-01-01T00:00:00Z",
            ",works-12,,2020-01-01T00:00:00Z",  # its file is faulty: not known what it holds
        )
    )
    done = import_changes(plant.store, write_registry(registry, limit_assignments=text))
    in_vain, files = done.notes
    assert "motor-de: limit set no-such-set" in in_vain
    assert files == "the plant's own limit files have faults: mcw limits --check lists them"
    with pytest.raises(LimitSetError) as caught:
        check_limits(plant.store)
    assert caught.value.faults[-1] == in_vain
    assert any("alrm: is no key" in fault for fault in caught.value.faults)
    assert not any("M-1/motor: limit set" in fault for fault in caught.value.faults)


@pytest.mark.slow
def test_an_import_says_which_assigned_sets_cannot_be_used(plant: Plant, tmp_path: Path) -> None:
    said = _assign(
        plant,
        tmp_path / "more",
        "motor-de,iso-20816-3-2022,group-9,2020-01-01T00:00:00Z",
        ",iso-9,,2999-01-01T00:00:00Z",
    )
    told = (
        "works/M-1/motor/motor-de: limit set iso-20816-3-2022/group-9, assigned by N. Obody, has "
        "no group group-9",
        "works/M-1/motor: limit set iso-9, assigned by N. Obody from 2999-01-01 00:00 UTC, is not "
        "loaded",
    )
    with pytest.raises(LimitSetError) as caught:
        check_limits(plant.store)
    assert len(caught.value.faults) == len(told)
    for line in told:
        assert line in said
        assert any(line in fault for fault in caught.value.faults)


def test_machines_are_listed_with_their_set_and_why(plant: Plant, tmp_path: Path) -> None:
    _assign(plant, tmp_path / "more", "motor-de,iso-20816-3-2022,group-1,2020-01-01T00:00:00Z")
    rows = _listed(plant, "--machines")
    found = {(row["asset"], row["position"], row["chosen_by"]): row["limit_group"] for row in rows}
    assert found == {
        ("M-1", None, "rule"): "group-2",
        ("M-1", "motor-de", "hand"): "group-1",
        ("M-2", None, "rule"): "group-2",
    }
    said = _mcw(plant, "--machines")[1]
    assert "assigned by N. Obody: agreed" in said
    assert "rigid support" in said


def test_unjudged_machines_are_listed_with_what_is_missing(plant: Plant, tmp_path: Path) -> None:
    assert _listed(plant, "--unjudged") == []
    head = "site,asset,member,role,equipment_class,rated_power_kw\n"
    members = head + "works,M-1,motor,driver,electric-motor,\nworks,M-2,motor,driver,gearbox,90\n"
    import_registry(plant.store, write_registry(tmp_path / "less", members=members))
    rows = {row["asset"]: row for row in _listed(plant, "--unjudged")}
    assert rows["M-1"]["missing"] == "rated_power_kw or shaft_height_mm"
    assert rows["M-2"]["missing"] is None
    said = _mcw(plant, "--unjudged")[1]
    assert "rated_power_kw or shaft_height_mm" in said
    assert "nothing would bring one in force" in said


@pytest.mark.slow
def test_sets_for_information_are_shown_beside(plant: Plant, tmp_path: Path) -> None:
    _assign(plant, tmp_path / "more", ",iso-20816-3-2022,group-1,2020-01-01T00:00:00Z",
            "motor-de,iso-10816-1-1995,class-II,2020-01-01T00:00:00Z")  # fmt: skip
    judge_store(plant.store)
    rows = _listed(plant, "--information")
    assert {(row["limit_set"], row["in_force"]) for row in rows} == {
        ("iso-20816-3-2022", "iso-10816-1-1995")
    }
    assert {row["limit_group"] for row in rows} == {"group-2"}
    said = _mcw(plant, "--information")[1]
    assert "1.4 / 2.8 / 4.5" in said


def test_one_thing_is_shown_at_a_time(plant: Plant) -> None:
    code, _ = _mcw(plant, "--machines", "--unjudged")
    assert code == 2


@pytest.mark.slow
def test_a_backup_holds_the_plants_limits(plant: Plant, tmp_path: Path) -> None:
    write_own(plant.store.limits)
    judge_store(plant.store)
    back_up(plant.store, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "restored")
    restored = open_store(tmp_path / "restored")
    assert check_limits(restored).sets == ["works-12"]
