"""Readings of some series, streamed as they are, or thinned without losing an extreme."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Any, Final

import duckdb
import pyarrow as pa

from schemas.tables.readings import READINGS, SUPERSEDED
from warehouse.errors import QueryError
from warehouse.query.limited import create_limited, files_seen
from warehouse.services.desk import Desk
from warehouse.services.exporting import described_by
from warehouse.services.serving import State
from warehouse.sql import identifier, load_statements
from warehouse.store.delta import DataFile
from warehouse.store.scan import create_scan
from warehouse.workspace import workspace

_SQL: Final = load_statements("warehouse.services", "relations")
PLACE: Final = ("site", "asset", "position", "axis", "quantity", "detector", "band", "feature",
                "method", "device", "channel", "source")  # fmt: skip
"""Columns readings may be chosen by."""

_ALL: Final = "* EXCLUDE (line, span)"
_BATCH_ROWS = 122_880


@dataclass(frozen=True, slots=True)
class Wanted:
    """Readings wanted: values by column (empty text: null), a window, most points a series."""

    place: Mapping[str, str] = field(default_factory=dict)
    since: dt.datetime | None = None
    until: dt.datetime | None = None
    points: int | None = None
    columns: tuple[str, ...] = ()
    ordered: bool = True


MOST_ROWS: Final = 100_000
"""Readings that may be paged through as JSON; the other forms have no such bound."""


def readings_page(desk: Desk, state: State, wanted: Wanted) -> pa.Table:
    """The readings as one table, remembered for its next pages.

    Raises QueryError where there are more than MOST_ROWS of them.
    """
    about = (state.snapshot.seq, desk.caller.sites, desk.caller.sources, repr(wanted))
    rows: pa.Table = desk.places.tables.look(about)
    if rows is not None:
        return rows
    batches, count = [], 0
    with Readings(desk, state, wanted) as readings:
        schema = readings.schema
        for batch in readings.batches():
            batches.append(batch)
            count += batch.num_rows
            if count > MOST_ROWS:
                raise QueryError(
                    f"these are more than {MOST_ROWS:,} readings: narrow the place or window, "
                    "thin them by points, or ask for ndjson, csv or arrow, which are streamed"
                )
    rows = described_by(READINGS, pa.Table.from_batches(batches, schema))
    desk.places.tables.keep(about, rows)
    return rows


class Readings:
    """Readings that count, as they come. Use it in a `with`, or close it."""

    def __init__(self, desk: Desk, state: State, wanted: Wanted) -> None:
        self._ends = ExitStack()
        self._expired = False
        try:
            self._open(desk, state, wanted)
        except BaseException:
            self._ends.close()
            raise

    def _open(self, desk: Desk, state: State, wanted: Wanted) -> None:
        wrong = [name for name in wanted.columns if name not in READINGS.column_names]
        if wrong:
            raise QueryError(
                f"readings have no column {', '.join(wrong)}; they have: "
                + ", ".join(READINGS.column_names)
            )
        store = self._ends.enter_context(desk.places.one())
        versions = state.snapshot.versions
        files = files_seen(store.table(READINGS).files(versions[READINGS.name]), desk.caller)
        session = self._ends.enter_context(workspace(store.inbox, store.settings))
        create_scan(session, READINGS.name, READINGS, _of_window(files, wanted))
        ended = store.table(SUPERSEDED).files(versions[SUPERSEDED.name])
        create_limited(session, SUPERSEDED, ended, desk.caller)
        session.execute("SET preserve_insertion_order = false")
        timer = threading.Timer(store.settings.export_seconds, self._expire, [session])
        timer.daemon = True
        timer.start()
        self._ends.callback(timer.cancel)
        statement, values = _statement(wanted, state.snapshot.as_of)
        try:
            self._reader = session.sql(statement, params=values).to_arrow_reader(_BATCH_ROWS)
        except duckdb.Error as error:
            raise self._told(error) from error
        self._ends.callback(self._reader.close)

    @property
    def schema(self) -> pa.Schema:
        """Columns of the readings."""
        return self._reader.schema

    def batches(self) -> Iterator[pa.RecordBatch]:
        """The readings; closed when they have all come, or nobody wants them any more."""
        try:
            while True:
                try:
                    yield self._reader.read_next_batch()
                except StopIteration:
                    return
                except (duckdb.Error, pa.ArrowException) as error:
                    raise self._told(error) from error
        finally:
            self.close()

    def close(self) -> None:
        """Give the session and its place back."""
        self._ends.close()

    def __enter__(self) -> Readings:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _expire(self, session: duckdb.DuckDBPyConnection) -> None:
        self._expired = True
        session.interrupt()

    def _told(self, error: Exception) -> QueryError:
        if self._expired:
            return QueryError("stopped: it took too long (setting export_seconds)")
        return QueryError(str(error))


def _of_window(files: list[DataFile], wanted: Wanted) -> list[DataFile]:
    """Files that may hold readings of the window and site."""
    site = wanted.place.get("site")
    return [
        file
        for file in files
        if (wanted.until is None or file.first is None or _utc(file.first) < wanted.until)
        and (wanted.since is None or file.last is None or _utc(file.last) >= wanted.since)
        and (site is None or f"p_site={site}" in file.path.parts[-3:])
    ]


def _utc(moment: Any) -> dt.datetime:
    assert isinstance(moment, dt.datetime)
    return moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)


def _statement(wanted: Wanted, as_of: dt.datetime) -> tuple[str, dict[str, Any]]:
    conditions, values = [], {"as_of": as_of} | dict[str, Any]()
    for column, value in wanted.place.items():
        assert column in PLACE
        conditions.append(_SQL["place"].replace("@{column}", column))
        values[column] = value or None
    for bound, moment in (("from", wanted.since), ("to", wanted.until)):
        if moment is not None:
            conditions.append(_SQL[bound].replace("@{time}", "ts"))
            values[bound] = moment
    # thinning needs every column to part the series; those wanted are picked at its end
    picked = wanted.columns if wanted.points is None else ()
    columns = ", ".join(f"r.{identifier(name)}" for name in picked) or "r.*"
    order = "ORDER BY r.site, r.asset, r.position, r.axis, r.quantity, r.detector, r.band, "
    order += 'r.feature, r.method, r.device, r.channel, r.ts, r.take, r.package, r."row"'
    plain = wanted.points is None and wanted.ordered
    text = _SQL["readings"].replace("@{columns}", columns)
    text = text.replace("@{conditions}", "\n".join(conditions))
    text = text.replace("@{order}", order if plain else "")
    if wanted.points is not None:
        spans = max(1, (wanted.points - 2) // 2)
        text = _SQL["thinned"].replace("@{readings}", text).replace("@{spans}", str(spans))
        text = text.replace("@{thinned}", ", ".join(map(identifier, wanted.columns)) or _ALL)
    return text, values
