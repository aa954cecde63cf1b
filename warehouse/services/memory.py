"""What was worked out and may be wanted again, within bounds."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any


class Memory:
    """What was worked out of a state, by name: at most so many things, the newest of them."""

    def __init__(self, most: int = 4096) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()

    def look(self, name: Hashable) -> Any:
        """What is remembered by that name; None where nothing is."""
        return self._kept.get(name)

    def keep(self, name: Hashable, value: Any) -> None:
        """Remember that under a name."""
        with self._lock:
            self._kept[name] = value
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def get(self, name: Hashable, make: Callable[[], Any]) -> Any:
        """What is remembered by that name, made at the first call."""
        found = self._kept.get(name)
        if found is None:
            found = make()
            self.keep(name, found)
        return found
