"""Several processes behind one address: started, looked after, ended together.

They share the listening socket, so that whichever is free takes the next
caller, and agree by following the same published states. One that dies is
replaced; a caller who was waiting for it alone has to ask again.
"""

from __future__ import annotations

import os
import select
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

_START_SECONDS: Final = 60.0
_LAST_SECONDS: Final = 15.0
_LOOK_SECONDS: Final = 0.1
_PAUSES: Final = (0.0, 1.0, 5.0, 15.0)
"""Seconds before a worker is started again that died soon after its start, ever longer."""
_LONG_LIFE: Final = 30.0


class WorkerFailedError(Exception):
    """A worker could not be started; `code` is what it ended with."""

    def __init__(self, code: int) -> None:
        super().__init__(f"a worker ended with {code} before it served")
        self.code = code


@dataclass(slots=True)
class _Worker:
    """A process, when it began, and how often one in its place died young."""

    process: subprocess.Popen[bytes]
    begun: float
    deaths: int = 0
    again_at: float | None = None


@dataclass(slots=True)
class Workers:
    """The processes of one server."""

    home: Path
    listening: socket.socket
    without_keys: bool
    say: Callable[[str], None]
    _all: list[_Worker] = field(default_factory=list)
    _asked: bool = False
    _figures: str = ""
    _held: int = -1
    _gone: int = -1

    def run(self, count: int, started: Callable[[], None]) -> None:
        """Serve with so many until SIGINT or SIGTERM. Raises WorkerFailedError where none starts.

        `started` is called once all of them listen.
        """
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, self._stop)
        self._figures = tempfile.mkdtemp(prefix="mcw-figures-")
        # As long as this end is open the workers know that somebody looks after them.
        self._gone, self._held = os.pipe()
        try:
            begun = [self._launch() for _ in range(count)]
            self._all += [_Worker(process, time.monotonic()) for process, _ in begun]
            for process, reading in begun:
                self._await(process, reading)
            if not self._asked:
                started()
            while not self._asked:
                self._look_after()
                time.sleep(_LOOK_SECONDS)
        finally:
            self._end()

    def _stop(self, *_: object) -> None:
        self._asked = True

    def _launch(self) -> tuple[subprocess.Popen[bytes], int]:
        """A worker, and the end of a pipe that tells when it listens."""
        reading, writing = os.pipe()
        shared = self.listening.fileno()
        command = [
            # -P: a file `api.py` where the command was typed cannot stand in for ours.
            sys.executable, "-P", "-m", "api.worker", str(self.home), str(shared), str(writing),
            str(self._gone), "1" if self.without_keys else "0",
        ]  # fmt: skip
        process = subprocess.Popen(
            command, pass_fds=(shared, writing, self._gone), env=self._environment()
        )
        os.close(writing)
        return process, reading

    def _environment(self) -> Mapping[str, str]:
        """Figures of all workers are counted together, in files that each of them writes."""
        return {**os.environ, "PROMETHEUS_MULTIPROC_DIR": self._figures}

    def _await(self, process: subprocess.Popen[bytes], reading: int) -> None:
        """Until it listens. Raises WorkerFailedError where it ends instead."""
        until = time.monotonic() + _START_SECONDS
        try:
            while time.monotonic() < until and not self._asked:
                ready, _, _ = select.select([reading], [], [], _LOOK_SECONDS)
                if ready and os.read(reading, 1):
                    return
                if process.poll() is not None:
                    raise WorkerFailedError(process.returncode)
            if not self._asked:
                process.kill()
                raise WorkerFailedError(process.wait())
        finally:
            os.close(reading)

    def _look_after(self) -> None:
        for worker in self._all:
            if worker.again_at is not None and time.monotonic() >= worker.again_at:
                self._start_again(worker)
            elif worker.again_at is None and worker.process.poll() is not None:
                self._forget_figures(worker.process.pid)
                young = time.monotonic() - worker.begun < _LONG_LIFE
                worker.deaths = worker.deaths + 1 if young else 0
                pause = _PAUSES[min(worker.deaths, len(_PAUSES) - 1)]
                worker.again_at = time.monotonic() + pause
                self.say(
                    f"a worker ended with {worker.process.returncode}; another takes its place"
                )

    def _start_again(self, worker: _Worker) -> None:
        worker.begun = time.monotonic()
        try:
            worker.process, reading = self._launch()
            self._await(worker.process, reading)
            worker.again_at = None
        except WorkerFailedError as error:
            worker.deaths += 1
            worker.again_at = time.monotonic() + _PAUSES[min(worker.deaths, len(_PAUSES) - 1)]
            self.say(str(error))

    def _forget_figures(self, process: int) -> None:
        for file in Path(self._figures).glob(f"gauge_live*_{process}.db"):
            file.unlink(missing_ok=True)

    def _end(self) -> None:
        """Ask all to finish what they are at; whoever does not in time is killed."""
        processes = [worker.process for worker in self._all]
        for process in processes:
            if process.poll() is None:
                process.terminate()
        until = time.monotonic() + _LAST_SECONDS
        for process in processes:
            try:
                process.wait(max(0.1, until - time.monotonic()))
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        for descriptor in (self._held, self._gone):
            if descriptor >= 0:
                os.close(descriptor)
        shutil.rmtree(self._figures, ignore_errors=True)
