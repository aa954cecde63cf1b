"""Readings that get lost, and readings that are systematically wrong: wrong unit, axes exchanged,
two sensors on each other's places, a clock that is off."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import cycle

import numpy as np
import pyarrow as pa

from ingest_examples.generator.clock import DAY, Bools, Ints, Period, iso
from ingest_examples.large.scene import Scene
from ingest_examples.large.sensing import SENSORS, SHEETS
from ingest_examples.large.truth import Row

_INCH_MM = 25.4
_IN_BURSTS = 0.5
"""Of what is lost, the share that is lost in bursts of one to four days; the rest singly."""
_SPAN_DAYS = (15.0, 60.0)
_CLOCKS = (-7 * 3600 - 793, 3 * 3600 + 1031, 3 * DAY + 2017)
"""How far a clock is off [s]; no whole interval, so that no reading hides another."""

_Columns = dict[str, np.ndarray]


@dataclass(frozen=True, slots=True)
class _Span:
    """Rows of one device in a span, and of the device it is exchanged with."""

    device: str
    other: str
    begins: int
    ends: int

    def rows(self, columns: _Columns, device: str) -> Bools:
        """Which rows are meant."""
        time = columns["time"]
        inside = (columns["device"] == device) & (time >= self.begins) & (time < self.ends)
        return np.asarray(inside, np.bool_)


def _unit(columns: _Columns, span: _Span, _: np.random.Generator) -> Bools:
    """Inches per second under the name of millimetres: 25.4 times too low (J10)."""
    at = span.rows(columns, span.device)
    for axis in "xyz":
        columns[axis][at] = np.round(columns[axis][at] / _INCH_MM, 3)
    return at


def _axes(columns: _Columns, span: _Span, _: np.random.Generator) -> Bools:
    """The sensor was turned: x is y and y is x."""
    at = span.rows(columns, span.device)
    columns["x"][at], columns["y"][at] = columns["y"][at], columns["x"][at].copy()
    return at


def _mounting(columns: _Columns, span: _Span, _: np.random.Generator) -> Bools:
    """Two sensors sit on each other's places, and the registry does not know."""
    here, there = span.rows(columns, span.device), span.rows(columns, span.other)
    columns["device"][here], columns["device"][there] = span.other, span.device
    return here | there


def _clock(columns: _Columns, span: _Span, chance: np.random.Generator) -> Bools:
    """The device's clock is off by hours or days."""
    at = span.rows(columns, span.device)
    columns["time"][at] += int(chance.choice(_CLOCKS))
    return at


_WAYS: dict[str, Callable[[_Columns, _Span, np.random.Generator], Bools]] = {
    "wrong-unit": _unit,
    "axes-exchanged": _axes,
    "mounting-wrong": _mounting,
    "clock-off": _clock,
}


def _spans(scene: Scene, chance: np.random.Generator) -> Iterator[_Span]:
    """Spans of drawn sensors, each sensor at most once."""
    period = scene.period
    first = scene.size.watched_from(period, "online")
    devices = [s.device for s in scene.plant.sensors]
    chance.shuffle(devices)
    for device, other in zip(devices[::2], devices[1::2], strict=False):
        days = float(chance.uniform(*_SPAN_DAYS))
        begins = int(chance.integers(first, max(first + 1, period.end - int(days * DAY))))
        yield _Span(device, other, begins, begins + int(days * DAY))


def _wrong_messages(scene: Scene, table: pa.Table, share: float) -> tuple[pa.Table, list[Row]]:
    """Wrong in each way in turn, until so many of the messages are."""
    chance = scene.period.random("wrong", SENSORS)
    columns = {name: table.column(name).to_numpy().copy() for name in table.schema.names}
    touched = np.zeros(table.num_rows, np.bool_)
    rows: list[Row] = []
    for span, (kind, spoil) in zip(_spans(scene, chance), cycle(_WAYS.items()), strict=False):
        if touched.sum() >= share * table.num_rows:
            break
        touched |= spoil(columns, span, chance)
        rows += _rows(scene, kind, span)
    return _as_table(columns, table.schema), rows


def _rows(scene: Scene, kind: str, span: _Span) -> Iterator[Row]:
    devices = [span.device, *([span.other] if kind == "mounting-wrong" else [])]
    places = {s.device: s.mounts[0] for s in scene.plant.sensors if s.device in devices}
    for device, mount in places.items():
        yield Row("corruption", mount.asset, kind, "online", iso(span.begins), iso(span.ends),
                  positions=mount.position, detail=device)  # fmt: skip


def _wrong_walks(scene: Scene, table: pa.Table, share: float) -> tuple[pa.Table, list[Row]]:
    """Some walks noted in inches per second."""
    columns = {name: table.column(name).to_numpy().copy() for name in table.schema.names}
    chance = scene.period.random("wrong", SHEETS)
    rows: list[Row] = []
    walk = columns["time"] // DAY
    walks = np.unique(walk)
    chance.shuffle(walks)
    for day in walks[: int(np.ceil(share * walks.size))].tolist():
        at = walk == day
        columns["velocity"][at] = np.round(columns["velocity"][at] / _INCH_MM, 3)
        rows.append(Row("corruption", "", "wrong-unit", "route", iso(day * DAY),
                        iso((day + 1) * DAY), detail="a whole walk"))  # fmt: skip
    return _as_table(columns, table.schema), rows


def _as_table(columns: _Columns, schema: pa.Schema) -> pa.Table:
    """Back into a table in order of time."""
    order = np.argsort(columns["time"], kind="stable")
    made = {
        n: pa.array(v[order], schema.field(n).type, from_pandas=True) for n, v in columns.items()
    }
    return pa.table(made, schema=schema)


def _lose(period: Period, source: str, table: pa.Table, share: float) -> pa.Table:
    """Without so many of the rows, some singly, some in bursts of a device."""
    chance = period.random("lost", source)
    singly = chance.random(table.num_rows) < share * (1 - _IN_BURSTS)
    return table.filter(pa.array(~(singly | _bursts(table, share * _IN_BURSTS, chance))))


def _bursts(table: pa.Table, share: float, chance: np.random.Generator) -> Bools:
    """Rows of devices that were silent for a while."""
    time = table.column("time").to_numpy()
    device = table.column("device").to_numpy()
    silent = np.zeros(time.size, np.bool_)
    for name in np.unique(device):
        own: Ints = np.flatnonzero(device == name)
        span = (time[own[-1]] - time[own[0]]) / DAY
        number = int(chance.poisson(share * span / 2.5))
        begins = chance.uniform(time[own[0]], time[own[-1]], number)
        ends = begins + chance.uniform(1, 4, number) * DAY
        for begin, end in zip(begins, ends, strict=True):
            silent[own[(time[own] >= begin) & (time[own] < end)]] = True
    return silent


def spoil(
    scene: Scene, tables: dict[str, pa.Table], lost: float, wrong: float
) -> tuple[dict[str, pa.Table], list[Row]]:
    """The readings with a share lost and a share of the messages and walks wrong, and the truth."""
    rows: list[Row] = []
    spoilt = dict(tables)
    for source, make_wrong in ((SENSORS, _wrong_messages), (SHEETS, _wrong_walks)):
        if wrong and source in spoilt:
            spoilt[source], found = make_wrong(scene, spoilt[source], wrong)
            rows += found
    return {n: _lose(scene.period, n, t, lost) for n, t in spoilt.items()}, rows
