"""Every error this project raises on purpose.

    WarehouseError
    ├── SettingsError            a setting is unknown or has a value that is not allowed
    ├── FaultListError           a file of ours has faults; all are listed at once
    │   ├── MappingError         a mapping file
    │   ├── RegistryError        a registry import
    │   ├── LimitSetError        a limit set or the judging defaults
    │   └── WorkRulesError       the activity table or the matrix of priorities
    ├── SourceError              an input file cannot be used at all
    │   ├── SourceMissingError       it is not there, or may not be read
    │   └── UnreadableSourceError    it is empty, binary, or not of the declared form
    ├── AdapterError             an adapter is not installed, or failed to load
    ├── StoreError
    │   ├── StoreMissingError    no store at that place
    │   ├── StoreVersionError    the store has another format version
    │   ├── StoreConflictError   someone else committed first
    │   ├── LedgerError          ledger and tables do not belong together
    │   │   ├── MissingLedgerError   there is none where there was one
    │   │   ├── OldLedgerError       it is older than the tables, or than its inbox
    │   │   ├── ForeignLedgerError   it is that of another store
    │   │   └── LedgerVersionError   it has another format version
    │   ├── DiskFullError        there is no room to write
    │   ├── NoRightError         this user may not read or write there
    │   ├── BusyError            another program holds it
    │   └── ClockError           this machine's clock cannot be right
    ├── QueryError               a query is not valid, or was stopped
    ├── CaseError                a case cannot be dealt with like that
    │   └── CaseFieldError       what a person said of it lacks something, or has it wrong
    ├── RouteError               a route does not say enough for a sheet of it
    ├── CommissioningError       a step of commissioning does not fit
    ├── PushError                a subscription cannot be like that
    ├── AheadError               a reader has seen more of a log than there is
    └── NotFoundError            the asset (or package, ...) is not known

Facts stand in attributes; the message says what was wrong, where, and what is
allowed. `exit_code` is what the command line ends with. No HTTP here: `api`
has one table from these classes to status codes.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import ClassVar

from warehouse.wording import counted


class WarehouseError(Exception):
    """Base of all deliberate errors."""

    exit_code: ClassVar[int] = 70

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message

    def tells_the_same(self, other: WarehouseError | None) -> bool:
        """Whether another error says the same but for its figures: said once, that is enough."""
        return other is not None and _without_figures(self) == _without_figures(other)


def _without_figures(error: WarehouseError) -> str:
    return re.sub(r"\d+", "", error.message)


class SettingsError(WarehouseError):
    """A setting is unknown or has a value that is not allowed."""

    exit_code = 3

    def __init__(self, faults: list[str], origin: str) -> None:
        super().__init__(f"{origin}: " + "; ".join(faults))
        self.faults = faults
        self.origin = origin


class FaultListError(WarehouseError):
    """A file of ours has faults; `faults` lists all of them."""

    exit_code = 3
    subject: ClassVar[str] = "file"

    def __init__(self, faults: list[str]) -> None:
        count = counted(len(faults), "fault")
        super().__init__(f"{self.subject}: {count}\n" + "\n".join(f"  - {f}" for f in faults))
        self.faults = faults


class MappingError(FaultListError):
    """A mapping file cannot be used."""

    subject = "mapping"


class RegistryError(FaultListError):
    """A registry import has faults; nothing of it was recorded."""

    subject = "registry"


class LimitSetError(FaultListError):
    """A limit set or the judging defaults have faults."""

    subject = "limit sets"


class WorkRulesError(FaultListError):
    """The activity table or the matrix of priorities have faults."""

    subject = "work rules"


class SourceError(WarehouseError):
    """An input file cannot be used at all."""

    exit_code = 4

    def __init__(self, file: str, why: str, allowed: str) -> None:
        super().__init__(f"{file}: {why}; {allowed}")
        self.file = file
        self.why = why
        self.allowed = allowed


class SourceMissingError(SourceError):
    """The input file is not there, or may not be read."""

    exit_code = 5


class UnreadableSourceError(SourceError):
    """The input file is empty, binary, or not of the declared form."""


class AdapterError(WarehouseError):
    """An adapter is not installed, or failed to load."""

    exit_code = 3

    def __init__(self, adapter: str, why: str, known: list[str]) -> None:
        super().__init__(f"adapter {adapter}: {why}; installed: {', '.join(known)}")
        self.adapter = adapter
        self.why = why
        self.known = known


class StoreError(WarehouseError):
    """The store cannot be used as asked."""

    exit_code = 6

    def __init__(self, place: Path, why: str, remedy: str) -> None:
        super().__init__(f"{place}: {why}; {remedy}")
        self.place = place
        self.why = why
        self.remedy = remedy


class StoreMissingError(StoreError):
    """There is no store at that place."""


class StoreVersionError(StoreError):
    """The store was written in another format version."""


class StoreConflictError(StoreError):
    """Someone else committed to the table first."""


class LedgerError(StoreError):
    """Ledger and tables do not belong together."""


class MissingLedgerError(LedgerError):
    """There is no ledger where there was one."""


class OldLedgerError(LedgerError):
    """The ledger is older than the tables, or than its inbox."""


class ForeignLedgerError(LedgerError):
    """The ledger is that of another store."""


class LedgerVersionError(LedgerError):
    """The ledger was written in another format version."""


class DiskFullError(StoreError):
    """There is no room to write; what was received before is kept."""

    exit_code = 7


class NoRightError(StoreError):
    """This user may not read or write there."""

    exit_code = 8


class BusyError(StoreError):
    """Another program holds it, and only one may."""

    exit_code = 9


class ClockError(StoreError):
    """This machine's clock cannot be right, and what was asked for depends on it."""

    exit_code = 10


class QueryError(WarehouseError):
    """A query is not valid, or was stopped."""

    exit_code = 2

    def __init__(self, why: str) -> None:
        super().__init__(f"query: {why}")
        self.why = why


_NUMBERED = frozenset({"case", "delivery"})
"""What nobody registers: it gets a number here."""


class NotFoundError(WarehouseError):
    """The thing asked for is not known."""

    exit_code = 2

    def __init__(self, kind: str, name: str) -> None:
        numbered = f"there is no {kind} of number {name}"
        told = numbered if kind in _NUMBERED else f"no {kind} {name!r} is registered here"
        super().__init__(told)
        self.kind = kind
        self.name = name


class CaseError(WarehouseError):
    """A person's action does not fit the case; nothing of it was recorded."""

    exit_code = 2

    def __init__(self, faults: list[str]) -> None:
        super().__init__("case: " + "; ".join(faults))
        self.faults = faults


class CaseFieldError(CaseError):
    """What a person said of a case lacks something, or has a value that is not allowed.

    `fields` are pairs of the field's name and what is wrong with it.
    """

    def __init__(self, fields: list[tuple[str, str]]) -> None:
        super().__init__([f"{name}: {fault}" for name, fault in fields])
        self.fields = fields


class AheadError(WarehouseError):
    """A reader asks behind a number that its log has not come to: `newest` is the last there is."""

    exit_code = 2

    def __init__(self, after: int, newest: int) -> None:
        super().__init__(
            f"there is no number {after} yet, the newest is {newest}: this is an older copy of "
            f"the store than the one read before; go on after {newest}, or from the start"
        )
        self.newest = newest


class RouteError(WarehouseError):
    """A route does not say enough for a sheet of it."""

    exit_code = 3

    def __init__(self, faults: list[str]) -> None:
        super().__init__("route: " + "; ".join(faults))
        self.faults = faults


class CommissioningError(WarehouseError):
    """A step of commissioning does not fit; nothing of it was recorded."""

    exit_code = 2

    def __init__(self, faults: list[str]) -> None:
        super().__init__("commissioning: " + "; ".join(faults))
        self.faults = faults


class PushError(WarehouseError):
    """A subscription cannot be like that; nothing of it was recorded."""

    exit_code = 2

    def __init__(self, faults: list[str]) -> None:
        super().__init__("push: " + "; ".join(faults))
        self.faults = faults
