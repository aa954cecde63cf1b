"""Reads the limit files, lists every fault at once, and lays them out as Arrow tables."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

import pyarrow as pa
from pydantic import BaseModel, ValidationError

from warehouse.errors import LimitSetError
from warehouse.limits import tables
from warehouse.limits.model import Default, LimitSet, Uncovered

_Model = TypeVar("_Model", bound=BaseModel)


@cache
def load_limits(folder: Path | None = None) -> Mapping[str, pa.Table]:
    """Every limit table by name, ready to be registered with the engine.

    `limit_sets` (one row a standard and edition), `limit_groups` (which machines
    a group takes), `limit_rows` (boundaries, one row a group, support, quantity
    and detector), `limit_acceptance`, `uncovered_classes`, `judging_defaults`.
    `folder` holds `sets/*.toml`, `defaults.toml`, `uncovered.toml`; the
    package's own by default. Raises LimitSetError with every fault of every
    file, each naming file and key. Read once a process: a changed file counts after a restart.
    """
    root: Traversable = files("warehouse.limits") if folder is None else folder
    faults: list[str] = []
    sets = _read_sets(root, faults)
    defaults = _read_defaults(root / "defaults.toml", faults)
    uncovered = _read(root / "uncovered.toml", Uncovered, faults)
    if faults or uncovered is None:
        raise LimitSetError(faults)
    return {
        "limit_sets": tables.sets(sets),
        "limit_groups": tables.groups(sets),
        "limit_rows": tables.rows(sets),
        "limit_acceptance": tables.acceptance(sets),
        "uncovered_classes": tables.uncovered(uncovered),
        "judging_defaults": tables.defaults(defaults),
    }


def _read_sets(root: Traversable, faults: list[str]) -> list[LimitSet]:
    found = sorted(
        (entry for entry in (root / "sets").iterdir() if entry.name.endswith(".toml")),
        key=lambda entry: entry.name,
    )
    if not found:
        faults.append("sets: no .toml file found")
    read = [(entry.name, _read(entry, LimitSet, faults)) for entry in found]
    sets = [limit_set for _, limit_set in read if limit_set is not None]
    by_id: dict[str, str] = {}
    for name, limit_set in read:
        if limit_set is None:
            continue
        if limit_set.id in by_id:
            faults.append(f"{name}: id: {limit_set.id} also stands in {by_id[limit_set.id]}")
        by_id[limit_set.id] = name
    return sets


def _read_defaults(path: Traversable, faults: list[str]) -> dict[str, Default]:
    content = _toml(path, faults)
    if content.pop("format_version", None) != 1:
        faults.append(f"{path.name}: format_version: must be 1")
    read = {
        key: _validate(path.name, key, value, Default, faults) for key, value in content.items()
    }
    return {key: default for key, default in read.items() if default is not None}


def _read(path: Traversable, model: type[_Model], faults: list[str]) -> _Model | None:
    before = len(faults)
    content = _toml(path, faults)
    return None if len(faults) > before else _validate(path.name, "", content, model, faults)


def _toml(path: Traversable, faults: list[str]) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        faults.append(f"{path.name}: cannot be read as TOML: {error}")
        return {}


def _validate(
    name: str, prefix: str, content: object, model: type[_Model], faults: list[str]
) -> _Model | None:
    try:
        return model.model_validate(content)
    except ValidationError as error:
        for fault in error.errors():
            key = ".".join(str(part) for part in ((prefix,) if prefix else ()) + fault["loc"])
            faults.append(f"{name}: {key or 'whole file'}: {fault['msg']}")
        return None
