"""The command as a user has it: a process of its own."""

from __future__ import annotations

import atexit
import os
import socket
import subprocess
import sys
import threading
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tests.warehouse.cli.forking import send_order

_MCW = Path(sys.executable).parent / ("mcw.exe" if os.name == "nt" else "mcw")
_ROOT = Path(__file__).parents[3]
_PATIENCE = 120


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended and what it said."""

    code: int
    out: str
    err: str

    @property
    def said(self) -> str:
        """Both streams, white space made single: tables break lines where they like."""
        return " ".join((self.out + " " + self.err).split())


class _Forked:
    """A command forked from a process that has its imports (`tests.warehouse.cli.forking`)."""

    def __init__(self, arguments: tuple[str, ...], cwd: Path) -> None:
        pipes = [os.pipe() for _ in range(3)]
        send_order(_forking(), arguments, str(cwd), _environment(), [end for _, end in pipes])
        for _, end in pipes:
            os.close(end)
        self._found: list[str] = ["", "", ""]
        self._readers = [
            threading.Thread(target=self._read, args=(number, start), daemon=True)
            for number, (start, _) in enumerate(pipes)
        ]
        for reader in self._readers:
            reader.start()

    def _read(self, number: int, start: int) -> None:
        with os.fdopen(start, encoding="utf-8") as stream:
            self._found[number] = stream.read()

    def ended(self) -> Ended:
        for reader in self._readers:
            reader.join(_PATIENCE)
            if reader.is_alive():
                raise TimeoutError(f"mcw did not end within {_PATIENCE} s")
        out, err, code = self._found
        return Ended(int(code or -1), out, err)


class _Started:
    """A command started as from a shell, imports and all."""

    def __init__(self, arguments: tuple[str, ...], cwd: Path) -> None:
        self._process = subprocess.Popen(
            [str(_MCW), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            env=_environment(),
            cwd=cwd,
        )

    def ended(self) -> Ended:
        out, err = self._process.communicate(timeout=_PATIENCE)
        return Ended(self._process.returncode, out, err)


Running = _Forked | _Started


def _environment() -> dict[str, str]:
    own = {k: v for k, v in os.environ.items() if not k.startswith("MCW_")}
    return own | {"COLUMNS": "250", "PYTHONUTF8": "1"}


@cache
def _forking() -> socket.socket:
    """The connection to that process; it ends with this one."""
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    process: subprocess.Popen[bytes] = subprocess.Popen(
        [sys.executable, "-m", "tests.warehouse.cli.forking", str(theirs.fileno())],
        stdin=subprocess.DEVNULL,
        pass_fds=[theirs.fileno()],
        env=_environment(),
        cwd=_ROOT,
    )
    theirs.close()
    atexit.register(_end, ours, process)
    return ours


def _end(connection: socket.socket, process: subprocess.Popen[bytes]) -> None:
    connection.close()
    process.wait(10)


def start(*arguments: str | Path, cwd: Path | None = None, whole: bool = False) -> Running:
    """Start `mcw` without waiting; `whole` as from a shell, where that is what is asked."""
    words = tuple(map(str, arguments))
    forks = hasattr(os, "fork") and sys.platform == "linux" and not whole
    return (_Forked if forks else _Started)(words, cwd or Path.cwd())


def finish(process: Running) -> Ended:
    """Wait for a started command; it never ends in a traceback."""
    ended = process.ended()
    assert "Traceback" not in ended.said, ended.said
    return ended


def mcw(*arguments: str | Path, cwd: Path | None = None, whole: bool = False) -> Ended:
    """Run `mcw` to its end."""
    return finish(start(*arguments, cwd=cwd, whole=whole))
