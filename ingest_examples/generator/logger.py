"""Writes what wired loggers export: wide CSV, local time without offset, decimal comma."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from ingest_examples.generator.clock import DAY, Ints, Period, iso
from ingest_examples.generator.model import Logger
from ingest_examples.generator.package import Output, Package, Truth
from ingest_examples.generator.physics import World

INTERVAL_HOURS = 1.0
OVER_RANGE = ">>>>"
NULL = "--"
_PREAMBLE = "invented example data; export of a wired logger"
_GARBAGE = "*** link lost *** retry 3 ***"


def _cells(world: World, logger: Logger, times: Ints) -> list[list[str]]:
    """Texts of all values, one list a column, in the logger's unit and digits."""
    out = []
    for c in logger.columns:
        values = world.read(c.asset, c.position, c.axis, c.quantity, times) * c.per_canonical
        texts = [f"{v:.{c.digits}f}" for v in values.tolist()]
        out.append([t.replace(".", ",") for t in texts])
    return out


def _column_of(logger: Logger, asset: str, quantity: str) -> int:
    return next(
        i for i, c in enumerate(logger.columns) if c.asset == asset and c.quantity == quantity
    )


def _blanks(period: Period, logger: Logger, cells: list[list[str]]) -> None:
    """About 1 value of 400 is missing, blank or as `--`; and half a day of one column."""
    random = period.random("blanks", logger.device)
    for i, column in enumerate(cells):
        for at in np.flatnonzero(random.random(len(column)) < 0.0025).tolist():
            column[at] = NULL if (at + i) % 3 else ""
    first = int(len(cells[0]) * 0.28)
    half_day = max(1, int(0.5 / period.days * len(cells[0])))
    cells[1][first : first + half_day] = [NULL] * len(cells[1][first : first + half_day])


def _over_range(logger: Logger, cells: list[list[str]], times: Ints, out: Output) -> None:
    """Four values in a row beyond the measuring range of one channel."""
    asset = "P-103" if logger.device == "LOG-RW1" else "G-232"
    at = _column_of(logger, asset, "acceleration")
    first = int(times.size * 0.47)
    cells[at][first : first + 4] = [OVER_RANGE] * 4
    c = logger.columns[at]
    out.truth.append(Truth(
        "over-range", "accepted, quality bad, reason over-range", f"printed as {OVER_RANGE}",
        logger.site, asset, c.position, logger.source, logger.device,
        begin=iso(times[first]), end=iso(times[first + 3]), count=4,
    ))  # fmt: skip


def _bad_number(logger: Logger, cells: list[list[str]], times: Ints, out: Output) -> None:
    """One cell with a word of the logger's own."""
    row = int(times.size * 0.61)
    cells[2][row] = "CAL"
    c = logger.columns[2]
    out.truth.append(Truth(
        "word-for-number", "bad-number", "cell says CAL", logger.site, c.asset, c.position,
        logger.source, logger.device, begin=iso(times[row]), count=1,
    ))  # fmt: skip


def _breaks(period: Period, zone: ZoneInfo, monthly: bool) -> list[int]:
    """Where one file ends and the next begins [s since 1970]."""
    if not monthly:
        return [*range(period.start, period.end, 7 * DAY), period.end]
    hours = range(period.start + 3600, period.end, 3600)
    local = [(t, datetime.fromtimestamp(t, zone)) for t in hours]
    firsts = [t for t, at in local if at.day == 1 and at.hour == 0]
    return [period.start, *firsts, period.end]


def _is_ambiguous(stamp: datetime) -> bool:
    """Does this local time stand for two instants (rule R4)?"""
    return stamp.utcoffset() != stamp.replace(fold=1 - stamp.fold).utcoffset()


def _package(logger: Logger, zone: ZoneInfo, times: Ints, rows: list[list[str]]) -> Package:
    """One file; its counts follow from its cells."""
    stamps = [datetime.fromtimestamp(t, zone) for t in times.tolist()]
    head = ";".join(["Time", *(c.header for c in logger.columns)])
    body = [
        ";".join([s.strftime(logger.time_format), *row])
        for s, row in zip(stamps, rows, strict=True)
    ]
    first = stamps[0].strftime("%Y-%m" if logger.monthly else "%Y-%m-%d")
    text = "\r\n".join([_PREAMBLE, head, *body]) + "\r\n"
    package = Package(
        f"{logger.site}/{logger.source}/{first}.csv", f"{logger.source}.toml",
        int(times[-1]) + 3 * 3600, text.encode(logger.encoding),
    )  # fmt: skip
    for stamp, row in zip(stamps, rows, strict=True):
        filled = sum(1 for text in row if text not in ("", NULL))
        words = row.count("CAL")
        refused = not logger.monthly and _is_ambiguous(stamp)
        package.counts["blank"] += len(row) - filled
        package.counts["ambiguous-hour" if refused else "accepted"] += filled - words
        package.counts["bad-number"] += words
    return package


def _garbage(logger: Logger, package: Package, out: Output) -> None:
    """Two lines that are no record."""
    lines = package.content.split(b"\r\n")
    for at in (len(lines) // 3, len(lines) // 2):
        lines.insert(at, _GARBAGE.encode())
    package.content = b"\r\n".join(lines)
    package.counts["undecodable"] += 2
    out.truth.append(Truth("garbage-lines", "undecodable", "link lost, written into the file",
                           logger.site, source=logger.source, device=logger.device,
                           file=package.file, count=2))  # fmt: skip


def _truncate(logger: Logger, package: Package, rows: list[list[str]], out: Output) -> None:
    """The last line breaks off inside its first values."""
    last = rows[-1]
    cut = len(";".join(last[3:]).encode(logger.encoding)) + 3
    package.content = package.content[:-cut]
    package.counts["accepted"] -= sum(1 for text in last if text not in ("", NULL))
    package.counts["blank"] -= sum(1 for text in last if text in ("", NULL))
    package.counts["undecodable"] += 1
    out.truth.append(Truth("truncated-line", "undecodable", "the last line breaks off",
                           logger.site, source=logger.source, device=logger.device,
                           file=package.file, count=1))  # fmt: skip


def _clock_truth(logger: Logger, times: Ints, zone: ZoneInfo, out: Output) -> None:
    stamps = [(t, datetime.fromtimestamp(t, zone)) for t in times.tolist()]
    twice = [t for t, s in stamps if _is_ambiguous(s)]
    if not twice:
        return
    out.truth.append(Truth(
        "repeated-hour",
        "accepted, resolved by file order" if logger.monthly else "ambiguous-hour",
        "local times of the autumn clock change stand for two instants; count in lines",
        logger.site, source=logger.source, device=logger.device,
        begin=iso(twice[0]), end=iso(twice[-1]), count=len(twice),
    ))  # fmt: skip


def _write(world: World, logger: Logger) -> Output:
    period, out = world.period, Output()
    zone = ZoneInfo(world.plant.site(logger.site).time_zone)
    step = period.interval(INTERVAL_HOURS * 3600)
    times = np.arange(period.start, period.end, step, dtype=np.int64)
    cells = _cells(world, logger, times)
    _blanks(period, logger, cells)
    _over_range(logger, cells, times, out)
    _bad_number(logger, cells, times, out)
    rows = [list(row) for row in zip(*cells, strict=True)]
    breaks = _breaks(period, zone, logger.monthly)
    for begin, end in pairwise(breaks):
        a, b = np.searchsorted(times, [begin, end]).tolist()
        out.packages.append(_package(logger, zone, times[a:b], rows[a:b]))
    _clock_truth(logger, times, zone, out)
    if logger.monthly:
        _garbage(logger, out.packages[0], out)
        _again(out)
    else:
        _garbage(logger, out.packages[2], out)
        _truncate(logger, out.packages[1], rows[: np.searchsorted(times, breaks[2])], out)
    return out


def _again(out: Output) -> None:
    """The very same file sent twice: the same package, nothing new."""
    first = out.packages[1]
    twice = Package(first.file, first.mapping, first.arrival + DAY, first.content, note="again")
    twice.counts["package-duplicate"] = 1
    out.packages.append(twice)
    out.truth.append(Truth("file-sent-twice", "the same receipt, package state duplicate",
                           "the very same bytes arrive again a day later", "raw-water",
                           file=first.file,
                           source="raw-water-logger", count=1))  # fmt: skip


def write(world: World) -> Output:
    """All files of the wired loggers."""
    out = Output()
    for logger in world.plant.loggers:
        out.extend(_write(world, logger))
    return out
