"""Things remembered for a few seconds, so that not every request looks them up."""

from __future__ import annotations

import time
from typing import Any

_SECONDS = 2.0
_MOST = 1000


class Recent:
    """Values by name, forgotten after two seconds."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[float, Any]] = {}

    def look(self, name: str) -> Any:
        """What was kept by that name a moment ago, else None."""
        found = self._kept.get(name)
        return found[1] if found and time.monotonic() - found[0] < _SECONDS else None

    def keep(self, name: str, value: Any) -> None:
        """Remember it for a moment."""
        if len(self._kept) >= _MOST:
            self._kept.clear()
        self._kept[name] = (time.monotonic(), value)

    def forget(self, name: str) -> None:
        """Look it up anew next time."""
        self._kept.pop(name, None)
