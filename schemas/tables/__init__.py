"""The tables of the open schema. `TABLES` holds those a store publishes."""

from schemas.columns import Table
from schemas.tables.conditions import CONDITION_CURRENT, CONDITION_LOG
from schemas.tables.issued import ISSUED
from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from schemas.tables.registry import REGISTRY
from schemas.tables.rounds import COMMISSIONING_STEPS, STOP_RESULTS
from schemas.tables.snapshots import SNAPSHOTS
from schemas.tables.work import CASE_ACTIONS, CASE_EVENTS, MAINTENANCE_EVENTS

PUBLISHED_WITH_SNAPSHOT: tuple[Table, ...] = (
    READINGS,
    SUPERSEDED,
    REJECTS,
    REGISTRY,
    CONDITION_CURRENT,
    CONDITION_LOG,
    ISSUED,
    MAINTENANCE_EVENTS,
    CASE_ACTIONS,
    CASE_EVENTS,
    STOP_RESULTS,
    COMMISSIONING_STEPS,
)
"""Tables whose versions one published state ties together."""

TABLES: dict[str, Table] = {table.name: table for table in (*PUBLISHED_WITH_SNAPSHOT, SNAPSHOTS)}
"""Every table of a store, by name."""
