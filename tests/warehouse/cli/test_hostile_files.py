"""Files as they should never be: each is told by name, and the good rows of a bad one are kept."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.warehouse.cli.running import Ended, mcw
from tests.warehouse.services.small_plant import MAPPING, Plant, make_plant, write_mapping

_HEAD = b"device,channel,time,value\n"


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Plant:
    return make_plant(tmp_path_factory.mktemp("hostile"), {"clock": "data"})


def _ingest(plant: Plant, files: dict[str, bytes], mapping: str = MAPPING) -> tuple[Ended, Any]:
    paths = []
    for name, content in files.items():
        paths.append(plant.folder / name)
        paths[-1].write_bytes(content)
    mapped = write_mapping(plant.folder, mapping)
    ended = mcw("ingest", *paths, "-m", mapped, "--home", plant.store.home, "--json")
    return ended, {row["file"]: row for row in json.loads(ended.out)}


_USELESS = {
    "empty.csv": b"",
    "blank.csv": b"\n\n\n",
    "binary.csv": bytes(range(256)) * 50,
    "only head.csv": _HEAD,
    "other columns.csv": b"a;b;c\n1;2;3\n",
    "other words.csv": b"dear sir or madam\n",
}


def test_files_without_anything_usable_are_4_and_each_is_named(plant: Plant) -> None:
    ended, rows = _ingest(plant, _USELESS)
    assert ended.code == 4
    assert rows.keys() == _USELESS.keys()
    for name, row in rows.items():
        assert row["accepted"] == 0, name
        told = row["error"] or ""
        assert name in told or row["rejected"] or row["items"] == 0, (name, row)
    for name in ("empty.csv", "binary.csv"):
        assert name in rows[name]["error"]
        assert name in ended.err
    assert "device" in str(rows["other columns.csv"]), "the missing column is named"


def test_good_rows_of_bad_files_are_kept_and_the_bad_ones_told(plant: Plant) -> None:
    good = b"L1,1,2025-06-01T00:%02d,2.0%d\n"
    files = {
        "truncated.csv": _HEAD + good % (1, 1) + b"L1,1,2025-06-0",
        "mis-encoded.csv": _HEAD + good % (2, 2) + b"L1,1,2025-06-01T01:00,\xff\xfe2\n",
        "huge line.csv": _HEAD + good % (3, 3) + b"L1,1,2025-06-01T02:00," + b"9" * 3_000_000,
        "other time.csv": _HEAD
        + good % (4, 4)
        + b"L1,1,1970-01-01T00:00,2.00\nL1,1,2999-01-01T00:00,2.00\nL1,1,31.02.2025,2.00\n",
        "words.csv": _HEAD + good % (5, 5) + b"L1,1,2025-06-01T03:00,high\n",
    }
    ended, rows = _ingest(plant, files)
    assert ended.code == 0, ended.said
    assert {name: row["accepted"] for name, row in rows.items()} == dict.fromkeys(files, 1)
    reasons = {name: row["rejected_by_reason"] for name, row in rows.items()}
    assert reasons["truncated.csv"] == {"undecodable": 1}
    assert sum(reasons["mis-encoded.csv"].values()) == 1
    assert reasons["huge line.csv"] == {"undecodable": 1}
    assert reasons["other time.csv"] == {"time-out-of-range": 2, "bad-time": 1}
    assert reasons["words.csv"] == {"bad-number": 1}

    told = mcw("rejects", "--rows", "200", "--json", "--home", plant.store.home)
    assert told.code == 0
    (word,) = [row for row in json.loads(told.out)["rows"] if row["file"] == "words.csv"]
    assert (word["line"], word["column_name"], word["reason"]) == (3, "value", "bad-number")
    assert "high" in word["raw"]
    assert word["detail"]
    table = mcw("rejects", "--rows", "200", "--home", plant.store.home)
    assert table.code == 0
    for part in ("words.csv", "bad-number", "declare the mark under [values] in the mapping"):
        assert part in table.said


def test_a_wrongly_mapped_column_is_named(plant: Plant) -> None:
    file = {"wrong.csv": _HEAD + b"L1,1,2025-06-01T05:00,2.00\n"}
    ended, rows = _ingest(plant, file, MAPPING.replace('from = "value"', 'from = "Wert"'))
    assert ended.code == 4
    assert "Wert" in ended.said + json.dumps(rows), "the column asked for"


def test_connect_check_shows_and_stores_nothing(plant: Plant) -> None:
    path = plant.folder / "look.csv"
    path.write_bytes(_HEAD + b"L1,1,2025-06-01T06:00,2.00\nL1,1,2025-06-01T06:01,x\n")
    mapping = write_mapping(plant.folder)
    before = len(list(plant.store.tables.rglob("*.parquet")))
    ended = mcw("connect", "check", path, "-m", mapping, "--home", plant.store.home, "--json")
    assert ended.code == 0
    shown = json.loads(ended.out)
    assert (shown["counts"]["accepted"], shown["counts"]["rejected"]) == (1, 1)
    assert shown["readings"][0]["asset"] == "M-1"
    assert len(list(plant.store.tables.rglob("*.parquet"))) == before
