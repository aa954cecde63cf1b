"""Watching a folder: complete files are received, committed and judged, batch by batch."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from warehouse import clock
from warehouse.errors import SourceMissingError, WarehouseError
from warehouse.event_mapping import load_any_mapping
from warehouse.inbox import Ledger, Package, Receipt
from warehouse.refusals import plain_refusals
from warehouse.services.folder import PATIENCE, Mark, RestingFiles, WatchedFolder, mark_of
from warehouse.services.ingest import Arrival, commit_all, judge_now, receive
from warehouse.services.judging import is_behind
from warehouse.services.line_ends import line_end_check
from warehouse.services.moving import MovedFiles
from warehouse.services.repeats import told_of_repeat
from warehouse.services.silence import Receipts, clock_faults
from warehouse.services.stopping import Stop, StopAskedError
from warehouse.store import Store
from warehouse.wording import counted, listed

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


@dataclass(frozen=True, slots=True)
class _Taken:
    """A file that was received, as it was before anyone read it."""

    path: Path
    mark: Mark
    found_in: RestingFiles
    ended: bool
    receipt: Receipt


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
    _moved: MovedFiles | None = field(init=False, default=None)
    _leaving: dict[Path, Mark] = field(default_factory=dict)
    _untold: list[_Taken] = field(default_factory=list)
    _unjudged: bool = True
    _tally: Watched = field(default_factory=Watched)
    _silent: set[str] = field(default_factory=set)
    _said: set[str] = field(default_factory=set)
    _clock_wrong: bool = False
    _trouble: WarehouseError | None = None
    _next_look: float = 0.0

    def __post_init__(self) -> None:
        self._receipts = Receipts(self.ledger)
        mapping = load_any_mapping(self.mapping)
        self.folder.ended = line_end_check(mapping)
        self.folder.check()
        if self.moved_to:
            self._moved = MovedFiles(self.moved_to, self.folder.rest_seconds)
            self._moved.ended = self.folder.ended
            self._moved.find_grown(self.ledger, mapping.source.id)

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

        One that breaks off within a line, or waits to be moved, is given all its
        time. Raises what stood in the way of it in the end.
        """
        total = self._look(stop)
        began = time.monotonic()
        while not stop.asked and self._is_worth_waiting(time.monotonic() - began):
            stop.wait(min(0.1, self.folder.rest_seconds / 4))
            total += self._look(stop)
        for path in self._unfinished():
            self.say(f"{path.name} is still being written; it was left for the next time")
        if self._trouble:
            raise self._trouble
        return total

    def _unfinished(self) -> list[Path]:
        places = [self.folder, *([self._moved] if self._moved else [])]
        return [path for place in places for path in (*place.growing, *place.unended)]

    def _is_worth_waiting(self, seconds: float) -> bool:
        """Whether a look that many seconds after the first will find more that can be done."""
        rest = self.folder.rest_seconds
        if self.folder.growing and seconds < 2 * rest:
            return True
        return seconds < (PATIENCE + 1) * rest and bool(
            self.folder.unended
            or (self._leaving and not self._trouble)
            or (self._moved and (self._moved.growing or self._moved.unended))
        )

    def _look(self, stop: Stop) -> Watched:
        """One look at the folder. What stands in the way of all files may pass by the next one."""
        self._tally = Watched()
        try:
            with plain_refusals(self.store.home), suppress(StopAskedError):
                for files in self._batches():
                    stop.leave_if_asked()
                    self._take(files, stop)
                self._move_away()
                self._speak_of_silence()
            self._trouble = None
        except WarehouseError as error:
            self._trouble = error
        return self._tally

    def _batches(self) -> Iterator[Sequence[tuple[RestingFiles, Path]]]:
        """Complete files, some at a time; none at a time where only something is left to do."""
        places = [self.folder, *([self._moved] if self._moved else [])]
        files = [(place, path) for place in places for path in place.complete()]
        for start in range(0, len(files), _BATCH):
            yield files[start : start + _BATCH]
        if self._untold or self._unjudged:
            yield []

    def _take(self, files: Sequence[tuple[RestingFiles, Path]], stop: Stop) -> None:
        for place, path in files:
            if stop.asked:
                break
            ended = place.ended(path)
            try:
                (receipt,) = receive(self.store, self.ledger, [Arrival(path, self.mapping)])
            except SourceMissingError as error:
                self._tally += Watched(unread=self._complain(path, error.message))
            else:
                mark = place.done(path)
                self._untold.append(_Taken(path, mark, place, ended, receipt))
                again = receipt.repeated
                self._tally += Watched(taken=int(not again), repeated=int(again))
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
            taken = self._untold[0]
            self._tally += Watched(
                failed=self._close(taken, self.ledger.package(taken.receipt.package))
            )
            del self._untold[0]
        if self._unjudged and not stop.asked:
            if is_behind(self.store):
                judge_now(self.store)
            self._unjudged = False

    def _close(self, taken: _Taken, package: Package) -> bool:
        """Say what became of a file and have it moved where it should go; whether it failed."""
        if self._moved and taken.found_in is self.folder and package.state.startswith("committed"):
            self._leaving[taken.path] = taken.mark
        self.say(f"{taken.path.name}: {self._words(taken, package)}")
        return package.state == "failed"

    def _move_away(self) -> None:
        """Move files that nobody has written to for long since they were taken in.

        One that has changed stays: it is taken in again, as any other file.
        """
        for path, mark in list(self._leaving.items()):
            if mark_of(path) != mark:
                del self._leaving[path]
            elif self._moved and self.folder.is_patient(path):
                self._moved.move(path, mark)
                del self._leaving[path]

    def _words(self, taken: _Taken, package: Package) -> str:
        counts = package.counts
        if package.state == "received":
            return f"received as package {package.number}; not yet committed"
        if package.error:
            return f"failed: {package.error}{self._after_a_move(taken)}"
        if taken.receipt.repeated:
            return told_of_repeat(package)
        words = listed(
            (counts.accepted, counted(counts.accepted, "reading")),
            (counts.duplicate, f"{counts.duplicate:,} known"),
            (counts.revised, f"{counts.revised:,} revised"),
            (counts.rejected, f"{counts.rejected:,} refused"),
        )
        words = words or "no values in it"
        if taken.found_in is not self.folder:
            words += "; it grew after it was moved, and was taken in again from there"
        if not taken.ended:
            seconds = PATIENCE * self.folder.rest_seconds
            words += f"; its last line has no end, though it has not changed for {seconds:g} s"
        return words

    def _after_a_move(self, taken: _Taken) -> str:
        """What may be wrong with a file whose namesake was moved away: it lacks its beginning."""
        if taken.found_in is not self.folder or not self._moved:
            return ""
        if not self._moved.holds(taken.path.name):
            return ""
        return (
            f". A file of that name was moved to {self._moved.folder} before: where the source "
            "goes on writing under it, raise watch_rest_seconds, or watch without --move-to"
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
