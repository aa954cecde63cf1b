"""Puts a large site together and writes it: registry, mappings, files, manifest, truth."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv

from ingest_examples.generator import registry
from ingest_examples.generator.clock import Period, iso
from ingest_examples.generator.model import Asset, Plant
from ingest_examples.large import MAPPINGS, truth
from ingest_examples.large.columns import sources
from ingest_examples.large.disturbing import disturbances, exchanges
from ingest_examples.large.growth import Growing
from ingest_examples.large.planting import plant_failures
from ingest_examples.large.roster import SITE, natural_frequencies, roster, rough_when_cold
from ingest_examples.large.scene import Scene
from ingest_examples.large.sensing import online, routes, swaps
from ingest_examples.large.size import Size
from ingest_examples.large.spoiling import spoil

_FILE_ROWS = 400_000
"""Rows of one file: few large files, as an export of history is."""


def _stop_for_good(period: Period, asset: Asset, growing: tuple[Growing, ...]) -> Asset:
    """A failed machine stands until the end: nobody repairs it here."""
    fails = next((g.fails for g in growing if g.asset == asset.asset), None)
    if fails is None:
        return asset
    share = (fails - period.start) / (period.end - period.start)
    return replace(asset, duty=replace(asset.duty, stops_at=share))


def make_scene(seed: int, size: Size) -> Scene:
    """The site of a seed and size."""
    period = size.period(seed)
    watched = roster(period, "1", size.online)
    walked = roster(period, "5", size.route)
    methods = {a.asset: "online" for a in watched} | {a.asset: "route" for a in walked}
    machines = (*watched, *walked)
    sensors, tags = online(period, size, watched)
    plant = Plant((SITE,), machines, sensors, (), tags, routes(walked), (), ())
    natural, cold = natural_frequencies(period, machines), rough_when_cold(period, machines)
    scene = Scene(plant, period, size, methods, (), natural, cold)
    growing = plant_failures(scene)
    exchanged, units = exchanges(period, size, methods, machines, growing)
    faults = (*disturbances(period, size, methods, machines), *swaps(period, sensors), *exchanged)
    stopping = tuple(_stop_for_good(period, a, growing) for a in machines)
    plant = replace(plant, assets=stopping, faults=faults, units=units)
    return replace(scene, plant=plant, growing=growing)


def _write_files(tables: dict[str, pa.Table], out: Path) -> list[tuple[str, str, int]]:
    """Each source's table as CSV files; returns file, mapping and last reading's time [s]."""
    written = []
    for source, table in tables.items():
        folder = out / "files" / source
        folder.mkdir(parents=True, exist_ok=True)
        for number, first in enumerate(range(0, table.num_rows, _FILE_ROWS), start=1):
            part = table.slice(first, _FILE_ROWS)
            path = folder / f"{number:03d}.csv"
            pyarrow.csv.write_csv(part, path)
            last = int(np.max(part.column("time").to_numpy()))
            written.append((f"files/{source}/{path.name}", f"mappings/{source}.toml", last))
    return sorted(written, key=lambda file: (file[2], file[0]))


def _manifest(files: list[tuple[str, str, int]]) -> str:
    out = ["# Invented data. Files in their order of arrival.\n"]
    for file, mapping, last in files:
        out.append(
            f'[[package]]\nfile = "{file}"\nmapping = "{mapping}"\narrived = {iso(last + 3600)}\n'
        )
    return "\n".join(out)


def write_scene(scene: Scene, out: Path, lost: float = 0.0, wrong: float = 0.0) -> int:
    """Write a site below `out`, with shares of its readings lost or wrong.

    Returns the number of readings.
    """
    tables, spoilt = spoil(scene, sources(scene), lost, wrong)
    out.mkdir(parents=True, exist_ok=True)
    every = registry.Hours(wireless=scene.size.hours, edge=scene.size.hours)
    registry.write(scene.plant, scene.period, out / "registry", every)
    (out / "mappings").mkdir(exist_ok=True)
    for path in sorted(MAPPINGS.glob("*.toml")):
        shutil.copyfile(path, out / "mappings" / path.name)
    files = _write_files(tables, out)
    (out / "manifest.toml").write_text(_manifest(files), encoding="utf-8")
    truth.write([*truth.rows(scene), *spoilt], out / "truth.csv")
    return sum(values_of(table) for table in tables.values())


def build(seed: int, size: Size, out: Path, lost: float = 0.0, wrong: float = 0.0) -> int:
    """Write the site of a seed below `out`; the same arguments give the same bytes.

    Returns the number of readings.
    """
    return write_scene(make_scene(seed, size), out, lost, wrong)


def values_of(table: pa.Table) -> int:
    """How many readings a source's table holds."""
    numbers = [c for c in table.schema.names if pa.types.is_floating(table.schema.field(c).type)]
    return sum(table.num_rows - table.column(name).null_count for name in numbers)
