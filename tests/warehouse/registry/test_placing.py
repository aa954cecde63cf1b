"""Where a reading belongs is decided by the mounting of its time."""

from __future__ import annotations

from pathlib import Path

from tests.warehouse.services.small_plant import Plant, make_plant, series, stamp, write_registry
from warehouse.services.registry import import_registry

_MOVED = (
    "device,channel,site,asset,position,axis,mounted_from,mounted_to,commissioning\n"
    f"L1,1,works,M-1,motor-de,horizontal,2020-01-01T00:00:00Z,{stamp(10)}:00Z,passed\n"
    f"L1,1,works,M-2,motor-de,vertical,{stamp(20)}:00Z,,passed\n"
)


def _moved(tmp_path: Path) -> Plant:
    plant = make_plant(tmp_path)
    folder = write_registry(tmp_path / "registry", mountings=_MOVED)
    import_registry(plant.store, folder)
    return plant


def test_a_moved_sensor_serves_two_places_and_the_gap_between_is_refused(tmp_path: Path) -> None:
    plant = _moved(tmp_path)
    (package,) = plant.ingest(series(0, 30))
    assert package.counts.rejected_by_reason == {"not-mounted": 10}
    places = plant.ask(
        "SELECT asset, axis, count(*) AS n, min(ts) AS first, max(ts) AS last"
        " FROM readings_current GROUP BY ALL ORDER BY asset"
    )
    shown = [
        (p["asset"], p["axis"], p["n"], f"{p['first']:%H:%M}", f"{p['last']:%H:%M}") for p in places
    ]
    assert shown == [
        ("M-1", "horizontal", 10, "00:00", "00:09"),
        ("M-2", "vertical", 10, "00:20", "00:29"),
    ]
    refused = plant.ask("SELECT DISTINCT device, channel, reason FROM rejects")
    assert refused == [{"device": "L1", "channel": "1", "reason": "not-mounted"}]


def test_device_channel_and_time_are_told_apart(tmp_path: Path) -> None:
    plant = _moved(tmp_path)
    (package,) = plant.ingest(
        [
            ("L8", "1", stamp(0), "2.00"),
            ("L1", "7", stamp(0), "2.00"),
            ("L1", "1", "2019-12-31T23:59", "2.00"),
            ("", "1", stamp(0), "2.00"),
        ]
    )
    assert package.counts.rejected_by_reason == {
        "unknown-device": 1,
        "unknown-channel": 1,
        "not-mounted": 1,
        "blank-identity": 1,
    }
