"""The activity table and the matrix of priorities: a plant's own, with every fault at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from schemas.tables.work import RESETS
from warehouse.errors import WorkRulesError
from warehouse.work.tables import load_work_rules


def test_ours_are_sound_and_use_every_kind_of_reset() -> None:
    rules = load_work_rules()
    assert set(rules["activities"]["resets"].to_pylist()) == set(RESETS)
    matrix = {
        (row["level"], row["criticality"]): row["priority"]
        for row in rules["case_priorities"].to_pylist()
    }
    assert len(matrix) == 12
    for level in ("danger", "alert", "watch"):
        assert matrix[level, "A"] <= matrix[level, "B"] <= matrix[level, "C"]
    for criticality in ("A", "B", "C", None):
        assert matrix["danger", criticality] < matrix["alert", criticality]


def test_a_plants_own_takes_their_place_and_counts_at_once(tmp_path: Path) -> None:
    path = tmp_path / "activities.toml"
    text = 'format_version = 1\n[activity.{}]\nmeaning = "ours"\nresets = "baseline"\n'
    for code in ("regrout", "regroute"):
        path.write_text(text.format(code), encoding="utf-8")
        assert load_work_rules(tmp_path)["activities"]["activity"].to_pylist() == [code]
    assert load_work_rules(tmp_path)["case_priorities"].num_rows == 12


def test_every_fault_of_both_files_is_listed(tmp_path: Path) -> None:
    (tmp_path / "activities.toml").write_text(
        'format_version = 1\n[activity.Regrout]\nmeaning = ""\nresets = "everything"\n', "utf-8"
    )
    (tmp_path / "priorities.toml").write_text(
        'format_version = 1\nreason = "x"\n[priority.danger]\nA = 0\nB = 1\n', "utf-8"
    )
    with pytest.raises(WorkRulesError) as told:
        load_work_rules(tmp_path)
    text = told.value.message
    for part in (
        "activities.toml: activity.Regrout.resets: Input should be 'none', 'temperature-mute'",
        "activities.toml: activity.Regrout.meaning",
        "priorities.toml: confidence: Field required",
        "priorities.toml: priority.danger.A",
        "priority.watch.none: is missing; a number from 1 to 9 is needed",
    ):
        assert part in text, text
