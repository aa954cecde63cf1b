"""Text of every published document, by file name."""

from __future__ import annotations

import json

from schemas.publishing.data_contract import contract
from schemas.publishing.json_schema import schema_document


def documents() -> dict[str, str]:
    """The JSON Schema of the tables and the data contract, as they stand in `schemas/published`."""
    schema = json.dumps(schema_document(), indent=2, ensure_ascii=False) + "\n"
    return {"tables.schema.json": schema, "dataset.odcs.yaml": contract().to_yaml()}
