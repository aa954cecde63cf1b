"""Subscriptions: who is told of cases and levels, and what became of it."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

import typer

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.push.envelope import STREAMS
from warehouse.push.outbox import Outbox, Subscription
from warehouse.services import pushing
from warehouse.services.subscriptions_served import plain
from warehouse.store import open_store

push_app = typer.Typer(help="Tell other systems of cases and levels.", no_args_is_help=True)

Number = Annotated[str, typer.Argument(metavar="ID", help="Id or name of a subscription.")]
_COLUMNS = ("id", "name", "url", "streams", "sites", "state", "waiting", "delivered", "given_up",
            "last_delivered_at", "failures", "failing_since", "next_at", "trouble",
            "why")  # fmt: skip
_LOGGED = ("number", "type", "subject", "state", "attempts", "queued_at", "tried_at", "told")


@push_app.command("add")
def add(
    name: Annotated[str, typer.Argument(help="What it is for, such as cmms.")],
    url: Annotated[str, typer.Argument(help="Where to post to; setting push_targets must allow.")],
    home: Home = DEFAULT_HOME,
    event: Annotated[
        list[str] | None,
        typer.Option("--event", help=f"{' or '.join(STREAMS)}; may be given again. Default: case."),
    ] = None,
    site: Annotated[
        list[str] | None, typer.Option("--site", help="Only of this site; may be given again.")
    ] = None,
    from_start: Annotated[
        bool, typer.Option("--from-start", help="Tell everything there is, not only what comes.")
    ] = False,
    json: Json = False,
) -> None:
    """Add a subscription. Its secret is shown once: the receiver checks signatures with it."""
    wanted = pushing.Wanted(name, url, tuple(event or ("case",)), tuple(site or ()), from_start)
    _tell(*pushing.subscribe(open_store(home), wanted), json)


@push_app.command("list")
def list_subscriptions(home: Home = DEFAULT_HOME, json: Json = False) -> None:
    """List the subscriptions, never their secrets."""
    with Outbox.open(open_store(home).home) as outbox:
        rows = [plain(one) for one in outbox.subscriptions()]
    if json:
        show.as_json(rows)
        return
    cells = [[_cell(row[name]) for name in _COLUMNS] for row in rows]
    show.table(show.counted(len(rows), "subscription"), _COLUMNS, cells)


@push_app.command("log")
def log(
    number: Number,
    home: Home = DEFAULT_HOME,
    limit: Annotated[int, typer.Option("--limit", help="Most deliveries shown.", min=1)] = 50,
    state: Annotated[
        str | None, typer.Option("--state", help="Only waiting, delivered or given-up ones.")
    ] = None,
    json: Json = False,
) -> None:
    """List what a subscription was told or is to be told, the newest first."""
    with Outbox.open(open_store(home).home) as outbox:
        rows = outbox.log(outbox.subscription(number).id, limit, state)
    if json:
        show.as_json(rows)
        return
    cells = [[_cell(row[name]) for name in _LOGGED] for row in rows]
    show.table(show.counted(len(rows), "delivery", "deliveries"), _LOGGED, cells)


@push_app.command("ping")
def ping(number: Number, home: Home = DEFAULT_HOME) -> None:
    """Queue a message that tells nothing, to try a target."""
    made = pushing.ping(open_store(home), number)
    _note(f"Queued {made}; `mcw run` or `mcw deliver` sends it.")


@push_app.command("resend")
def resend(
    number: Number,
    delivery: Annotated[list[int], typer.Argument(help="Numbers as `mcw push log` has them.")],
    home: Home = DEFAULT_HOME,
) -> None:
    """Have deliveries sent once more, with the same id and content."""
    with Outbox.open(open_store(home).home) as outbox:
        events = outbox.resend(outbox.subscription(number).id, delivery)
    _note(f"{show.counted(len(events), 'delivery', 'deliveries')} to be sent once more.")


@push_app.command("rotate")
def rotate(
    number: Number,
    home: Home = DEFAULT_HOME,
    overlap_hours: Annotated[
        float, typer.Option("--overlap-hours", help="How long the old secret signs besides.", min=0)
    ] = 24.0,
    json: Json = False,
) -> None:
    """Make a new secret; for the overlap messages are signed with the old one as well."""
    with Outbox.open(open_store(home).home) as outbox:
        one = outbox.subscription(number)
        secret = outbox.rotate(one.id, dt.timedelta(hours=overlap_hours))
    _tell(one, secret, json)


@push_app.command("disable")
def disable(number: Number, home: Home = DEFAULT_HOME) -> None:
    """Tell it nothing until it is enabled; what comes meanwhile is told then."""
    with Outbox.open(open_store(home).home) as outbox:
        one = outbox.subscription(number)
        outbox.disable(one.id, "hand")
    _note(f"{one.name} is told nothing until `mcw push enable {one.id}`.")


@push_app.command("enable")
def enable(number: Number, home: Home = DEFAULT_HOME) -> None:
    """Tell it again, beginning with what waits."""
    with Outbox.open(open_store(home).home) as outbox:
        one = outbox.subscription(number)
        outbox.enable(one.id)
    _note(f"{one.name} is told again.")


@push_app.command("remove")
def remove(number: Number, home: Home = DEFAULT_HOME) -> None:
    """Forget a subscription, its secrets, and what it was told."""
    with Outbox.open(open_store(home).home) as outbox:
        one = outbox.subscription(number)
        outbox.remove(one.id)
    _note(f"{one.name} is removed.")


def _cell(value: Any) -> Any:
    return " ".join(value) if isinstance(value, list) else value


def _tell(one: Subscription, secret: str, json: bool) -> None:
    if json:
        show.as_json({**plain(one), "secret": secret})
        return
    show.out.print(secret, markup=False, highlight=False, soft_wrap=True)
    _note(f"Secret of subscription {one.id} ({one.name}). It is shown this once.")


def _note(text: str) -> None:
    show.notes.print(text, markup=False, highlight=False, soft_wrap=True)
