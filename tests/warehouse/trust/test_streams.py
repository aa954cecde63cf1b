"""What a channel sends: a trend line may be fed by several of them."""

from __future__ import annotations

from datetime import timedelta

from tests.warehouse.views.plant import Plant

HOUR = timedelta(hours=1)


def test_two_devices_at_one_place_feed_one_series_by_two_streams() -> None:
    plant = Plant().train()
    for hours in (9, 5, 1):
        plant.read(2.0, ago=hours * HOUR, device="a")
    plant.read(3.0, device="b", method="wired")
    first, second = sorted(plant.view("streams"), key=lambda row: str(row["device"]))
    assert first["series_id"] == second["series_id"]
    assert (first["device"], first["readings"], first["interval_minutes"]) == ("a", 3, 240.0)
    assert (second["device"], second["interval_minutes"]) == ("b", None)
    states = {(row["stream_id"], row["value"]) for row in plant.view("running_states")}
    assert states == {(first["stream_id"], 2.0), (second["stream_id"], 3.0)}


def test_a_sensor_that_moved_is_a_stream_a_place() -> None:
    plant = Plant().train("P-1").train("P-2")
    plant.read(1.0, asset="P-1", device="d", ago=9 * HOUR).read(1.0, asset="P-2", device="d")
    assert sorted(row["asset"] for row in plant.view("streams")) == ["P-1", "P-2"]
