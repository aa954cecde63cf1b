"""Makes a whole folder: registry, mappings, files, manifest, truth."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from ingest_examples import MAPPINGS
from ingest_examples.generator import gateway, logger, registry, route, senml, truth
from ingest_examples.generator.clock import Period, iso
from ingest_examples.generator.package import Output, Package
from ingest_examples.generator.physics import World
from ingest_examples.generator.plant import PLANT

WRITERS: dict[str, Callable[[World], Output]] = {
    "wireless gateways": gateway.write,
    "wired loggers": logger.write,
    "route sheets": route.write,
    "edge boxes": senml.write,
}
"""One writer a kind of source."""
STEPS = len(WRITERS) + 1


def _manifest(packages: list[Package]) -> str:
    """The files in their order of arrival, late ones where they arrive."""
    out = ["# Invented example data. Files in their order of arrival.\n"]
    for p in packages:
        note = f'note = "{p.note}"\n' if p.note else ""
        out.append(
            f'[[package]]\nfile = "files/{p.file}"\nmapping = "mappings/{p.mapping}"\n'
            f"arrived = {iso(p.arrival)}\n{note}"
        )
    return "\n".join(out)


def _copy_mappings(out: Path) -> None:
    if (out / "mappings").resolve() != MAPPINGS.resolve():
        (out / "mappings").mkdir(parents=True, exist_ok=True)
        for path in sorted(MAPPINGS.glob("*.toml")):
            shutil.copyfile(path, out / "mappings" / path.name)


def build(
    period: Period, out: Path, step_done: Callable[[str], None] = lambda _: None
) -> Counter[str]:
    """Write everything below `out`; the same period gives the same bytes. Returns totals."""
    world, made = World(PLANT, period), Output()
    for kind, writer in WRITERS.items():
        made.extend(writer(world))
        step_done(kind)
    packages = sorted(made.packages, key=lambda p: (p.arrival, p.file, p.mapping))
    for p in packages:
        path = out / "files" / p.file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(p.content)
    registry.write(PLANT, period, out / "registry")
    _copy_mappings(out)
    (out / "manifest.toml").write_text(_manifest(packages), encoding="utf-8")
    truth.write(truth.collect(PLANT, period, made.truth, packages), out / "truth.csv")
    step_done("registry, mappings, manifest, truth")
    totals: Counter[str] = Counter({"packages": len(packages)})
    for p in packages:
        totals.update(p.counts)
    return totals
