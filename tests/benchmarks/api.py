"""`make bench-api`: what an answer over HTTP costs beside the least it could cost.

One server process on loopback, one connection, requests one after another; pairs go A B A B and
the median ratio of their p50 is printed with its quartiles beside an A/A control (the same route
twice). The yardstick of a condition is a route of the same application that gives a ready body of
the same size through the same doors. QUICK=1 makes a small cut.

There are two stores: of 1 million readings, and of READINGS (50,000,000: some 3 minutes of a quiet
machine of two cores and 2 GB of disk while it is made). SIZES=1000000,10000000 takes other two,
ASSETS=10000 so many assets. Exports and receipts are measured on the smaller one.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import duckdb
import pyarrow as pa

from tests.api.live import free_port
from tests.benchmarks.api_fleet import SITE, asset_tag, make_fleet
from tests.benchmarks.spread import Spread
from tests.benchmarks.wire import Wire, p50, p99
from warehouse.access import SCOPES
from warehouse.durable import sync_file, sync_folder
from warehouse.services.keys import Keyring, Wanted
from warehouse.store import Store

_QUICK = os.environ.get("QUICK") == "1"
_SIZES = (
    tuple(map(int, os.environ["SIZES"].split(",")))
    if "SIZES" in os.environ
    else (1_000_000, int(os.environ["READINGS"]))
    if "READINGS" in os.environ
    else (100_000, 1_000_000)
    if _QUICK
    else (1_000_000, 50_000_000)
)
_ASSETS = int(os.environ.get("ASSETS", 1_000 if _QUICK else 10_000))
_PAIRS = 5 if _QUICK else 11
_REQUESTS = 100 if _QUICK else 400
_PACKAGES = 160 if _QUICK else 480
_SENDERS = 12


class Report:
    """Prints ratios and remembers what was missed."""

    def __init__(self) -> None:
        self.missed: list[str] = []

    def most(self, name: str, ratios: list[float], limit: float, more: str = "") -> None:
        """A ratio that may be so large; missed only where its lower quartile is larger."""
        found = Spread.of(ratios)
        print(f"{name}: {found}, at most {limit:g}{more}", flush=True)
        if found.low > limit:
            self.missed.append(f"{name} {found.low:.2f} > {limit:g}")

    def least(self, name: str, ratios: list[float], limit: float, more: str = "") -> None:
        """A ratio that must be so large; missed only where its upper quartile is smaller."""
        found = Spread.of(ratios)
        print(f"{name}: {found}, at least {limit:g}{more}", flush=True)
        if found.high < limit:
            self.missed.append(f"{name} {found.high:.2f} < {limit:g}")


def main() -> None:
    """Measure everything; exit 1 where a limit is missed."""
    report = Report()
    with tempfile.TemporaryDirectory(prefix="bench-api-") as folder:
        medians = []
        for size in _SIZES:
            began = time.perf_counter()
            store = make_fleet(Path(folder) / f"{size}", size, _ASSETS)
            print(f"{size:,} readings, {_ASSETS:,} assets, in {time.perf_counter() - began:.0f} s")
            with _server(store) as wire:
                medians.append(_conditions(wire(), report))
                if size == _SIZES[0]:
                    _fleet(wire(), report)
                    _readings(wire(), store, report)
                    _packages(wire, Path(folder), report)
        for name, small, large in zip(("condition", "304"), *medians, strict=True):
            grown = large / small
            print(f"{name} with {_SIZES[1] // _SIZES[0]} times the readings: {grown:.2f}")
            if not 0.75 <= grown <= 1.25:
                report.missed.append(f"{name} changed by history: {grown:.2f}")
    if report.missed:
        sys.exit("missed: " + "; ".join(report.missed))


@contextmanager
def _server(store: Store) -> Iterator[Callable[[], Wire]]:
    """A server; gives connections to it."""
    key = Keyring(store).add(Wanted("bench", tuple(SCOPES))).text
    port = free_port()
    command = [sys.executable, "-m", "tests.benchmarks.api_server", str(store.home), str(port)]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    assert process.stderr is not None
    try:
        line = process.stderr.readline()
        assert line.startswith("Serving"), line + process.stderr.read()
        yield lambda: Wire(port, key)
    finally:
        process.kill()
        process.wait()
        process.stderr.close()


def _conditions(wire: Wire, report: Report) -> tuple[float, float]:
    """One asset's condition, and its 304, beside a ready body; their ratios to it."""
    paths = [f"/v1/assets/{SITE}/{asset_tag(n)}/condition" for n in range(100)]
    sizes = [len(wire.ask(path)[2]) for path in paths]
    ready = f"/v1/ready/{sizes[0]}"
    tag = wire.ask(paths[0])[1]["etag"]
    ratios: dict[str, list[float]] = {"condition": [], "304": [], "control": []}
    tails = []
    rounds = -(-_REQUESTS // len(paths))
    for _ in range(_PAIRS):
        ours = wire.times(paths * rounds, 200)
        bare = p50(wire.times([ready] * _REQUESTS, 200))
        known = wire.times([paths[0]] * _REQUESTS, 304, If_None_Match=tag)
        again = p50(wire.times([ready] * _REQUESTS, 200))
        ratios["condition"].append(p50(ours) / bare)
        ratios["304"].append(p50(known) / again)
        ratios["control"].append(again / bare)
        tails.append(p99(ours))
    more = f"; {sizes[0]:,} bytes, p50 {1000 * p50(ours):.2f} ms, p99 {1000 * p50(tails):.2f} ms"
    report.most("condition to a ready body", ratios["condition"], 1.3, more)
    report.most("304 to a ready body", ratios["304"], 1.15)
    print(f"A/A control: {Spread.of(ratios['control'])}")
    return Spread.of(ratios["condition"]).middle, Spread.of(ratios["304"]).middle


def _fleet(wire: Wire, report: Report) -> None:
    """The whole fleet as Arrow, beside serialising the same table."""
    table = pa.ipc.open_stream(wire.ask("/v1/conditions?format=arrow")[2]).read_all()
    assert table.num_rows == _ASSETS
    ratios = []
    for _ in range(_PAIRS):
        ours = _seconds(lambda: wire.ask("/v1/conditions?format=arrow"))
        bare = _seconds(lambda: _serialised(table))
        ratios.append(ours / bare)
    report.most("fleet as Arrow to serialising it", ratios, 3.0, f"; {table.nbytes:,} bytes")


def _serialised(table: pa.Table) -> bytes:
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, table.schema) as writer:
        writer.write_table(table)
    content: bytes = sink.getvalue().to_pybytes()
    return content


def _readings(wire: Wire, store: Store, report: Report) -> None:
    """Readings streamed, beside the engine's own scan to Arrow; as a ratio of rates."""
    files = [str(file) for file in (store.tables / "readings").rglob("*.parquet")]
    path = "/v1/readings?sorted=false&format=arrow"
    size = 0

    def scan() -> None:
        with duckdb.connect(config={"threads": 2}) as session:
            for batch in session.read_parquet(files).to_arrow_reader(122_880):
                assert batch.num_rows

    def export() -> None:
        nonlocal size
        status, _, content = wire.ask(path)
        assert status == 200
        size = len(content)

    ratios = []
    for _ in range(_PAIRS):
        ours, bare = _seconds(export), _seconds(scan)
        ratios.append(bare / ours)
    report.least("rate of readings to a bare scan", ratios, 0.5, f"; {size:,} bytes")


def _packages(wire: Callable[[], Wire], folder: Path, report: Report) -> None:
    """Small packages with durable receipts while queries run, beside one plain durable writer."""
    wires = [wire() for _ in range(_SENDERS)]
    asking, ended = wire(), threading.Event()
    queries = threading.Thread(target=_ask_on, args=[asking, ended])
    queries.start()
    ratios = []
    try:
        for number in range(_PAIRS):
            payloads = [_package(f"{number}-{n}") for n in range(_PACKAGES)]
            ours = _shared(payloads, [partial(_post, one) for one in wires])
            target = folder / f"bare-{number}"
            target.mkdir()
            bare = _shared(payloads, [partial(_write, target)])
            ratios.append(bare / ours)
    finally:
        ended.set()
        queries.join()
    more = f"; {_PACKAGES / ours:,.0f} receipts a second"
    report.least("receipts a second to bare durable writes", ratios, 0.3, more)


def _ask_on(wire: Wire, ended: threading.Event) -> None:
    while not ended.is_set():
        wire.ask(f"/v1/assets?limit=100&site={SITE}")
        wire.ask("/v1/tables/condition_log?limit=10")


def _package(name: str) -> bytes:
    return (f"time,ch01\n2025-06-21T00:00:00,{len(name)}\n" + f"# {name}\n" * 20).encode()


def _shared(payloads: list[bytes], senders: list[Callable[[bytes], None]]) -> float:
    """Seconds that the senders need, the payloads shared out among them."""

    def send(number: int) -> None:
        for one in payloads[number :: len(senders)]:
            senders[number](one)

    threads = [threading.Thread(target=send, args=[n]) for n in range(len(senders))]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return time.perf_counter() - began


def _post(wire: Wire, body: bytes) -> None:
    name = str(uuid.uuid4())
    url = "/v1/ingest?source=bench-logger"
    status, _, content = wire.ask(url, "POST", body, Idempotency_Key=name, Content_Type="text/csv")
    assert status == 202, content


def _write(folder: Path, body: bytes) -> None:
    path = folder / str(uuid.uuid4())
    path.write_bytes(body)
    sync_file(path)
    sync_folder(folder)


def _seconds(run: Callable[[], object]) -> float:
    began = time.perf_counter()
    run()
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
