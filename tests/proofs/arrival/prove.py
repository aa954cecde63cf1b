"""`make prove-arrival`: kill, start again, compare with the plain model; again and again.

Prints `kills N  lost 0  doubled 0  unexplained 0` and ends with 1 where that is
not so. QUICK=1 makes a small cut; SEED=N another run.
"""

from __future__ import annotations

import datetime as dt
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from tests.proofs.arrival.child import STEPS
from tests.proofs.arrival.model import Expected, expect
from tests.proofs.arrival.world import SOURCES, World, make_world, write_plant
from warehouse.inbox import Ledger, Package
from warehouse.query import open_session, run
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store

_PACKAGES = 12
_KNOWN = {f"{source}-{device}" for source in SOURCES for device in "abc"}


@dataclass(slots=True)
class Tally:
    """What the proof has seen."""

    kills: int = 0
    lost: int = 0
    doubled: int = 0
    unexplained: int = 0

    def __str__(self) -> str:
        return (
            f"kills {self.kills}  lost {self.lost}  doubled {self.doubled}  "
            f"unexplained {self.unexplained}"
        )

    @property
    def clean(self) -> bool:
        """Nothing lost, doubled or unexplained."""
        return not (self.lost or self.doubled or self.unexplained)


def main() -> None:
    """Run rounds until enough processes were killed."""
    seed = int(os.environ.get("SEED", time.time_ns() % 1_000_000))
    wanted = 12 if os.environ.get("QUICK") == "1" else 300
    tally = prove(seed, wanted)
    print(f"seed {seed}\n{tally}")
    sys.exit(0 if tally.clean else 1)


def prove(seed: int, wanted: int) -> Tally:
    """Rounds of packages with kills until `wanted` processes were killed."""
    chance = random.Random(seed)
    tally = Tally()
    while tally.kills < wanted:
        with tempfile.TemporaryDirectory(prefix="prove-arrival-") as folder:
            _Round(Path(folder), chance, tally).run()
        sys.stderr.write(f"{tally}\n")
    return tally


class _Round:
    def __init__(self, folder: Path, chance: random.Random, tally: Tally) -> None:
        self.folder = folder
        self.chance = chance
        self.tally = tally
        self.world: World = make_world(chance.randrange(1 << 30), _PACKAGES)
        write_plant(folder / "plant")
        self.store: Store = create_store(folder / "store")
        import_registry(self.store, folder / "plant" / "registry")

    def run(self) -> None:
        """Hand everything over in two halves, kill meanwhile, withdraw some, compare."""
        paths = self._write_files()
        for half in (paths[: len(paths) // 2], paths):
            self._hand_over(half)
        withdrawn = self._withdraw()
        self._until_done(["commit"])
        self._compare(withdrawn)

    def _write_files(self) -> list[Path]:
        sent = self.folder / "plant" / "sent"
        sent.mkdir()
        for package in self.world.sent:
            (sent / package.name).write_text(package.text, encoding="utf-8")
        return [sent / package.name for package in self.world.sent]

    def _hand_over(self, paths: list[Path]) -> None:
        """Two receivers, two would-be committers and a compactor at once; then until all is in."""
        names = [str(path) for path in paths]
        shuffled = self.chance.sample(names, len(names))
        together = [
            ["receive", *names],
            ["receive", *shuffled],
            ["commit"],
            ["commit"],
            ["compact"],
        ]
        self._wait([self._start(action) for action in together])
        self._until_done(["receive", *names])
        self._until_done(["commit"])

    def _start(self, action: list[str]) -> subprocess.Popen[str]:
        step, count = "-", 1
        if self.chance.random() < 0.9:
            step, count = self.chance.choice(STEPS), self.chance.choice((1, 1, 1, 2))
        command = [sys.executable, "-m", "tests.proofs.arrival.child", str(self.store.home)]
        return subprocess.Popen(
            [*command, step, str(count), *action], stderr=subprocess.PIPE, text=True
        )

    def _wait(self, processes: list[subprocess.Popen[str]]) -> bool:
        """Wait for all, killing some at a random moment; whether every one ended well."""
        if self.chance.random() < 0.5:
            time.sleep(self.chance.uniform(0.5, 2.0))
            self.chance.choice(processes).send_signal(signal.SIGKILL)
        well = True
        for process in processes:
            _, errors = process.communicate(timeout=300)
            self.tally.kills += process.returncode == -signal.SIGKILL
            well &= process.returncode == 0
            if process.returncode > 0:
                sys.stderr.write(errors)
                self.tally.unexplained += 1
        return well

    def _until_done(self, action: list[str]) -> None:
        while not self._wait([self._start(action)]):
            pass

    def _withdraw(self) -> set[str]:
        """Withdraw a package, as a person would after finding a wrong mapping."""
        packages = [p for p in self._packages() if p.counts.accepted + p.counts.revised]
        if not packages or self.chance.random() < 0.4:
            return set()
        chosen = self.chance.choice(packages)
        while self._state(chosen) != "retracted":
            self._wait([self._start(["retract", str(chosen.number)])])
        return {chosen.file}

    def _packages(self) -> list[Package]:
        with Ledger.open(self.store.inbox) as ledger:
            return ledger.packages()

    def _state(self, package: Package) -> str:
        with Ledger.open(self.store.inbox) as ledger:
            return ledger.package(package.number).state

    def _compare(self, withdrawn: set[str]) -> None:
        packages = self._packages()
        by_name = {sent.name: sent for sent in self.world.sent}
        in_order = sorted(packages, key=lambda p: (p.received_at, p.number))
        known = [by_name[package.file] for package in in_order]
        self.tally.lost += len(set(by_name) - {package.file for package in packages})
        expected = expect(known, _KNOWN, withdrawn)
        self._compare_current(expected)
        self._compare_counts(packages, expected)

    def _compare_current(self, expected: Expected) -> None:
        """Row for row: each identity once, with the value that must count."""
        statement = (Path(__file__).parent / "current.sql").read_text(encoding="utf-8")
        with open_session(self.store, {}, _LATE) as session:
            rows = run(session, statement).to_pylist()
        found = Counter((row["source"], row["device"], row["minute"]) for row in rows)
        self.tally.doubled += sum(number - 1 for number in found.values())
        self.tally.lost += len(set(expected.current) - set(found))
        self.tally.unexplained += len(set(found) - set(expected.current))
        self.tally.unexplained += sum(
            abs(expected.current.get(key, row["value"]) - row["value"]) > 1e-9
            for row in rows
            for key in [(row["source"], row["device"], row["minute"])]
        )

    def _compare_counts(self, packages: list[Package], expected: Expected) -> None:
        for package in packages:
            counts = package.counts
            right = (
                counts.items == expected.items[package.file]
                and counts.rejected == expected.rejected[package.file]
                and counts.items == counts.accounted
            )
            self.tally.unexplained += not right


_LATE = dt.datetime(2100, 1, 1, tzinfo=dt.UTC)


if __name__ == "__main__":
    main()
