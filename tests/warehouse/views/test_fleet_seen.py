"""What of the fleet is seen: coverage, health of sensors; and who is counted at all."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.warehouse.views.fleet_history import one, rows
from tests.warehouse.views.plant import AS_OF, Plant

DAY = timedelta(days=1)


def _plant() -> Plant:
    plant = Plant().train("P-1", criticality="A").train("P-2").train("P-3")
    plant.read(1.0, asset="P-1").read(1.0, asset="P-1", position="motor-de")
    plant.read(1.0, asset="P-2", position="motor-de", device="other")
    plant.add("members", site="s1", asset="P-3", member="screw", role="driven",
              equipment_class="screw-compressor")  # fmt: skip
    plant.add("assets", site="s1", asset="Y", name="Yard", service_state="in-service")
    plant.add("members", site="s1", asset="Y", member="air", role="driven",
              equipment_class="environment")  # fmt: skip
    return plant


def test_coverage_counts_bearings_and_the_machines_nobody_sees() -> None:
    found = _plant().view("fleet_coverage")
    names = ("machines", "judgeable_points", "measured_points", "seen", "unseen", "no_points",
             "unjudged")  # fmt: skip
    counted = {
        (row["grouped_by"], row["asset"] or row["equipment_class"]): [row[name] for name in names]
        for row in found
    }
    assert counted["asset", "P-1"] == [2, 2, 2, 2, 0, 0, 0]
    assert counted["asset", "P-2"] == [2, 2, 1, 1, 1, 0, 0]
    assert counted["asset", "P-3"] == [3, 2, 0, 0, 3, 1, 1]
    assert counted["class", "centrifugal-pump"] == [3, 3, 1, 1, 2, 0, 0]
    assert counted["fleet", None] == counted["site", None] == [7, 6, 3, 3, 4, 1, 1]
    assert ("asset", "Y") not in counted
    (fleet,) = [row for row in found if row["grouped_by"] == "fleet"]
    assert fleet["measured_share"] == pytest.approx(0.5)


def test_sensors_with_their_place_their_readings_and_what_is_held_against_them() -> None:
    plant = _plant()
    plant.read(1.1, asset="P-1", quality="suspect")
    plant.read(1.0, asset="P-1", ago=9 * DAY)
    plant.add("devices", device="never", kind="k", method="wireless")
    plant.add("mountings", device="never", channel="1", site="s1", asset="P-3",
              position="pump-de", mounted_from=None, commissioning="passed")  # fmt: skip
    plant.entities["mountings"][0]["mounted_from"] = plant.readings[-1]["ts"]
    plant.variables = {"fleet_from": plant.readings[0]["ts"] - 2 * DAY}
    found = {row["device"]: row for row in rows(plant, "sensor_health")}
    assert set(found) == {"dev-pump-de", "dev-motor-de", "other", "never"}
    pump = found["dev-pump-de"]
    assert (pump["site"], pump["asset"], pump["seats"], pump["alive"]) == ("s1", "P-1", 1, True)
    assert (pump["readings"], pump["good_share"]) == (2, 0.5)
    assert (pump["battery_days_left"], pump["battery"]) == (None, None)
    silent = found["never"]
    assert (silent["source"], silent["alive"], silent["good_share"]) == (None, False, None)
    assert (silent["asset"], silent["findings"]) == ("P-3", 1)
    assert "silent" in silent["checks"]


def test_machines_are_chosen_by_class_criticality_and_site() -> None:
    plant = _plant()
    connection = plant.connect(AS_OF, "fleet_assets", "fleet_members")

    def assets(**variables: list[str]) -> list[str]:
        for name in ("fleet_sites", "fleet_classes", "fleet_criticalities"):
            connection.execute(f"SET VARIABLE {name} = $v", {"v": variables.get(name)})
        found = connection.sql("SELECT asset FROM fleet_assets ORDER BY asset").fetchall()
        return [asset for (asset,) in found]

    assert assets() == ["P-1", "P-2", "P-3"]
    assert assets(fleet_classes=["screw-compressor", "fan"]) == ["P-3"]
    assert assets(fleet_criticalities=["A"]) == ["P-1"]
    assert assets(fleet_sites=["s1"], fleet_criticalities=["B"]) == []
    assert assets(fleet_sites=["elsewhere"]) == []
    members = "SELECT DISTINCT equipment_class FROM fleet_members"
    connection.execute("SET VARIABLE fleet_sites = NULL")
    connection.execute("SET VARIABLE fleet_criticalities = NULL")
    connection.execute("SET VARIABLE fleet_classes = ['screw-compressor']")
    assert connection.sql(members).fetchall() == [("screw-compressor",)]
    plant.variables = {"fleet_criticalities": ["A"]}
    assert one(plant, "fleet_assets")["weight"] == 3
