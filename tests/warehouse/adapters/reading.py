"""One payload through one adapter, as dicts: what the adapter tests say everything with."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from warehouse.adapters import adapter
from warehouse.adapters.contract import decode
from warehouse.mapping import parse_mapping

Rows = list[dict[str, Any]]


def mapping_text(
    adapter_name: str,
    *values: str,
    file: str = "",
    device: str = '"D"',
    channel: str = '"1"',
    time: str = 'from = "t"',
    method: str = "wired",
) -> str:
    """A mapping of temperatures: one measure for each field in `values`."""
    measures = "".join(f"\n[[measure]]\nfrom = {value!r}\n" for value in values)
    return f"""format_version = 1
name = "invented"
[source]
id = "invented"
adapter = "{adapter_name}"
method = "{method}"
[file]
{file}
[time]
{time}
[record]
device = {device}
channel = {channel}
quantity = "temperature"
detector = "value"
unit = "Cel"
{measures}"""


def read(
    folder: Path, payload: bytes, mapping: str, max_line_bytes: int = 2_000_000
) -> tuple[Rows, Rows]:
    """Records, their columns named by the mapping's fields, and refused lines."""
    loaded = parse_mapping(mapping, "mapping of the test")
    reader = adapter(loaded.source.adapter)
    path = folder / f"payload{reader.suffixes[0]}"
    path.write_bytes(payload)
    decoded = decode(reader, path, loaded, max_line_bytes)
    names = ("line", *loaded.fields)
    refused_names = ("line", "column", "reason", "detail", "raw")
    return (
        [dict(zip(names, row, strict=True)) for row in decoded.records],
        [dict(zip(refused_names, row, strict=True)) for row in decoded.refused],
    )
