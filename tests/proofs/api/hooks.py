"""What the fuzzer has to know of this API besides its description."""

from __future__ import annotations

import json
import os
from typing import Any

import schemathesis

_KNOWN: dict[str, list[Any]] = json.loads(os.environ.get("FUZZ_KNOWN", "{}"))
"""Values that exist, by the parameter in the path as `prove` gives them."""


@schemathesis.serializer(
    "application/toml", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)
def as_it_is(_: Any, value: Any) -> bytes:
    """A mapping, or a workbook, is sent as it is."""
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")


@schemathesis.hook
def map_path_parameters(context: Any, path_parameters: Any) -> Any:
    """Every other request asks for something that exists: the rest of a route is tried too."""
    if not path_parameters:
        return path_parameters
    found = dict(path_parameters)
    for name, value in found.items():
        known = _KNOWN.get(f"{context.operation.path.split('/')[2]}/{name}", [])
        chance = sum(str(value).encode("utf-8", "replace"))
        if known and chance % 2:
            found[name] = known[chance // 2 % len(known)]
    return found
