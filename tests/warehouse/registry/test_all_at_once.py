"""Faults of form do not hide those of references, keys and overlaps: one look lists them all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from tests.warehouse.services.small_plant import REGISTRY, make_plant, write_registry
from warehouse.errors import RegistryError
from warehouse.registry.stored import stored_entities
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store

_MOUNTED = "device,channel,site,asset,position,axis,mounted_from,mounted_to,commissioning\n"
_DE = "works,M-1,motor-de"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return create_store(tmp_path / "store")


def _faults(store: Store, source: Path) -> list[str]:
    with pytest.raises(RegistryError) as caught:
        import_registry(store, source)
    return caught.value.faults


def _folder(folder: Path, **files: str) -> Path:
    """A folder with these files only."""
    folder.mkdir()
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def test_faults_of_every_kind_are_listed_together(store: Store, tmp_path: Path) -> None:
    source = write_registry(
        tmp_path / "registry",
        assets="site,asset,name,service_state\nworks,M-1,Machine,asleep\n"
        "works,M-2,Machine,in-service\n",
        members=REGISTRY["members"] + "works,M-9,motor,driver,electric-motor,90,rigid\n",
        devices=REGISTRY["devices"] + "L1,other,wired\n",
        mountings=_MOUNTED.replace("\n", ",colour\n")
        + f"L1,1,{_DE},axial,2020-01-01T00:00:00Z,,passed,red\n"
        + f"L1,1,{_DE},axial,2021-01-01T00:00:00Z,,splendid,red\n"
        + f"L7,1,{_DE},axial,2020-01-01T00:00:00Z,,passed,red\n"
        + f"L1,3,{_DE},axial,2020-01-01T00:00:00Z,2019-01-01T00:00:00Z,passed,red\n",
    )
    found = _faults(store, source)
    expected = [
        "assets.csv line 2 column service_state: 'asleep' is not one of",
        "mountings.csv: line 1 has the unknown column colour; allowed: device, channel",
        "mountings.csv line 3 column commissioning: 'splendid' is not one of",
        "devices.csv line 3: L1 stands in devices.csv line 2 already",
        "members.csv line 4: works/M-9 is not in assets",
        "mountings.csv line 4: L7 is not in devices",
        "mountings.csv line 5: mounted_to does not lie after mounted_from",
        "mountings.csv line 3: device L1 channel 1 is mounted from 2021-01-01T00:00Z while "
        "mountings.csv line 2 has it on works/M-1 until further notice",
    ]
    assert [fault[: len(start)] for fault, start in zip(found, expected, strict=True)] == expected


_BAD_FORM = {
    "a cell of it is wrong": "device,kind,method\nL1,logger,by ear\n",
    "its key is blank": "device,kind,method\n,logger,wired\n",
    "its row has a comma too many": "device,kind,method\nL1,logger, big,wired\n",
    "its key may have slipped": "kind,device,method\nbig, logger,L1,wired\n",
    "a needed column is missing": "device,kind\nL1,logger\n",
    "the key's column has another name": "dev,kind,method\nL1,logger,wired\n",
    "a column stands twice": "device,kind,method,device\nL1,logger,wired,L1\n",
    "the file is empty": "",
    "its quote is not closed": 'device,kind,method\n"L1,logger,wired\n',
    "text stands behind its quote": 'device,kind,method\n"L"1,logger,wired\n',
    "nobody knows whether it is withdrawn": "device,kind,method,withdraw\nL1,,,perhaps\n",
}


@pytest.mark.parametrize("devices", _BAD_FORM.values(), ids=_BAD_FORM.keys())
def test_what_is_there_with_a_fault_of_form_is_not_missing(
    store: Store, tmp_path: Path, devices: str
) -> None:
    found = _faults(store, write_registry(tmp_path / "registry", devices=devices))
    assert found
    assert all(fault.startswith("devices.csv") for fault in found), found


def test_a_file_of_other_bytes_hides_no_fault_of_others(store: Store, tmp_path: Path) -> None:
    source = write_registry(tmp_path / "registry")
    (source / "devices.csv").write_bytes(b"device,kind,method\n\xff\xfe,logger,wired\n")
    (source / "assets.csv").write_text("site,asset,name,service_state\nworks,M-1,One,in-service\n")
    assert [fault.partition(" ")[0] for fault in _faults(store, source)] == [
        "devices.csv:",
        "members.csv",
    ]


def test_a_line_with_a_broken_quote_is_named_and_the_rest_is_checked(
    store: Store, tmp_path: Path
) -> None:
    sites = 'site,name,time_zone\n"a"b,A,UTC\nc,C,Mars/Base\n"d,D,UTC\n'
    first, second, third = _faults(store, _folder(tmp_path / "sites", sites=sites))
    assert first.startswith("sites.csv line 2: a quote that opens there is not closed, or text")
    assert second.startswith("sites.csv line 4: a quote that opens there is not closed, or text")
    assert third.startswith("sites.csv line 3 column time_zone")


def test_a_mounting_whose_beginning_is_wrong_may_be_one_that_is_stored(tmp_path: Path) -> None:
    """Its channel is compared with no stored one: that may be what it corrects."""
    plant = make_plant(tmp_path / "plant")
    text = (
        _MOUNTED
        + f"L1,1,{_DE},horizontal,yesterday,2021-01-01T00:00:00Z,passed\n"
        + f"L1,1,{_DE},horizontal,2021-01-01T00:00:00Z,,passed\n"
        + f"L1,2,{_DE},vertical,2021-01-01T00:00:00Z,,passed\n"
    )
    found = _faults(plant.store, _folder(tmp_path / "more", mountings=text))
    assert [fault.partition(":")[0] for fault in found] == [
        "mountings.csv line 2 column mounted_from",
        "mountings.csv line 4",
    ]


def test_a_withdrawal_with_a_fault_hides_no_other_need(tmp_path: Path) -> None:
    plant = make_plant(tmp_path / "plant")
    source = _folder(
        tmp_path / "more",
        devices="device,withdraw\nL1,true\n",
        mountings=_MOUNTED.replace("\n", ",withdraw\n")
        + f"L1,1,{_DE},horizontal,sometime,,passed,true\n",
    )
    found = _faults(plant.store, source)
    assert [fault.partition(":")[0] for fault in found] == [
        "mountings.csv line 2 column mounted_from",
        "devices.csv line 2",
    ]
    assert "L1 is needed by mountings L1/2/2020-01-01" in found[1]


def _points(value: str) -> str:
    return (
        "site,asset,position,member,bearing_housing,thrust_end\n"
        f"{_DE},motor,{value},true\nworks,M-2,motor-de,motor,true,true\n"
    )


@pytest.mark.parametrize("text", ["yes", "no", "1", "0", "ja", "t", "wahr"])
def test_a_boolean_is_true_or_false_and_nothing_else(
    store: Store, tmp_path: Path, text: str
) -> None:
    (fault,) = _faults(store, write_registry(tmp_path / "registry", points=_points(text)))
    assert fault == (
        f"points.csv line 2 column bearing_housing: {text!r} is not one of true, false"
    )


@pytest.mark.parametrize(("text", "means"), [("true", True), ("FALSE", False), ("True", True)])
def test_capitals_do_not_matter(store: Store, tmp_path: Path, text: str, means: bool) -> None:
    import_registry(store, write_registry(tmp_path / "registry", points=_points(text)))
    assert stored_entities(store)["points"]["bearing_housing"].to_pylist()[0] is means


@pytest.mark.parametrize(("cell", "allowed"), [(True, True), ("TRUE", True), (1, False),
                                               ("yes", False)])  # fmt: skip
def test_the_same_rule_holds_in_a_workbook(tmp_path: Path, cell: Any, allowed: bool) -> None:
    plant = make_plant(tmp_path / "plant")
    with xlsxwriter.Workbook(tmp_path / "points.xlsx") as book:
        sheet = book.add_worksheet("points")
        sheet.write_row(0, 0, _points("").partition("\n")[0].split(","))
        sheet.write_row(1, 0, ["works", "M-1", "fan-de", "motor", True, cell])
    if allowed:
        assert import_registry(plant.store, tmp_path / "points.xlsx") == {"points": 1}
    else:
        (fault,) = _faults(plant.store, tmp_path / "points.xlsx")
        assert fault.endswith(f"thrust_end (cell F2): '{cell}' is not one of true, false")


def test_a_sheet_of_unknown_name_may_hold_what_is_referred_to(store: Store, tmp_path: Path) -> None:
    with xlsxwriter.Workbook(tmp_path / "plant.xlsx") as book:
        for name in REGISTRY:
            sheet = book.add_worksheet("device" if name == "devices" else name)
            for number, line in enumerate(REGISTRY[name].splitlines()):
                sheet.write_row(number, 0, line.split(","))
    (fault,) = _faults(store, tmp_path / "plant.xlsx")
    assert "sheet device: is no kind of thing" in fault
