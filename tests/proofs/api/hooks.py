"""What the fuzzer has to know of this API besides its description."""

from __future__ import annotations

import json
import os
from typing import Any

import schemathesis

_KNOWN: dict[str, list[Any]] = json.loads(os.environ.get("FUZZ_KNOWN", "{}"))
"""Values that exist, by the parameter in the path as `prove` gives them."""


@schemathesis.serializer(
    "application/toml",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "application/x-ndjson",
    "application/senml+json",
)
def as_it_is(_: Any, value: Any) -> bytes:
    """A mapping, a workbook or lines are sent as they are."""
    if isinstance(value, list | dict):
        return json.dumps(value).encode()
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")


@schemathesis.hook
def map_path_parameters(context: Any, path_parameters: Any) -> Any:
    """Every other request asks for something that exists: the rest of a route is tried too.

    Of explanations only every sixteenth: each reads the history of its machine.
    """
    if not path_parameters:
        return path_parameters
    path = context.operation.path
    found, every = dict(path_parameters), 16 if path.endswith("/explanation") else 2
    for name, value in found.items():
        known = _KNOWN.get(f"{path.split('/')[2]}/{name}", [])
        chance = sum(str(value).encode("utf-8", "replace"))
        if known and chance % every == 1:
            found[name] = known[chance // every % len(known)]
    return found
