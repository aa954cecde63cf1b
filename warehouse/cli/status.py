"""The state of a store at a glance."""

from __future__ import annotations

from dataclasses import asdict

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.services.status import Status, store_status
from warehouse.store import open_store

_NOT_KNOWN = "not known: the ledger cannot be read"


def status(home: Home = DEFAULT_HOME, json: Json = False) -> None:
    """Show inbox, dataset, judging, sources and disk: what waits, what is late, what is silent."""
    found = store_status(open_store(home))
    if json:
        show.as_json(asdict(found))
        return
    show.table("Store", ["what", "now"], _rows(found))
    if found.ledger:
        show.out.print(
            f"Ledger: {found.ledger}. Until then nothing is received, and what stands here of "
            "packages need not be so.",
            markup=False, highlight=False, soft_wrap=True, style="red",
        )  # fmt: skip
    if found.rule_faults:
        said = "Judging is stopped until this is mended; what was judged before is still shown:"
        for line in (said, *(f"  - {fault}" for fault in found.rule_faults)):
            show.out.print(line, markup=False, highlight=False, soft_wrap=True, style="red")
    if found.sources:
        rows = [
            [
                source.source,
                source.last_receipt,
                f"{source.interval_minutes:g} min" if source.interval_minutes else "",
                "silent" if source.silent else "",
            ]
            for source in found.sources
        ]
        show.table("Sources", ["source", "last new file (UTC)", "interval", "state"], rows)
    for source in found.sources:
        if source.silent:
            show.out.print(source.words(found.now), markup=False, highlight=False, soft_wrap=True)
    if found.copy_of:
        show.out.print(
            f"Copy: this store was copied from {found.copy_of}, and both give out the same package "
            "numbers: do not put what both took in into one dataset. `mcw backup` and "
            "`mcw restore` make a second store with an identity of its own.",
            markup=False, highlight=False, soft_wrap=True,
        )  # fmt: skip
    for fault in found.clock:
        show.out.print(f"Clock: {fault}", markup=False, highlight=False, soft_wrap=True)


def _rows(found: Status) -> list[tuple[str, str]]:
    packages = ", ".join(f"{number:,} {state}" for state, number in found.packages.items())
    unknown = _NOT_KNOWN if found.backlog is None else ""
    waiting = unknown or (show.counted(found.backlog, "package") if found.backlog else "nothing")
    if found.oldest_waiting_seconds is not None:
        waiting += f", the oldest for {_duration(found.oldest_waiting_seconds)}"
    rejects = ", ".join(f"{number:,} {reason}" for reason, number in found.rejects.items())
    judged = f"{found.judged_at:%Y-%m-%d %H:%M:%S} UTC" if found.judged_at else "never"
    if found.judge_behind:
        judged += f", {show.counted(found.judge_behind, 'commit')} behind"
    if found.judge_lag_seconds is not None:
        judged += f", {_duration(found.judge_lag_seconds)} after the newest commit"
    files = f"median {found.files_median:g}, most {found.files_most}" if found.partitions else ""
    partitions = show.counted(found.partitions, "partition")
    return [
        ("packages", packages or unknown or "none"),
        ("waiting", waiting),
        ("last commit", f"{found.last_commit:%Y-%m-%d %H:%M:%S} UTC" if found.last_commit else ""),
        ("time of a commit", _commit_time(found)),
        ("files a partition", f"{files}; {partitions}" if files else "none"),
        ("refused", rejects or unknown or "nothing"),
        ("judged", judged),
        ("at work", "; ".join(found.at_work) or "nobody"),
        ("size of the store", _size(found.store_bytes)),
        ("disk free", _size(found.disk_free)),
    ]


def _commit_time(found: Status) -> str:
    if found.commit_seconds is None:
        return ""
    return f"{found.commit_seconds:.2f} s, median of the newest"


def _duration(seconds: float) -> str:
    for unit, length in (("d", 86_400), ("h", 3_600), ("min", 60)):
        if seconds >= length:
            return f"{seconds / length:,.1f} {unit}"
    return f"{seconds:.1f} s"


def _size(number: float) -> str:
    for unit in ("B", "kB", "MB", "GB"):
        if number < 1_000:
            return f"{number:,.0f} {unit}" if unit == "B" else f"{number:,.1f} {unit}"
        number /= 1_000
    return f"{number:,.1f} TB"
