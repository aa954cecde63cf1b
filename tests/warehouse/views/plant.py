"""A small invented plant for the tests: base relations as Arrow tables, then the real views."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from schemas.columns import Table
from schemas.tables.conditions import CONDITION_CURRENT, CONDITION_LOG
from schemas.tables.issued import ISSUED
from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from schemas.tables.registry import ENTITIES
from schemas.tables.rounds import COMMISSIONING_STEPS, STOP_RESULTS
from schemas.tables.work import CASE_ACTIONS, CASE_EVENTS, MAINTENANCE_EVENTS
from schemas.units import canonical_unit
from warehouse.judging import Judgement, judge, worked_out
from warehouse.limits import load_limits
from warehouse.views import create_views, shared_views, sql_files, views_below
from warehouse.work.tables import load_work_rules

Row = dict[str, Any]

_JUDGED: dict[bytes, Judgement] = {}
_VIEWS: dict[bytes, pa.Table] = {}
"""What was worked out in this process already: the same plant at the same moment gives the same."""

AS_OF = datetime(2026, 3, 1, 12, tzinfo=UTC)
"""The moment the fixtures are judged for."""

_TYPE_DEFAULT: Row = {"string": "x", "bool": False, "float64": 0.0}


def table(description: Table, rows: Iterable[Row]) -> pa.Table:
    """Rows as the Arrow table of its description; a missing required string becomes `x`."""
    filled = [
        {
            column.name: row.get(
                column.name, _TYPE_DEFAULT.get(column.type) if column.required else None
            )
            for column in description.columns
        }
        for row in rows
    ]
    for row in rows:
        unknown = row.keys() - set(description.column_names)
        assert not unknown, f"{description.name} has no column {unknown}"
    return pa.Table.from_pylist(filled, description.arrow)


def keep_as_tables(connection: duckdb.DuckDBPyConnection, *names: str) -> None:
    """Work out what is shared below these views, or below any, as judging and queries do."""
    for file in shared_views(set(names) or {file.name for file in sql_files()}, frozenset()):
        connection.execute(file.as_temporary_table)


class Plant:
    """One plant under test: add what stands there and what was read, then ask the views."""

    def __init__(self) -> None:
        self.entities: dict[str, list[Row]] = {name: [] for name in ENTITIES}
        self.readings: list[Row] = []
        self.superseded: list[Row] = []
        self.rejects: list[Row] = []
        self.log: list[Row] = []
        self.maintenance: list[Row] = []
        self.stops: list[Row] = []
        self.told: list[Row] = []
        self.issued: list[Row] = []
        self.case_events: list[Row] = []
        self.variables: Row = {}
        self.limits: Path | None = None
        """The folder with the plant's own limit files, where it has some."""

    def add(self, entity: str, **values: Any) -> Plant:
        """One row of an entity table."""
        self.entities[entity].append(values)
        return self

    def train(self, asset: str = "P-101", **values: Any) -> Plant:
        """A 55 kW motor (group 2) and a category II pump on rigid support, 1480 r/min."""
        if not self.entities["sites"]:
            self.add("sites", site="s1", name="One", time_zone="UTC")
        self.add(
            "assets",
            **{"site": "s1", "asset": asset, "name": asset, "service_state": "in-service"} | values,
        )
        rigid = {f"support_{way}": "rigid" for way in ("axial", "horizontal", "vertical")}
        common = {"site": "s1", "asset": asset, "rated_speed": 1480.0} | rigid
        motor = {"member": "motor", "role": "driver", "equipment_class": "electric-motor"}
        pump = {"member": "pump", "role": "driven", "equipment_class": "centrifugal-pump"}
        self.add("members", **common | motor, rated_power_kw=55.0, shaft_height_mm=250.0)
        self.add("members", **common | pump, rated_power_kw=45.0, pump_category="II", vane_count=6)
        for member, thrust in (("motor", False), ("pump", True)):
            self.point(asset, member, f"{member}-de", thrust_end=thrust)
        return self

    def point(self, asset: str, member: str, position: str, **values: Any) -> Plant:
        """A bearing housing of a member."""
        point = {"bearing_housing": True, "thrust_end": False} | values
        return self.add("points", site="s1", asset=asset, member=member, position=position, **point)

    def read(
        self,
        value: float | None,
        *,
        ago: timedelta = timedelta(hours=1),
        ts: datetime | None = None,
        asset: str = "P-101",
        position: str = "pump-de",
        axis: str | None = "horizontal",
        quantity: str = "velocity",
        detector: str = "rms",
        band: str | None = "10-1000Hz",
        **values: Any,
    ) -> Plant:
        """One reading, an hour before AS_OF unless `ago` or `ts` says otherwise."""
        when = ts or AS_OF - ago
        self.readings.append(
            {
                "source": "src",
                "device": f"dev-{position}",
                "channel": axis or "0",
                "site": "s1",
                "asset": asset,
                "position": position,
                "axis": axis,
                "quantity": quantity,
                "detector": detector,
                "band": band,
                "feature": "overall",
                "method": "wireless",
                "ts": when,
                "take": 1,
                "received_at": when,
                "value": value,
                "unit": canonical_unit(quantity, detector),
                "quality": "good",
                "package": 1,
                "row": len(self.readings) + 1,
            }
            | values
        )
        return self

    def speed(self, value: float, **values: Any) -> Plant:
        """One speed reading at the motor's drive end."""
        return self.read(
            value,
            **{"position": "motor-de", "axis": None, "quantity": "speed"} | values,
            detector="value",
            band=None,
        )

    def daily(self, values: Iterable[float], *, last_days_ago: int = 0, **place: Any) -> Plant:
        """One reading a day at 11:00, the last value `last_days_ago` days before AS_OF."""
        listed = list(values)
        for back, value in enumerate(reversed(listed)):
            self.read(value, ago=timedelta(days=back + last_days_ago, hours=1), **place)
        return self

    def worked(
        self, activity: str, days_ago: float, asset: str = "P-101", hours: float = 0.0, **more: Any
    ) -> Plant:
        """A job that ended so many days before AS_OF."""
        ended = AS_OF - timedelta(days=days_ago)
        number = len(self.maintenance)
        self.maintenance.append(
            {
                "source": "orders", "event": f"W-{number}", "version_at": ended,
                "status": "valid", "site": "s1", "asset": asset, "activity": activity,
                "started_at": ended - timedelta(hours=hours), "ended_at": ended,
                "digest": str(number), "package": number, "row": 1, "received_at": ended,
            } | more
        )  # fmt: skip
        return self

    def connect(self, as_of: datetime = AS_OF, *names: str) -> duckdb.DuckDBPyConnection:
        """A connection with base relations, limit tables and views, as `query` makes it.

        With `names` it has these views and those they stand on, and is made much faster.
        """
        connection = self.base(as_of)
        create_views(connection, views_below(names, frozenset()) if names else None)
        return connection

    def base(self, as_of: datetime = AS_OF) -> duckdb.DuckDBPyConnection:
        """A connection with base relations and limit tables, and no view yet."""
        connection = duckdb.connect(config={"threads": 1})
        connection.execute("SET TimeZone = 'UTC'")
        connection.execute("SET VARIABLE as_of = $t::TIMESTAMPTZ", {"t": as_of})
        for name, value in self.variables.items():
            connection.execute(f"SET VARIABLE {name} = $value", {"value": value})
        base = {
            "readings": table(READINGS, self.readings),
            "superseded": table(SUPERSEDED, self.superseded),
            "rejects": table(REJECTS, self.rejects),
            "condition_log": table(CONDITION_LOG, self.log),
            "issued": table(ISSUED, self.issued),
            "condition_current": table(CONDITION_CURRENT, self.told),
            "maintenance_events": table(MAINTENANCE_EVENTS, self.maintenance),
            "case_actions": CASE_ACTIONS.arrow.empty_table(),
            "case_events": table(CASE_EVENTS, self.case_events),
            "stop_results": table(STOP_RESULTS, self.stops),
            "commissioning_steps": COMMISSIONING_STEPS.arrow.empty_table(),
        }
        base |= {name: table(ENTITIES[name], rows) for name, rows in self.entities.items()}
        for name, relation in (
            base | dict(load_limits(self.limits)) | dict(load_work_rules())
        ).items():
            connection.register(name, relation)
        return connection

    def view(self, name: str, as_of: datetime = AS_OF) -> list[Row]:
        """All rows of a view, worked out once for the same plant and moment."""
        key = self._key(as_of, name)
        if key not in _VIEWS:
            connection = self.connect(as_of, name)
            keep_as_tables(connection, name)
            _VIEWS[key] = connection.table(name).to_arrow_table()
        rows: list[Row] = _VIEWS[key].to_pylist()
        return rows

    def judged(
        self, previous: pa.Table | None = None, as_of: datetime = AS_OF, next_seq: int = 1
    ) -> Judgement:
        """The judgement of this plant, made once for the same plant, moment and past."""
        key = self._key(as_of, previous and previous.to_pylist(), next_seq)
        if key not in _JUDGED:
            connection = self.base(as_of)
            with worked_out(connection):
                _JUDGED[key] = judge(connection, previous, as_of, next_seq)
        return _JUDGED[key]

    def _key(self, *more: Any) -> bytes:
        """What tells this plant, as it stands now, from every other."""
        return sha256(repr((sorted(vars(self).items()), more)).encode()).digest()

    def condition(self, scope: str = "asset", as_of: datetime = AS_OF, **place: Any) -> Row:
        """The one judged row of that scope and place."""
        wanted = {"scope": scope} | place
        found = [
            row
            for row in self.judged(as_of=as_of).conditions.to_pylist()
            if all(row[name] == value for name, value in wanted.items())
        ]
        assert len(found) == 1, f"{len(found)} rows for {wanted}"
        one: Row = found[0]
        return one
