"""Reads the limit files, lists every fault at once, and lays them out as Arrow tables."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import pyarrow as pa

from warehouse.errors import LimitSetError
from warehouse.limits import tables
from warehouse.limits.judging_model import Default, Levels, Precedence, Uncovered
from warehouse.limits.misspelt import meant
from warehouse.limits.model import LimitSet
from warehouse.limits.reading import StatedSet, read, read_set, toml, toml_files, validate
from warehouse.stamps import Stamps, stamps

Sets = dict[str, list[LimitSet]]
"""Limit sets by their origin."""

Stated = dict[str, StatedSet]
"""All sets by the identifier they state, the faulty ones too."""

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
    sets, stated = _read_sets(root, plant, faults)
    precedence = _read_precedence(root, plant, stated, faults)
    defaults = _read_defaults(root / "defaults.toml", faults)
    uncovered = read(root / "uncovered.toml", Uncovered, faults)
    levels = read(root / "levels.toml", Levels, faults)
    if faults or precedence is None or uncovered is None or levels is None:
        return {}, tuple(faults)
    left_out = _left_out(root, plant, sets, precedence.order)
    loaded = _of_sets(sets, precedence.order, left_out) | {
        "limit_boundaries": tables.boundaries(levels),
        "judging_levels": tables.levels(levels),
        "uncovered_classes": tables.uncovered(uncovered),
        "judging_defaults": tables.defaults(defaults),
    }
    return loaded, ()


def sound_limits(plant: Path) -> tuple[Mapping[str, pa.Table], frozenset[str]]:
    """The tables with those sets of the plant only that are sound; identifiers of the others.

    What can be told of the rest while a file of the plant is faulty. The order is the published.
    """
    sets, stated = _read_sets(files("warehouse.limits"), plant, [])
    faulty = {name for name, one in stated.items() if one.sound is None}
    faulty |= {one.id for one in sets[PLANT] if stated[one.id].sound is not one}
    own = _of_sets({PLANT: [one for one in sets[PLANT] if one.id not in faulty]}, (), ())
    added = {name: pa.concat_tables([load_limits()[name], rows]) for name, rows in own.items()}
    return dict(load_limits()) | added, frozenset(faulty)


def _of_sets(sets: Sets, order: Sequence[str], left_out: Collection[str]) -> dict[str, pa.Table]:
    every = [one for found in sets.values() for one in found]
    return {
        "limit_sets": tables.sets(sets, order, left_out),
        "limit_groups": tables.groups(every),
        "limit_rows": tables.rows(every),
        "limit_acceptance": tables.acceptance(every),
    }


def _read_sets(root: Traversable, plant: Path | None, faults: list[str]) -> tuple[Sets, Stated]:
    """The sound sets, and what is stated of all of them."""
    published = sorted(
        (entry for entry in (root / "sets").iterdir() if entry.name.endswith(".toml")),
        key=lambda entry: entry.name,
    )
    if not published:
        faults.append("sets: no .toml file found")
    found: Sets = {PUBLISHED: [], PLANT: []}
    stated: Stated = {}
    for path in published:
        _add_set(read_set(path, faults), found[PUBLISHED], stated, faults)
    heard: list[str] = []
    for path in toml_files(plant) if plant else ():
        if path.name != _PRECEDENCE:
            _add_set(read_set(path, heard), found[PLANT], stated, heard)
    faults.extend(_in_folder(plant, heard))
    return found, stated


def _left_out(
    root: Traversable, plant: Path | None, sets: Sets, order: Sequence[str]
) -> frozenset[str]:
    """Sets of the published order, and the plant's own, that its own order does not name."""
    if plant is None or not (plant / _PRECEDENCE).exists():
        return frozenset()
    published = read(root / _PRECEDENCE, Precedence, [])
    named = {*(published.order if published else ()), *(one.id for one in sets[PLANT])}
    return frozenset(named - set(order))


def _in_folder(plant: Path | None, heard: list[str]) -> list[str]:
    """Faults of the plant's own files, told with their folder."""
    return [f"{plant.name}/{fault}" for fault in heard] if plant else heard


def _add_set(one: StatedSet, found: list[LimitSet], stated: Stated, faults: list[str]) -> None:
    if one.id in stated:
        also = stated[one.id].file
        faults.append(f"{one.file}: id: {one.id} also stands in {also}; each set has its own")
    elif one.id:
        stated[one.id] = one
    if one.sound:
        found.append(one.sound)


def _read_precedence(
    root: Traversable, plant: Path | None, stated: Stated, faults: list[str]
) -> Precedence | None:
    """The plant's order where it states one, else this package's; only sets that can be used."""
    own = plant / _PRECEDENCE if plant else None
    if own is None or not own.exists():
        return _read_order(root / _PRECEDENCE, stated, faults)
    heard: list[str] = []
    precedence = _read_order(own, stated, heard)
    faults.extend(_in_folder(plant, heard))
    return precedence


def _read_order(path: Traversable, stated: Stated, faults: list[str]) -> Precedence | None:
    """An order, its names checked also where something else of the file is faulty."""
    before = len(faults)
    content = toml(path, faults)
    if len(faults) > before:
        return None
    precedence = validate(path.name, "", content, Precedence, faults)
    listed = meant(content, Precedence).get("order")
    order = [name for name in listed if isinstance(name, str)] if isinstance(listed, list) else []
    faults.extend(f"{path.name}: order: {fault}" for fault in _order_faults(order, stated))
    return precedence


def _order_faults(order: list[str], stated: Stated) -> Iterator[str]:
    if twice := sorted({name for name in order if order.count(name) > 1}):
        yield f"names {', '.join(twice)} twice"
    for name in dict.fromkeys(order):
        if name not in stated:
            yield f"{name} is not one of {', '.join(sorted(stated))}"
        elif not stated[name].in_service:
            yield (
                f"{name} is for information only: its values are no limits of a machine in service"
            )


def _read_defaults(path: Traversable, faults: list[str]) -> dict[str, Default]:
    content = toml(path, faults)
    if content.pop("format_version", None) != 1:
        faults.append(f"{path.name}: format_version: must be 1")
    found = {
        key: validate(path.name, key, value, Default, faults) for key, value in content.items()
    }
    return {key: default for key, default in found.items() if default is not None}
