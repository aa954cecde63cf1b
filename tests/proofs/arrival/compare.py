"""The store at the end of a round against the model: rows, accounts, and its own check."""

from __future__ import annotations

import datetime as dt
import hashlib
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.proofs.arrival.model import Account, Expected, Identity, Row, Said
from tests.proofs.arrival.processes import Tally
from tests.proofs.arrival.world import Sent
from warehouse.inbox import Counts, Package
from warehouse.query import open_session, run
from warehouse.services.checking import check_store
from warehouse.store import Store

_LATE = dt.datetime(2100, 1, 1, tzinfo=dt.UTC)
_FATES = ("accepted", "duplicate", "revised")


@dataclass(slots=True)
class Comparison:
    """What a round left behind, and the tally that hears of every difference."""

    store: Store
    tally: Tally
    packages: Mapping[int, tuple[Package, Sent]]
    expected: Expected

    def run(self, world: Sequence[Sent]) -> None:
        """Compare everything with what was sent and what the model says of it."""
        arrived = {sent.text for _, sent in self.packages.values()}
        self._count(
            "lost", [f"{one.name} did not arrive" for one in world if one.text not in arrived]
        )
        current, stored, refused = (self._ask(name) for name in ("current", "stored", "refused"))
        self._current(current)
        self._stored({self._row(row) for row in stored}, len(stored))
        entries = Counter((row["package"], row["row"]) for row in self._ask("ended"))
        self._count("doubled", [f"{row} is ended {n} times" for row, n in entries.items() if n > 1])
        for number, (package, sent) in self.packages.items():
            account = self.expected.accounts[sent.name]
            listed = [(row["row"], row["reason"]) for row in refused if row["package"] == number]
            for difference in differences(package.counts, listed, account):
                self._unexplained(f"{sent.name}: {difference}")
            if package.state == "received":
                self._unexplained(f"{sent.name} still waits")
        accepted = sum(package.counts.accepted for package, _ in self.packages.values())
        if self.expected.accepted not in (None, accepted):
            self._unexplained(f"{accepted} accepted in all, not {self.expected.accepted}")
        for finding in check_store(self.store).findings:
            self._unexplained(f"check: {finding}")

    def _ask(self, name: str) -> list[dict[str, Any]]:
        statement = (Path(__file__).parent / f"{name}.sql").read_text(encoding="utf-8")
        with open_session(self.store, {}, _LATE) as session:
            rows: list[dict[str, Any]] = run(session, statement).to_pylist()
        return rows

    def _row(self, row: Mapping[str, Any]) -> Row:
        return self.packages[row["package"]][1].name, row["row"]

    def _current(self, rows: Sequence[Mapping[str, Any]]) -> None:
        """Each identity once, as the very row that must count, or one of those that may."""
        names = ("source", "device", "channel", "quantity", "slot", "take")
        found = [(tuple(row[name] for name in names), row) for row in rows]
        times = Counter(identity for identity, _ in found)
        wanted = self.expected.current.keys() | self.expected.unsettled.keys()
        self._count("lost", [f"{identity} is not there" for identity in wanted - times.keys()])
        self._count("doubled", [f"{i} counts {n} times" for i, n in times.items() if n > 1])
        for identity, row in found:
            if not self._may_count(identity, row):
                self._unexplained(f"{identity} is {self._row(row)} with {row['value']}")

    def _may_count(self, identity: Identity, row: Mapping[str, Any]) -> bool:
        said: Said | None = self.expected.current.get(identity)
        if said is None:
            chain = self.expected.unsettled.get(identity, [])
            said = next((one for one in chain if one.row == self._row(row)), None)
            if said is None or not said.agrees(chain[-1]):
                return False
        return said.row == self._row(row) and abs(float(said.value) - row["value"]) < 1e-9

    def _stored(self, rows: set[Row], number: int) -> None:
        self._count("lost", [f"{row} is not stored" for row in self.expected.stored - rows])
        for row in rows - self.expected.stored - self.expected.may_be_stored:
            self._unexplained(f"{row} is stored")
        self.tally.doubled += number - len(rows)

    def _count(self, what: str, told: Sequence[str]) -> None:
        setattr(self.tally, what, getattr(self.tally, what) + len(told))
        for line in told[:5]:
            sys.stderr.write(f"{what}: {line}\n")

    def _unexplained(self, line: str) -> None:
        self.tally.unexplained += 1
        sys.stderr.write(f"unexplained: {line}\n")


def match_packages(packages: Sequence[Package], world: Sequence[Sent]) -> dict[int, Sent]:
    """Which file each package is, by its bytes: of copies, the first of the world."""
    by_bytes = {
        (sent.source, hashlib.sha256(sent.text.encode()).hexdigest()): sent
        for sent in reversed(world)
    }
    return {package.number: by_bytes[package.source, package.sha256] for package in packages}


def differences(counts: Counts, listed: list[tuple[int, str]], account: Account) -> Iterator[str]:
    """Where a package's counts, or the items listed as refused, are not what they must be.

    What was refused once and is a duplicate since stays listed: nothing else tells of it.
    """
    if (counts.items, counts.blank) != (account.items, account.blank):
        yield f"{counts.items} items, {counts.blank} blanks; must be {account}"
    if counts.items != counts.accounted:
        yield f"{counts} do not add up"
    also = account.refused | account.for_a_time
    least, most = Counter(account.refused.values()), Counter(also.values())
    if not least <= Counter(counts.rejected_by_reason) <= (most if account.withdrawn else least):
        yield f"{counts}; must be {account}"
    if not account.refused.items() <= set(listed) <= also.items() or len({*listed}) < len(listed):
        yield f"its refused items are {listed}; must be {account}"
    spare = {fate: getattr(counts, fate) - account.settled[fate] for fate in _FATES}
    if min(spare.values()) < 0 or (account.unsettled == 0 and any(spare.values())):
        yield f"{counts}; must be {account}"
