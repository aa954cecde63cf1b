"""`mcw serve`: the HTTP API over one store, behind keys."""

from __future__ import annotations

import ipaddress
import socket
import sys
from typing import Annotated

import typer

from warehouse.cli.options import DEFAULT_HOME, Home
from warehouse.errors import SettingsError
from warehouse.services.keys import Keyring
from warehouse.store import Store, open_store

_FAULT_OF_OURS = 70
_LOOPBACK = "an address of this machine only: 127.0.0.1, ::1 or localhost"


def serve(
    home: Home = DEFAULT_HOME,
    host: Annotated[str | None, typer.Option("--host", help="Address to listen on.")] = None,
    port: Annotated[
        int | None, typer.Option("--port", help="Port to listen on; 0 = any free.")
    ] = None,
    workers: Annotated[
        int | None, typer.Option("--workers", help="Processes that answer beside each other.")
    ] = None,
    without_keys: Annotated[
        bool,
        typer.Option(
            "--without-keys", help="Let every program of this machine ask; loopback only."
        ),
    ] = False,
) -> None:
    """Serve the dataset over HTTP, following every newly judged state; take packages in."""
    store = open_store(home, {"host": host, "port": port, "workers": workers})
    if not without_keys and not Keyring(store).any_valid() and not store.settings.oidc_keys:
        raise _refused(
            "there is no valid key yet, so nobody could ask: make one with `mcw keys add`, or "
            "give --without-keys to let every program of this machine ask"
        )
    listening = _listen(store.settings.host, store.settings.port, without_keys)
    # Not before it is needed: every other command would pay for the import.
    with listening:
        if store.settings.workers > 1:
            _serve_with_several(store, listening, without_keys)
            return
        from api.app import create_app
        from api.worker import serve_app

        # The object, never its name: a file `api.py` where the command is typed cannot stand in.
        app = create_app(store, without_keys=without_keys)
        serve_app(app, listening, store.settings.request_log, lambda: _told(listening))


def _serve_with_several(store: Store, listening: socket.socket, without_keys: bool) -> None:
    if sys.platform == "win32":
        raise _refused("workers: several processes cannot share an address here; give 1")
    from api.workers import WorkerFailedError, Workers

    workers = Workers(store.home, listening, without_keys, lambda text: typer.echo(text, err=True))
    try:
        workers.run(store.settings.workers, lambda: _told(listening))
    except WorkerFailedError as error:
        raise typer.Exit(error.code if error.code > 0 else _FAULT_OF_OURS) from error


def _told(listening: socket.socket) -> None:
    address = _url(listening)
    typer.echo(f"Serving at {address}, described at {address}/docs", err=True)


def _listen(host: str, port: int, without_keys: bool = True) -> socket.socket:
    """A bound socket. Raises SettingsError where the address is not to be had.

    Without keys it must be one that no other machine can reach.
    """
    family, address = _address(host, without_keys)
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


def _address(host: str, without_keys: bool) -> tuple[socket.AddressFamily, str]:
    try:
        found = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM)
    except OSError as error:
        raise _refused(f"host: {host!r} is no address; needed is one of this machine") from error
    addresses = [(family, str(address[0])) for family, _, _, _, address in found]
    loopback = all(ipaddress.ip_address(address).is_loopback for _, address in addresses)
    if without_keys and not loopback:
        raise _refused(
            f"host: {host!r} can be reached from other machines, and without keys nobody could "
            f"say who may ask; needed: {_LOOPBACK}, or keys (`mcw keys add`)"
        )
    return addresses[0]


def _refused(fault: str) -> SettingsError:
    return SettingsError([fault], "mcw serve")


def _url(listening: socket.socket) -> str:
    host, port = listening.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
