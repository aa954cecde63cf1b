"""A store with a registry, a mapping, and small logger files to drop into a watched folder."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.logger_file import make_logger_file
from warehouse.inbox import Ledger, Package
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store, open_store

QUICK = {
    "MCW_WATCH_REST_SECONDS": "0.3",
    "MCW_IDLE_SECONDS": "0.1",
    "MCW_CLOCK": "data",
    "MCW_COMMIT_SECONDS": "0",
}


@dataclass(frozen=True, slots=True)
class Site:
    """A store, the mapping of its one source, and the folder that source writes to."""

    home: Path
    mapping: Path
    folder: Path

    @property
    def store(self) -> Store:
        """The store, opened with short waits."""
        return self.opened()

    def opened(self, **settings: object) -> Store:
        """The store, opened with short waits, and with other settings."""
        waits = {"watch_rest_seconds": 0.3, "idle_seconds": 0.1, "commit_seconds": 0}
        return open_store(self.home, {**waits, "clock": "data", **settings})

    def packages(self) -> list[Package]:
        """What the ledger knows."""
        with Ledger.open(self.store.inbox) as ledger:
            return ledger.packages()

    def drop(self, name: str, day: int = 1, value: float = 2.0) -> Path:
        """A complete file of one line, 20 values, that appears by rename."""
        columns = ",".join(["time", *(f"ch{c:02d}" for c in range(1, 21))])
        line = ",".join([f"2016-02-{day:02d}T00:00:00", *[f"{value:.2f}"] * 20])
        hidden = self.folder / f".{name}"
        hidden.write_text(f"{columns}\n{line}\n")
        return hidden.rename(self.folder / name)


def make_template(home: Path) -> Site:
    """The site every test gets a copy of."""
    store = create_store(home / "store")
    case = make_logger_file(home / "case", 20)
    import_registry(store, case.registry)
    (home / "drop").mkdir()
    mapping = case.mapping.read_text().replace(
        'method = "wired"', 'method = "wired"\ninterval_minutes = 60'
    )
    case.mapping.write_text(mapping)
    return Site(home / "store", case.mapping, home / "drop")


def copy_site(template: Site, home: Path) -> Site:
    """A copy of the template."""
    shutil.copytree(template.home.parent, home)
    return Site(home / "store", home / "case" / template.mapping.name, home / "drop")


class Process:
    """`mcw` in a process of its own; its stderr is a file one can look into at any time."""

    def __init__(self, site: Site, *arguments: str) -> None:
        self.log = site.home.parent / f"{arguments[0]}-{time.monotonic_ns()}.log"
        command = [sys.executable, "-c", "from warehouse.cli import main; main()", *arguments]
        environment = {**os.environ, **QUICK, "MCW_HOME": str(site.home)}
        with self.log.open("w") as stream:
            self.process = subprocess.Popen(
                command, stdout=subprocess.DEVNULL, stderr=stream, env=environment
            )

    def said(self) -> str:
        """What it wrote to stderr so far."""
        return self.log.read_text()

    def end(self, number: int) -> int:
        """Send a signal and wait; returns the exit code."""
        self.process.send_signal(number)
        return self.process.wait(30)

    def __enter__(self) -> Process:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(30)


def until(true: Callable[[], object], seconds: float = 30) -> None:
    """Wait until something holds; fails the test where it does not."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.05)
