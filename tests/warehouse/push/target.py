"""A receiver on this machine: it takes what is told, or does what a bad target does."""

from __future__ import annotations

import json
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


@dataclass(slots=True)
class Received:
    """One request."""

    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def event(self) -> dict[str, Any]:
        """What it told."""
        told: dict[str, Any] = json.loads(self.body)
        return told


@dataclass(slots=True)
class Receiver:
    """What came, and how it is answered: statuses in turn, the last for good."""

    url: str = ""
    statuses: list[int] = field(default_factory=lambda: [204])
    headers: dict[str, str] = field(default_factory=dict)
    wait: float = 0.0
    drip: bool = False
    received: list[Received] = field(default_factory=list)

    def ids(self) -> list[str]:
        """Ids of what came."""
        return [one.headers["webhook-id"] for one in self.received]

    def answer(self) -> int:
        """The next status."""
        return self.statuses.pop(0) if len(self.statuses) > 1 else self.statuses[0]


@contextmanager
def receiving(port: int = 0, tls: ssl.SSLContext | None = None) -> Iterator[Receiver]:
    """A receiver that listens, over https where it has a certificate."""
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            headers = {name.lower(): value for name, value in self.headers.items()}
            receiver.received.append(Received(self.path, headers, body))
            time.sleep(receiver.wait)
            if receiver.drip:
                self._drip()
                return
            self.send_response(receiver.answer())
            for name, value in receiver.headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def _drip(self) -> None:
            """A byte now and then, for ever."""
            self.wfile.write(b"HTTP/1.1 200 OK\r\nX-Long: ")
            try:
                for _ in range(200):
                    self.wfile.write(b"a")
                    self.wfile.flush()
                    time.sleep(0.05)
            except OSError:
                return

        def do_GET(self) -> None:
            receiver.received.append(Received(self.path, dict(self.headers), b""))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            """Nothing."""

    class Server(ThreadingHTTPServer):
        def handle_error(self, *_: Any) -> None:
            """A sender that went away is none."""

    server = Server(("127.0.0.1", port), Handler)
    receiver.url = f"http://127.0.0.1:{server.server_port}/hooks"
    if tls:
        server.socket = tls.wrap_socket(server.socket, server_side=True)
        receiver.url = f"https://localhost:{server.server_port}/hooks"
    thread = threading.Thread(target=server.serve_forever, args=[0.02], daemon=True)
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
