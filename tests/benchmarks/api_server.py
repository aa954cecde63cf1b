"""The server of the benchmark: the real one, and one route that gives a body that is ready.

python -m tests.benchmarks.api_server HOME PORT
"""

from __future__ import annotations

import sys
from pathlib import Path

from fastapi import Request
from fastapi.responses import Response

from api.answers import answer, not_modified
from api.app import create_app
from api.caller import needs
from api.command import _listen, _told
from api.worker import serve_app
from warehouse.store import open_store


def main() -> None:
    """Serve until ended."""
    store = open_store(Path(sys.argv[1]), {"clock": "data", "key_rate": 0, "heavy_requests": 2})
    app = create_app(store)
    bodies: dict[int, bytes] = {}

    @app.get("/v1/ready/{size}", dependencies=[needs("read:condition")])
    async def ready(request: Request, size: int) -> Response:
        content = bodies.setdefault(size, b"x" * size)
        tag = f'"{size}"'
        return not_modified(request, tag, None) or answer(content, tag, None)

    with _listen("127.0.0.1", int(sys.argv[2]), False) as listening:
        serve_app(app, listening, False, lambda: _told(listening))


if __name__ == "__main__":
    main()
