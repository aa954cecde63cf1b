"""Times are read in the declared form only, and the export time in the same form and zone."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.warehouse.normalise.small import mapping_text, take
from warehouse.errors import MappingError
from warehouse.mapping import parse_mapping

VIENNA = 'from = "t"\nzone = "Europe/Vienna"'


def _utc(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2025-06-01T10:00:00", "2025-06-01T08:00:00"),
        ("2025-06-01 10:00", "2025-06-01T08:00:00"),
        ("2025-06-01", "2025-05-31T22:00:00"),
        ("2025-06-01T10:00:00.25", "2025-06-01T08:00:00.250000"),
        ("2025-06-01T10:00:00Z", "2025-06-01T10:00:00"),
        ("2025-06-01T10:00:00z", "2025-06-01T10:00:00"),
        ("2025-06-01T10:00Z", "2025-06-01T10:00:00"),
        ("2025-06-01T10:00:00+05:30", "2025-06-01T04:30:00"),
        ("2025-06-01T10:00:00+0530", "2025-06-01T04:30:00"),
        ("2025-06-01T10:00:00-08", "2025-06-01T18:00:00"),
        ("2025-06-01T10:00:00+23:59", "2025-05-31T10:01:00"),
    ],
)
def test_iso_time(text: str, utc: str) -> None:
    (reading,) = take(f"t,v\n{text},1.0\n", mapping_text(time=VIENNA)).readings
    assert reading["ts"] == _utc(utc)


@pytest.mark.parametrize(
    "text",
    [
        "2025-06-01T10:00:00 UTC",
        "2025-06-01T10:00:00 Europe/Vienna",
        "2025-06-01T10:00:00+24:00",
        "2025-06-01T10:00:00+05:60",
        "2025-06-01 (BC)",
        "2025-06-01T10:00:60Z",
        "2025-02-29",
        "2025-6-1",
        "20250601T100000Z",
        "10:00",
        "infinity",
        "epoch",
        "now",
    ],
)
def test_what_is_no_iso_time_is_refused_and_not_read_as_local(text: str) -> None:
    (reject,) = take(f"t,v\n{text},1.0\n", mapping_text(time=VIENNA)).rejects
    assert reject["reason"] == "bad-time"
    assert reject["detail"] == f"time '{text}' is not of the form iso8601"


def test_local_time_without_a_declared_zone_says_so() -> None:
    taken = take("t,v\n2025-06-01T10:00:00,1.0\n", mapping_text(time='from = "t"'))
    (reject,) = taken.rejects
    assert (reject["reason"], reject["detail"]) == (
        "bad-time",
        "time '2025-06-01T10:00:00' is not of the form iso8601 with an offset; "
        "the mapping declares no zone for local times",
    )


@pytest.mark.parametrize("form", ["epoch-seconds", "epoch-milliseconds"])
@pytest.mark.parametrize("text", ["1e30", "9" * 40, "nan", "inf", "0x10", "1_750_000_000", ""])
def test_what_is_no_epoch_time_is_refused(form: str, text: str) -> None:
    mapping = mapping_text(time=f'from = "t"\nformat = "{form}"')
    (reject,) = take(f"t,v\n{text},1.0\n", mapping).rejects
    assert reject["reason"] == "bad-time"


@pytest.mark.parametrize(
    ("form", "text", "utc"),
    [
        ("%d.%m.%Y %H:%M", "01.06.2025 10:00", "2025-06-01T08:00:00"),
        ("%d.%m.%Y %H:%M", "01.12.2025 10:00", "2025-12-01T09:00:00"),
        ("%Y-%m-%dT%H:%M:%S%z", "2025-06-01T10:00:00+0300", "2025-06-01T07:00:00"),
        ("iso8601", "2025-06-01 10:00:00", "2025-06-01T08:00:00"),
        ("iso8601", "2025-06-01T10:00:00Z", "2025-06-01T10:00:00"),
        ("epoch-seconds", "1748772000", "2025-06-01T10:00:00"),
        ("epoch-milliseconds", "1748772000000", "2025-06-01T10:00:00"),
    ],
)
def test_export_time_is_read_as_the_times_are(form: str, text: str, utc: str) -> None:
    time = f'{VIENNA}\nformat = "{form}"\nissued_at = "x"'
    (reading,) = take(f"t,v,x\n{text},1.0,{text}\n", mapping_text(time=time)).readings
    assert reading["issued_at"] == _utc(utc)
    assert reading["ts"] == _utc(utc)


@pytest.mark.parametrize("text", ["9e15", "4102444800", "0", "-1", "soon", ""])
def test_export_time_that_cannot_be_counts_as_none(text: str) -> None:
    """A clock gone wrong must not win every later revision, nor break a reader's calendar."""
    mapping = mapping_text(time='from = "t"\nformat = "epoch-seconds"\nissued_at = "x"')
    (reading,) = take(f"t,v,x\n1748772000,1.0,{text}\n", mapping).readings
    assert reading["issued_at"] is None


def test_export_time_is_not_moved_to_noon_where_dates_stand_for_times() -> None:
    time = f'{VIENNA}\nformat = "%Y-%m-%d"\nclock = "date-only"\nprecision = "day"\n'
    taken = take("t,v,x\n2025-06-01,1.0,2025-06-02\n", mapping_text(time=f'{time}issued_at = "x"'))
    assert taken.readings[0]["ts"] == _utc("2025-06-01T10:00:00")
    assert taken.readings[0]["issued_at"] == _utc("2025-06-01T22:00:00")


@pytest.mark.parametrize("name", ["note", "sequence", "not_measured"])
def test_what_belongs_to_the_record_is_refused_where_it_would_be_passed_over(name: str) -> None:
    measures = f'[[measure]]\nfrom = "v"\n{name} = {{ from = "n" }}\n'
    with pytest.raises(MappingError, match=f"measure 1: {name} belongs to the whole record"):
        parse_mapping(mapping_text(measures=measures), "m.toml")
    with pytest.raises(MappingError, match=f"record: {name} must be taken from a field"):
        parse_mapping(mapping_text(**{name: '"x"'}), "m.toml")
