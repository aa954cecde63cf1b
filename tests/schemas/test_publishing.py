"""The published documents are those that `python -m schemas.publishing` writes, and they hold."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from open_data_contract_standard.model import OpenDataContractStandard

from schemas.publishing.documents import documents
from schemas.publishing.json_schema import code_list, schema_document, table_schema
from schemas.tables import TABLES
from schemas.tables.readings import READINGS
from schemas.tables.registry import ENTITIES

PUBLISHED = Path(__file__).parents[2] / "schemas" / "published"


@pytest.mark.parametrize("name", sorted(documents()))
def test_published_file_is_what_the_schema_says(name: str) -> None:
    assert (PUBLISHED / name).read_text(encoding="utf-8") == documents()[name], (
        "run `make published`"
    )


def test_schema_is_valid_draft_2020_12() -> None:
    jsonschema.Draft202012Validator.check_schema(schema_document())


def test_contract_is_read_back_by_the_standards_own_model() -> None:
    text = (PUBLISHED / "dataset.odcs.yaml").read_text(encoding="utf-8")
    contract = OpenDataContractStandard.from_string(text)
    assert [table.name for table in contract.schema_ or []] == list(TABLES)


def test_every_column_has_a_description() -> None:
    for table in (*TABLES.values(), *ENTITIES.values()):
        assert table.purpose, table.name
        assert table.grain, table.name
        for column in table.columns:
            assert len(column.description) > 5, f"{table.name}.{column.name}"


def test_every_code_list_a_column_names_exists() -> None:
    for table in (*TABLES.values(), *ENTITIES.values()):
        for column in table.columns:
            if column.codes:
                assert code_list(column.codes), f"{table.name}.{column.name}"


def _reading() -> dict[str, object]:
    row: dict[str, object] = dict.fromkeys(READINGS.column_names)
    return row | {
        "source": "s",
        "device": "d",
        "channel": "1",
        "quantity": "velocity",
        "detector": "rms",
        "feature": "overall",
        "method": "wired",
        "ts": "2025-06-01T00:00:00Z",
        "take": 0,
        "ts_source": "device",
        "ts_precision": "second",
        "received_at": "2025-06-01T00:00:01Z",
        "site": "heat-works",
        "asset": "F-1",
        "position": "motor-de",
        "axis": "horizontal",
        "value": 2.1,
        "unit": "mm/s",
        "source_unit": "mm/s",
        "quality": "good",
        "package": 1,
        "row": 1,
        "mapping": "m@00000000",
    }


def test_schema_takes_a_reading_and_refuses_a_foreign_code() -> None:
    validator = jsonschema.Draft202012Validator(table_schema(READINGS))
    validator.validate(_reading())
    assert not validator.is_valid(_reading() | {"quantity": "loudness"})
    assert not validator.is_valid(_reading() | {"axis": "sideways"})
    assert not validator.is_valid({**_reading(), "source": None})
    assert not validator.is_valid({**_reading(), "extra": 1})


def test_documents_are_json_and_yaml_of_the_same_tables() -> None:
    found = json.loads(documents()["tables.schema.json"])["$defs"]
    assert set(found) == set(TABLES) | set(ENTITIES)
