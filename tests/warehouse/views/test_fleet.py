"""Rankings, health of sources, and refused items."""

from __future__ import annotations

from datetime import timedelta

import pyarrow as pa
import pytest

from schemas.tables.conditions import CONDITION_CURRENT
from tests.warehouse.views.plant import AS_OF, Plant

DAY = timedelta(days=1)


def test_worst_machines_by_level_then_share_of_b_c() -> None:
    plant = Plant()
    for asset, criticality in (("P-1", "C"), ("P-2", "A"), ("P-3", None), ("P-4", "B")):
        plant.train(asset, criticality=criticality, area="north")
    for asset, value in (("P-1", 9.0), ("P-2", 6.0), ("P-3", 6.5), ("P-4", 1.0)):
        plant.read(value, asset=asset).read(1.0, asset=asset, position="motor-de")
    found = sorted(plant.view("worst_machines"), key=lambda row: row["rank"])
    assert [row["asset"] for row in found] == ["P-1", "P-3", "P-2", "P-4"]
    assert [row["level"] for row in found] == ["danger", "alert", "alert", "normal"]
    assert {row["n"] for row in found} == {4}
    weighted = sorted(found, key=lambda row: row["weighted_rank"])
    assert [row["asset"] for row in weighted] == ["P-2", "P-1", "P-3", "P-4"]
    assert found[0]["share_of_b_c"] == pytest.approx(9.0 / 5.1)


def test_source_health() -> None:
    plant = Plant().train().read(1.0, ago=2 * DAY).read(1.1, quality="suspect")
    plant.read(12.0, quantity="battery-charge", detector="value", band=None)
    plant.read(90.0, quantity="battery-charge", detector="value", band=None, ago=9 * DAY)
    plant.add("devices", device="dev-pump-de", kind="k", method="wireless", interval_minutes=15.0)
    plant.add("devices", device="never", kind="k", method="wireless")
    plant.rejects.append({"package": 1, "row": 9, "source": "src", "device": "dev-pump-de"})
    talking, never = sorted(plant.view("source_health"), key=lambda row: row["device"])
    assert talking["readings"] == 4
    assert (talking["readings_last_day"], talking["suspect"], talking["rejects"]) == (2, 1, 1)
    assert (talking["battery_percent"], talking["battery_low"]) == (12.0, True)
    assert talking["last_seen"] == AS_OF - timedelta(hours=1)
    assert talking["silent"]  # four missed intervals of 15 min
    assert (never["source"], never["silent"], never["readings"]) == (None, True, 0)


def test_rejects_by_reason() -> None:
    plant = Plant()
    for row, (package, reason) in enumerate([(2, "a"), (1, "a"), (1, "b")]):
        plant.rejects.append(
            {"package": package, "row": row, "source": "s", "reason": reason,
             "detail": f"{package}-{row}", "received_at": AS_OF}
        )  # fmt: skip
    first, second = sorted(plant.view("rejects_by_reason"), key=lambda row: row["reason"])
    assert (first["rows_kept"], first["packages"], first["example_detail"]) == (2, 2, "1-1")
    assert (second["rows_kept"], second["packages"]) == (1, 1)


def test_worst_machines_can_stand_on_the_published_conditions() -> None:
    plant = Plant().train("P-1").train("P-2").read(9.0, asset="P-1").read(1.0, asset="P-2")
    connection = plant.connect(AS_OF, "worst_machines")
    rows = plant.judged().conditions.to_pylist()
    published = pa.Table.from_pylist(
        [row for row in rows if row["scope"] == "asset"], CONDITION_CURRENT.arrow
    )
    connection.register("asset_conditions", published)
    found = connection.table("worst_machines").to_arrow_table().to_pylist()
    assert found == plant.view("worst_machines")
