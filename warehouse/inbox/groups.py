"""Numbered commits: recorded before they are made, and offered again exactly as recorded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from warehouse import clock
from warehouse.inbox.database import SQL, Database
from warehouse.inbox.package import Group, Held, Job, Package
from warehouse.inbox.sites import Sites, keep_sites, limits_of_pending

Span = tuple[dt.date | None, dt.date | None]
"""First and last day of a part of a package; all of it where None."""


class Groups:
    """The recorded commits of one inbox."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def jobs(self, pending: Sequence[Package], most_packages: int, most_bytes: int) -> list[Job]:
        """Everything that waits: commits once recorded first, exactly as they were recorded.

        The others go together by mapping and by the sites they may touch, in order
        of receipt, up to a number of packages and bytes.
        """
        limits = limits_of_pending(self._database)
        planned = {self._database.number_of(r["seq"]) for r in self._database.all("planned")}
        recorded: list[Job] = []
        placed: set[int] = set()
        for package in pending:
            if package.number in planned and package.number not in placed:
                groups = self.of(package)
                together = {number for group in groups for number in group.held}
                placed |= together
                packages = [p for p in pending if p.number in together]
                recorded.append(Job(packages, groups, limits.get(package.number)))
        waiting = [package for package in pending if package.number not in planned]
        return [*recorded, *_batches(waiting, limits, most_packages, most_bytes)]

    def plan(self, packages: Sequence[Package], spans: Sequence[Span], sites: Sites) -> list[Group]:
        """Record the commits of some packages, durably, before the first is made.

        `sites` are those they may touch in them.
        """
        now = clock.now().isoformat()
        with self._database.transaction() as ledger:
            for span in spans:
                first, last = (day.isoformat() if day else None for day in span)
                number = ledger.execute(SQL["plan_group"], (first, last, now)).lastrowid
                ledger.executemany(SQL["plan_member"], [(number, p.seq) for p in packages])
            for package in packages:
                keep_sites(ledger, package.seq, sites)
        return self.of(packages[0])

    def of(self, package: Package) -> list[Group]:
        """The package's recorded commits, in order."""
        return [
            Group(
                number=row["number"],
                first_day=_day(row["first_day"]),
                last_day=_day(row["last_day"]),
                committed=bool(row["committed"]),
                held=self._held(row["number"]),
            )
            for row in self._database.all("groups_of", (package.seq,))
        ]

    def _held(self, number: int) -> dict[int, Held]:
        return {
            self._database.number_of(row["seq"]): Held(
                row["accepted"], row["duplicate"], row["revised"]
            )
            for row in self._database.all("members_of", (number,))
        }

    def record(self, group: Group, held: dict[int, Held]) -> None:
        """Record what a commit will hold, before it is made: recovery never counts again."""
        rows = [
            (h.accepted, h.duplicate, h.revised, group.number, self._database.seq_of(package))
            for package, h in held.items()
        ]
        with self._database.transaction() as ledger:
            ledger.executemany(SQL["record_member"], rows)

    def committed(self, group: Group) -> None:
        """Record that the commit was made."""
        now = clock.now().isoformat()
        with self._database.transaction() as ledger:
            ledger.execute(SQL["group_committed"], (now, group.number))


def _batches(
    waiting: Sequence[Package],
    limits: Mapping[int, frozenset[str]],
    most_packages: int,
    most_bytes: int,
) -> list[Job]:
    """Waiting packages in jobs: one mapping and limit a job, small ones together, a large alone."""
    jobs: list[Job] = []
    open_jobs: dict[tuple[str, Sites], tuple[Job, int]] = {}
    for package in waiting:
        alike = package.mapping, limits.get(package.number)
        job, size = open_jobs.get(alike, (None, 0))
        if job is None or len(job.packages) >= most_packages or size + package.bytes > most_bytes:
            job, size = Job([], [], alike[1]), 0
            jobs.append(job)
        job.packages.append(package)
        open_jobs[alike] = (job, size + package.bytes)
    return jobs


def _day(text: str | None) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None
