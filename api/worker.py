"""One process of a server: alone, or one of several that share a listening socket.

`python -P -m api.worker` is what `mcw serve --workers N` starts: a process of
its own, never a fork, for the dataset's library must not be forked beside.
"""

from __future__ import annotations

import logging
import os
import signal
import socket
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from warehouse.errors import WarehouseError
from warehouse.store import open_store

if TYPE_CHECKING:
    from fastapi import FastAPI

_ANSWER_SECONDS = 5


def serve_app(
    app: FastAPI, listening: socket.socket, request_log: bool, started: Callable[[], None],
    gone: int | None = None,
) -> None:  # fmt: skip
    """Serve until asked to stop by a signal; a request under way is finished first.

    `started` is called once it listens. `gone`: a file descriptor that ends when nobody needs
    this process any more.
    """
    import uvicorn

    class Server(uvicorn.Server):
        """Says when it listens."""

        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            started()

    if request_log:
        _log_requests()
    config = uvicorn.Config(
        app,
        log_config=None,  # warnings and errors reach stderr; access lines are nobody's need here
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws="none",
        lifespan="on",
        timeout_graceful_shutdown=_ANSWER_SECONDS,
    )
    server = Server(config)

    def stop(*_: object) -> None:
        server.should_exit = True

    # The server raises the signal that stopped it once more at its end: it arrives here, and the
    # process ends with 0 instead of being killed.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, stop)
    if gone is not None:
        threading.Thread(target=_until_gone, args=(gone, stop), daemon=True).start()
    server.run(sockets=[listening])


def _until_gone(descriptor: int, stop: Callable[[], None]) -> None:
    """Whoever started this holds the other end, and never writes: it ends when that is gone."""
    while os.read(descriptor, 1):
        continue
    stop()


def _log_requests() -> None:
    """Have the line of every request written to stderr."""
    from api.watching import REQUESTS_LOG

    lines = logging.StreamHandler(sys.stderr)
    lines.setFormatter(logging.Formatter("%(message)s"))
    log = logging.getLogger(REQUESTS_LOG)
    log.addHandler(lines)
    log.setLevel(logging.INFO)
    log.propagate = False


def main(arguments: list[str]) -> int:
    """One of several: store, listening socket, pipe to say that it listens, pipe that ends."""
    home, listening, ready, gone, without_keys = arguments
    from api.app import create_app

    def started() -> None:
        os.write(int(ready), b".")
        os.close(int(ready))

    try:
        store = open_store(Path(home))
        app = create_app(store, without_keys=without_keys == "1")
        with socket.socket(fileno=int(listening)) as shared:
            serve_app(app, shared, store.settings.request_log, started, int(gone))
    except WarehouseError as error:
        sys.stderr.write(f"{error.message}\n")
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
