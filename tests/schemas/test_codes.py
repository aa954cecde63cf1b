"""The closed code lists and reject reasons: closed, spelt alike, and used as they say."""

from __future__ import annotations

import re
from collections.abc import Mapping
from importlib.resources import files

import pytest

from schemas import codes
from schemas.reasons import REJECT_REASON
from schemas.tables import TABLES
from schemas.tables.registry import ENTITIES

LISTS: dict[str, Mapping[str, str]] = {
    name: value
    for name, value in vars(codes).items()
    if name.isupper() and isinstance(value, Mapping)
}


def test_lists_were_found() -> None:
    assert {"QUANTITY", "DETECTOR", "AXIS", "METHOD", "QUALITY", "LEVEL"} <= set(LISTS)


@pytest.mark.parametrize("name", LISTS)
def test_code_is_a_plain_word_with_a_meaning(name: str) -> None:
    for code, meaning in LISTS[name].items():
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*|[ABC]|I{1,2}", code), code
        assert len(meaning) > 5 or meaning in ("glued",), code


@pytest.mark.parametrize("name", LISTS)
def test_list_is_closed(name: str) -> None:
    with pytest.raises(TypeError):
        LISTS[name]["new"] = "?"  # type: ignore[index]


def test_dimensionless_detectors_are_detectors() -> None:
    assert set(codes.DETECTOR) > codes.DIMENSIONLESS_DETECTORS


def test_every_list_is_used_by_a_column_or_a_view() -> None:
    used = {
        column.codes
        for table in (*TABLES.values(), *ENTITIES.values())
        for column in table.columns
        if column.codes
    }
    assert set(LISTS) - used <= {"METHOD_GROUP", "RUNNING_STATE", "COVERAGE", "PACKAGE_STATE"}


def test_reasons_say_what_mends_them() -> None:
    for code, reason in REJECT_REASON.items():
        assert code == reason.code
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", code)
        assert reason.meaning
        assert reason.remedy


def test_every_reason_the_pass_gives_is_in_the_list() -> None:
    sql = files("warehouse.normalise.sql")
    given = {
        word
        for name in ("keys.sql", "items.sql", "timed.sql")
        for word in re.findall(
            r"(?:THEN|ELSE) '([a-z]+(?:-[a-z]+)+)'", (sql / name).read_text(encoding="utf-8")
        )
    }
    assert {"bad-number", "unknown-device", "missing-hour"} <= given
    assert given <= set(REJECT_REASON)
