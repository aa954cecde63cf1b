"""What was told stays on record: what makes a row of `issued`, and what does not (rule J12)."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pyarrow as pa
import pytest

from schemas.tables.conditions import CONDITION_CURRENT
from schemas.tables.issued import ISSUED
from tests.warehouse.views.plant import AS_OF, Plant
from warehouse.judging.issued import Row, Telling, differs, issue, place_of

_TELLING = Telling(next_seq=11, snapshot=5, changes={}, versions={"readings": 3})


def _rows(value: float = 1.0, **place: Any) -> list[Row]:
    plant = Plant().train().read(value, **place).read(1.0, position="motor-de")
    rows: list[Row] = plant.judged().conditions.to_pylist()
    return rows


def _told(rows: list[Row]) -> dict[tuple[Any, ...], Row]:
    return {place_of(row): row for row in rows}


def test_every_place_is_told_the_first_time_and_nothing_the_second() -> None:
    rows = _rows()
    found = issue(rows, {}, _TELLING)
    assert pa.Table.from_pylist(found, ISSUED.arrow).num_rows == len(rows)
    assert [row["seq"] for row in found] == list(range(11, 11 + len(rows)))
    assert {(row["event"], row["snapshot"]) for row in found} == {("told", 5)}
    assert json.loads(found[0]["data_versions"]) == {"readings": 3}
    assert issue(rows, _told(rows), _TELLING) == []


def test_a_row_holds_what_was_said_word_for_word() -> None:
    (asset,) = [row for row in _rows(6.0) if row["scope"] == "asset"]
    (row,) = issue([asset], {}, _TELLING)
    assert {name: row[name] for name in CONDITION_CURRENT.column_names} == asset
    assert (row["level"], row["value"], row["boundary_b_c"]) == ("alert", 6.0, 5.1)


def test_another_value_in_the_same_state_tells_nothing_new() -> None:
    assert issue(_rows(1.1), _told(_rows(1.0)), _TELLING) == []


def test_another_level_is_told_with_the_number_of_its_change() -> None:
    rows = _rows(6.0)
    changes = {place_of(rows[0]): 77}
    telling = Telling(11, 5, changes, {})
    found = issue(rows, _told(_rows(1.0)), telling)
    assert [row["change"] for row in found] == [77, *[None] * (len(found) - 1)]
    assert {row["level"] for row in found} == {"alert"}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("boundary_b_c", 4.5),
        ("limit_set", "our-own"),
        ("limit_edition", "another"),
        ("trend_state", "rising"),
        ("last_level", "alert"),
        ("coverage", "partial"),
        ("distrust", "marked implausible"),
        ("next_step", "Look again."),
    ],
)
def test_what_is_told_anew(name: str, value: Any) -> None:
    for row in _rows():
        assert differs(row | {name: value}, row)


@pytest.mark.parametrize("name", ["value", "reason", "measured_at", "as_of", "trend_per_30_days"])
def test_what_moves_with_every_reading_is_not(name: str) -> None:
    for row in _rows():
        assert not differs(row | {name: "another"}, row)


def test_where_the_worst_is_matters_only_where_it_is_bad() -> None:
    other = {"evidence_position": "pump-nde", "limit_group": "category-I", "boundary_b_c": 4.0}
    assert not any(differs(row | other, row) for row in _rows(1.0) if row["level"] == "normal")
    assert all(differs(row | other, row) for row in _rows(6.0) if row["level"] == "alert")


def test_a_place_of_which_nothing_is_told_any_more_is_withdrawn() -> None:
    rows = _rows(6.0)
    found = issue(rows[1:], _told(rows), _TELLING)
    assert [(row["event"], row["level"]) for row in found] == [("withdrawn", rows[0]["level"])]
    assert issue(rows[1:], _told(rows[1:]), _TELLING) == []


def test_no_row_is_lost_by_the_time_of_judging() -> None:
    later = Plant().train().read(1.0).read(1.0, position="motor-de")
    rows = later.judged(as_of=AS_OF + timedelta(minutes=5)).conditions.to_pylist()
    assert issue(rows, _told(_rows()), _TELLING) == []
