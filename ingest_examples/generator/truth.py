"""Writes what was planted where and when, and what a right reading of each file gives."""

from __future__ import annotations

import csv
from pathlib import Path

from ingest_examples.generator.clock import Period, iso
from ingest_examples.generator.model import Fault, Plant
from ingest_examples.generator.package import Package, Truth
from ingest_examples.generator.site_raw_water import UNKNOWN_DEVICE

COLUMNS = (
    "kind", "site", "asset", "position", "source", "device", "file", "from", "to", "detail",
    "expect", "count",
)  # fmt: skip


def _fault(plant: Plant, period: Period, fault: Fault) -> Truth:
    asset = plant.asset(fault.asset)
    begin, end = period.at(fault.begin), min(period.at(fault.end), period.end)
    return Truth(
        fault.kind, fault.expect, fault.detail, asset.site, asset.asset,
        " ".join(fault.positions), begin=iso(begin), end=iso(end),
    )  # fmt: skip


def _totals(packages: list[Package], expect: str, kind: str, detail: str) -> list[Truth]:
    sources = sorted({p.file.split("/")[1] for p in packages})
    totals = [
        (s, sum(p.counts[expect] for p in packages if p.file.split("/")[1] == s)) for s in sources
    ]
    return [
        Truth(kind, expect, detail, source=source, count=total) for source, total in totals if total
    ]


def collect(
    plant: Plant, period: Period, planted: list[Truth], packages: list[Package]
) -> list[Truth]:
    """Faults of machines, dirt of files, totals a source, outcomes a package."""
    rows = [_fault(plant, period, f) for f in plant.faults]
    rows += planted
    rows.append(Truth("unknown-device", "unknown-device", "was never registered", "raw-water",
                      source="raw-water-gateway", device=UNKNOWN_DEVICE))  # fmt: skip
    reasons = sorted({reason for p in packages for reason in p.counts})
    for reason in reasons:
        rows += _totals(packages, reason, "source-total", "items of this source with this outcome")
    for p in packages:
        for reason in sorted(p.counts):
            if p.counts[reason]:
                rows.append(Truth(
                    "package", reason, f"mapping {p.mapping} {p.note}".strip(),
                    p.file.split("/")[0], source=p.file.split("/")[1], file=p.file,
                    begin=iso(p.arrival), count=p.counts[reason],
                ))  # fmt: skip
    return rows


def write(rows: list[Truth], path: Path) -> None:
    """Write the truth table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for r in rows:
            writer.writerow([
                r.kind, r.site, r.asset, r.position, r.source, r.device, r.file, r.begin, r.end,
                r.detail, r.expect, "" if r.count is None else r.count,
            ])  # fmt: skip
