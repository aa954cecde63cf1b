"""Working in the background: watching a folder, and the one process that commits and judges."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home
from warehouse.errors import SourceMissingError
from warehouse.inbox.upkeep import newest_ledger
from warehouse.push.outbox import Subscription
from warehouse.services.folder import WatchedFolder
from warehouse.services.pushing import Pusher, Round, subscriptions_waiting
from warehouse.services.running import Runner, only_runner
from warehouse.services.stopping import StopAskedError, stopping_on_signals
from warehouse.services.watching import Watch, Watched
from warehouse.store import open_store
from warehouse.wording import listed

_NOT_TAKEN = 11
"""Exit code where a target does not take what it is told."""


def watch(
    folder: Annotated[
        Path, typer.Argument(help="Folder the source writes its files to.", readable=False)
    ],
    mapping: Annotated[
        Path, typer.Option("--mapping", "-m", help="Mapping file (TOML).", readable=False)
    ],
    home: Home = DEFAULT_HOME,
    pattern: Annotated[str, typer.Option("--pattern", help="Names of the files to take.")] = "*",
    once: Annotated[bool, typer.Option("--once", help="Take what is there, then end.")] = False,
    move_to: Annotated[
        Path | None,
        typer.Option(
            "--move-to", help="Move files there once committed and quiet.", readable=False
        ),
    ] = None,
) -> None:
    """Take the files of a folder in as they become complete, and judge."""
    if move_to and move_to.resolve() == folder.resolve():
        raise typer.BadParameter(f"--move-to {move_to} is the watched folder itself")
    store = open_store(home)
    watched = WatchedFolder(folder, pattern, store.settings.watch_rest_seconds)
    with stopping_on_signals() as stop, newest_ledger(store) as ledger:
        work = Watch(store, ledger, watched, mapping, _say, move_to)
        if not once:
            _say(f"watching {folder} for {pattern}")
        done = work.run_once(stop) if once else work.run(stop)
    _say(_words(done))
    if once and done.unread:
        raise typer.Exit(SourceMissingError.exit_code)


def run(
    home: Home = DEFAULT_HOME,
    once: Annotated[bool, typer.Option("--once", help="Do what there is to do, then end.")] = False,
    wait: Annotated[
        bool, typer.Option("--wait", help="Where another is at work, wait for its end.")
    ] = False,
) -> None:
    """Commit what waits in the inbox, judge, compact, tell others: the background process."""
    store = open_store(home)
    with (
        stopping_on_signals() as stop,
        suppress(StopAskedError),
        only_runner(store, wait),
        newest_ledger(store) as ledger,
    ):
        runner = Runner(store, ledger, _say, patient=not once)
        if once:
            runner.step(stop)
            _say_what_was_told(Pusher(store, lambda: stop.asked).once(wait=True))
            return
        _say(f"at work on {store.home.resolve()}")
        runner.run(stop)
    _say("stopped")


def deliver(home: Home = DEFAULT_HOME) -> None:
    """Tell subscriptions what is new and what is due, once; `mcw run` does it by itself.

    Ends with 11 where a target did not take what it was told, now or before, and it still waits.
    """
    store = open_store(home)
    with stopping_on_signals() as stop, suppress(StopAskedError):
        done = Pusher(store, lambda: stop.asked).once()
        _say_what_was_told(done)
        waiting = subscriptions_waiting(store)
        for one in waiting:
            _say(_what_waits(one))
        if not done.delivered and not done.failed and not waiting:
            _say("nothing is due")
        if done.failed or any(one.trouble and not one.put_off for one in waiting):
            raise typer.Exit(_NOT_TAKEN)


def _what_waits(one: Subscription) -> str:
    words = f"{one.name}: {show.counted(one.waiting, 'message waits', 'messages wait')}"
    if not one.active:
        return f"{words}; it is disabled: {one.why}"
    if one.next_at is not None:
        words += f" until {one.next_at:%Y-%m-%d %H:%M:%S} UTC"
    return f"{words}; the last attempt: {one.trouble}" if one.trouble else words


def _say_what_was_told(done: Round) -> None:
    if done.delivered or done.failed:
        _say(f"push: {done.words}")


def _words(done: Watched) -> str:
    words = listed(
        (done.taken, f"{show.counted(done.taken, 'file')} taken in"),
        (done.repeated, f"{show.counted(done.repeated, 'duplicate')}"),
        (done.failed, f"{done.failed:,} failed"),
        (done.unread, f"{done.unread:,} not to be read"),
    )
    return words or "no new file"


def _say(text: str) -> None:
    """A line on stderr with the time of day, UTC."""
    now = dt.datetime.now(dt.UTC)
    show.notes.print(f"{now:%H:%M:%S} {text}", markup=False, highlight=False, soft_wrap=True)
