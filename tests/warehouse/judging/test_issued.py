"""What was told stays on record: what makes a row of `issued`, and what does not (rule J12)."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any

import duckdb
import pyarrow as pa
import pytest

from schemas.tables.conditions import CONDITION_CURRENT, CONDITION_LOG
from schemas.tables.issued import ISSUED
from tests.warehouse.views.plant import AS_OF, Plant
from warehouse.judging.issued import Telling, issue, told_last

_TELLING = Telling(next_seq=11, snapshot=5, versions={"readings": 3})
_NOTHING = CONDITION_CURRENT.arrow.empty_table()
_NO_CHANGE = CONDITION_LOG.arrow.empty_table()


def _plant(value: float) -> Plant:
    return Plant().train().read(value).read(1.0, position="motor-de")


def _conditions(value: float = 1.0, as_of: datetime = AS_OF) -> pa.Table:
    return _plant(value).judged(as_of=as_of).conditions


def _issue(
    conditions: pa.Table, told: pa.Table = _NOTHING, changes: pa.Table = _NO_CHANGE
) -> list[dict[str, Any]]:
    with duckdb.connect() as session:
        rows: list[dict[str, Any]] = issue(session, conditions, told, changes, _TELLING).to_pylist()
    return rows


def _with(conditions: pa.Table, **other: Any) -> pa.Table:
    """The conditions, each with other values."""
    rows = [row | other for row in conditions.to_pylist()]
    return pa.Table.from_pylist(rows, CONDITION_CURRENT.arrow)


def test_every_place_is_told_the_first_time_and_nothing_the_second() -> None:
    conditions = _conditions()
    found = _issue(conditions)
    assert [row["seq"] for row in found] == list(range(11, 11 + conditions.num_rows))
    assert {(row["event"], row["snapshot"]) for row in found} == {("told", 5)}
    assert json.loads(found[0]["data_versions"]) == {"readings": 3}
    assert _issue(conditions, conditions) == []


def test_a_row_holds_what_was_said_word_for_word() -> None:
    conditions = _conditions(6.0)
    told = {name: row[name] for row in _issue(conditions)[:1] for name in conditions.column_names}
    assert told == conditions.to_pylist()[0]
    assert (told["scope"], told["level"], told["value"]) == ("asset", "alert", 6.0)


def test_another_value_in_the_same_state_tells_nothing_new() -> None:
    assert _issue(_conditions(1.1), _conditions(1.0)) == []


def test_another_level_is_told_with_the_number_of_its_newest_change() -> None:
    before = _conditions(1.0)
    first, second = (
        _plant(6.0).judged(before, AS_OF + timedelta(hours=1), seq).changes for seq in (70, 80)
    )
    found = _issue(_conditions(6.0), before, pa.concat_tables([first, second]))
    assert [row["change"] for row in found] == second["seq"].to_pylist()
    assert {row["level"] for row in found} == {"alert"}


def test_what_was_told_without_a_change_of_level_has_no_number() -> None:
    conditions = _conditions()
    found = _issue(_with(conditions, coverage="partial"), conditions)
    assert [row["change"] for row in found] == [None] * conditions.num_rows


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
        ("observations", "pump-de: leak, 2026-03-01"),
        ("next_step", "Look again."),
    ],
)
def test_what_is_told_anew(name: str, value: Any) -> None:
    conditions = _conditions()
    other = _with(conditions, **{name: value})
    told_anew = [a != b for a, b in zip(conditions.to_pylist(), other.to_pylist(), strict=True)]
    assert len(_issue(other, conditions)) == sum(told_anew) > 0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("value", 1.07),
        ("reason", "another"),
        ("measured_at", AS_OF),
        ("as_of", AS_OF + timedelta(hours=1)),
        ("trend_per_30_days", 0.1),
    ],
)
def test_what_moves_with_every_reading_is_not(name: str, value: Any) -> None:
    conditions = _conditions()
    assert _issue(_with(conditions, **{name: value}), conditions) == []


def test_where_the_worst_is_matters_only_where_it_is_bad() -> None:
    other = {"evidence_position": "pump-nde", "limit_group": "category-I", "boundary_b_c": 4.0}
    for value in (1.0, 6.0):
        conditions = _conditions(value)
        found = _issue(_with(conditions, **other), conditions)
        bad = [level for level in conditions["level"].to_pylist() if level != "normal"]
        assert len(found) == len(bad)


def test_a_place_of_which_nothing_is_told_any_more_is_withdrawn() -> None:
    conditions = _conditions(6.0)
    (gone,) = _issue(conditions[1:], conditions)
    assert (gone["event"], gone["level"]) == ("withdrawn", conditions["level"][0].as_py())
    assert _issue(conditions[1:], conditions[1:]) == []


def test_no_row_is_lost_by_the_time_of_judging() -> None:
    assert _issue(_conditions(as_of=AS_OF + timedelta(minutes=5)), _conditions()) == []


def test_what_no_published_state_holds_yet_was_told_last() -> None:
    published, later = _conditions(1.0), _conditions(6.0)
    unseen = pa.Table.from_pylist(_issue(later, published), ISSUED.arrow)
    withdrawn = pa.Table.from_pylist(_issue(later[1:], later), ISSUED.arrow)
    withdrawn = withdrawn.set_column(0, ISSUED.arrow.field("seq"), [[99]])
    with duckdb.connect() as session:
        told = told_last(session, published, unseen)
        without = told_last(session, published, pa.concat_tables([unseen, withdrawn]))
    assert sorted(told["level"].to_pylist()) == sorted(later["level"].to_pylist())
    assert without.num_rows == later.num_rows - 1
