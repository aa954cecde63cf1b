"""What the server tells of itself: one log line a request, and figures for Prometheus.

A line names the caller by the id of its key and the path without its query;
keys, tokens and bodies are never written.
"""

from __future__ import annotations

import json
import logging
import os
import time
from typing import Final

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector
from starlette.types import Scope

from warehouse import clock

REQUESTS_LOG: Final = "mcw.requests"
_BUCKETS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
_log = logging.getLogger(REQUESTS_LOG)


class Figures:
    """The figures of one application. Routes are told by their templates, never by a tag."""

    def __init__(self) -> None:
        self._registry = CollectorRegistry()
        self._requests = Counter(
            "mcw_requests", "Requests answered", ["route", "method", "status"],
            registry=self._registry,
        )  # fmt: skip
        self._seconds = Histogram(
            "mcw_request_seconds", "Time from request to end of answer", ["route"],
            buckets=_BUCKETS, registry=self._registry,
        )  # fmt: skip
        self._under_way = Gauge(
            "mcw_requests_under_way", "Requests being answered", registry=self._registry,
            multiprocess_mode="livesum",
        )  # fmt: skip
        self._snapshot = Gauge(
            "mcw_snapshot_seq", "Number of the published state served", registry=self._registry,
            multiprocess_mode="livemin",
        )  # fmt: skip
        self._as_of = Gauge(
            "mcw_snapshot_as_of_seconds", "Moment it was judged for, seconds since 1970",
            registry=self._registry, multiprocess_mode="livemin",
        )  # fmt: skip
        self._rule_faults = Gauge(
            "mcw_rule_faults", "Faults of limit files and work rules; above 0 nothing is judged",
            registry=self._registry, multiprocess_mode="livemax",
        )  # fmt: skip

    def begin(self) -> float:
        """Count a request in; when it began."""
        self._under_way.inc()
        return time.perf_counter()

    def end(self, scope: Scope, status: int, began: float, sent: int) -> None:
        """Count a request out, and write its line."""
        self._under_way.dec()
        seconds = time.perf_counter() - began
        route = getattr(scope.get("route"), "path", "none")
        self._requests.labels(route, scope["method"], str(status)).inc()
        self._seconds.labels(route).observe(seconds)
        if _log.isEnabledFor(logging.INFO):
            _log.info(_line(scope, route, status, seconds, sent))

    def text(self, seq: int | None, as_of: float | None, rule_faults: int) -> bytes:
        """All figures in Prometheus's text format."""
        self._rule_faults.set(rule_faults)
        if seq is not None and as_of is not None:
            self._snapshot.set(seq)
            self._as_of.set(as_of)
        if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
            return generate_latest(self._registry)
        together = CollectorRegistry()  # of all workers, from the files each of them writes
        MultiProcessCollector(together)  # type: ignore[no-untyped-call]  # it says no types
        return generate_latest(together)


def _line(scope: Scope, route: str, status: int, seconds: float, sent: int) -> str:
    state = scope.get("state", {})
    caller = state.get("caller")
    return json.dumps(
        {
            "at": clock.now().isoformat(timespec="milliseconds"),
            "process": os.getpid(),
            "request": state.get("request_id"),
            "caller": caller.name if caller else None,
            "method": scope["method"],
            "route": route,
            "path": scope["path"][:300],
            "status": status,
            "ms": round(1000 * seconds, 2),
            "bytes": sent,
        }
    )
