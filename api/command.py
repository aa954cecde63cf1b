"""`mcw serve`: the HTTP API over one store, on this machine only."""

from __future__ import annotations

import ipaddress
import signal
import socket
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from warehouse.cli.options import DEFAULT_HOME, Home
from warehouse.errors import SettingsError
from warehouse.store import open_store

if TYPE_CHECKING:
    from fastapi import FastAPI

_LOOPBACK = "an address of this machine only: 127.0.0.1, ::1 or localhost"


def serve(
    home: Home = DEFAULT_HOME,
    host: Annotated[
        str | None, typer.Option("--host", help="Address to listen on; loopback only.")
    ] = None,
    port: Annotated[
        int | None, typer.Option("--port", help="Port to listen on; 0 = any free.")
    ] = None,
) -> None:
    """Serve assets and their judged condition over HTTP, following every newly judged state."""
    store = open_store(home, {"host": host, "port": port})
    listening = _listen(store.settings.host, store.settings.port)
    # Not before it is needed: every other command would pay for the import.
    from api.app import create_app

    with listening:
        # The object, never its name: a file `api.py` where the command is typed cannot stand in.
        _run(create_app(store), listening)


def _listen(host: str, port: int) -> socket.socket:
    """A bound socket. Raises SettingsError where the address is not loopback, or not to be had."""
    family, address = _loopback(host)
    # The protocol is named because asyncio turns off Nagle's algorithm only where it is: without,
    # every answer waits 40 ms for the client's acknowledgement.
    bound = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if sys.platform != "win32":
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((address, port))
        bound.listen(2048)
    except OSError as error:
        bound.close()
        raise _refused(
            f"port: {host} port {port} is not to be had ({error.strerror}); choose another, or 0"
        ) from error
    return bound


def _loopback(host: str) -> tuple[socket.AddressFamily, str]:
    try:
        found = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM)
    except OSError as error:
        raise _refused(f"host: {host!r} is no address; needed: {_LOOPBACK}") from error
    addresses = [(family, str(address[0])) for family, _, _, _, address in found]
    if not all(ipaddress.ip_address(address).is_loopback for _, address in addresses):
        raise _refused(
            f"host: {host!r} can be reached from other machines, and there are no keys yet to say "
            f"who may ask; needed: {_LOOPBACK}"
        )
    return addresses[0]


def _refused(fault: str) -> SettingsError:
    return SettingsError([fault], "mcw serve")


def _run(app: FastAPI, listening: socket.socket) -> None:
    """Serve until asked to stop; a request under way is finished first."""
    import uvicorn

    class Server(uvicorn.Server):
        """Says where it listens once it does."""

        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            address = _url(listening)
            typer.echo(f"Serving at {address}, described at {address}/docs", err=True)

    config = uvicorn.Config(
        app,
        log_config=None,  # warnings and errors reach stderr; access lines are nobody's need here
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws="none",
        lifespan="on",
        timeout_graceful_shutdown=5,
    )
    server = Server(config)

    def stop(*_: object) -> None:
        server.should_exit = True

    # The server raises the signal that stopped it once more at its end: it arrives here, and the
    # process ends with 0 instead of being killed.
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, stop)
    server.run(sockets=[listening])


def _url(listening: socket.socket) -> str:
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
