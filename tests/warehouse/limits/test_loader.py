from __future__ import annotations

import re
import shutil
from importlib.resources import files
from pathlib import Path

import pytest

from warehouse.errors import LimitSetError
from warehouse.limits import load_limits
from warehouse.views import sql_files


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    source = Path(str(files("warehouse.limits")))
    shutil.copytree(source / "sets", tmp_path / "sets")
    for name in ("defaults.toml", "uncovered.toml"):
        shutil.copy(source / name, tmp_path / name)
    return tmp_path


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_own_files_load() -> None:
    limits = load_limits()
    assert set(limits["limit_sets"]["limit_set"].to_pylist()) == {
        "iso-20816-3-2022",
        "iso-10816-7-2009",
    }
    assert limits["limit_rows"].num_rows == 8 + 4 * 2 * 2
    assert limits["limit_acceptance"].num_rows == 4 * 4 * 2


def test_every_value_has_source_and_confidence() -> None:
    limits = load_limits()
    for name in ("limit_groups", "limit_rows", "limit_acceptance"):
        for row in limits[name].to_pylist():
            assert row["source"]
            assert row["confidence"] in {"V1", "V2", "M"}
    for row in limits["judging_defaults"].to_pylist():
        assert row["unit"]
        assert row["reason"]
        assert row["confidence"]


def test_every_fault_of_every_file_is_listed_at_once(folder: Path) -> None:
    _edit(folder / "sets/iso-20816-3-2022.toml", "b_c = 4.5", "b_c = 2.0")
    _edit(folder / "sets/iso-20816-3-2022.toml", 'title = "', 'titel = "')
    _edit(folder / "sets/iso-10816-7-2009.toml", 'unit = "mm/s"', 'unit = "in/s"')
    _edit(folder / "defaults.toml", "value = 72", 'value = "three days"')
    _edit(folder / "uncovered.toml", "gearbox =", "gear_box =")
    with pytest.raises(LimitSetError) as caught:
        load_limits(folder)
    told = "\n".join(caught.value.faults)
    for expected in (
        "iso-20816-3-2022.toml: row.0: ",
        "iso-20816-3-2022.toml: titel: ",
        "iso-20816-3-2022.toml: title: ",
        "iso-10816-7-2009.toml: row.0: ",
        "defaults.toml: fresh_online_hours.value: ",
        "uncovered.toml: whole file: ",
    ):
        assert expected in told


def test_broken_toml_is_named(folder: Path) -> None:
    (folder / "defaults.toml").write_text("= nothing", encoding="utf-8")
    with pytest.raises(LimitSetError, match=r"defaults\.toml: cannot be read as TOML"):
        load_limits(folder)


def test_the_same_set_twice_is_refused(folder: Path) -> None:
    shutil.copy(folder / "sets/iso-10816-7-2009.toml", folder / "sets/other.toml")
    with pytest.raises(LimitSetError, match=r"also stands in iso-10816-7-2009\.toml"):
        load_limits(folder)


def test_a_group_without_values_is_refused(folder: Path) -> None:
    _edit(folder / "sets/iso-20816-3-2022.toml", 'group = "group-1"', 'group = "group-9"')
    with pytest.raises(LimitSetError, match="no row gives values for group-9"):
        load_limits(folder)


def test_an_empty_folder_is_refused(folder: Path) -> None:
    shutil.rmtree(folder / "sets")
    (folder / "sets").mkdir()
    with pytest.raises(LimitSetError, match=r"no \.toml file found"):
        load_limits(folder)


def test_views_and_defaults_agree_both_ways() -> None:
    asked = {key for file in sql_files() for key in re.findall(r"setting\('(\w+)'\)", file.text)}
    given = set(load_limits()["judging_defaults"]["key"].to_pylist())
    assert asked == given
