"""Resolving a SenML pack into plain records."""

from __future__ import annotations

import json
from typing import Any

import duckdb
import pyarrow as pa

from warehouse.adapters.base import RAW_LENGTH, Decoding, field_names, fill_refused
from warehouse.adapters.json_text import parse, twice_named
from warehouse.adapters.senml.units import UCUM_OF_SENML
from warehouse.errors import UnreadableSourceError
from warehouse.sql import identifier, load_sql

_PACKAGE = "warehouse.adapters.senml"
_VERSION = 10
OFFERED = ("name", "device", "channel", "unit", "value", "time")
"""Fields a mapping can take."""


class SenmlAdapter:
    """Adapter for SenML JSON packs."""

    name = "senml"
    suffixes = (".senml", ".json")

    def read(self, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
        """Fill `records` and `refused`; raises UnreadableSourceError for an unusable pack."""
        _check_fields(decoding)
        pack = _pack(decoding)
        session.register("arrow_senml", _columns(pack))
        session.register("arrow_senml_units", _unit_table())
        parameters = {
            "split": decoding.mapping.file.split,
            "now": decoding.arrived_at.timestamp(),
        }
        session.execute(load_sql(_PACKAGE, "resolved"), parameters)
        fields = ", ".join(
            f"{identifier(field)} AS {name}"
            for field, name in zip(
                decoding.mapping.fields, field_names(decoding.mapping), strict=True
            )
        )
        session.execute(load_sql(_PACKAGE, "records", fields=fields))
        refused = session.sql(load_sql(_PACKAGE, "refused")).to_arrow_table()
        fill_refused(session, refused.to_pylist())


def _check_fields(decoding: Decoding) -> None:
    unknown = [field for field in decoding.mapping.fields if field not in OFFERED]
    if unknown:
        raise UnreadableSourceError(
            decoding.file,
            f"a SenML pack has no field {', '.join(map(repr, unknown))}",
            f"a mapping can take {', '.join(OFFERED)}",
        )


def _pack(decoding: Decoding) -> list[dict[str, Any]]:
    raw = decoding.payload.read_bytes()
    try:
        pack, ambiguous = parse(raw.decode("utf-8-sig"))
        json.dumps(pack, ensure_ascii=False).encode()
    except (ValueError, RecursionError) as error:
        raise UnreadableSourceError(
            decoding.file, f"it is not JSON: {error}", "a SenML pack is a JSON array of records"
        ) from error
    if not isinstance(pack, list) or not pack or not all(isinstance(r, dict) for r in pack):
        raise UnreadableSourceError(
            decoding.file, "it is not an array of records", "a SenML pack is needed (RFC 8428)"
        )
    if ambiguous:  # the whole pack: base values of one record hold for all that follow
        raise UnreadableSourceError(
            decoding.file,
            f"the label {twice_named(pack)[0]!r} stands twice in one record",
            "each label once in a record (RFC 8428 section 4)",
        )
    _check_understood(pack, decoding)
    return pack


def _check_understood(pack: list[dict[str, Any]], decoding: Decoding) -> None:
    for number, record in enumerate(pack, 1):
        version = str(record.get("bver", _VERSION))
        if not version.isdecimal() or int(version) > _VERSION:
            raise UnreadableSourceError(
                decoding.file,
                f"record {number} has version {version}",
                f"versions up to {_VERSION} are understood (RFC 8428 section 4.4)",
            )
        strange = [label for label in record if label.endswith("_")]
        if strange:
            raise UnreadableSourceError(
                decoding.file,
                f"record {number} has the must-understand label {strange[0]!r}",
                "no such label is known here (RFC 8428 section 4.4)",
            )


def _columns(pack: list[dict[str, Any]]) -> pa.Table:
    labels = ("bn", "bt", "bu", "bv", "n", "u", "v", "t", "vs", "vb", "vd", "s")
    table = {
        label: pa.array([_text(record.get(label)) for record in pack], pa.string())
        for label in labels
    }
    table["line"] = pa.array(range(1, len(pack) + 1), pa.int64())
    table["raw"] = pa.array([json.dumps(record)[:RAW_LENGTH] for record in pack], pa.string())
    return pa.table(table)


def _text(value: Any) -> str | None:
    return None if value is None else str(value)


def _unit_table() -> pa.Table:
    return pa.table({"senml": list(UCUM_OF_SENML), "ucum": list(UCUM_OF_SENML.values())})
