"""Mappings of events: every fault at once, every attribute explained, the page's example sound."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.warehouse.work.maintenance import MAPPING
from warehouse.errors import MappingError
from warehouse.event_mapping import EventAttributes, EventMapping, parse_any_mapping
from warehouse.mapping import Mapping

_PAGE = Path(__file__).parents[3] / "docs" / "work.md"


def test_every_fault_is_told_at_once() -> None:
    text = (
        MAPPING.replace('zone = "Europe/Vienna"', 'zone = "Vienna"')
        .replace('"VOID" = "cancelled"', '"VOID" = "void"')
        .replace('asset = { from = "Tag" }\n', "")
        .replace("started_at", "begun_at")
    )
    with pytest.raises(MappingError) as told:
        parse_any_mapping(text, "orders.toml")
    for part in (
        "'Vienna' is no IANA time zone",
        "event: status 'void' is not one of valid, cancelled",
        "event: the machine is missing; state object, or site and asset",
        "event.begun_at: no such name is known here",
    ):
        assert part in told.value.message, told.value.message


def test_local_times_need_a_zone() -> None:
    with pytest.raises(MappingError, match="zone is needed"):
        parse_any_mapping(MAPPING.replace('zone = "Europe/Vienna"\n', ""), "orders.toml")


def test_the_example_of_the_page_is_sound_and_every_attribute_is_explained() -> None:
    page = _PAGE.read_text(encoding="utf-8")
    example = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)[0]
    assert isinstance(parse_any_mapping(example, "page"), EventMapping)
    explained = set(re.findall(r"`([a-z_]+)`", page))
    assert set(EventAttributes.model_fields) - explained == set()


def test_a_mapping_of_readings_is_one_still() -> None:
    paths = sorted(Path(__file__).parents[3].glob("ingest_examples/**/mappings/*.toml"))
    assert paths
    for path in paths:
        found = parse_any_mapping(path.read_text(encoding="utf-8"), path.name)
        assert isinstance(found, Mapping)
