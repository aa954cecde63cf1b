"""Reads the limit files, lists every fault at once, and lays them out as Arrow tables."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import pyarrow as pa

from warehouse.errors import LimitSetError
from warehouse.limits import tables
from warehouse.limits.judging_model import Default, Levels, Precedence, Uncovered
from warehouse.limits.model import LimitSet
from warehouse.limits.reading import read, read_set, toml, toml_files, validate
from warehouse.stamps import Stamps, stamps

Sets = dict[str, list[LimitSet]]
"""Limit sets by their origin."""

PUBLISHED, PLANT = "published", "plant"
PLANT_TABLES = frozenset({"limit_sets", "limit_groups", "limit_rows", "limit_acceptance"})
"""Those of `load_limits` that a plant's own files add to."""
_PRECEDENCE = "precedence.toml"


def load_limits(plant: Path | None = None, own: Path | None = None) -> Mapping[str, pa.Table]:
    """Every limit table by name, ready to be registered with the engine.

    `limit_sets` (one row a standard and edition), `limit_groups` (which machines
    a group takes), `limit_rows` (boundaries), `limit_boundaries` (their names),
    `limit_acceptance`, `judging_levels`, `uncovered_classes`, `judging_defaults`.
    `plant` is a folder with a plant's own sets (`*.toml`) and its
    `precedence.toml`, where it has one; `own` stands in place of this package's
    data in tests. Raises LimitSetError with every fault of every file, each
    naming file, key and what is allowed. A changed file counts at once.
    """
    found = [path for folder in (own, plant) if folder for path in toml_files(folder)]
    # a folder without files says nothing: stores without limits of their own share the tables
    loaded, faults = _load(own, plant if plant and toml_files(plant) else None, stamps(found))
    if faults:
        raise LimitSetError(list(faults))
    return loaded


@lru_cache(maxsize=8)
def _load(
    own: Path | None, plant: Path | None, _: Stamps
) -> tuple[Mapping[str, pa.Table], tuple[str, ...]]:
    """The tables, or the faults: read once for each state of the plant's files."""
    root: Traversable = files("warehouse.limits") if own is None else own
    faults: list[str] = []
    sets, names = _read_sets(root, plant, faults)
    precedence = _read_precedence(root, plant, sets, names, faults)
    defaults = _read_defaults(root / "defaults.toml", faults)
    uncovered = read(root / "uncovered.toml", Uncovered, faults)
    levels = read(root / "levels.toml", Levels, faults)
    if faults or precedence is None or uncovered is None or levels is None:
        return {}, tuple(faults)
    every = [one for found in sets.values() for one in found]
    loaded = {
        "limit_sets": tables.sets(sets, precedence),
        "limit_groups": tables.groups(every),
        "limit_rows": tables.rows(every),
        "limit_boundaries": tables.boundaries(levels),
        "limit_acceptance": tables.acceptance(every),
        "judging_levels": tables.levels(levels),
        "uncovered_classes": tables.uncovered(uncovered),
        "judging_defaults": tables.defaults(defaults),
    }
    return loaded, ()


def _read_sets(root: Traversable, plant: Path | None, faults: list[str]) -> tuple[Sets, list[str]]:
    """The sound sets, and the identifiers of all of them."""
    published = sorted(
        (entry for entry in (root / "sets").iterdir() if entry.name.endswith(".toml")),
        key=lambda entry: entry.name,
    )
    if not published:
        faults.append("sets: no .toml file found")
    found: Sets = {PUBLISHED: [], PLANT: []}
    by_id: dict[str, str] = {}
    for path in published:
        _add_set(path, found[PUBLISHED], by_id, faults)
    heard: list[str] = []
    for path in toml_files(plant) if plant else ():
        if path.name != _PRECEDENCE:
            _add_set(path, found[PLANT], by_id, heard)
    faults.extend(_in_folder(plant, heard))
    return found, sorted(by_id)


def _in_folder(plant: Path | None, heard: list[str]) -> list[str]:
    """Faults of the plant's own files, told with their folder."""
    return [f"{plant.name}/{fault}" for fault in heard] if plant else heard


def _add_set(
    path: Traversable, found: list[LimitSet], by_id: dict[str, str], faults: list[str]
) -> None:
    stated, one = read_set(path, faults)
    if stated in by_id:
        faults.append(
            f"{path.name}: id: {stated} also stands in {by_id[stated]}; each set has its own"
        )
    elif stated:
        by_id[stated] = path.name
    if one:
        found.append(one)


def _read_precedence(
    root: Traversable, plant: Path | None, sets: Sets, names: list[str], faults: list[str]
) -> Precedence | None:
    """The plant's order where it states one, else this package's; only sets that can be used."""
    stated = plant / _PRECEDENCE if plant else None
    if stated is None or not stated.exists():
        return _read_order(root / _PRECEDENCE, sets, names, faults)
    heard: list[str] = []
    precedence = _read_order(stated, sets, names, heard)
    faults.extend(_in_folder(plant, heard))
    return precedence


def _read_order(
    path: Traversable, sets: Sets, names: list[str], faults: list[str]
) -> Precedence | None:
    precedence = read(path, Precedence, faults)
    unused = {one.id for found in sets.values() for one in found if not one.in_service}
    for name in precedence.order if precedence else ():
        if name not in names:
            faults.append(f"{path.name}: order: {name} is not one of {', '.join(names)}")
        elif name in unused:
            faults.append(
                f"{path.name}: order: {name} is for information only: its values are no limits "
                "of a machine in service"
            )
    return precedence


def _read_defaults(path: Traversable, faults: list[str]) -> dict[str, Default]:
    content = toml(path, faults)
    if content.pop("format_version", None) != 1:
        faults.append(f"{path.name}: format_version: must be 1")
    found = {
        key: validate(path.name, key, value, Default, faults) for key, value in content.items()
    }
    return {key: default for key, default in found.items() if default is not None}
