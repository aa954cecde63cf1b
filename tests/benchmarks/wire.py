"""A plain HTTP/1.1 client on a socket: what it costs itself is next to nothing."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterable
from statistics import quantiles


class Wire:
    """One connection that is kept; one request at a time."""

    def __init__(self, port: int, key: str) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port))
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._file = self._socket.makefile("rb", 1 << 16)
        self._key = key

    def ask(
        self, path: str, method: str = "GET", body: bytes = b"", **headers: str
    ) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and body of an answer."""
        lines = [f"{method} {path} HTTP/1.1", "Host: localhost",
                 f"Authorization: Bearer {self._key}"]  # fmt: skip
        lines += [f"{name.replace('_', '-')}: {value}" for name, value in headers.items()]
        if method != "GET":
            lines.append(f"Content-Length: {len(body)}")
        self._socket.sendall("\r\n".join([*lines, "", ""]).encode() + body)
        status = int(self._file.readline().split()[1])
        found: dict[str, str] = {}
        while line := self._file.readline().strip():
            name, _, value = line.decode().partition(":")
            found[name.lower()] = value.strip()
        if found.get("transfer-encoding") == "chunked":
            return status, found, b"".join(self._chunks())
        return status, found, self._file.read(int(found.get("content-length", "0")))

    def _chunks(self) -> Iterable[bytes]:
        while size := int(self._file.readline(), 16):
            yield self._file.read(size)
            self._file.readline()
        self._file.readline()

    def close(self) -> None:
        """Close the connection."""
        self._file.close()
        self._socket.close()

    def times(self, paths: Iterable[str], status: int, **headers: str) -> list[float]:
        """Seconds of each request; every answer must have that status."""
        found = []
        for path in paths:
            began = time.perf_counter()
            got = self.ask(path, "GET", b"", **headers)[0]
            found.append(time.perf_counter() - began)
            assert got == status, (path, got)
        return found


def p50(values: list[float]) -> float:
    """The median."""
    return quantiles(values, n=2)[0]


def p99(values: list[float]) -> float:
    """The 99th percentile."""
    return quantiles(values, n=100)[98]
