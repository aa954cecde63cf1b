"""The check of a whole store: its tables, its ledger, its published state, and that they agree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from schemas.tables import PUBLISHED_WITH_SNAPSHOT
from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from schemas.tables.snapshots import SNAPSHOTS
from warehouse.errors import LedgerError
from warehouse.inbox.database import NUMBERS_AN_INBOX
from warehouse.inbox.upkeep import Upkeep, ledger_fault, lost_members
from warehouse.refusals import GO_ON_WITHOUT, plain_refusals
from warehouse.store import Store
from warehouse.store.checking import CheckedTables, Finding, check_tables, rows_of_packages
from warehouse.store.snapshot import newest

_RESTORE = "restore the newest backup"
_Counts = Mapping[int, tuple[str, int, int]]


@dataclass(frozen=True, slots=True)
class Report:
    """What a check looked at and found."""

    findings: list[Finding]
    versions: Mapping[str, int]
    files: Mapping[str, int]
    rows: Mapping[str, int]

    @property
    def faults(self) -> list[Finding]:
        """Findings that make the store unsound; the others are notes."""
        return [finding for finding in self.findings if finding.severity == "fault"]


def check_store(store: Store) -> Report:
    """Look at everything; change nothing. Appends may go on beside it."""
    with plain_refusals(store.home):
        before = _counts(store)
        checked = check_tables(store)
        findings = list(checked.findings)
        findings += _published(store, checked)
        findings += _ledger(store, checked, before)
    return Report(
        findings,
        checked.versions,
        {name: len(entries) for name, entries in checked.sound.items()},
        checked.rows,
    )


def _counts(store: Store) -> _Counts:
    try:
        with Upkeep.open(store.inbox) as upkeep:
            return upkeep.counts()
    except LedgerError:
        return {}


def _published(store: Store, checked: CheckedTables) -> Iterator[Finding]:
    """The newest published state must name versions that exist."""
    if SNAPSHOTS.name not in checked.versions:
        return
    snapshot = newest(store)
    ahead = {
        table.name: version
        for table in PUBLISHED_WITH_SNAPSHOT
        if snapshot
        and table.name in checked.versions
        and (version := snapshot.versions.get(table.name, 0)) > store.table(table).version()
    }
    if ahead:
        yield Finding(
            "fault",
            SNAPSHOTS.name,
            "published state",
            len(ahead),
            "the newest published state names versions that the tables do not have",
            "`mcw judge` publishes a state that holds",
            [f"{name}: version {version}" for name, version in ahead.items()],
        )


def _ledger(store: Store, checked: CheckedTables, before: _Counts) -> Iterator[Finding]:
    try:
        with Upkeep.open(store.inbox) as upkeep:
            yield from _ledger_itself(upkeep)
            if {t.name for t in (READINGS, SUPERSEDED, REJECTS)} <= checked.versions.keys():
                if fault := ledger_fault(store, upkeep):
                    raise fault
                yield from _lost_commits(store, upkeep)
                yield from _package_counts(store, checked, upkeep, before)
    except LedgerError as error:
        yield Finding("fault", "ledger", "ledger", 1, error.why, error.remedy)


def _ledger_itself(upkeep: Upkeep) -> Iterator[Finding]:
    if damage := upkeep.damage():
        yield Finding("fault", "ledger", "ledger", 1, f"it is damaged: {damage}", GO_ON_WITHOUT)
    if doubtful := upkeep.in_doubt():
        yield Finding(
            "fault",
            "ledger",
            "packages",
            len(doubtful),
            "packages failed though some of their readings are stored; `mcw inbox` says why",
            "`mcw replay` with their numbers tries again and stores nothing twice",
            doubtful[:5],
        )
    if missing := upkeep.missing_payloads():
        yield Finding(
            "fault",
            "ledger",
            "payloads",
            len(missing),
            "files were received, wait to be taken in, and their bytes are not there",
            "send them again under another mapping version, or restore the newest backup",
            missing[:5],
        )


def _lost_commits(store: Store, upkeep: Upkeep) -> Iterator[Finding]:
    """Commits with readings that the ledger holds for made and the table never saw."""
    if lost := lost_members(store, upkeep):
        yield Finding(
            "fault",
            "ledger",
            "commits",
            len({one.number for one in lost}),
            "commits the ledger holds for made are not in the dataset",
            "`mcw check --mend` offers their packages again",
            sorted({upkeep.number_of(one.seq) for one in lost})[:5],
        )


def _package_counts(
    store: Store, checked: CheckedTables, upkeep: Upkeep, before: _Counts
) -> Iterator[Finding]:
    """Readings of each package against the ledger's accepted and revised.

    Packages that are under way, or changed while the check ran, are passed over;
    so are re-placed readings, which later corrections may add to.
    """
    after = upkeep.counts()
    rows = rows_of_packages(store, checked)
    wrong: list[dict[str, Any]] = []
    for seq, counted in after.items():
        state, _, stored = counted
        settled = before.get(seq) == counted and state not in ("received", "re-placing")
        number = upkeep.number_of(seq)
        found = rows.get(number, 0)
        if settled and found != stored:
            wrong.append({"package": number, "ledger": stored, "readings": found})
    known = {upkeep.number_of(seq) for seq in upkeep.file_names()}
    own = upkeep.inbox_numbers()
    unknown = [n for n in rows if n // NUMBERS_AN_INBOX in own and n not in known]
    wrong += [{"package": n, "ledger": None, "readings": rows[n]} for n in sorted(unknown)]
    if wrong:
        yield Finding(
            "fault",
            "ledger",
            "counts",
            len(wrong),
            "packages have other numbers of readings than the ledger counted",
            _RESTORE,
            wrong[:5],
        )
