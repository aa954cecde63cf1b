"""The fleet views of a reliability team: what they are, of which machines and window they count."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import pyarrow as pa

from warehouse.errors import NotFoundError
from warehouse.query import open_relations, run
from warehouse.services.judging import published
from warehouse.sql import identifier, load_statements
from warehouse.store import Store
from warehouse.views import sql_files, views_below

_SQL: Final = load_statements("warehouse.services", "fleet_views")

FLEET: Final = (
    "bad_actors", "zone_share", "alarm_rate", "fleet_coverage", "sensor_health", "route_compliance",
    "reliability", "alert_precision", "missed_failures",
)  # fmt: skip
"""The fleet views by name, in the order they are told."""


@dataclass(frozen=True, slots=True)
class Selection:
    """Machines and window a fleet view counts; nothing said means all of them, and the default."""

    sites: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    criticalities: tuple[str, ...] = ()
    since: dt.datetime | None = None
    until: dt.datetime | None = None

    def variables(self) -> dict[str, Any]:
        """The session variables the views ask for."""
        said = {
            "fleet_sites": list(self.sites),
            "fleet_classes": list(self.classes),
            "fleet_criticalities": list(self.criticalities),
            "fleet_from": self.since,
            "fleet_to": self.until,
        }
        return {name: value for name, value in said.items() if value}


@dataclass(frozen=True, slots=True)
class FleetRows:
    """Rows of one fleet view, as of when, and the window they are of; none where it is of now."""

    view: str
    as_of: dt.datetime
    rows: pa.Table
    since: dt.datetime | None = None
    until: dt.datetime | None = None


@cache
def kinds_selected(view: str) -> frozenset[str]:
    """What a view counts by itself: `site`, `class`, `criticality`, `window`, some or none."""
    below = views_below({view}, frozenset())
    machines = {"site", "class", "criticality"} if "fleet_assets" in below else set()
    return frozenset(machines | ({"window"} if "window_to" in below else set()))


def purposes() -> Mapping[str, str]:
    """What each fleet view is for, by name."""
    found = {file.name: file.purpose for file in sql_files()}
    return {name: found[name] for name in FLEET}


def fleet_rows(store: Store, view: str, selection: Selection) -> FleetRows:
    """Rows of a fleet view as of the published state.

    Raises NotFoundError for an unknown view or site.
    """
    if view not in FLEET:
        raise NotFoundError("fleet view", view)
    snapshot = published(store)
    seconds = store.settings.query_seconds
    names, variables = {view, "window_from"}, selection.variables()
    with open_relations(store, snapshot, names, variables=variables) as session:
        sites = run(session, _SQL["sites"]).column("site").to_pylist()
        for site in selection.sites:
            if site not in sites:
                raise NotFoundError("site", site)
        (window,) = run(session, _SQL["window"]).to_pylist()
        rows = run(session, _SQL["rows"].replace("@{name}", identifier(view)), seconds=seconds)
    if "window" not in kinds_selected(view):
        return FleetRows(view, snapshot.as_of, rows)
    return FleetRows(view, snapshot.as_of, rows, window["window_from"], window["window_to"])
