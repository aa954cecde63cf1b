"""The one background process: commits what waits, judges, compacts, tells others; idle it is cheap.

Receivers may be other processes. Each step holds its own lock, so `mcw ingest`
and `mcw watch` may work beside it.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field

from warehouse import clock
from warehouse.errors import BusyError, WarehouseError
from warehouse.inbox import Ledger
from warehouse.inbox.hurry import take_awaited
from warehouse.inbox.upkeep import check_ledger
from warehouse.refusals import plain_refusals
from warehouse.services.casework import a_date_has_come
from warehouse.services.committing import Outcome
from warehouse.services.housekeeping import compact, compress_payloads, vacuum
from warehouse.services.ingest import commit_all, judge_now, only_committer
from warehouse.services.judging import is_behind
from warehouse.services.locks import holding
from warehouse.services.pushing import PushThread
from warehouse.services.replacing import needs_replacing, replace_readings
from warehouse.services.silence import Receipts, clock_faults
from warehouse.services.stopping import Stop, StopAskedError
from warehouse.store import Store
from warehouse.store.snapshot import newest
from warehouse.wording import counted, listed

_COMPACT_SECONDS = 300.0
_VACUUM_SECONDS = 86_400.0
_LOOK_SECONDS = 30.0
_LONGEST_PAUSE = 60.0


@contextmanager
def only_runner(store: Store, wait: bool) -> Iterator[None]:
    """Be the one `mcw run` of a store.

    Raises BusyError that names the other one, unless `wait`: then its end is
    waited for, or StopAskedError raised where a signal asks to stop.
    """
    why = "another `mcw run` is at work here"
    remedy = "stop it, or start with --wait to take over when it ends"
    with holding(store, "runner", why, remedy, wait=wait):
        yield


@dataclass(slots=True)
class Runner:
    """The steps of the background process; `say` hears what a person wants to know.

    Raises LedgerError where the ledger does not belong to the dataset.
    """

    store: Store
    ledger: Ledger
    say: Callable[[str], None]
    patient: bool = True
    """Whether to let packages come together before they are committed."""
    _silent: set[str] = field(default_factory=set)
    _compact_at: float = 0.0
    _vacuum_at: float = 0.0
    _look_at: float = 0.0
    _dates_at: float = 0.0
    _trouble: WarehouseError | None = None

    def __post_init__(self) -> None:
        check_ledger(self.store)

    def run(self, stop: Stop) -> None:
        """Work until asked to stop. Trouble is said once and tried again, ever more slowly."""
        push = PushThread(self.store, self.say)
        push.start()
        try:
            self._keep_on(stop)
        finally:
            push.stop()

    def _keep_on(self, stop: Stop) -> None:
        pause = self.store.settings.idle_seconds
        while not stop.asked:
            try:
                with plain_refusals(self.store.home), suppress(StopAskedError):
                    self.step(stop)
                pause, self._trouble = self.store.settings.idle_seconds, None
            except WarehouseError as error:
                pause = min(2 * pause, _LONGEST_PAUSE)
                if not error.tells_the_same(self._trouble):
                    self.say(f"{error.message} (trying again)")
                self._trouble = error
            stop.wait(pause)

    def step(self, stop: Stop) -> bool:
        """Whatever there is to do now; returns whether there was anything."""
        worked = self._replace() | self._commit(stop)
        if not stop.asked and (is_behind(self.store) or self._date_has_come()):
            self._judge()
            worked = True
        if not stop.asked and (worked or time.monotonic() >= self._look_at):
            self._look_at = time.monotonic() + _LOOK_SECONDS
            self._speak()
        if not stop.asked:
            self._compact(worked, stop)
        if not stop.asked and not worked:
            self._vacuum()
        return worked

    def _replace(self) -> bool:
        if not needs_replacing(self.store, self.ledger):
            return False
        with only_committer(self.store):
            done = replace_readings(self.store, self.ledger)
        if done.any:
            self.say(f"registry corrected: {done.words}")
        return done.any

    def _commit(self, stop: Stop) -> bool:
        if not self.ledger.any_pending() or (self.patient and self._come_together()):
            return False
        outcomes: list[Outcome] = []

        def seen(outcome: Outcome) -> None:
            outcomes.append(outcome)
            if outcome.error:
                self.say(f"package {outcome.package.number} failed: {outcome.error}")
            stop.leave_if_asked()

        with suppress(StopAskedError):
            commit_all(self.store, self.ledger, seen)
        committed = [outcome for outcome in outcomes if not outcome.error]
        accepted = sum(outcome.counts.accepted for outcome in committed)
        if committed:
            new = f"{counted(accepted, 'item')} accepted" if accepted else "nothing new"
            self.say(f"{counted(len(committed), 'package')} committed, {new}")
        return bool(outcomes)

    def _come_together(self) -> bool:
        """Whether what waits may wait a little longer, so that more goes into one commit."""
        if take_awaited(self.store.inbox):
            return False
        (waiting,) = self.ledger.asked("waiting")
        oldest = dt.datetime.fromisoformat(waiting["oldest"])
        age = (clock.now() - oldest).total_seconds()
        settings = self.store.settings
        enough = waiting["bytes"] >= settings.commit_mb * 1_000_000
        # an age below nothing is a clock put back: then nobody knows how long it has waited
        return 0 <= age < settings.commit_seconds and not enough

    def _date_has_come(self) -> bool:
        """Whether cases change by a date alone; looked at now and then, by the wall clock."""
        if self.store.settings.clock != "wall" or time.monotonic() < self._dates_at:
            return False
        self._dates_at = time.monotonic() + _LOOK_SECONDS
        published = newest(self.store)
        return published is not None and a_date_has_come(self.store, published.as_of, clock.now())

    def _judge(self) -> None:
        judged = judge_now(self.store)
        self.say(f"judged: {judged.words}")

    def _compact(self, worked: bool, stop: Stop) -> None:
        if not worked or time.monotonic() < self._compact_at:
            return
        self._compact_at = time.monotonic() + _COMPACT_SECONDS
        with suppress(BusyError):  # whoever does housekeeping now: there is a next time
            for done in compact(self.store):
                before = counted(done.files_before, "file")
                self.say(f"compacted {done.table}: {before} into {done.files_after:,}")
        compress_payloads(self.store, self.ledger, stop)

    def _vacuum(self) -> None:
        """Once a day: what is past its retention goes, and the logs stay short."""
        if time.monotonic() < self._vacuum_at:
            return
        self._vacuum_at = time.monotonic() + _VACUUM_SECONDS
        try:
            done = vacuum(self.store, really=True)
        except BusyError:  # whoever does housekeeping now: soon again
            self._vacuum_at = time.monotonic() + _COMPACT_SECONDS
            return
        if done.files or done.payloads:
            gone = listed(
                (len(done.files), counted(len(done.files), "replaced file")),
                (len(done.payloads), counted(len(done.payloads), "payload")),
            )
            self.say(f"removed what is past its retention: {gone}")

    def _speak(self) -> None:
        """Name each source once when it goes silent, and each fault of the clock once."""
        now = clock.now()
        silent = {s.source: s for s in Receipts(self.ledger).sources(now) if s.silent}
        faults = clock_faults(self.ledger, now)
        for name in sorted(set(silent) - self._silent):
            self.say(silent[name].words(now))
        for fault in faults:
            if "clock" not in self._silent:
                self.say(fault)
        self._silent = set(silent) | ({"clock"} if faults else set())
