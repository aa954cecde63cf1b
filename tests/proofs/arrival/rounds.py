"""One round, all of it under kills: hand over, withdraw, register late, correct mountings, put
right, bring back, replay; then compare.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.proofs.arrival.compare import Comparison, match_packages
from tests.proofs.arrival.model import Identity, expect
from tests.proofs.arrival.processes import Stage
from tests.proofs.arrival.world import (
    CORRECTED_SLOT,
    SOURCES,
    Sent,
    corrected_device,
    devices,
    late_device,
    make_world,
    write_plant,
)
from warehouse.inbox import Ledger, Package
from warehouse.inbox.package import RE_PLACED
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store, open_store

_PACKAGES = 12
_DISTURBED = 0.85
"""Share of processes that are to be killed; some live on, for they never pass their step."""
_EASING = 0.8
"""What that share comes down to with each attempt at the same thing, so that all has an end."""
_ATTEMPTS = 40

Action = list[str]


class StuckError(Exception):
    """Something was asked for again and again, in the end undisturbed, and is not done."""


def _attempts(action: Action) -> Iterator[float]:
    """Shares to disturb, ever less."""
    for attempt in range(_ATTEMPTS):
        yield _DISTURBED * _EASING**attempt
    raise StuckError(" ".join(action))


def make_template(folder: Path) -> None:
    """The plant, and a store with its early registry: made once, copied for each round."""
    folder.mkdir()
    write_plant(folder)
    import_registry(create_store(folder / "store"), folder / "registry")


@dataclass(slots=True)
class Round:
    """One store from its first package to the comparison."""

    folder: Path
    stage: Stage
    chance: random.Random
    store: Store = field(init=False)
    _late: bool = False
    _corrected: bool = False
    _replays: list[Action] = field(default_factory=list)
    _withdrawn: set[int] = field(default_factory=set)
    _ever_withdrawn: set[int] = field(default_factory=set)

    def run(self, template: Path) -> None:
        """Packages are handed over in thirds, go and come; a device is late; all settles."""
        shutil.copytree(template, self.folder)
        self.store = open_store(self.folder / "store")
        world = make_world(self.chance, _PACKAGES)
        files = self._write(world)
        self._late, self._corrected = self.chance.random() < 0.5, self.chance.random() < 0.5
        if self._late or self._corrected or self.chance.random() < 0.3:
            self._replays = [["replay"]]  # it judges all anew: not in every round
        events, ends = [self._withdraw, self._withdraw], [self._bring_back]
        if self._late:
            events.append(self._register("late"))
        if self._corrected:
            events.append(self._register("corrected"))
            ends.append(self._register("put-right"))
        self.chance.shuffle(events)
        self.chance.shuffle(ends)
        for number, event in enumerate([*events, *ends], start=1):
            share = len(files) // (len(events) + len(ends))
            self._hand_over(files[: number * share])
            if self.chance.random() < 0.6:
                self._leave_half_done(files[: number * share + 2])
            event()
        for action in (["receive", *files], ["commit"], *self._replays, ["commit"]):
            self._until_done(action)
        self._compare(world)

    def _write(self, world: Sequence[Sent]) -> list[str]:
        sent = self.folder / "sent"
        sent.mkdir()
        for one in world:
            (sent / one.name).write_text(one.text, encoding="utf-8")
        return [str(sent / one.name) for one in world]

    def _hand_over(self, files: Sequence[str]) -> None:
        """Two receivers, two would-be committers and two would-be compactors."""
        shuffled = self.chance.sample(files, len(files))
        receivers = [["receive", *files], ["receive", *shuffled]]
        self._together([*receivers, ["commit"], ["commit"], ["compact"], ["compact"]])

    def _leave_half_done(self, files: Sequence[str]) -> None:
        """More arrives; its commit dies when it has ended what it revises, or is made but for that.

        Nobody makes up for it before the next event.
        """
        self._until_done(["receive", *files])
        step = self.chance.choice(("superseded-after", "readings-after"))
        self.stage.kill_at(step, self.store.home, "commit")

    def _register(self, name: str) -> Callable[[], None]:
        """Import another registry: what had no place before is replayed, at once and later."""
        register = ["register", str(self.folder / f"registry-{name}")]

        def event() -> None:
            self._beside([register, *self._replays])
            self._until_done(register)

        return event

    def _withdraw(self) -> None:
        """Withdraw up to two packages, each of them twice at once, while other things go on."""
        able = [p.number for p in self._packages() if p.counts.accepted + p.counts.revised]
        able = [number for number in able if number not in self._ever_withdrawn]
        chosen = self.chance.sample(able, min(len(able), self.chance.choice((0, 1, 1, 2))))
        self._beside([["retract", str(n)] for n in chosen for _ in range(2)])
        for number in chosen:
            self._until_state(["retract", str(number)], lambda state: state == "retracted")
        self._withdrawn |= set(chosen)
        self._ever_withdrawn |= set(chosen)

    def _bring_back(self) -> None:
        """Some withdrawn packages are brought back, each of them twice at once."""
        chosen = [number for number in sorted(self._withdrawn) if self.chance.random() < 0.5]
        self._beside([["undo", str(n)] for n in chosen for _ in range(2)] + self._replays)
        for number in chosen:
            self._until_state(["undo", str(number)], lambda state: state != "retracted")
        self._withdrawn -= set(chosen)

    def _beside(self, actions: Sequence[Action]) -> None:
        """Actions beside committers and compactors, whichever comes first."""
        all_actions = [*actions, ["commit"], ["commit"], ["compact"], ["compact"]]
        self._together(self.chance.sample(all_actions, len(all_actions)))

    def _together(self, actions: Sequence[Action], disturb: float = _DISTURBED) -> list[bool]:
        return self.stage.together(self.store.home, actions, disturb)

    def _until_done(self, action: Action) -> None:
        for disturb in _attempts(action):
            if all(self._together([action], disturb)):
                return

    def _until_state(self, action: Action, reached: Callable[[str], bool]) -> None:
        """Ask again, as a person would who was told nothing, until the ledger says it is so."""
        for disturb in _attempts(action):
            if reached(self._state(int(action[1]))):
                return
            self._together([action, ["commit"]], disturb)

    def _packages(self) -> list[Package]:
        with Ledger.open(self.store.inbox) as ledger:
            return ledger.packages()

    def _state(self, number: int) -> str:
        with Ledger.open(self.store.inbox) as ledger:
            return ledger.package(number).state

    def _compare(self, world: Sequence[Sent]) -> None:
        packages = {p.number: p for p in self._packages() if p.mapping != RE_PLACED}
        sent = match_packages(list(packages.values()), world)
        in_order = sorted(packages.values(), key=lambda p: (p.received_at, p.number))
        known = {device for source in SOURCES for device in devices(source)}
        expected = expect(
            [sent[package.number] for package in in_order],
            known=known | ({late_device(source) for source in SOURCES} if self._late else set()),
            refused_for_a_time=self._refused_for_a_time,
            withdrawn={sent[number].name for number in self._withdrawn},
            ever_withdrawn={sent[number].name for number in self._ever_withdrawn},
        )
        both = {number: (package, sent[number]) for number, package in packages.items()}
        Comparison(self.store, self.stage.tally, both, expected).run(world)

    def _refused_for_a_time(self, identity: Identity) -> str | None:
        source, device, slot = identity[0], identity[1], identity[4]
        if self._late and device == late_device(source):
            return "unknown-device"
        wrongly = self._corrected and device == corrected_device(source) and slot < CORRECTED_SLOT
        return "not-mounted" if wrongly else None
