"""Many machines that change level within an hour: one notice (rule J11)."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

import pytest

from tests.warehouse.views.plant import AS_OF, Plant

MINUTE = timedelta(minutes=1)


def _plant(
    machines: int, changes: Iterable[tuple[int, int, str]], sources: int = 1, site: str = "s1"
) -> Plant:
    """So many judged machines spread over sources; changes as (machine, minute, new level)."""
    plant = Plant()
    for number in range(machines):
        asset = f"P-{number}"
        plant.read(1.0, asset=asset, source=f"gateway-{number % sources}", site=site)
        _log(plant, asset, -600, None, "normal")
    for number, minute, level in changes:
        _log(plant, f"P-{number}", minute, "normal", level)
    return plant


def _log(plant: Plant, asset: str, minute: int, before: str | None, after: str) -> None:
    place: dict[str, Any] = {"scope": "asset", "site": "s1", "asset": asset}
    plant.log.append(
        place | {"seq": len(plant.log) + 1, "level_from": before, "level_to": after,
                 "basis": "severity", "reason": "r", "judged_at": AS_OF + minute * MINUTE}
    )  # fmt: skip


def _told(plant: Plant) -> list[tuple[str | None, str | None, int, int]]:
    rows = plant.view("common_causes")
    return sorted((row["site"], row["source"], row["machines"], row["of_machines"]) for row in rows)


@pytest.mark.parametrize(
    ("minutes", "told"),
    [
        ([0, 30, 59], True),
        ([0, 30, 60], False),  # three, but not within the hour
        ([0, 59], False),
    ],
)
def test_three_machines_behind_one_gateway(minutes: list[int], told: bool) -> None:
    changes = [(number, minute, "unknown") for number, minute in enumerate(minutes)]
    rows = _plant(40, changes).view("common_causes")
    assert len(rows) == told
    if told:
        (row,) = rows
        assert (row["source"], row["site"], row["machines"]) == ("gateway-0", "s1", 3)
        assert (row["since"], row["until"]) == (AS_OF, AS_OF + 59 * MINUTE)
        assert (row["changes"], row["assets"]) == ("3 to unknown", "s1/P-0, s1/P-1, s1/P-2")
        assert row["notice"].startswith("3 of 40 machines behind gateway-0 changed level from")


@pytest.mark.parametrize(("machines", "told"), [(40, False), (39, True)])
def test_more_than_a_tenth_of_a_site(machines: int, told: bool) -> None:
    changes = [(number, number, "watch") for number in range(4)]
    expected = [("s1", None, 4, machines)] if told else []
    assert _told(_plant(machines, changes, sources=20)) == expected


def test_one_machine_of_five_is_no_common_cause() -> None:
    assert _told(_plant(5, [(0, 0, "alert"), (1, 1, "alert")], sources=5)) == []


def test_danger_is_counted_and_named() -> None:
    changes = [(0, 0, "danger"), (1, 1, "danger"), (2, 2, "unknown")]
    (row,) = _plant(9, changes).view("common_causes")
    assert (row["to_danger"], row["changes"]) == (2, "2 to danger, 1 to unknown")
    assert "a danger is one until it is cleared" in row["notice"]


def test_one_cause_is_told_once_however_long_it_takes() -> None:
    changes = [(number, number * 10, "unknown") for number in range(12)]  # two hours long
    assert _told(_plant(12, changes)) == [("s1", "gateway-0", 12, 12)]


def test_two_causes_are_told_apart() -> None:
    changes = [(number, number, "unknown") for number in range(3)]
    changes += [(number, 300 + number, "unknown") for number in range(3, 6)]
    assert _told(_plant(12, changes)) == [("s1", "gateway-0", 3, 12)] * 2


def test_the_first_judgement_of_a_machine_is_no_change() -> None:
    assert _told(_plant(12, [])) == []
