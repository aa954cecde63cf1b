"""The log of a table as files: what each commit added and removed, and which commit is torn.

The Delta library takes an empty log entry for an empty commit and tells
nothing of removed files; both are read from the files themselves. What entries
that were tidied away removed is read from the newest checkpoint.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pyarrow.parquet as pq

_LOG = "_delta_log"


@dataclass(frozen=True, slots=True)
class Removal:
    """When a file stopped being active: the moment in milliseconds, and the version.

    The version is None where only a checkpoint tells of it any longer.
    """

    version: int | None
    at: int


@dataclass(slots=True)
class History:
    """Every file the log ever added or removed, by its name below the table's folder."""

    added: set[str] = field(default_factory=set)
    removed: dict[str, Removal] = field(default_factory=dict)


def read_history(root: Path) -> History:
    """What the commits of the table at `root` added and removed; torn ones are passed over."""
    history = History()
    for path in checkpoints(root)[-1:]:
        _read_checkpoint(path, history)
    for path in log_files(root):
        for action in _actions(path) or ():
            if add := action.get("add"):
                history.added.add(unquote(add["path"]))
            elif remove := action.get("remove"):
                removal = Removal(version_of(path), int(remove.get("deletionTimestamp") or 0))
                history.removed[unquote(remove["path"])] = removal
    return history


def _read_checkpoint(path: Path, history: History) -> None:
    columns = ["add.path", "remove.path", "remove.deletionTimestamp"]
    rows = pq.ParquetFile(path).read(columns=columns).flatten()
    added = rows.column("add.path").drop_null().to_pylist()
    history.added.update(map(unquote, added))
    removed = rows.select(columns[1:]).filter(rows.column("remove.path").is_valid())
    for name, at in zip(*(column.to_pylist() for column in removed.columns), strict=True):
        history.removed[unquote(name)] = Removal(None, int(at or 0))


def log_files(root: Path) -> list[Path]:
    """The table's log entries, oldest first."""
    return sorted(path for path in (root / _LOG).glob("*.json") if path.stem.isdigit())


def version_of(path: Path) -> int:
    """The version a log entry or a checkpoint stands for."""
    return int(path.name.partition(".")[0])


def added_since(root: Path, version: int, until: int) -> list[Path] | None:
    """Files that the commits after a version, up to another, brought new rows with.

    None where rows went as well, or where the log or a file is not told any more: then nobody
    can say from here what is new.
    """
    added: list[Path] = []
    for number in range(version + 1, until + 1):
        entry = root / _LOG / f"{number:020d}.json"
        actions = _actions(entry) if entry.exists() else None
        if actions is None or any(_changes(action, "remove") for action in actions):
            return None
        added += [root / unquote(a["add"]["path"]) for a in actions if _changes(a, "add")]
    return added if all(path.exists() for path in added) else None


def _changes(action: dict[str, Any], kind: str) -> bool:
    return bool(action.get(kind, {}).get("dataChange"))


def removed_by(entry: Path) -> list[str]:
    """Names of the files a log entry removed."""
    return [unquote(a["remove"]["path"]) for a in _actions(entry) or () if "remove" in a]


def remembered_by(checkpoint: Path) -> set[str]:
    """Names of the replaced files a checkpoint still tells of."""
    history = History()
    _read_checkpoint(checkpoint, history)
    return set(history.removed)


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
