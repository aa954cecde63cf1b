"""The log of a table as files: what each commit added and removed, and which commit is torn.

The Delta library takes an empty log entry for an empty commit and forgets
removed files after a week; both are read from the files themselves.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote

_LOG = "_delta_log"


@dataclass(frozen=True, slots=True)
class Removal:
    """When a file stopped being active: the version, and the moment in milliseconds."""

    version: int
    at: int


@dataclass(slots=True)
class History:
    """Every file the log ever added or removed, by its name below the table's folder."""

    added: set[str] = field(default_factory=set)
    removed: dict[str, Removal] = field(default_factory=dict)


def read_history(root: Path) -> History:
    """What the commits of the table at `root` added and removed; torn ones are passed over."""
    history = History()
    for path in log_files(root):
        for action in _actions(path) or ():
            if add := action.get("add"):
                history.added.add(unquote(add["path"]))
            elif remove := action.get("remove"):
                removal = Removal(version_of(path), int(remove.get("deletionTimestamp") or 0))
                history.removed[unquote(remove["path"])] = removal
    return history


def log_files(root: Path) -> list[Path]:
    """The table's log entries, oldest first."""
    return sorted(path for path in (root / _LOG).glob("*.json") if path.stem.isdigit())


def version_of(path: Path) -> int:
    """The version a log entry or a checkpoint stands for."""
    return int(path.name.partition(".")[0])


def torn_entries(root: Path) -> list[Path]:
    """Log entries a power cut left empty or unreadable and no later checkpoint covers."""
    covered = max((version_of(path) for path in checkpoints(root)), default=-1)
    needed = (path for path in log_files(root) if version_of(path) > covered)
    return [path for path in needed if _actions(path) is None]


def checkpoints(root: Path) -> list[Path]:
    """The table's checkpoints, oldest first."""
    found = (root / _LOG).glob("*.checkpoint*.parquet")
    return sorted(path for path in found if path.name[:20].isdigit())


def data_files(root: Path) -> Iterator[str]:
    """Names of the data files in the table's folder, whether the log knows them or not."""
    for path in root.rglob("*.parquet"):
        name = path.relative_to(root)
        if name.parts[0] != _LOG:
            yield name.as_posix()


def _actions(path: Path) -> list[dict[str, Any]] | None:
    """The actions of a log entry; None where it is torn."""
    try:
        actions = [json.loads(line) for line in path.read_bytes().splitlines() if line.strip()]
    except ValueError:
        return None
    return actions if actions and all(isinstance(one, dict) for one in actions) else None
