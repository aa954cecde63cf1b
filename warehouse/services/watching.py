"""Watching a folder: complete files are received, committed and judged, batch by batch."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from warehouse import clock
from warehouse.errors import SourceMissingError, WarehouseError
from warehouse.inbox import Ledger, Package
from warehouse.mapping import load_mapping
from warehouse.refusals import plain_refusals
from warehouse.services.folder import WatchedFolder, move_to
from warehouse.services.ingest import Arrival, commit_all, judge_now, receive
from warehouse.services.judging import is_behind
from warehouse.services.silence import Receipts, clock_faults
from warehouse.services.stopping import Stop, StopAskedError
from warehouse.store import Store

_BATCH = 200
_LOOK_FOR_SILENCE = 30.0


@dataclass(frozen=True, slots=True)
class Watched:
    """Files taken in so far, those that had arrived before, that failed, that cannot be read."""

    taken: int = 0
    repeated: int = 0
    failed: int = 0
    unread: int = 0

    def __add__(self, other: Watched) -> Watched:
        return Watched(
            self.taken + other.taken,
            self.repeated + other.repeated,
            self.failed + other.failed,
            self.unread + other.unread,
        )


@dataclass(slots=True)
class Watch:
    """One folder, read by one mapping; `say` hears what a person at the terminal wants to know."""

    store: Store
    ledger: Ledger
    folder: WatchedFolder
    mapping: Path
    say: Callable[[str], None]
    moved_to: Path | None = None
    _receipts: Receipts = field(init=False)
    _untold: list[tuple[int, Path]] = field(default_factory=list)
    _unjudged: bool = True
    _tally: Watched = field(default_factory=Watched)
    _silent: set[str] = field(default_factory=set)
    _said: set[str] = field(default_factory=set)
    _clock_wrong: bool = False
    _trouble: WarehouseError | None = None
    _next_look: float = 0.0

    def __post_init__(self) -> None:
        self._receipts = Receipts(self.ledger)
        load_mapping(self.mapping)
        self.folder.check()
        if self.moved_to:
            with plain_refusals(self.moved_to):
                self.moved_to.mkdir(parents=True, exist_ok=True)

    def run(self, stop: Stop) -> Watched:
        """Watch until asked to stop."""
        total = Watched()
        said: WarehouseError | None = None
        while not stop.asked:
            total += self._look(stop)
            trouble = self._trouble
            if trouble and not trouble.tells_the_same(said):
                self.say(f"{trouble.message} (trying again)")
            said = trouble
            stop.wait(self.store.settings.idle_seconds)
        return total

    def run_once(self, stop: Stop) -> Watched:
        """Take in what is there; a file still growing is given twice the time of rest.

        Raises what stood in the way of it in the end.
        """
        total = self._look(stop)
        until = time.monotonic() + 2 * self.folder.rest_seconds
        while self.folder.growing and time.monotonic() < until and not stop.asked:
            stop.wait(min(0.1, self.folder.rest_seconds / 4))
            total += self._look(stop)
        for path in self.folder.growing:
            self.say(f"{path.name} is still being written; it was left for the next time")
        if self._trouble:
            raise self._trouble
        return total

    def _look(self, stop: Stop) -> Watched:
        """One look at the folder. What stands in the way of all files may pass by the next one."""
        self._tally = Watched()
        try:
            with plain_refusals(self.store.home), suppress(StopAskedError):
                for files in self._batches():
                    stop.leave_if_asked()
                    self._take(files, stop)
                self._speak_of_silence()
            self._trouble = None
        except WarehouseError as error:
            self._trouble = error
        return self._tally

    def _batches(self) -> Iterator[Sequence[Path]]:
        """Complete files, some at a time; none at a time where only something is left to do."""
        files = self.folder.complete()
        for start in range(0, len(files), _BATCH):
            yield files[start : start + _BATCH]
        if self._untold or self._unjudged:
            yield []

    def _take(self, files: Sequence[Path], stop: Stop) -> None:
        for path in files:
            if stop.asked:
                break
            try:
                (receipt,) = receive(self.store, self.ledger, [Arrival(path, self.mapping)])
            except SourceMissingError as error:
                self._tally += Watched(unread=self._complain(path, error.message))
            else:
                self._untold.append((receipt.package, path))
                again = receipt.repeated
                self._tally += Watched(taken=int(not again), repeated=int(again))
                self.folder.done(path)
        self._commit(stop)

    def _complain(self, path: Path, message: str) -> int:
        """A file that cannot be read now: said once and tried again; 1 the first time."""
        if message in self._said or not path.exists():
            return 0
        self._said.add(message)
        self.say(message)
        return 1

    def _commit(self, stop: Stop) -> None:
        """Commit what was received, judge if anything was committed.

        What trouble came in between of is done by the next call.
        """
        if self.ledger.any_pending():
            self._unjudged = True
            with suppress(StopAskedError):
                commit_all(self.store, self.ledger, lambda _: stop.leave_if_asked())
        while self._untold:
            number, path = self._untold[0]
            self._tally += Watched(failed=self._close(path, self.ledger.package(number)))
            del self._untold[0]
        if self._unjudged and not stop.asked:
            if is_behind(self.store):
                judge_now(self.store)
            self._unjudged = False

    def _close(self, path: Path, package: Package) -> bool:
        """Say what became of a file and move it where it should go; whether it failed."""
        if self.moved_to and package.state.startswith("committed") and path.exists():
            with plain_refusals(self.moved_to):
                move_to(path, self.moved_to)
        self._tell(path, package)
        return package.state == "failed"

    def _tell(self, path: Path, package: Package) -> None:
        counts = package.counts
        if package.state == "received":
            self.say(f"{path.name}: received as package {package.number}; not yet committed")
        elif package.error:
            self.say(f"{path.name}: failed: {package.error}")
        elif package.repeats:
            self.say(f"{path.name}: arrived before as package {package.number}")
        else:
            self.say(
                f"{path.name}: {counts.accepted:,} readings, {counts.duplicate:,} known, "
                f"{counts.revised:,} revised, {counts.rejected:,} refused"
            )

    def _speak_of_silence(self) -> None:
        """Name each source once when it goes silent, and again when it is back."""
        if time.monotonic() < self._next_look:
            return
        self._next_look = time.monotonic() + min(
            _LOOK_FOR_SILENCE, self.store.settings.idle_seconds
        )
        now = clock.now()
        for source in self._receipts.sources(now):
            if source.silent and source.source not in self._silent:
                self._silent.add(source.source)
                self.say(source.words(now))
            elif not source.silent and source.source in self._silent:
                self._silent.discard(source.source)
                self.say(f"source {source.source} is back")
        faults = clock_faults(self.ledger, now)
        for fault in faults if not self._clock_wrong else ():
            self.say(fault)
        self._clock_wrong = bool(faults)
