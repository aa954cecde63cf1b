"""`mcw serve` as a process of its own."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_MCW = Path(sys.executable).parent / "mcw"


@contextmanager
def live_server(home: Path, *options: str, port: int = 0, **settings: object) -> Iterator[str]:
    """Address of a server over a store; it is killed at the end. `settings` go first."""
    given = {f"MCW_{name.upper()}": str(value) for name, value in settings.items()}
    process = subprocess.Popen(
        [str(_MCW), "serve", "--home", str(home), "--port", str(port), *options],
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, **given},
    )
    assert process.stderr is not None
    try:
        line = process.stderr.readline()
        found = re.match(r"Serving at (http://\S+?), ", line)
        assert found, line + process.stderr.read()
        yield found.group(1)
    finally:
        process.kill()
        process.wait()
        process.stderr.close()


def free_port() -> int:
    """A port of this machine that nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])
