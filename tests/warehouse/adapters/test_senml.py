"""SenML packs (RFC 8428; the RFC's own examples are in tests/outside). Invented data."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.warehouse.adapters.reading import Rows, mapping_text, read
from warehouse.adapters.contract import RECEIVED_AT
from warehouse.errors import UnreadableSourceError

MAPPING = mapping_text(
    "senml",
    "value",
    time='from = "time"\nformat = "epoch-seconds"',
    device='{ from = "device" }',
    channel='{ from = "channel" }',
).replace('unit = "Cel"', 'unit = { from = "unit" }')
NOW = int(RECEIVED_AT.timestamp())


def resolve(folder: Path, *pack: dict[str, Any]) -> tuple[Rows, Rows]:
    return read(folder, json.dumps(list(pack)).encode(), MAPPING)


def test_base_fields_carry_on_until_they_are_set_again(tmp_path: Path) -> None:
    records, refused = resolve(
        tmp_path,
        {"bn": "a:", "bt": 1_700_000_000, "bu": "Cel", "n": "x", "v": 1},
        {"n": "y", "t": 60, "v": 2},
        {"bn": "b:", "n": "z", "u": "K", "t": -5, "v": 3},
        {"bt": 1_700_000_100, "bu": "m/s", "n": "z", "v": 4},
    )
    assert [tuple(row.values()) for row in records] == [
        (1, "1700000000.000000", "1", "a", "x", "Cel"),
        (2, "1700000060.000000", "2", "a", "y", "Cel"),
        (3, "1699999995.000000", "3", "b", "z", "K"),
        (4, "1700000100.000000", "4", "b", "z", "m/s"),
    ]
    assert not refused


def test_base_value_is_added(tmp_path: Path) -> None:
    records, _ = resolve(
        tmp_path, {"n": "a:x", "bv": 100, "v": 1.5}, {"n": "a:x", "t": 1}, {"n": "a:x", "v": -100}
    )
    assert [float(row["value"]) for row in records] == [101.5, 100.0, 0.0]


def test_digits_stay_as_printed_without_a_base_value(tmp_path: Path) -> None:
    records, _ = read(tmp_path, b'[{"n":"a:x","v":2.50}]', MAPPING)
    assert records[0]["value"] == "2.50"


@pytest.mark.parametrize(
    ("base", "offset", "expected"),
    [(0, -5, NOW - 5), (0, 0, NOW), (0, 268_435_455, NOW + 268_435_455)],
)
def test_times_below_2_to_28_count_from_receipt(
    tmp_path: Path, base: int, offset: int, expected: int
) -> None:
    records, _ = resolve(tmp_path, {"n": "a:x", "bt": base, "t": offset, "v": 1})
    assert float(records[0]["time"]) == expected


def test_time_from_2_to_28_on_is_absolute(tmp_path: Path) -> None:
    records, _ = resolve(tmp_path, {"n": "a:x", "t": 268_435_456, "v": 1})
    assert float(records[0]["time"]) == 268_435_456


def test_name_splits_at_its_last_separator(tmp_path: Path) -> None:
    records, _ = resolve(tmp_path, {"n": "urn:dev:1:temp", "v": 1}, {"n": "plain", "v": 2})
    assert [(row["device"], row["channel"]) for row in records] == [
        ("urn:dev:1", "temp"),
        (None, None),
    ]


def test_records_without_a_number_are_refused_one_by_one(tmp_path: Path) -> None:
    records, refused = resolve(
        tmp_path,
        {"n": "a:x", "vs": "text"},
        {"n": "a:x", "vb": True},
        {"n": "a:x", "v": 1},
        {"n": "a:x", "vd": "aGk"},
        {"n": "a:x", "s": 5},
        {"n": "a:x"},
    )
    assert [row["line"] for row in records] == [3]
    assert [row["line"] for row in refused] == [1, 2, 4, 5, 6]
    assert all(row["detail"].startswith("the record carries no number") for row in refused)
    assert json.loads(refused[0]["raw"]) == {"n": "a:x", "vs": "text"}


@pytest.mark.parametrize("version", [1, 5, 10])
def test_versions_up_to_10_are_understood(tmp_path: Path, version: int) -> None:
    assert resolve(tmp_path, {"bver": version, "n": "a:x", "v": 1})[0]


@pytest.mark.parametrize(
    ("record", "message"),
    [
        ({"bver": 11}, "record 2 has version 11"),
        ({"bver": "new"}, "record 2 has version new"),
        ({"bver": 10.5}, "record 2 has version 10.5"),
        ({"reset_": 1}, "record 2 has the must-understand label 'reset_'"),
    ],
)
def test_what_must_be_understood_and_is_not_refuses_the_pack(
    tmp_path: Path, record: dict[str, Any], message: str
) -> None:
    with pytest.raises(UnreadableSourceError, match=message):
        resolve(tmp_path, {"n": "a:x", "v": 1}, {"n": "a:x", "v": 1, **record})


def test_label_that_is_not_known_and_need_not_be_is_passed_over(tmp_path: Path) -> None:
    assert resolve(tmp_path, {"n": "a:x", "v": 1, "maker": "m"})[0][0]["value"] == "1"


@pytest.mark.parametrize("payload", [b"", b"{}", b"[]", b"[1]", b"[{}", b"[" * 99_999, b"\xff"])
def test_what_is_no_pack_is_refused_whole(tmp_path: Path, payload: bytes) -> None:
    with pytest.raises(UnreadableSourceError):
        read(tmp_path, payload, MAPPING)


def test_mapping_can_take_offered_fields_only(tmp_path: Path) -> None:
    strange = MAPPING.replace('"unit" }', '"u" }')
    with pytest.raises(UnreadableSourceError, match="a SenML pack has no field 'u'"):
        read(tmp_path, b'[{"n":"a:x","v":1}]', strange)


def test_a_label_that_stands_twice_refuses_the_pack(tmp_path: Path) -> None:
    with pytest.raises(UnreadableSourceError, match="the label 'v' stands twice"):
        read(tmp_path, b'[{"n":"a:x","v":1},{"n":"a:y","v":2,"v":3}]', MAPPING)
