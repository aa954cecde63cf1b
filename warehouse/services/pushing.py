"""Telling others of cases and levels: subscriptions, filling the outbox, delivering from it.

The outbox is filled by whoever judges (`mcw run`) or by `mcw deliver`, from
published states only, and delivered by one program at a time. A target that
is down, slow or redirects is tried again later; others do not wait for it.
"""

from __future__ import annotations

import asyncio
import datetime as dt
import getpass
import random
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from http import HTTPStatus
from typing import TYPE_CHECKING, Final

from warehouse import clock
from warehouse.errors import BusyError, PushError, WarehouseError
from warehouse.inbox import Ledger
from warehouse.push.envelope import MEDIA_TYPE, PING, STREAMS, event
from warehouse.push.outbox import Due, Outbox, Subscription
from warehouse.push.signing import signed_headers
from warehouse.push.targets import Targets
from warehouse.refusals import plain_refusals
from warehouse.registry.stored import stored_entities
from warehouse.services.locks import holding
from warehouse.services.push_events import Happened, happened_after, highest
from warehouse.store import Store
from warehouse.store.snapshot import newest
from warehouse.wording import counted

if TYPE_CHECKING:
    from warehouse.push.sending import Answer, Sender

DELAYS: Final = (5, 60, 300, 1800, 7200, 18_000, 36_000)
"""Seconds until the next attempt after each failed one; the last goes on until `push_days`."""
_JITTER = 0.2
_ROUND_SECONDS = 20.0
_OF_THE_MESSAGE = 4
"""First digit of answers that find fault with a message; others are no fault of it."""
_BUSY = (408, 425, 429)
"""Of those, what says nothing against the message: the target is busy."""
_MOST_SUBSCRIPTIONS = 100


@dataclass(frozen=True, slots=True)
class Wanted:
    """A subscription that is asked for; without sites of all, without `from_start` from now on."""

    name: str
    url: str
    streams: tuple[str, ...] = ("case",)
    sites: tuple[str, ...] = ()
    from_start: bool = False

    def faults(self, store: Store) -> list[str]:
        """Everything that is wrong with it."""
        told = []
        if not self.name.strip() or len(self.name) > 100:
            told.append("a subscription needs a name of at most 100 characters")
        if not self.streams:
            told.append(f"say what is to be told: {', '.join(STREAMS)}")
        told += [f"{one!r} cannot be told; to be told are {', '.join(STREAMS)}"
                 for one in self.streams if one not in STREAMS]  # fmt: skip
        known = stored_entities(store)["sites"]["site"].to_pylist()
        told += [f"site {one!r} is not registered; registered: {', '.join(known)}"
                 for one in self.sites if one not in known]  # fmt: skip
        try:
            Targets.of(store.settings.push_targets).check(self.url)
        except PushError as error:
            told += error.faults
        return told


def subscribe(store: Store, wanted: Wanted) -> tuple[Subscription, str]:
    """A new subscription, and its secret, which is told this once.

    It is told what is published from now on, or all there is with `from_start`.
    Raises PushError with every fault.
    """
    if faults := wanted.faults(store):
        raise PushError(faults)
    snapshot = newest(store)
    after = {"case": 0, "level": 0}
    if snapshot is not None and not wanted.from_start:
        after = highest(store, snapshot)
    with Outbox.open(store.home) as outbox:
        if len(outbox.subscriptions()) >= _MOST_SUBSCRIPTIONS:
            raise PushError([f"there are {_MOST_SUBSCRIPTIONS} subscriptions; more are not kept"])
        return outbox.add(
            wanted.name, wanted.url, wanted.streams, wanted.sites or None, after, _user()
        )


def ping(store: Store, number: str) -> str:
    """Queue a message that tells nothing, to try a target; its event id. Raises NotFoundError."""
    with Outbox.open(store.home) as outbox:
        one = outbox.subscription(number)
        now = clock.now()
        made = event(
            _inbox_id(store), PING, time.time_ns(), "asked", one.name, now,
            {"subscription": one.id, "name": one.name},
        )  # fmt: skip
        outbox.queue_one(one.id, made)
    return made.id


def subscriptions_waiting(store: Store) -> list[Subscription]:
    """Subscriptions that something waits for: it was not taken yet, or they are disabled."""
    if not Outbox.file(store.home).exists():
        return []
    with Outbox.open(store.home) as outbox:
        return [one for one in outbox.subscriptions() if one.waiting]


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # a container without names
        return "unknown"


def _inbox_id(store: Store) -> str:
    with Ledger.open(store.inbox) as ledger:
        return ledger.inbox_id


def fill(store: Store, outbox: Outbox) -> int:
    """Queue what the newest published state has that subscriptions were not told; how many.

    Raises PushError where the dataset is behind what was told already: an older copy was put
    in its place, and nobody is told of that by guess.
    """
    snapshot = newest(store)
    active = [one for one in outbox.subscriptions() if one.active]
    if snapshot is None or not active:
        return 0
    last = highest(store, snapshot)
    ahead = [one.name for one in active for stream in STREAMS if one.after(stream) > last[stream]]
    if ahead:
        raise PushError(
            [
                f"{', '.join(dict.fromkeys(ahead))} was told more than this dataset holds: an "
                "older copy stands in its place; remove the subscription and make it anew"
            ]
        )
    if all(one.after(stream) == last[stream] for one in active for stream in STREAMS):
        return 0
    found, inbox_id = {}, _inbox_id(store)
    for stream in STREAMS:
        after = [one.after(stream) for one in active if stream in one.streams]
        if after and min(after) < last[stream]:
            found[stream] = happened_after(store, snapshot, stream, min(after), inbox_id)
    events = {one.id: [h.event for h in _for(one, found)] for one in active}
    return outbox.queue(events, last)


def _for(one: Subscription, found: dict[str, list[Happened]]) -> list[Happened]:
    return [
        happened
        for stream in one.streams
        for happened in found.get(stream, [])
        if happened.number > one.after(stream) and one.sees(happened.site)
    ]


@dataclass(slots=True)
class Round:
    """What a round of deliveries came to."""

    queued: int = 0
    delivered: int = 0
    failed: dict[str, str] = field(default_factory=dict)
    """By subscription, what was told of the last failed attempt."""
    taken: set[str] = field(default_factory=set)
    """Subscriptions that took all they were told, one message or more."""

    @property
    def words(self) -> str:
        """In plain words."""
        told = [f"{counted(self.delivered, 'message')} delivered"]
        told += [f"{name}: {why}" for name, why in sorted(self.failed.items())]
        return "; ".join(told)


@dataclass(slots=True)
class Pusher:
    """Fills and delivers for one store; `asked_to_stop` is looked at between two attempts."""

    store: Store
    asked_to_stop: Callable[[], bool] = lambda: False
    _filled: tuple[int, tuple[str, ...]] | None = None
    _pruned_at: float = 0.0

    def once(self, wait: bool = False) -> Round:
        """Queue what is new and deliver what is due. Raises BusyError where another does.

        `wait` for the other.
        """
        done = Round()
        if not Outbox.file(self.store.home).exists():
            return done
        why, remedy = "another program delivers", "end it, or leave it to that"
        with Outbox.open(self.store.home) as outbox:
            if not self._is_new(outbox) and not outbox.any_due():
                return done
            with holding(self.store, "deliverer", why, remedy, wait=wait):
                self._fill(outbox, done)
                if outbox.any_due():
                    asyncio.run(self._deliver(outbox, done))
                self._prune(outbox)
        return done

    def _is_new(self, outbox: Outbox) -> bool:
        """Whether a state was published, or who is to be told has changed, since the last look."""
        return self._seen(outbox) != self._filled

    def _seen(self, outbox: Outbox) -> tuple[int, tuple[str, ...]]:
        snapshot = newest(self.store)
        active = tuple(one.id for one in outbox.subscriptions() if one.active)
        return (snapshot.seq if snapshot else 0, active)

    def _fill(self, outbox: Outbox, done: Round) -> None:
        seen = self._seen(outbox)
        try:
            done.queued = fill(self.store, outbox)
            self._filled = seen
        except PushError as error:  # what waits is told all the same
            done.failed["dataset"] = "; ".join(error.faults)

    def _prune(self, outbox: Outbox) -> None:
        if time.monotonic() >= self._pruned_at:
            self._pruned_at = time.monotonic() + 3600
            outbox.prune(clock.now() - dt.timedelta(days=self.store.settings.push_log_days))

    async def _deliver(self, outbox: Outbox, done: Round) -> None:
        """To each target one after the other, to all of them beside each other."""
        # Not before it is needed: every command would pay for the import.
        from warehouse.push.sending import Sender

        until = time.monotonic() + _ROUND_SECONDS
        async with Sender.of(self.store.settings) as sender:
            due = [outbox.subscription(number) for number in outbox.any_due()]
            waits = [self._deliver_to(one, outbox, sender, until, done) for one in due]
            await asyncio.gather(*waits)

    async def _deliver_to(
        self, one: Subscription, outbox: Outbox, sender: Sender, until: float, done: Round
    ) -> None:
        while time.monotonic() < until and not self.asked_to_stop():
            due = outbox.due(one.id)
            if due is None:
                return
            now = int(clock.now().timestamp())
            signed = signed_headers(outbox.secrets(one.id), due.event, now, due.body)
            answer = await sender.send(one.url, {"Content-Type": MEDIA_TYPE, **signed}, due.body)
            status = answer.tried.status
            if status is not None and HTTPStatus.OK <= status < HTTPStatus.MULTIPLE_CHOICES:
                outbox.delivered(due, answer.tried)
                done.delivered += 1
                if one.name not in done.failed:
                    done.taken.add(one.name)
                continue
            done.failed[one.name] = answer.tried.told
            done.taken.discard(one.name)
            if self._failed(one, due, answer, outbox):
                return

    def _failed(self, one: Subscription, due: Due, answer: Answer, outbox: Outbox) -> bool:
        """Record it; whether the target is to be left alone for a while."""
        tried, status = answer.tried, answer.tried.status
        longest = dt.timedelta(days=self.store.settings.push_days)
        if status == HTTPStatus.GONE:
            outbox.refused(due, tried, "the target answered 410 Gone: it wants no more")
            return True
        if status is not None and status // 100 == _OF_THE_MESSAGE and status not in _BUSY:
            if tried.at - due.begun_at > longest:
                outbox.given_up(due, tried)
            else:
                outbox.failed(due, tried, _again(tried.at, due.attempts, None), pause=False)
            return False
        now = outbox.subscription(one.id)
        if now.failing_since is not None and tried.at - now.failing_since > longest:
            outbox.refused(due, tried, f"nothing was taken since {now.failing_since:%Y-%m-%d}: "
                           f"{tried.told}")  # fmt: skip
        else:
            again = _again(tried.at, now.failures, answer.leave_alone)
            outbox.failed(due, tried, again, pause=True)
        return True


def _again(at: dt.datetime, failures: int, leave_alone: float | None) -> dt.datetime:
    """When to try next: ever later, never all at the same moment."""
    seconds = DELAYS[min(failures, len(DELAYS) - 1)] * random.uniform(1 - _JITTER, 1 + _JITTER)
    return at + dt.timedelta(seconds=max(seconds, leave_alone or 0.0))


class PushThread:
    """Delivers beside the steps of `mcw run`, so that no slow target holds up the judge."""

    def __init__(self, store: Store, say: Callable[[str], None]) -> None:
        self._stop = threading.Event()
        self._say = say
        own = replace(store, _logs={})  # a table's log is one thread's
        self._pusher = Pusher(own, self._stop.is_set)
        self._thread = threading.Thread(target=self._work, name="push", daemon=True)
        self._told: dict[str, str] = {}

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End after the attempt under way."""
        self._stop.set()
        self._thread.join()

    def _work(self) -> None:
        settings = self._pusher.store.settings
        while not self._stop.wait(settings.idle_seconds):
            try:
                with plain_refusals(self._pusher.store.home):
                    done = self._pusher.once()
                self._tell(done)
            except BusyError:
                continue  # `mcw deliver` is at it
            except WarehouseError as error:
                if self._told.get("") != error.message:
                    self._say(f"push: {error.message}")
                self._told[""] = error.message

    def _tell(self, done: Round) -> None:
        """Trouble of a target is said once, until a message was taken there or it is another.

        A round between two attempts, or of other targets, says nothing of it.
        """
        for name in {"", "dataset", *done.taken} - done.failed.keys():
            self._told.pop(name, None)
        new = {name: why for name, why in done.failed.items() if self._told.get(name) != why}
        if new:
            self._say(f"push: {replace(done, failed=new).words}")
        self._told |= done.failed
