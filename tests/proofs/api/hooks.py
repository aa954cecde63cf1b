"""What the fuzzer has to know of this API besides its description."""

from __future__ import annotations

from typing import Any

import schemathesis


@schemathesis.serializer("application/toml")
def as_text(_: Any, value: Any) -> bytes:
    """A mapping is sent as it is."""
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")
