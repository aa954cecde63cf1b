"""A new quantity, feature or attribute of a machine comes in without lifting the store."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import pytest

from schemas import FORMAT_VERSION, units
from schemas.codes import QUANTITY
from schemas.columns import Column
from schemas.tables.registry import ENTITIES
from tests.warehouse.services.small_plant import (
    MAPPING,
    REGISTRY,
    Plant,
    make_plant,
    series,
    write_file,
    write_mapping,
    write_registry,
)
from warehouse import mapping as mapping_module
from warehouse.inbox import Ledger
from warehouse.normalise import plan
from warehouse.registry import differences, entities, importing
from warehouse.registry.stored import stored_entities
from warehouse.services.checking import check_store
from warehouse.services.ingest import Arrival, commit_all, judge_now, receive
from warehouse.services.registry import import_registry
from warehouse.store import open_store

_NEW = "ultrasound-level"


def _code_list_grows(patch: pytest.MonkeyPatch) -> None:
    """As the next release of `schemas` would bring it: one line in two tables."""
    grown = MappingProxyType({**QUANTITY, _NEW: "airborne ultrasound level"})
    patch.setattr(mapping_module, "QUANTITY", grown)
    patch.setitem(mapping_module._CODE_LISTS, "quantity", grown)
    patch.setattr(plan, "QUANTITY", grown)
    patch.setitem(units._KIND_OF_QUANTITY, _NEW, "level")


def _take_in(plant: Plant, text: str) -> None:
    mapping = write_mapping(plant.folder, text)
    file = write_file(plant.folder / "new.csv", series(100, 4))
    with Ledger.open(plant.store.inbox) as ledger:
        receive(plant.store, ledger, [Arrival(file, mapping)])
        commit_all(plant.store, ledger)


def test_a_new_quantity(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plant = make_plant(tmp_path, {"clock": "data"})
    plant.ingest(series(0, 3))
    before = plant.store.home.joinpath("store.toml").read_text(encoding="utf-8")
    text = MAPPING.replace('"velocity"', f'"{_NEW}"').replace('"mm/s"', '"dB"')
    text = text.replace('detector = "rms"', 'detector = "value"')
    text = text.replace('band = "10-1000Hz"\n', "")
    _code_list_grows(monkeypatch)
    _take_in(plant, text)
    found = plant.ask(
        "SELECT quantity, unit, count(*) AS n FROM readings_current GROUP BY ALL ORDER BY quantity"
    )
    assert [tuple(row.values()) for row in found] == [(_NEW, "dB", 4), ("velocity", "mm/s", 3)]
    judge_now(plant.store)
    assert check_store(plant.store).faults == []
    assert plant.store.home.joinpath("store.toml").read_text(encoding="utf-8") == before
    assert open_store(plant.store.home).format_version == FORMAT_VERSION


def test_a_new_feature(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    plant.ingest(series(0, 3))
    _take_in(plant, MAPPING.replace("[[measure]]\n", '[[measure]]\nfeature = "half-order"\n'))
    found = plant.ask("SELECT feature, count(*) AS n FROM series GROUP BY ALL ORDER BY feature")
    assert [tuple(row.values()) for row in found] == [("half-order", 1), ("overall", 1)]


def test_a_new_attribute_of_a_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plant = make_plant(tmp_path)
    assets = ENTITIES["assets"]
    noise = Column("noise_zone", "string", "hearing protection needed there; null: not said")
    grown = {**ENTITIES, "assets": replace(assets, columns=(*assets.columns, noise))}
    for module in (differences, entities, importing):
        monkeypatch.setattr(module, "ENTITIES", grown)
    head, first, *_ = REGISTRY["assets"].splitlines()
    text = f"{head},noise_zone\n{first},yes\n"
    import_registry(plant.store, write_registry(tmp_path / "more", assets=text))
    rows = stored_entities(plant.store)["assets"].to_pylist()
    assert {row["asset"]: row["noise_zone"] for row in rows} == {"M-1": "yes", "M-2": None}
