"""`mcw sheet` and `mcw outage` over a store, and values as the site reads them in every command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from python_calamine import CalamineWorkbook
from typer.testing import CliRunner

from tests.warehouse.services.small_plant import REGISTRY, Plant, make_plant, write_registry
from tests.warehouse.work.test_casework import six_hourly
from warehouse.cli import show
from warehouse.cli.app import app
from warehouse.errors import RegistryError, WarehouseError
from warehouse.services.cases import act, list_cases
from warehouse.services.ingest import judge_now
from warehouse.services.registry import import_registry

_PROFILE = "us-customary; acceleration=[g] rms"
_SHOWN = "0.307 in/s derived peak"  # 5.51 mm/s rms
_OUTAGE = ("2025-07-10", "2025-07-12")
_CAUTION = "Screening aid, not a machinery protection system"


@pytest.fixture(name="plant", scope="module")
def _plant(tmp_path_factory: pytest.TempPathFactory) -> Plant:
    """A motor in danger, its case confirmed, at a site that reads in/s and local times."""
    folder = tmp_path_factory.mktemp("meeting")
    plant = make_plant(folder / "plant", {"clock": "data"})
    _read_as(plant, folder / "registry", _PROFILE)
    plant.ingest(six_hourly(0, 29, 5.5))
    judge_now(plant.store)
    (case,) = list_cases(plant.store)
    act(plant.store, case["case_id"], "confirm", "A. Example", owner="B. Example")
    return plant


@pytest.fixture(autouse=True)
def _wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """A table so wide that no cell is broken: words are looked for as they were said."""
    monkeypatch.setattr(show.out, "width", 2000)


def _read_as(plant: Plant, folder: Path, profile: str) -> None:
    sites = f"site,name,time_zone,display_profile\nworks,Works,Europe/Vienna,{profile}\n"
    assets = REGISTRY["assets"].replace("state\n", "state,duty_group\n")
    assets = assets.replace("in-service\n", "in-service,G-1\n")
    import_registry(plant.store, write_registry(folder, sites=sites, assets=assets))


def _mcw(plant: Plant, *words: str) -> str:
    done = CliRunner().invoke(app, [*words, "--home", str(plant.store.home)])
    assert done.exit_code == 0, (done.output, done.exception)
    return done.output


def _json(plant: Plant, *words: str) -> Any:
    done = CliRunner().invoke(app, [*words, "--json", "--home", str(plant.store.home)])
    assert done.exit_code == 0, (done.output, done.exception)
    return json.loads(done.stdout)


@pytest.mark.slow
def test_every_command_shows_values_and_times_as_the_site_reads_them(plant: Plant) -> None:
    number = str(list_cases(plant.store)[0]["case_id"])
    commands = (
        ["worst"], ["explain", "works", "M-1"], ["case", "show", number],
        ["sheet", "--since", "2025-06-01"],
    )  # fmt: skip
    for words in commands:
        said = " ".join(_mcw(plant, *words).split())
        assert _SHOWN in said, words
        assert "5.51 mm/s rms" in said, "sentences stay as they were told"
        assert "us-customary; acceleration=[g] rms" in said, words
        assert words == ["worst"] or "2025-06-29 20:00 +02:00" in said, words
    listed = _mcw(plant, "case", "list")
    assert "2025-06-29 20:00 +02:00" in listed
    assert "(UTC)" not in listed


@pytest.mark.slow
def test_json_stays_canonical_and_has_what_is_shown_beside_it(plant: Plant) -> None:
    (worst,) = [one for one in _json(plant, "worst") if one["asset"] == "M-1"]
    assert (worst["value"], worst["display"]["value"]) == (pytest.approx(5.51), 0.3068)
    explained = _json(plant, "explain", "works", "M-1")
    assert explained["points"][0]["condition"]["display"]["boundary_c_d"] == 0.2505
    number = str(list_cases(plant.store)[0]["case_id"])
    assert _json(plant, "case", "show", number)["measured"]["display"]["value"] == 0.3068


def test_the_sheet_as_json_and_as_a_workbook(plant: Plant, tmp_path: Path) -> None:
    target = tmp_path / "sheet.xlsx"
    found = _json(plant, "sheet", "--since", "2025-06-01", "--out", str(target))
    assert found["since"] == "2025-06-01"
    assert any(_CAUTION in line for line in found["cautions"])
    (row,) = found["rows"]
    assert (row["heading"], row["unit"], row["detector"]) == ("new", "mm/s", "rms")
    shown = row["display"]
    assert (shown["profile"], shown["unit"]) == (_PROFILE, "[in_i]/s")
    assert (shown["detector"], shown["value"]) == ("derived-peak", 0.3068)
    assert shown["respond_by"] == "2025-07-29T20:00:00+02:00"
    listed = _listed(target)
    assert (listed["Asset"], listed["Machine"], listed["Owner"]) == ("M-1", "motor", "B. Example")
    assert (listed["Value"], listed["Measure"]) == (0.3068, "velocity, in/s derived peak")
    assert listed["Since"] == "2025-06-29 20:00 +02:00"


def test_the_outage_list_says_what_goes_in_and_what_stands_in(plant: Plant, tmp_path: Path) -> None:
    target = tmp_path / "outage.xlsx"
    found = _json(plant, "outage", *_OUTAGE, "--site", "works", "--out", str(target))
    assert found["windows"]["next_first"] == "2025-08-07"
    (row,) = found["rows"]
    assert row["heading"] == "must go in"
    assert row["why"].startswith("do not wait for the window; in danger; respond by 2025-07-29")
    assert (row["standby"], row["standby_words"]) == ("unknown", "M-2: condition not known")
    assert (row["display"]["power"], row["display"]["power_unit"]) == (120.7, "[HP]")
    listed = _listed(target)
    assert (listed["Power"], listed["C/D"]) == ("121 hp", 0.2505)
    said = " ".join(_mcw(plant, "outage", *_OUTAGE).split())
    for words in (_SHOWN, "121 hp", "Can wait: none", "isolation and permit", "us-customary"):
        assert words in said


def _listed(target: Path) -> dict[str, Any]:
    """The one row of a workbook, by column; its cautions and profile stand above it."""
    rows = CalamineWorkbook.from_path(target).get_sheet_by_index(0).to_python()
    above = " ".join(str(row[0]) for row in rows)
    assert _CAUTION in above
    assert "us-customary" in above
    head = next(number for number, row in enumerate(rows) if row[0] == "Heading")
    (listed,) = [dict(zip(rows[head], row, strict=True)) for row in rows[head + 1 :]]
    return {str(name): cell for name, cell in listed.items()}


def _fault(plant: Plant, *words: str) -> str:
    done = CliRunner().invoke(app, [*words, "--home", str(plant.store.home)])
    if isinstance(done.exception, WarehouseError):
        return done.exception.message
    assert done.exit_code == 2
    return " ".join(done.output.split())


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        (["outage", "2025-07-10", "2025-07-09"], "ends before it begins"),
        (["outage", "2025-07-10", "2025-07-12", "--next", "2025-07-12", "2025-07-13"],
         "begins before 2025-07-12 ends"),
        (["outage", "soon", "2025-07-12"], "soon"),
        (["outage", "2025-07-10", "2025-07-12", "--site", "nowhere"], "no site 'nowhere'"),
        (["sheet", "--site", "nowhere"], "no site 'nowhere'"),
        (["sheet", "--out", "sheet.csv"], "must end with .xlsx"),
    ],
)  # fmt: skip
def test_what_cannot_be_answered_is_told(plant: Plant, words: list[str], fault: str) -> None:
    assert fault in _fault(plant, *words)


def test_a_profile_that_does_not_fit_is_no_registry(plant: Plant, tmp_path: Path) -> None:
    with pytest.raises(RegistryError, match=r"line 2 column display_profile: .*does not measure"):
        _read_as(plant, tmp_path, "velocity=[degF]")
