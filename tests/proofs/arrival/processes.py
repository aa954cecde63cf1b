"""Starting processes at once, killing some of them, and telling how each ended.

A process that imports everything anew would live mostly on that. So they are
forked from one server that has imported it all and opened nothing; that is sound
only as long as the server has a single thread, which is looked at, not believed.
Otherwise every process is started afresh.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import cycle
from multiprocessing import connection, forkserver, get_context
from multiprocessing.context import ForkServerContext, SpawnContext
from multiprocessing.process import BaseProcess
from pathlib import Path

from tests.proofs.arrival.child import REFUSED, STEPS, Order, act

_ROOT = Path(__file__).parents[3]
_QUIET = {
    "OPENBLAS_NUM_THREADS": "1",
    "JE_ARROW_MALLOC_CONF": "background_thread:false",
    "_RJEM_MALLOC_CONF": "background_thread:false",
}
"""What keeps the libraries from starting threads when they are imported."""
_APART = 0.05
"""Seconds between two starts, at most: the first has something to give to the next."""
_LONGEST = 120.0
"""Seconds after which a process is taken to hang."""


@dataclass(slots=True)
class Tally:
    """What the proof has seen: kills by step, clean refusals by action, and what is wrong."""

    started: int = 0
    killed: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    lost: int = 0
    doubled: int = 0
    unexplained: int = 0

    @property
    def kills(self) -> int:
        """Processes that were killed."""
        return self.killed.total()

    @property
    def wrong(self) -> int:
        """Everything lost, doubled or unexplained."""
        return self.lost + self.doubled + self.unexplained

    def __str__(self) -> str:
        return (
            f"kills {self.kills}  lost {self.lost}  doubled {self.doubled}  "
            f"unexplained {self.unexplained}"
        )


@dataclass(slots=True)
class _Running:
    process: BaseProcess
    order: Order
    begun: float
    kill_at: float | None


@dataclass(slots=True)
class Stage:
    """Where the processes of a proof run, and how some of them are killed."""

    chance: random.Random
    tally: Tally
    context: ForkServerContext | SpawnContext = field(init=False)
    _steps: dict[str, Iterator[str]] = field(init=False)
    """Steps at which to kill, in turn."""
    _usual: dict[str, float] = field(default_factory=dict)
    """Seconds an action takes where nobody disturbs it."""

    def __post_init__(self) -> None:
        self.context = _context()
        self._steps = {action: cycle(steps) for action, steps in STEPS.items()}

    def together(self, home: Path, actions: Sequence[Sequence[str]], disturb: float) -> list[bool]:
        """Start actions almost at once, disturb that share of them; whether each ended well."""
        return self._run([self._disturb(str(home), action, disturb) for action in actions])

    def kill_at(self, step: str, home: Path, action: str) -> None:
        """One action alone, killed at a step if it passes it."""
        self._run([(Order(str(home), action, step=step), None)])

    def _disturb(
        self, home: str, action: Sequence[str], share: float
    ) -> tuple[Order, float | None]:
        """An action undisturbed, killed at the next step of its steps, or after so many seconds."""
        name, *arguments = action
        order = Order(home, name, tuple(arguments))
        if self.chance.random() >= share:
            return order, None
        if self.chance.random() < 0.25:
            return order, self.chance.random() * self._usual.get(name, 0.5)
        count = self.chance.choice((1, 1, 1, 2, 3))
        return replace(order, step=next(self._steps[name]), count=count), None

    def _run(self, orders: Sequence[tuple[Order, float | None]]) -> list[bool]:
        running: dict[int, _Running] = {}
        for order, kill_after in orders:
            one = self._start(order, kill_after)
            running[one.process.sentinel] = one
            time.sleep(self.chance.random() * _APART)
        in_order = list(running)
        ended: dict[int, bool] = {}
        while running:
            for sentinel in connection.wait(list(running), self._pause(running)):
                assert isinstance(sentinel, int)
                ended[sentinel] = self._end(running.pop(sentinel))
        return [ended[sentinel] for sentinel in in_order]

    def _start(self, order: Order, kill_after: float | None) -> _Running:
        process = self.context.Process(target=act, args=(order,))
        process.start()
        self.tally.started += 1
        begun = time.monotonic()
        kill_at = None if kill_after is None else begun + kill_after
        return _Running(process, order, begun, kill_at)

    def _pause(self, running: dict[int, _Running]) -> float:
        """Kill what is due; seconds until the next is."""
        now = time.monotonic()
        for one in running.values():
            if now - one.begun > _LONGEST:
                self._complain(one, "hangs")
                one.process.kill()
            elif one.kill_at is not None and now >= one.kill_at:
                one.process.kill()
        due = [one.kill_at for one in running.values() if one.kill_at is not None]
        return min([max(0.0, moment - now) for moment in due if moment > now], default=1.0)

    def _end(self, one: _Running) -> bool:
        one.process.join()
        code = one.process.exitcode
        one.process.close()
        action = one.order.action
        if code == -signal.SIGKILL:
            self.tally.killed[one.order.step or "random moment"] += 1
        elif code == REFUSED:
            self.tally.refused[action] += 1
        elif code != 0:
            self._complain(one, f"ended with {code}")
        elif one.kill_at is None:
            took = time.monotonic() - one.begun
            self._usual[action] = 0.7 * self._usual.get(action, took) + 0.3 * took
        return code == 0

    def _complain(self, one: _Running, what: str) -> None:
        self.tally.unexplained += 1
        sys.stderr.write(f"unexplained: {what}: {one.order}\n")


def _context() -> ForkServerContext | SpawnContext:
    """A server to fork from where that is sound; else processes started afresh."""
    context = get_context("forkserver")
    context.set_forkserver_preload(["tests.proofs.arrival.rounds"])
    with _environment():
        forkserver.ensure_running()
    probe = context.Process(target=_look_at_server)
    probe.start()
    probe.join()
    if probe.exitcode == 0:
        return context
    sys.stderr.write("the server to fork from has threads: every process is started afresh\n")
    return get_context("spawn")


def _look_at_server() -> None:
    threads = Path(f"/proc/{os.getppid()}/task")
    sys.exit(0 if threads.is_dir() and len(list(threads.iterdir())) == 1 else 1)


@contextmanager
def _environment() -> Iterator[None]:
    """What the server is started with: quiet libraries, and where this package lies."""
    paths = [str(_ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
    wanted = {**_QUIET, "PYTHONPATH": os.pathsep.join(paths)}
    before = {name: os.environ.get(name) for name in wanted}
    os.environ.update(wanted)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
