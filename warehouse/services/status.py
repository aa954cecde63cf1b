"""The state of a store at a glance: inbox, dataset, judging, sources, disk."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import statistics
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from schemas.tables.readings import READINGS
from warehouse import clock
from warehouse.errors import LedgerError, LedgerVersionError
from warehouse.inbox import Ledger
from warehouse.inbox.seal import original_of
from warehouse.inbox.upkeep import check_ledger
from warehouse.refusals import plain_refusals
from warehouse.services.judging import commits_behind, is_behind
from warehouse.services.locks import at_work
from warehouse.services.rule_faults import rule_faults
from warehouse.services.silence import Receipts, SourceReceipts, clock_faults
from warehouse.store import Store
from warehouse.store.snapshot import newest


@dataclass(frozen=True, slots=True)
class Status:
    """What `mcw status` shows. Ages in seconds, sizes in bytes; null where there is nothing yet.

    `ledger` says what is wrong with the ledger. One that cannot be read tells
    of no packages, and `backlog` is null. `judge_behind` are commits of readings, registry or work
    that no published state holds; `rule_faults` is what stops judging.
    """

    now: dt.datetime
    ledger: str | None
    packages: dict[str, int]
    backlog: int | None
    oldest_waiting_seconds: float | None
    last_commit: dt.datetime | None
    commit_seconds: float | None
    partitions: int
    files_median: float
    files_most: int
    rejects: dict[str, int]
    judged_at: dt.datetime | None
    judge_behind: int
    judge_lag_seconds: float | None
    rule_faults: list[str]
    sources: list[SourceReceipts]
    clock: list[str]
    at_work: list[str]
    copy_of: str | None
    disk_free: int
    store_bytes: int


@dataclass(slots=True)
class _Inbox:
    """What the ledger tells; as it stands here where it tells nothing."""

    packages: dict[str, int] = field(default_factory=dict)
    backlog: int | None = None
    oldest: str | None = None
    rejects: Counter[str] = field(default_factory=Counter)
    sources: list[SourceReceipts] = field(default_factory=list)
    clock: list[str] = field(default_factory=list)
    commits: list[dict[str, Any]] = field(default_factory=list)

    def ask(self, ledger: Ledger, now: dt.datetime) -> None:
        """Hear what it tells."""
        for row in ledger.asked("packages_by_state"):
            self.packages[row["state"]] = row["packages"]
        for row in ledger.reject_counts():
            self.rejects[row["reason"]] += row["items"]
        self.sources = Receipts(ledger).sources(now)
        self.clock = clock_faults(ledger, now)
        self.commits = ledger.asked("newest_commits")
        (waiting,) = ledger.asked("waiting")
        self.oldest, self.backlog = waiting["oldest"], waiting["packages"]


def _ask_inbox(store: Store, now: dt.datetime) -> tuple[_Inbox, str | None]:
    """What the ledger tells, and what is wrong with it: that is no reason to tell nothing.

    Raises LedgerVersionError for one of another format version.
    """
    inbox = _Inbox()
    try:
        with plain_refusals(store.inbox), Ledger.open(store.inbox) as ledger:
            inbox.ask(ledger, now)
            check_ledger(store)
    except LedgerVersionError:
        raise
    except LedgerError as fault:
        return inbox, f"{fault.why}; {fault.remedy}"
    return inbox, None


def store_status(store: Store) -> Status:
    """The state of a store now."""
    now = clock.now()
    inbox, fault = _ask_inbox(store, now)
    last_commit = _moment(inbox.commits[0]["committed_at"]) if inbox.commits else None
    files = _files_by_partition(store)
    judged_at, behind = _judged(store)
    lag = _lag(last_commit, judged_at, behind, now)
    return Status(
        now=now,
        ledger=fault,
        packages=inbox.packages,
        backlog=inbox.backlog,
        oldest_waiting_seconds=_age(now, inbox.oldest) if inbox.oldest else None,
        last_commit=last_commit,
        commit_seconds=_commit_seconds(inbox.commits),
        partitions=len(files),
        files_median=statistics.median(files.values()) if files else 0,
        files_most=max(files.values(), default=0),
        rejects=dict(inbox.rejects.most_common()),
        judged_at=judged_at,
        judge_behind=commits_behind(store),
        judge_lag_seconds=lag,
        rule_faults=rule_faults(store),
        sources=inbox.sources,
        clock=inbox.clock,
        at_work=at_work(store),
        copy_of=original_of(store.inbox),
        disk_free=shutil.disk_usage(store.home).free,
        store_bytes=_size(store.home),
    )


def _age(now: dt.datetime, text: str) -> float:
    return max(0.0, (now - _moment(text)).total_seconds())  # the clock may have been ahead then


def _moment(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text)


def _commit_seconds(commits: list[dict[str, Any]]) -> float | None:
    """Median time of the newest commits, from being recorded to being made."""
    seconds = [
        (_moment(one["committed_at"]) - _moment(one["planned_at"])).total_seconds()
        for one in commits
        if one["planned_at"]
    ]
    return statistics.median(seconds) if seconds else None


def _files_by_partition(store: Store) -> Counter[str]:
    log = store.table(READINGS)
    return Counter(str(file.path.parent.relative_to(log.root)) for file in log.files())


def _judged(store: Store) -> tuple[dt.datetime | None, bool]:
    """When the newest published state was made, and whether it lacks readings."""
    published = newest(store)
    return (published.published_at if published else None), is_behind(store, (READINGS,))


def _lag(
    last_commit: dt.datetime | None, judged_at: dt.datetime | None, behind: bool, now: dt.datetime
) -> float | None:
    """How long the newest commit has waited for its judging, or had to wait."""
    if last_commit is None:
        return None
    if behind or judged_at is None:
        return (now - last_commit).total_seconds()
    return max(0.0, (judged_at - last_commit).total_seconds())


def _size(folder: Path) -> int:
    return sum(_sizes(folder))


def _sizes(folder: Path) -> Iterator[int]:
    """Sizes of all files below a folder; one that goes meanwhile counts nothing."""
    with os.scandir(folder) as entries:
        for entry in entries:
            try:
                if entry.is_dir(follow_symlinks=False):
                    yield from _sizes(Path(entry.path))
                else:
                    yield entry.stat(follow_symlinks=False).st_size
            except OSError:
                continue
