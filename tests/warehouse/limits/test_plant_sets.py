"""A plant's own limit sets and its order of precedence, as files beside its store."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.limits.own_sets import OWN_ORDER, OWN_SET, write_own
from warehouse.errors import LimitSetError
from warehouse.limits import load_limits


def _sets(plant: Path) -> dict[str, dict[str, Any]]:
    rows = load_limits(plant)["limit_sets"].to_pylist()
    return {row["limit_set"]: row for row in rows}


def test_without_files_the_published_order_counts(tmp_path: Path) -> None:
    found = _sets(tmp_path / "limits")
    assert found["iso-10816-7-2009"]["precedence"] == 1
    assert {row["origin"] for row in found.values()} == {"published"}


def test_the_plants_order_stands_in_place_of_the_published_one(tmp_path: Path) -> None:
    found = _sets(write_own(tmp_path))
    in_force = {name: row["precedence"] for name, row in found.items() if row["precedence"]}
    assert in_force == {"works-12": 1, "iso-10816-7-2009": 2}
    assert (found["works-12"]["origin"], found["works-12"]["kind"]) == ("plant", "levels")


def test_an_own_set_outside_the_order_is_for_information(tmp_path: Path) -> None:
    found = _sets(write_own(tmp_path, order=None))
    assert found["works-12"]["precedence"] is None
    assert found["iso-20816-3-2022"]["precedence"] == 4


def test_other_units_are_converted_and_stay_on_their_side(tmp_path: Path) -> None:
    rows = load_limits(write_own(tmp_path))["limit_rows"].to_pylist()
    (row,) = [r for r in rows if r["limit_set"] == "works-12" and r["support"] == "rigid"]
    assert (row["lower"], row["middle"], row["upper"], row["unit"]) == (1.27, 1.778, 7.62, "mm/s")
    assert (row["confidence"], row["verified"]) == ("own", True)


def test_a_rise_in_fahrenheit_has_no_offset(tmp_path: Path) -> None:
    text = (
        OWN_SET.replace("levels", "watch-alert")
        .replace('"velocity"\ndetector = "rms"', '"temperature"\ndetector = "value"')
        .replace('unit = "[in_i]/s"', 'unit = "[degF]"\nreference = "baseline"')
        .replace("start_up = 0.05\nalarm = 0.07\nshutdown = 0.3", "watch = 27\nalert = 50")
    )
    rows = load_limits(write_own(tmp_path, text))["limit_rows"].to_pylist()
    (row,) = [r for r in rows if r["limit_set"] == "works-12" and r["support"] == "rigid"]
    assert (row["lower"], row["unit"]) == (15, "K")
    assert row["middle"] == pytest.approx(27.78, abs=0.005)


def test_a_changed_file_counts_at_once(tmp_path: Path) -> None:
    write_own(tmp_path)
    assert _sets(tmp_path)["works-12"]["edition"] == "2024"
    write_own(tmp_path, OWN_SET.replace('"2024"', '"2025 draft"'))
    assert _sets(tmp_path)["works-12"]["edition"] == "2025 draft"


def _faults(plant: Path) -> list[str]:
    with pytest.raises(LimitSetError) as caught:
        load_limits(plant)
    return list(caught.value.faults)


def test_every_fault_of_the_plants_files_is_listed_with_its_row(tmp_path: Path) -> None:
    text = (
        OWN_SET.replace('"plant"', '"ours"')
        .replace('"[in_i]/s"', '"furlong/s"')
        .replace("shutdown = 0.3", "shutdown = 0.01\ntrip = 4")
        .replace('groups = ["motors"]', 'groups = ["motor"]')
        .replace('["electric-motor"]', '["motor"]')
        .replace('confidence = "own"', 'confidence = "sure"')
    )
    order = OWN_ORDER.replace('"iso-10816-7-2009"', '"iso-10816-7", "iec-60034-14-2018"')
    told = _faults(write_own(tmp_path / "limits", text, order))
    expected = (
        "works.toml: status: input should be 'current', 'withdrawn', 'common-practice' or 'plant'",
        "works.toml: applies #1, equipment_classes #1: 'motor' is not one of electric-motor, ",
        "works.toml: applies #1, confidence: input should be 'V1', 'V2', 'C', 'M' or 'own'",
        "works.toml: row #1, confidence: input should be 'V1', 'V2', 'C', 'M' or 'own'",
        "works.toml: row #1: unit of velocity must be one of mm/s, cm/s, m/s, um/s, [in_i]/s, ",
        "works.toml: row #1: boundaries must rise: 0.05, 0.07, 0.01",
        "works.toml: row #1: has trip: a set of kind levels has start_up, alarm, shutdown",
        "works.toml: whole file: no row gives values for motors",
        "works.toml: whole file: no applies block leads to motor",
        "precedence.toml: order: iso-10816-7 is not one of ",
        "precedence.toml: order: iec-60034-14-2018 is for information only",
    )
    for text in expected:
        assert any(fault.startswith(f"limits/{text}") for fault in told), text
    assert len(told) == len(expected)


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('id = "works-12"', 'id = "iso-10816-7-2009"', "also stands in iso-10816-7-2009.toml"),
        ("alarm = 0.07\n", "", "row #1: lacks alarm: a set of kind levels needs"),
        ("alarm = 0.07", 'alarm = "high"', "row #1, alarm: input should be a valid number"),
        ("format_version = 1", "format_version = 2", "format_version: input should be 1"),
        ("[[row]]", "[[rows]]", "rows: is no key; allowed: "),
        ('title = "Motors', 'titles = "Motors', "title: is missing"),
        ("format_version = 1", "= 1", "cannot be read as TOML"),
        ("alarm = 0.07", "disputed = true\nalarm = 0.07", "disputed: a note must give both"),
        ('detector = "rms"', 'detector = "value"', "detector: temperature has the detector"),
        (
            'group = "motors"',
            'group = "motors"\npower_over_kw = 50\npower_up_to_kw = 15',
            "applies #1: power_over_kw 50.0 must be below power_up_to_kw 15.0",
        ),
        (
            "[[applies]]",
            "[scope]\nspeed_from = 900\nspeed_up_to = 600\n"
            'source = "own"\nconfidence = "own"\n[[applies]]',
            "scope: speed_from 900 must be below speed_up_to 600",
        ),
        ("alarm = 0.07", "alarm = 0.07\nspeed_over = 9\nspeed_up_to = 5", "speed_over 9.0 must"),
        ("alarm = 0.07", "alarm = 0.07\nparts = ['lid']", "'lid' is not one of foundation, "),
        (
            "[[applies]]",
            "[scope]\nmaximum = 3\n[[applies]]",
            "scope, maximum: is no key; allowed: so",
        ),
        # a text is no number, and no unit is passed over
        ("alarm = 0.07", 'alarm = "0.07"', "row #1, alarm: input should be a valid number"),
        ("alarm = 0.07", "alarm = true", "row #1, alarm: input should be a valid number"),
        (
            'group = "motors"',
            'group = "motors"\nby_hand = "yes"',
            "applies #1, by_hand: input should be a valid boolean, found 'yes'",
        ),
        (
            "[[applies]]",
            '[scope]\nvanes_from = "3"\nsource = "own"\nconfidence = "own"\n[[applies]]',
            "scope, vanes_from: input should be a valid integer, found '3'",
        ),
        (
            'quantity = "velocity"\ndetector = "rms"\nunit = "[in_i]/s"',
            'quantity = "speed"\ndetector = "rms"\nunit = "ips"',
            "row #1: unit must be one of mm/s, ",
        ),
        (
            '[[row]]\ngroups = ["motors"]',
            '[row]\ngroups = ["motor"]',
            "whole file: no applies block leads to motor",
        ),
    ],
)
def test_a_fault_is_told_with_what_is_allowed(
    tmp_path: Path, old: str, new: str, fault: str
) -> None:
    assert old in OWN_SET
    told = _faults(write_own(tmp_path, OWN_SET.replace(old, new, 1), order=None))
    assert any(fault in text for text in told), told


def test_values_may_not_stand_twice_at_one_speed(tmp_path: Path) -> None:
    head, _, row = OWN_SET.partition("[[row]]")
    slow = row.replace("start_up", "speed_up_to = 600\nstart_up")
    fast = row.replace("start_up", "speed_over = 600\nstart_up")
    load_limits(write_own(tmp_path, head + "[[row]]" + slow + "[[row]]" + fast))
    overlapping = head + "[[row]]" + slow + "[[row]]" + fast.replace("600", "500")
    told = _faults(write_own(tmp_path, overlapping))
    assert any("values stand twice for motors, rigid, velocity" in text for text in told)


def test_a_folder_that_cannot_be_listed_is_no_empty_one(tmp_path: Path) -> None:
    (tmp_path / "limits").write_text("not a folder", encoding="utf-8")
    assert _faults(tmp_path / "limits") == ["limits: cannot be listed: Not a directory"]


def test_no_fault_of_the_plants_files_hides_another(tmp_path: Path) -> None:
    text = (
        OWN_SET.replace('title = "Motors', 'titel = "Motors')
        .replace('group = "motors"', 'grup = "motors"\npower_over_kw = "15"')
        .replace('detector = "rms"\nunit = "[in_i]/s"', 'detector = "RMS"\nunit = "ips"')
        .replace("start_up = 0.05\nalarm = 0.07", "alrm = 0.01\nstart_up = 0.05")
    )
    order = (
        'format_version = 1\nreasn = "ours"\n'
        'order = ["works-12", "works-12", "iso-14694-2004", "iec-60034-14-2018", 5]\n'
    )
    told = _faults(write_own(tmp_path / "limits", text, order))
    expected = (
        "works.toml: titel: is no key; allowed: format_version, id, ",
        "works.toml: title: is missing",
        "works.toml: applies #1, grup: is no key; allowed: ",
        "works.toml: applies #1, group: is missing",
        "works.toml: applies #1, power_over_kw: input should be a valid number, found '15'",
        "works.toml: row #1, detector: input should be 'rms', ",
        "works.toml: row #1: unit of velocity must be one of mm/s, cm/s, m/s, um/s, ",
        "works.toml: row #1, alrm: is no key; allowed: ",
        "works.toml: row #1: boundaries must rise: 0.05, 0.01, 0.3",
        "precedence.toml: reasn: is no key; allowed: format_version, order, reason",
        "precedence.toml: reason: is missing",
        "precedence.toml: order #5: input should be a valid string, found 5",
        "precedence.toml: order: names works-12 twice",
        "precedence.toml: order: iso-14694-2004 is not one of ",
        "precedence.toml: order: iec-60034-14-2018 is for information only",
    )
    for text in expected:
        assert any(fault.startswith(f"limits/{text}") for fault in told), text
    assert len(told) == len(expected), told


def test_a_set_whose_file_cannot_be_read_is_not_unknown_to_the_order(tmp_path: Path) -> None:
    (fault,) = _faults(write_own(tmp_path, OWN_SET.replace("alarm = 0.07", "alarm = ")))
    assert "works.toml: cannot be read as TOML" in fault


def test_a_faulty_set_of_the_plant_that_is_never_in_service_is_none_of_the_order(
    tmp_path: Path,
) -> None:
    told = _faults(
        write_own(tmp_path, OWN_SET.replace("[[applies]]", "in_service = false\n[[applies]]"))
    )
    assert any("order: works-12 is for information only" in fault for fault in told), told
