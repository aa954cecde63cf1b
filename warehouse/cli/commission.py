"""Commissioning: the checks of a new or moved sensor, and whether it counts."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

import typer

from schemas.codes import DETECTOR, QUANTITY
from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.services import commissioning
from warehouse.store import open_store

commission_app = typer.Typer(help="Checks of a new or moved sensor.", no_args_is_help=True)

Device = Annotated[str, typer.Argument(help="Device as its source names it.")]
Channel = Annotated[str, typer.Argument(help="Channel of the device.")]
EveryChannel = Annotated[
    str | None, typer.Argument(help="Channel of the device; none: all that are on.")
]
Person = Annotated[str, typer.Option("--by", help="Who does it: a name.")]
At = Annotated[str, typer.Option("--at", help="When: a time with offset, 2025-06-01T10:00:00Z.")]
Comment = Annotated[str | None, typer.Option("--comment", help="Remark.")]
Reason = Annotated[str, typer.Option("--reason", help="Why.")]


@commission_app.command("list")
def list_mountings(
    home: Home = DEFAULT_HOME,
    every: Annotated[bool, typer.Option("--all", help="Passed ones too.")] = False,
    json: Json = False,
) -> None:
    """List the mountings that have not passed, and what is still open."""
    found = commissioning.list_mountings(open_store(home), every)
    if json:
        show.as_json(found)
        return
    rows = [
        [
            row["device"], row["channel"], f"{row['site']}/{row['asset']}", row["position"],
            row["axis"], row["mounted_from"], row["commissioning"],
            ", ".join(f"{name}: {outcome}" for name, outcome in row["open"].items()),
        ]
        for row in found
    ]  # fmt: skip
    columns = (
        "device", "channel", "machine", "position", "axis", "mounted (UTC)", "commissioning",
        "still open",
    )  # fmt: skip
    show.table(show.counted(len(rows), "mounting"), columns, rows)


@commission_app.command("show")
def show_mounting(
    device: Device, channel: Channel, home: Home = DEFAULT_HOME, json: Json = False
) -> None:
    """Show how the checks of a mounting stand, and what to do next."""
    found = commissioning.show_mounting(open_store(home), device, channel)
    if json:
        show.as_json(found)
        return
    place = found["mounting"]
    title = (
        f"{device}/{channel} at {place['site']}/{place['asset']} {place['position']} "
        f"{place['axis'] or ''}: {place['commissioning']}"
    )
    rows = [
        [row["check"], row["outcome"] or "not done", row["found"] or row["meaning"],
         row["person"], row["recorded_at"]]
        for row in found["checks"]
    ]  # fmt: skip
    show.table(title, ("check", "outcome", "found", "by", "at (UTC)"), rows)


@commission_app.command("start")
def start(
    device: Device, by: Person, channel: EveryChannel = None, comment: Comment = None,
    home: Home = DEFAULT_HOME,
) -> None:  # fmt: skip
    """Begin: the mounting is provisional until it has passed."""
    begun = commissioning.start(open_store(home), device, channel, by, comment)
    show.notes.print(f"{_names(begun)}: provisional.", highlight=False)


@commission_app.command("tap")
def tap(
    device: Device, channel: Channel, at: At, by: Person, home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:  # fmt: skip
    """Check that the axis of the channel answered, after tapping along it."""
    _tell([commissioning.tap(open_store(home), device, channel, _time(at), by)], json)


@commission_app.command("compare")
def compare(
    device: Device, channel: Channel, at: At, by: Person,
    value: Annotated[float, typer.Option("--value", help="What the handheld meter showed.")],
    unit: Annotated[str, typer.Option("--unit", help="Its unit, a UCUM code.")],
    quantity: Annotated[str, typer.Option("--quantity", help="A quantity code.")] = "velocity",
    detector: Annotated[str, typer.Option("--detector", help="A detector code.")] = "rms",
    band: Annotated[str | None, typer.Option("--band", help="As LOW-HIGHHz.")] = None,
    home: Home = DEFAULT_HOME, json: Json = False,
) -> None:  # fmt: skip
    """Check the sensor against a handheld reading of the same band and detector."""
    for name, code, codes in (
        ("--quantity", quantity, QUANTITY), ("--detector", detector, DETECTOR)
    ):  # fmt: skip
        if code not in codes:
            raise typer.BadParameter(f"{name} {code!r} is not one of {', '.join(codes)}")
    step = commissioning.compare(
        open_store(home), device, channel, _time(at), value, unit, quantity, detector, band, by
    )
    _tell([step], json)


@commission_app.command("check")
def check(
    device: Device,
    by: Person,
    channel: EveryChannel = None,
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Check what readings alone tell: proof of running, interval, plausibility."""
    _tell(commissioning.check(open_store(home), device, channel, by), json)


@commission_app.command("waive")
def waive(
    device: Device, channel: Channel,
    name: Annotated[str, typer.Argument(metavar="CHECK", help="The check to do without.")],
    by: Person, reason: Reason, home: Home = DEFAULT_HOME, json: Json = False,
) -> None:  # fmt: skip
    """Do without a check, for a reason."""
    _tell([commissioning.waive(open_store(home), device, channel, name, by, reason)], json)


@commission_app.command("pass")
def pass_mounting(
    device: Device, by: Person, channel: EveryChannel = None, comment: Comment = None,
    home: Home = DEFAULT_HOME,
) -> None:  # fmt: skip
    """Let a mounting count: readings since it was mounted are judged from the next judging on."""
    passed = commissioning.pass_mountings(open_store(home), device, channel, by, comment)
    show.notes.print(f"{_names(passed)}: passed. Next: mcw judge", highlight=False)


@commission_app.command("fail")
def fail(
    device: Device, channel: Channel, by: Person, reason: Reason, home: Home = DEFAULT_HOME
) -> None:
    """Say what is wrong with a mounting; it stays provisional."""
    commissioning.fail(open_store(home), device, channel, by, reason)
    show.notes.print(f"{device}/{channel} stays provisional: {reason}", highlight=False)


def _names(steps: list[commissioning.Row]) -> str:
    return ", ".join(f"{step['device']}/{step['channel']}" for step in steps)


def _time(text: str) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError as error:
        raise typer.BadParameter(f"--at {text!r} is no ISO 8601 time") from error
    if moment.tzinfo is None:
        raise typer.BadParameter(f"--at {text!r} has no offset; write 2025-06-01T10:00:00Z")
    return moment.astimezone(dt.UTC)


def _tell(steps: list[commissioning.Row], json: bool) -> None:
    if json:
        show.as_json(steps)
        return
    for step in steps:
        line = f"{step['channel']}: {step['step']}: {step['outcome']}: {step['found']}"
        show.out.print(line, markup=False, highlight=False, soft_wrap=True)
