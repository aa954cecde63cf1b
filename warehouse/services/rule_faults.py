"""What keeps a store from being judged: faulty limit files, or work rules, of the plant's own.

What was judged before can be read all the same, and is old without looking so: whoever shows it
asks here first. It costs a look at the files' state, not at their content.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from warehouse.errors import FaultListError
from warehouse.limits import load_limits
from warehouse.store import Store
from warehouse.store.snapshot import newest
from warehouse.wording import counted
from warehouse.work.tables import load_work_rules


def rule_faults(store: Store) -> list[str]:
    """Every fault that stops judging, each with file, place and what is allowed."""
    return [*_faults(load_limits, store.limits), *_faults(load_work_rules, store.work)]


def _faults(load: Callable[[Path], Any], folder: Path) -> list[str]:
    try:
        load(folder)
    except FaultListError as error:
        return [f"{error.subject}: {fault}" for fault in error.faults]
    except OSError as error:
        return [f"{folder.name}: cannot be read: {error.strerror}"]
    return []


def stopped_words(store: Store) -> str | None:
    """That judging is stopped, since when, and by what, in a sentence; None where it is not."""
    faults = rule_faults(store)
    found = newest(store) if faults else None
    if found is None:
        return None
    more = f" (and {counted(len(faults) - 1, 'more fault')})" if len(faults) > 1 else ""
    return (
        f"Judging is stopped: what is shown is as of {found.as_of:%Y-%m-%d %H:%M} UTC, whatever "
        f"came since. {faults[0]}{more}"
    )
