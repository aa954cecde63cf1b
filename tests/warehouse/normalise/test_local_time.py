"""Local days against `zoneinfo` itself, minute by minute; then the policy through small files."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from tests.warehouse.normalise.small import Taken, mapping_text, take
from warehouse.normalise.local_time import zone_days

ZONES = {
    "Europe/Vienna": (60, 60),
    "Australia/Lord_Howe": (30, 30),  # half an hour
    "America/St_Johns": (60, 60),  # offset of three and a half hours
    "America/Havana": (60, 60),  # at midnight
    "Africa/Casablanca": (60, 60),  # back for Ramadan
    "Asia/Kathmandu": (0, 0),  # no change at all
}
"""Zones with the minutes of local time that are missing and that repeat within 2025."""


def _by_zoneinfo(zone: ZoneInfo, local: dt.datetime) -> tuple[str | None, set[dt.datetime]]:
    """What a local time is, and every instant that reads so on the zone's clock."""
    instants = set()
    for fold in (0, 1):
        instant = local.replace(tzinfo=zone, fold=fold).astimezone(dt.UTC)
        if instant.astimezone(zone).replace(tzinfo=None) == local:
            instants.add(instant.replace(tzinfo=None))
    return {0: "missing", 1: None, 2: "ambiguous"}[len(instants)], instants


@pytest.mark.slow
@pytest.mark.parametrize("zone", ZONES)
def test_every_quarter_of_an_hour_of_a_year(zone: str) -> None:
    rules = ZoneInfo(zone)
    first, last = dt.date(2025, 1, 1), dt.date(2025, 12, 31)
    days = zone_days(zone, first, last).to_pylist()
    assert [row["day"] for row in days] == [first + dt.timedelta(days=n) for n in range(365)]
    counted = {"missing": 0, "ambiguous": 0}
    for row in days:
        local = dt.datetime.combine(row["day"], dt.time())
        while local.date() == row["day"]:
            inside = row["change"] and row["change_from"] <= local < row["change_to"]
            kind, instants = _by_zoneinfo(rules, local)
            assert kind == (row["change"] if inside else None), local
            before, after = (
                local - dt.timedelta(seconds=row[name])
                for name in ("offset_before", "offset_after")
            )
            if kind is None:
                early = row["change"] is None or local < row["change_from"]
                assert instants == {before if early else after}, local
            else:
                counted[kind] += 15
            if kind == "ambiguous":
                assert instants == {before, after}, local
            local += dt.timedelta(minutes=15)
    assert (counted["missing"], counted["ambiguous"]) == ZONES[zone]


def test_offsets_of_the_edges_of_a_range_do_not_depend_on_it() -> None:
    whole = zone_days("Europe/Vienna", dt.date(2024, 1, 1), dt.date(2025, 12, 31)).to_pylist()
    for day in (dt.date(2025, 3, 29), dt.date(2025, 3, 30), dt.date(2025, 3, 31)):
        assert zone_days("Europe/Vienna", day, day).to_pylist() == [
            row for row in whole if row["day"] == day
        ]


def test_no_day_gives_an_empty_table() -> None:
    assert zone_days("UTC", dt.date(2025, 1, 2), dt.date(2025, 1, 1)).num_rows == 0


# The policy, through files. Vienna 2025: 30 March 02:00-03:00 is missing, 26 October repeats it.


def _vienna(times: list[str], ambiguous: str = "refuse", zone: str = "Europe/Vienna") -> Taken:
    payload = "t,v\n" + "".join(f"{time},{n}\n" for n, time in enumerate(times, 1))
    time = f'from = "t"\nformat = "%Y-%m-%d %H:%M"\nzone = "{zone}"\nambiguous = "{ambiguous}"'
    return take(payload, mapping_text(time=time))


def _utc(found: Taken) -> list[str]:
    return [f"{row['ts']:%m-%d %H:%M}" for row in found.readings]


AUTUMN = [
    "2025-10-26 01:30",
    "2025-10-26 02:00",
    "2025-10-26 02:30",
    "2025-10-26 02:00",
    "2025-10-26 02:30",
    "2025-10-26 03:00",
]


@pytest.mark.parametrize("ambiguous", ["refuse", "earlier", "later", "file-order"])
def test_missing_hour_is_always_refused(ambiguous: str) -> None:
    times = ["2025-03-30 01:59", "2025-03-30 02:00", "2025-03-30 02:59", "2025-03-30 03:00"]
    found = _vienna(times, ambiguous)
    assert _utc(found) == ["03-30 00:59", "03-30 01:00"]
    assert [row["line"] for row in found.rejects] == [3, 4]
    assert {row["reason"] for row in found.rejects} == {"missing-hour"}


def test_repeated_hour_is_refused_unless_told() -> None:
    found = _vienna(AUTUMN)
    assert _utc(found) == ["10-25 23:30", "10-26 02:00"]
    assert found.counts.rejected_by_reason == {"ambiguous-hour": 4}


@pytest.mark.parametrize(("ambiguous", "hour"), [("earlier", "00"), ("later", "01")])
def test_repeated_hour_by_rule(ambiguous: str, hour: str) -> None:
    found = _vienna(AUTUMN[:3], ambiguous)
    assert _utc(found) == ["10-25 23:30", f"10-26 {hour}:00", f"10-26 {hour}:30"]


def test_repeated_hour_by_the_order_of_lines() -> None:
    found = _vienna(AUTUMN, "file-order")
    assert _utc(found) == [
        "10-25 23:30",
        "10-26 00:00",
        "10-26 00:30",
        "10-26 01:00",
        "10-26 01:30",
        "10-26 02:00",
    ]
    assert found.values == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize(
    "times",
    [
        ["2025-10-26 02:00", "2025-10-26 02:30"],  # one pass only: which of the two?
        ["2025-10-26 02:30", "2025-10-26 02:00", "2025-10-26 02:30", "2025-10-26 02:00"],
    ],
)
def test_order_that_does_not_tell_is_refused(times: list[str]) -> None:
    found = _vienna(times, "file-order")
    assert found.counts.rejected_by_reason == {"ambiguous-hour": len(times)}


def test_half_hour_of_lord_howe() -> None:
    times = ["2025-04-06 01:29", "2025-04-06 01:30", "2025-04-06 01:59", "2025-04-06 02:00"]
    found = _vienna(times, zone="Australia/Lord_Howe")
    assert _utc(found) == ["04-05 14:29", "04-05 15:30"]
    assert [row["line"] for row in found.rejects] == [3, 4]


def test_date_only_is_noon_of_the_local_day() -> None:
    time = 'from = "t"\nformat = "%d.%m.%Y"\nzone = "Europe/Vienna"\nclock = "date-only"\n'
    found = take("t,v\n30.03.2025,1\n01.12.2025,2\n", mapping_text(time=time + 'precision = "day"'))
    assert _utc(found) == ["03-30 10:00", "12-01 11:00"]
    assert [(row["ts_source"], row["ts_precision"]) for row in found.readings] == [
        ("date-only", "day"),
        ("date-only", "day"),
    ]


@pytest.mark.parametrize(
    ("time", "text", "expected"),
    [
        ('from = "t"', "2025-06-01T10:00:00Z", "2025-06-01T10:00:00"),
        ('from = "t"', "2025-06-01T10:00:00+02:00", "2025-06-01T08:00:00"),
        ('from = "t"', "2025-06-01 10:00:00.250-0330", "2025-06-01T13:30:00.250000"),
        ('from = "t"\nzone = "Europe/Vienna"', "2025-06-01T10:00:00", "2025-06-01T08:00:00"),
        ('from = "t"\nzone = "Europe/Vienna"', "2025-06-01T10:00:00Z", "2025-06-01T10:00:00"),
        (
            'from = "t"\nformat = "%d/%m/%Y %H:%M %z"',
            "01/06/2025 10:00 +0200",
            "2025-06-01T08:00:00",
        ),
        ('from = "t"\nformat = "epoch-seconds"', "1748772000", "2025-06-01T10:00:00"),
        ('from = "t"\nformat = "epoch-seconds"', "1748772000.25", "2025-06-01T10:00:00.250000"),
        (
            'from = "t"\nformat = "epoch-milliseconds"',
            "1748772000250",
            "2025-06-01T10:00:00.250000",
        ),
    ],
)
def test_forms_of_time(time: str, text: str, expected: str) -> None:
    found = take(f"t,v\n{text},1\n", mapping_text(time=time))
    assert [row["ts"].replace(tzinfo=None).isoformat() for row in found.readings] == [expected], (
        found.rejects
    )


def test_two_columns_and_two_patterns() -> None:
    time = 'from = ["d", "t"]\nformat = ["%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M"]\nzone = "UTC"'
    payload = "d,t,v\n2025-06-01,10:00,1\n2025-06-01,10:00:30,2\n2025-06-01,ten,3\n"
    found = take(payload, mapping_text(time=time))
    assert _utc(found) == ["06-01 10:00", "06-01 10:00"]
    assert found.readings[1]["ts"].second == 30
    assert found.rejects[0]["ts_text"] == "2025-06-01 ten"
