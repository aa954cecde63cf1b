"""The dataset as an Open Data Contract document (Open Data Contract Standard, version 3.1)."""

from __future__ import annotations

from typing import Any

from open_data_contract_standard.model import OpenDataContractStandard

from schemas import FORMAT_VERSION
from schemas.columns import Column, Table
from schemas.identity import CURRENT_READINGS
from schemas.tables import TABLES

_LOGICAL = {
    "string": "string",
    "int32": "integer",
    "int64": "integer",
    "float64": "number",
    "bool": "boolean",
    "timestamp": "timestamp",
    "date": "date",
}

_PHYSICAL = {
    "string": "string",
    "int32": "integer",
    "int64": "long",
    "float64": "double",
    "bool": "boolean",
    "timestamp": "timestamp",
    "date": "date",
}


def contract() -> OpenDataContractStandard:
    """The contract, checked by the standard's own model."""
    return OpenDataContractStandard.model_validate(
        {
            "apiVersion": "v3.1.0",
            "kind": "DataContract",
            "id": "machine-condition-dataset",
            "name": "Machine condition dataset",
            "version": f"{FORMAT_VERSION}.0.0",
            "status": "active",
            "description": {
                "purpose": "Every condition reading of every machine, with its place, units and "
                "lineage, and the judged condition of each machine.",
                "usage": "Read the newest row of `snapshots`, then each table at the version it "
                "names. Current readings are: " + " ".join(CURRENT_READINGS.split()),
                "limitations": "A screening aid, not machinery protection and not a safety "
                "function: the edition of a standard in force, site rules and a licensed or "
                "certified analyst decide.",
            },
            "schema": [_table(table) for table in TABLES.values()],
        }
    )


def _table(table: Table) -> dict[str, Any]:
    return {
        "name": table.name,
        "physicalName": f"tables/{table.name}",
        "logicalType": "object",
        "physicalType": "delta-table",
        "description": table.purpose,
        "dataGranularityDescription": table.grain,
        "properties": [_column(column, table) for column in table.columns],
    }


def _column(column: Column, table: Table) -> dict[str, Any]:
    found: dict[str, Any] = {
        "name": column.name,
        "logicalType": _LOGICAL[column.type],
        "physicalType": _PHYSICAL[column.type],
        "required": column.required,
        "description": column.description,
    }
    if column.name in table.key:
        found |= {"primaryKey": True, "primaryKeyPosition": table.key.index(column.name) + 1}
    facts = {"unit": column.unit, "codeList": column.codes}
    found["customProperties"] = [
        {"property": name, "value": value} for name, value in facts.items() if value
    ] or None
    return {name: value for name, value in found.items() if value is not None}
