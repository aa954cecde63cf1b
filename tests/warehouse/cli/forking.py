"""A process that has everything `mcw` imports, and its own files read, and forks for each command.

Importing costs a second of a processor each time, and tests run hundreds of commands. The
commands stay processes of their own; nothing is opened before the fork. Run as a program it
takes orders from the socket whose number it is given.
"""

from __future__ import annotations

import contextlib
import importlib
import io
import json
import os
import pkgutil
import select
import signal
import socket
import sys
from collections.abc import Mapping, Sequence
from typing import Any

_PACKAGES = ("warehouse.cli", "warehouse.services")
_LONGEST_ORDER = 1 << 20


def send_order(
    connection: socket.socket,
    words: Sequence[str],
    cwd: str,
    environment: Mapping[str, str],
    files: Sequence[int],
) -> None:
    """Have `mcw` run: `files` are its stdout and stderr, and where its exit code goes."""
    order = {"words": list(words), "cwd": cwd, "environment": dict(environment)}
    socket.send_fds(connection, [json.dumps(order).encode()], list(files))


def _serve(connection: socket.socket) -> None:
    from warehouse.cli import complete_app

    complete_app()
    for package in _PACKAGES:
        for found in pkgutil.iter_modules(importlib.import_module(package).__path__):
            importlib.import_module(f"{package}.{found.name}")
    _read_own_files()
    running = 0
    while True:
        ready, _, _ = select.select([connection], [], [], 0.1 if running else None)
        while running and os.waitpid(-1, os.WNOHANG)[0]:
            running -= 1
        if not ready:
            continue
        text, files, _, _ = socket.recv_fds(connection, _LONGEST_ORDER, 3)
        if not text:
            return
        if os.fork() == 0:
            connection.close()
            _become_mcw(json.loads(text), files)
        for one in files:
            os.close(one)
        running += 1


def _read_own_files() -> None:
    """Read what the package itself brings and keeps once read: limits, rules, views, adapters."""
    from warehouse.adapters.registered import adapters
    from warehouse.judging.working import files_of
    from warehouse.limits import load_limits
    from warehouse.services.relations import relations
    from warehouse.work.tables import load_work_rules

    for reads in (load_limits, load_work_rules, files_of, relations, adapters):
        reads()


def _become_mcw(order: dict[str, Any], files: Sequence[int]) -> None:
    """Run the command, tell its exit code and end; without a code it was killed."""
    from warehouse.cli import main

    out, err, told = files
    code: Any = 1
    try:
        os.dup2(out, 1)
        os.dup2(err, 2)
        os.close(out)
        os.close(err)
        sys.stdout, sys.stderr = (
            io.TextIOWrapper(io.FileIO(number, "w", closefd=False), "utf-8", write_through=True)
            for number in (1, 2)
        )
        signal.signal(signal.SIGINT, signal.default_int_handler)
        os.environ.clear()
        os.environ.update(order["environment"])
        os.chdir(order["cwd"])
        sys.argv = ["mcw", *order["words"]]
        code = _code_of(main)
        with contextlib.suppress(OSError):
            sys.stdout.flush()
    finally:
        os.write(told, str(code).encode())
        os._exit(0)


def _code_of(main: Any) -> int:
    try:
        main()
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    except BaseException:
        sys.excepthook(*sys.exc_info())
        return 1
    return 0


if __name__ == "__main__":
    _serve(socket.socket(fileno=int(sys.argv[1])))
