"""The limit sets of a store: those published, those of the plant, and which are in force."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from warehouse.errors import LimitSetError, NotFoundError
from warehouse.limits import load_limits, sound_limits
from warehouse.query import answers, open_published, open_session, run
from warehouse.registry.stored import stored_entities
from warehouse.services.judging import judged_now, published
from warehouse.sql import load_statements
from warehouse.store import Store
from warehouse.workspace import workspace

Rows = list[dict[str, Any]]
Entities = dict[str, pa.Table]


@dataclass(frozen=True, slots=True)
class ShownSet:
    """One limit set: what it is, which machines its groups take, its rows, acceptance values."""

    about: dict[str, Any]
    groups: Rows
    rows: Rows
    acceptance: Rows


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check of the plant's own files found sound, and what it passed over.

    `dropped` are sets of the published order that the plant's own order does not name.
    """

    sets: list[str]
    order: list[str]
    own_order: bool
    dropped: list[str]
    passed_over: list[str]


def limit_sets(store: Store) -> Rows:
    """Every set with edition, confidences and what it applies to; those in force first.

    Raises LimitSetError with every fault of the plant's own files.
    """
    return _asked(store, "listed")


def limit_set(store: Store, name: str) -> ShownSet:
    """One set whole. Raises NotFoundError for one that is not loaded, LimitSetError as above."""
    found = [one for one in limit_sets(store) if one["limit_set"] == name]
    if not found:
        raise NotFoundError("limit set", name)
    parts = {part: _asked(store, part, name) for part in ("groups", "rows", "acceptance")}
    return ShownSet(found[0], **parts)


def _asked(store: Store, statement: str, name: str | None = None) -> Rows:
    with workspace(store.inbox, store.settings) as session:
        for table, rows in load_limits(store.limits).items():
            session.register(table, rows)
        text = load_statements("warehouse.services", "limits")[statement]
        found: Rows = run(session, text, {"limit_set": name} if name else None).to_pylist()
    return found


def machine_limits(store: Store) -> Rows:
    """The limit set of every machine, or point with one of its own, why, and what was assumed.

    By the newest registry, as of now; power in kW. Raises LimitSetError as above.
    """
    return _of_machines(store, "machines")


def unjudged_machines(store: Store) -> Rows:
    """Machines, or points, that no limit set judges: why, and what the registry lacks.

    By the newest registry, as of now; power in kW. Raises LimitSetError as above.
    """
    return _of_machines(store, "unjudged")


def limits_for_information(store: Store) -> Rows:
    """Judged values of the published state against the sets that fit and are not in force.

    Values and boundaries in the unit of the row. Raises LimitSetError as above.
    """
    statement = load_statements("warehouse.services", "limits")["information"]
    with open_published(store, published(store), asks=[statement]) as session:
        return answers(session, statement, None, store.settings.query_seconds)


def assigned_in_vain(store: Store, entities: Entities | None = None) -> list[str]:
    """Assignments by hand, now or later, of what cannot be used; each named with its place.

    `entities` are those of a registry as it would be, in place of the newest. While limit files
    of the plant are faulty, nothing is told of assignments of the sets in them.
    """
    statement = load_statements("warehouse.services", "limits")["assigned_in_vain"]
    entities = entities or stored_entities(store)
    limits = None
    if limit_files_are_faulty(store):
        limits, faulty = sound_limits(store.limits)
        entities |= {"limit_assignments": _without(entities["limit_assignments"], faulty)}
    with open_session(
        store, {}, judged_now(store), asks=[statement], entities=entities, limits=limits
    ) as session:
        return [row["fault"] for row in run(session, statement).to_pylist()]


def limit_files_are_faulty(store: Store) -> bool:
    """Whether the plant's own files have faults."""
    try:
        load_limits(store.limits)
    except LimitSetError:
        return True
    return False


def _without(assignments: pa.Table, faulty: frozenset[str]) -> pa.Table:
    sets = [str(name).split("/")[0] for name in assignments["limit_set"].to_pylist()]
    return assignments.filter(pa.array([name not in faulty for name in sets], pa.bool_()))


def _of_machines(store: Store, name: str) -> Rows:
    statement = load_statements("warehouse.services", "limits")[name]
    with open_session(store, {}, judged_now(store), asks=[statement]) as session:
        found: Rows = run(session, statement).to_pylist()
    return found


def check_limits(store: Store) -> Checked:
    """Check the plant's own files and what the registry assigns by hand.

    Raises LimitSetError with every fault of either.
    """
    try:
        found = limit_sets(store)
    except LimitSetError as error:
        raise LimitSetError([*error.faults, *assigned_in_vain(store)]) from error
    if faults := assigned_in_vain(store):
        raise LimitSetError(faults)
    listed = sorted(store.limits.iterdir()) if store.limits.is_dir() else []
    order = [one["limit_set"] for one in found if one["precedence"]]
    published_order = {
        one["precedence"]: one["limit_set"]
        for one in load_limits()["limit_sets"].to_pylist()
        if one["precedence"]
    }
    return Checked(
        sets=[one["limit_set"] for one in found if one["origin"] == "plant"],
        order=order,
        dropped=[name for _, name in sorted(published_order.items()) if name not in order],
        own_order=(store.limits / "precedence.toml").exists(),
        passed_over=[path.name for path in listed if path.suffix != ".toml"],
    )
