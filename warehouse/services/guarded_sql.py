"""SQL of callers of the server: run by a child process that is killed when its time is over."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass

import pyarrow as pa

from warehouse.errors import QueryError
from warehouse.query.guarded import Job
from warehouse.services.desk import Desk
from warehouse.services.serving import State

_START_SECONDS = 10.0
_KEPT = ("PATH", "LANG", "LC_ALL", "TZ", "SYSTEMROOT", "LD_LIBRARY_PATH", "TMPDIR")


@dataclass(frozen=True, slots=True)
class Answered:
    """Rows of a statement; `truncated` where there were more than are given."""

    rows: pa.Table
    truncated: bool


def ask(desk: Desk, state: State, statement: str, most: int | None) -> Answered:
    """The rows of one SELECT over a published state, as the caller may see it.

    Raises QueryError for anything else, and where it takes too long or too much.
    """
    settings = desk.places.store.settings
    caller = desk.caller
    job = Job(
        home=str(desk.places.store.home.resolve()),
        seq=state.snapshot.seq,
        statement=statement,
        rows=min(most or settings.sql_rows, settings.sql_rows),
        memory_mb=settings.sql_memory_mb,
        sites=None if caller.sites is None else sorted(caller.sites),
        sources=None if caller.sources is None else sorted(caller.sources),
    )
    with desk.places.one():
        out = _child(job, settings.query_seconds)
    head, _, body = out.partition(b"\n")
    told = json.loads(head) if head.startswith(b"{") else {"error": _ENDED}
    if "error" in told:
        raise QueryError(str(told["error"]).removeprefix("query: "))
    return Answered(pa.ipc.open_stream(body).read_all(), bool(told["truncated"]))


_ENDED = "it was ended: it needs more memory than it may have (setting sql_memory_mb)"


def _child(job: Job, seconds: float) -> bytes:
    environment = {name: os.environ[name] for name in _KEPT if name in os.environ}
    environment["ARROW_DEFAULT_MEMORY_POOL"] = "system"  # others reserve address space ahead
    command = [sys.executable, "-I", "-m", "warehouse.query.guarded"]
    process = subprocess.Popen(
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
        cwd=sys.prefix,
    )
    try:
        out, _ = process.communicate(job.text().encode(), timeout=seconds + _START_SECONDS)
    except subprocess.TimeoutExpired as error:
        raise QueryError(f"stopped after {seconds:g} s (setting query_seconds)") from error
    finally:
        if process.poll() is None:
            process.kill()
            process.communicate()
    return out
