"""Which adapters are installed. One that fails to load is named and left out."""

from __future__ import annotations

from functools import cache
from importlib.metadata import entry_points

from warehouse.adapters.base import Adapter
from warehouse.errors import AdapterError

GROUP = "mcw.adapters"


@cache
def adapters() -> tuple[dict[str, Adapter], dict[str, str]]:
    """Adapters by name, and for each that failed to load the reason."""
    loaded: dict[str, Adapter] = {}
    failed: dict[str, str] = {}
    for entry in sorted(entry_points(group=GROUP), key=lambda e: (e.name, e.value)):
        try:
            candidate = entry.load()
        except Exception as error:  # an outsider's fault must not take the others down
            failed[entry.name] = f"{entry.value} failed to load: {error}"
            continue
        if not isinstance(candidate, Adapter):
            failed[entry.name] = f"{entry.value} has not the shape of an adapter"
        elif entry.name in loaded:
            failed[entry.name] = f"{entry.value} claims a name that is taken"
        else:
            loaded[entry.name] = candidate
    return loaded, failed


def adapter(name: str) -> Adapter:
    """The adapter of that name. Raises AdapterError naming the installed ones."""
    loaded, failed = adapters()
    if name in loaded:
        return loaded[name]
    raise AdapterError(name, failed.get(name, "is not installed"), sorted(loaded))
