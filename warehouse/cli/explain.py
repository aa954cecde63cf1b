"""Why a machine is judged as it is."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Iterable, Iterator
from textwrap import fill
from typing import Annotated

import typer

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.judging.explanation import Step
from warehouse.services.displaying import Display, displays_of
from warehouse.services.explaining import Asked, ExplainedPoint, Explanation
from warehouse.services.explaining import explain as explained
from warehouse.store import open_store

_WIDTH = 80


def explain(
    site: Annotated[str, typer.Argument(help="Site code.")],
    asset: Annotated[str, typer.Argument(help="Asset tag.")],
    home: Home = DEFAULT_HOME,
    member: Annotated[str | None, typer.Option("--member", help="A machine of the train.")] = None,
    position: Annotated[str | None, typer.Option("--position", help="A measuring point.")] = None,
    axis: Annotated[str | None, typer.Option("--axis", help="A direction.")] = None,
    as_of: Annotated[
        str | None,
        typer.Option("--as-of", metavar="TIME", help="Judge for that moment (RFC 3339)."),
    ] = None,
    json: Json = False,
) -> None:
    """Show each step of a judgement with its numbers, and why not another.

    Without a position, of the point that governs the train or the machine.
    """
    when = None if as_of is None else _moment(as_of)
    store = open_store(home)
    found = explained(store, Asked(site, asset, member, position, axis), when)
    displays = displays_of(store)
    if json:
        plain = found.plain()
        for point in plain["points"]:
            (point["condition"],) = displays.beside([point["condition"]], ("measured_at",))
        show.as_json(plain)
    else:
        sys.stdout.write("\n".join(_lines(found, displays.of(site))) + "\n")
        if told := displays.told([site]):
            sys.stdout.write(f"\n{fill(told, _WIDTH)}\n")


def _moment(text: str) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise typer.BadParameter(
            f"--as-of {text!r} is not a time with its zone, such as 2025-11-13T23:00:00Z"
        )
    return moment


def _lines(found: Explanation, display: Display) -> Iterator[str]:
    asset, when = found.asset, display.stamp(found.as_of)
    yield f"{asset['site']}/{asset['asset']} as of {when}: {_level(asset)}"
    judged = "as published" if found.as_published else "judged for this moment"
    yield fill(
        f"Readings, registry and limits of published state {found.snapshot}; {judged}.", _WIDTH
    )
    for point in found.points:
        yield from _point(point, display)
    yield from _heading("The whole train", "=")
    yield from _steps(found.roll_up)


def _level(row: dict[str, str | None]) -> str:
    return f"{row['level']} ({row['basis']})"


def _point(point: ExplainedPoint, display: Display) -> Iterator[str]:
    row = point.condition
    place = " ".join(part for part in (row["position"], row["axis"]) if part)
    yield from _heading(f"{place}: {_level(row)}", "=")
    if told := display.words(row):
        yield fill(told, _WIDTH)
    for series in point.series:
        yield from _heading(series.name + (" - governs" if series.governs else ""), "-")
        yield from _steps(series.steps, numbered=True)
    yield from _steps(point.steps)


def _heading(text: str, line: str) -> Iterator[str]:
    yield ""
    yield from (text, line * min(len(text), _WIDTH))


def _steps(steps: Iterable[Step], numbered: bool = False) -> Iterator[str]:
    for number, step in enumerate(steps, 1):
        yield f"{number}. {step.title}" if numbered else step.title
        for said in step.said:
            hanging = "     " if said.startswith("- ") else "   "
            yield fill(said, _WIDTH, initial_indent="   ", subsequent_indent=hanging,
                       break_long_words=False, break_on_hyphens=False)  # fmt: skip
