from __future__ import annotations

import re
import shutil
from importlib.resources import files
from pathlib import Path

import pytest

from warehouse.errors import LimitSetError
from warehouse.limits import load_limits

_PACKAGE = Path(str(files("warehouse")))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    source = Path(str(files("warehouse.limits")))
    shutil.copytree(source / "sets", tmp_path / "sets")
    for name in ("defaults.toml", "uncovered.toml", "precedence.toml", "levels.toml"):
        shutil.copy(source / name, tmp_path / name)
    return tmp_path


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_own_files_load() -> None:
    limits = load_limits()
    assert limits["limit_sets"]["limit_set"].to_pylist() == [
        "api-610",
        "hi-9.6.4-2022",
        "iec-60034-14-2018",
        "iso-10816-1-1995",
        "iso-10816-3-1998",
        "iso-10816-5-2000",
        "iso-10816-6-1995",
        "iso-10816-7-2009",
        "iso-14694-2003",
        "iso-20816-3-2022",
        "iso-20816-8-2018",
        "temperature-common-practice",
    ]


def test_the_particular_standard_goes_before_the_general_one() -> None:
    rows = load_limits()["limit_sets"].to_pylist()
    order = {row["precedence"]: row["limit_set"] for row in rows if row["precedence"]}
    assert [order[place] for place in sorted(order)] == [
        "iso-10816-7-2009",
        "iso-14694-2003",
        "iso-20816-8-2018",
        "iso-20816-3-2022",
        "temperature-common-practice",
    ]


def test_every_value_has_source_and_confidence() -> None:
    limits = load_limits()
    for name in ("limit_groups", "limit_rows", "limit_acceptance"):
        for row in limits[name].to_pylist():
            assert row["source"]
            assert row["confidence"] in {"V1", "V2", "C", "M"}
            assert row.get("verified") in {None, row["confidence"] == "V1"}
    for row in limits["judging_defaults"].to_pylist():
        assert row["unit"]
        assert row["reason"]
        assert row["confidence"]


def test_every_fault_of_every_file_is_listed_at_once(folder: Path) -> None:
    zones = folder / "sets/iso-20816-3-2022.toml"
    _edit(zones, "b_c = 4.5", "b_c = 2.0")
    _edit(zones, 'title = "', 'titel = "')
    _edit(zones, 'supports = ["flexible"]', 'supports = ["springy"]')
    _edit(folder / "sets/iso-10816-7-2009.toml", 'unit = "mm/s"', 'unit = "in/s"')
    _edit(folder / "sets/iso-14694-2003.toml", "start_up", "b_c")
    _edit(folder / "sets/iso-14694-2003.toml", '["fan"]', '["ventilator"]')
    _edit(folder / "defaults.toml", "value = 72", 'value = "three days"')
    _edit(folder / "uncovered.toml", "gearbox =", "gear_box =")
    _edit(folder / "precedence.toml", '"iso-20816-8-2018"', '"iso-20816-9", "api-610"')
    _edit(folder / "levels.toml", 'level = "danger"', 'level = "bad"')
    with pytest.raises(LimitSetError) as caught:
        load_limits(own=folder)
    told = "\n".join(caught.value.faults)
    for expected in (
        "iso-20816-3-2022.toml: row #1: boundaries must rise: 2.3, 2.0, 7.1",
        "iso-20816-3-2022.toml: titel: is no key; allowed: format_version, id, standard, ",
        "iso-20816-3-2022.toml: title: is missing",
        "iso-20816-3-2022.toml: row #3, supports #1: input should be 'rigid' or 'flexible'",
        "iso-10816-7-2009.toml: row #1: unit of velocity must be one of mm/s, cm/s, m/s, um/s, ",
        "iso-14694-2003.toml: row #1: lacks start_up: a set of kind levels needs start_up, alarm",
        "iso-14694-2003.toml: row #1: has b_c: a set of kind levels has start_up, alarm, shutdown",
        "iso-14694-2003.toml: applies #1, equipment_classes #1: 'ventilator' is not one of elec",
        "defaults.toml: fresh_online_hours, value: ",
        "uncovered.toml: whole file: ",
        "precedence.toml: order: iso-20816-9 is not one of api-610, ",
        "precedence.toml: order: api-610 is for information only",
        "levels.toml: level #4, level: 'bad' is not one of normal, watch",
    ):
        assert expected in told
    assert len(caught.value.faults) == 13


def test_broken_toml_is_named(folder: Path) -> None:
    (folder / "defaults.toml").write_text("= nothing", encoding="utf-8")
    with pytest.raises(LimitSetError, match=r"defaults\.toml: cannot be read as TOML"):
        load_limits(own=folder)


def test_the_same_set_twice_is_refused(folder: Path) -> None:
    shutil.copy(folder / "sets/iso-10816-7-2009.toml", folder / "sets/other.toml")
    with pytest.raises(LimitSetError, match=r"also stands in iso-10816-7-2009\.toml"):
        load_limits(own=folder)


def test_a_group_without_values_is_refused(folder: Path) -> None:
    _edit(folder / "sets/iso-20816-3-2022.toml", 'group = "group-1"', 'group = "group-9"')
    with pytest.raises(LimitSetError, match="no row gives values for group-9"):
        load_limits(own=folder)


def test_an_empty_folder_is_refused(folder: Path) -> None:
    shutil.rmtree(folder / "sets")
    (folder / "sets").mkdir()
    with pytest.raises(LimitSetError, match=r"no \.toml file found"):
        load_limits(own=folder)


def test_views_and_defaults_agree_both_ways() -> None:
    asked = {
        key
        for path in _PACKAGE.rglob("*.sql")
        for key in re.findall(r"setting\('(\w+)'\)", path.read_text(encoding="utf-8"))
    }
    given = set(load_limits()["judging_defaults"]["key"].to_pylist())
    assert asked <= given
    code = "".join(path.read_text(encoding="utf-8") for path in _PACKAGE.rglob("*.py"))
    assert {key for key in given - asked if f'"{key}"' not in code} == set()
