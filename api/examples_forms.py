"""An example for every body and answer that has none of its own yet: other forms of the same."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Final

from api.examples_packages import SENT_EXAMPLES

Content = dict[str, Any]
"""A media type of a body or an answer, as OpenAPI describes it."""

_JSON, _NDJSON, _TOML = "application/json", "application/x-ndjson", "application/toml"
_BYTES: Final[dict[str, tuple[str, str]]] = {
    "application/vnd.apache.arrow.stream": (
        "An Arrow IPC stream: its first bytes, as base64",
        "/////+gBAAAQAAAAAAAKAA4ABgAFAAgACgAAAAABBAAQAAAA",
    ),
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet": (
        "A workbook: its first bytes, as base64",
        "UEsDBBQAAAAIAAAAPwBhXUk6TwEAAI8EAAATAAAAW0NvbnRl",
    ),
}
"""What cannot be written in JSON: what it is, and how it begins."""


def fill(described: dict[str, Any], shown: dict[str, dict[str, Any]]) -> None:
    """Give every body and every answer below 300 an example.

    `shown` are answers by operation and media type; rows also stand for their
    other forms. Bodies of files are of every kind a source may send.
    """
    for operations in described["paths"].values():
        for operation in operations.values():
            own = {_TOML: shown["mappings_get"][_TOML]}
            _complete(operation.get("requestBody", {}).get("content", {}), {**SENT_EXAMPLES, **own})
            for content in _answers(operation):
                _complete(content, shown.get(operation["operationId"], {}))


def _answers(operation: dict[str, Any]) -> Iterator[dict[str, Content]]:
    for status, told in operation["responses"].items():
        if status < "300":
            yield told.get("content", {})


def _complete(forms: dict[str, Content], known: dict[str, Any]) -> None:
    """Examples of one body in all its forms."""
    of_shape = "$ref" in forms.get(_JSON, {}).get("schema", {}) and _JSON not in known
    for media, content in forms.items():
        if "example" in content or "examples" in content or (media == _JSON and of_shape):
            continue
        if media in _BYTES:
            summary, value = _BYTES[media]
            content["examples"] = {"bytes": {"summary": summary, "value": value}}
        elif media in known:
            content["example"] = known[media]
        elif media == _NDJSON:
            content["example"] = _lines(forms[_JSON].get("example", {}).get("items", []))


def _lines(rows: list[Any]) -> str:
    return "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)
