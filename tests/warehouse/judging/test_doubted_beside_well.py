"""What a machine's condition says of those of its points that are doubted or not judged."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from tests.outside.machines import assigned
from tests.warehouse.views.plant import Plant

HOUR = timedelta(hours=1)
_WIDER: tuple[tuple[str, dict[str, Any]], ...] = (("asset", {}), ("member", {"member": "pump"}))
_DOUBT: dict[str, Any] = {"quality": "suspect", "reason": "implausible"}


def test_a_machine_that_is_well_but_for_a_doubted_axis_says_so_and_what_to_do() -> None:
    plant = Plant().train().read(1.0, position="motor-de").read(1.0, axis="vertical")
    plant.read(2.5, **_DOUBT)
    for scope, place in _WIDER:
        row = plant.condition(scope, **place)
        assert (row["level"], row["zone"]) == ("normal", "A")
        assert "Not counted: pump-de horizontal: the latest velocity" in row["reason"]
        assert row["next_step"].startswith("What is seen is well; find out why a sensor")
    assert "Not counted" not in plant.condition("member", member="motor")["reason"]


def test_a_machine_was_what_the_worst_of_its_points_was() -> None:
    plant = Plant().train()
    for hours in range(110, 100, -1):
        plant.read(6.0, ago=hours * HOUR).read(1.0, axis="axial", ago=hours * HOUR)
    for hours in (3, 2, 1):
        plant.read(30.0, axis="axial", ago=hours * HOUR, **_DOUBT)
    for scope, place in _WIDER:
        row = plant.condition(scope, **place)
        assert (row["level"], row["basis"], row["last_level"]) == ("unknown", "verify", "alert")


def test_a_set_that_was_assigned_and_cannot_be_used_is_told_of_the_train() -> None:
    plant = Plant().train().read(1.0, position="motor-de")
    for ago in range(8, 0, -1):
        plant.read(1.6, axis="axial", ago=ago * HOUR).read(6.2, ago=ago * HOUR)
    assigned(plant, "iso-10816-7-2009", limit_group="group-9", asset="P-101", member="pump")
    row = plant.condition()
    assert (row["level"], row["basis"]) == ("unknown", "unjudged")
    assert row["reason"].startswith("What is seen is normal, but not enough of the train is: pump")
    assert "assigned by N. Obody, has no group group-9" in row["reason"]
    pump = plant.condition("member", member="pump")
    assert (pump["evidence_axis"], pump["value"]) == ("horizontal", 6.2)
