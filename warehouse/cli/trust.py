"""Which sensors and readings are doubted, why, and what to do about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Annotated, Any

import typer
from rich.table import Table
from rich.text import Text

from schemas.trust import TRUST_CHECK
from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.services.displaying import Displays, displays_of
from warehouse.services.trust import Trust, trust_findings
from warehouse.store import open_store

_STYLE = {"distrust": "bold black on yellow", "note": "cyan"}


def trust(
    home: Home = DEFAULT_HOME,
    site: Annotated[str | None, typer.Option("--site", help="Only this site.")] = None,
    check: Annotated[
        str | None, typer.Option("--check", help="Only what this check found.")
    ] = None,
    ended: Annotated[bool, typer.Option("--ended", help="Also what has passed.")] = False,
    json: Json = False,
) -> None:
    """List the sensors and readings that are doubted: why, since when, and what to do.

    Above them stand the notices of many machines that changed level at once.
    """
    if check is not None and check not in TRUST_CHECK:
        raise typer.BadParameter(f"--check {check!r} is not one of {', '.join(TRUST_CHECK)}")
    store = open_store(home)
    found = trust_findings(store, site, check, ended)
    displays = displays_of(store)
    if json:
        rows = displays.beside(found.findings, ("since", "until"))
        show.as_json(asdict(found) | {"findings": rows})
        return
    for cause in found.common_causes:
        show.out.print(f"Common cause: {cause['notice']}.", highlight=False, soft_wrap=True)
    if found.findings:
        _show(found, displays)
    if told := displays.told(row["site"] for row in found.findings):
        show.out.print(told, markup=False, highlight=False, soft_wrap=True)
    show.out.print(_sum(found), highlight=False, soft_wrap=True)


def _sum(found: Trust) -> str:
    """How much was found, and what that does not say."""
    unseen = "What no check sees is not thereby sound."
    if not found.findings:
        return f"No finding as of {found.as_of:%Y-%m-%d %H:%M} UTC. {unseen}"
    distrusted = sum(row["effect"] == "distrust" for row in found.findings)
    return (
        f"{show.counted(len(found.findings), 'finding')}, {distrusted or 'none'} of distrust: "
        f"such readings are not judged, and prove no health. {unseen}"
    )


def _show(found: Trust, displays: Displays) -> None:
    shown = Table(
        title=f"What is doubted, as of {found.as_of:%Y-%m-%d %H:%M} UTC",
        title_justify="left", title_style="bold", header_style="bold", show_lines=True,
        expand=True,
    )  # fmt: skip
    shown.add_column("check", min_width=12)
    shown.add_column("place and device", min_width=20, max_width=40)
    sites = {row["site"] for row in found.findings}
    moments = displays.moments(sites)
    shown.add_column("since" if displays.local(sites) else "since (UTC)", no_wrap=True)
    shown.add_column("evidence and remedy", ratio=1)
    for rows in _together(found.findings):
        one = rows[0]
        words = [f"{row['evidence'][:1].upper()}{row['evidence'][1:]}." for row in rows]
        shown.add_row(
            Text.assemble(one["check_code"], "\n", (one["effect"], _STYLE[one["effect"]])),
            Text("\n".join(_place(rows))),
            Text(_when(one, moments)),
            Text("\n".join([*dict.fromkeys(words), one["remedy"]])),
        )
    show.out.print(shown)


def _together(findings: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Findings of one check at one point since one moment: the axes of one sensor."""
    names = ("check_code", "effect", "site", "asset", "position", "source", "device", "since",
             "until")  # fmt: skip
    grouped: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for row in findings:
        grouped.setdefault(tuple(row[name] for name in names), []).append(row)
    return list(grouped.values())


def _place(rows: list[dict[str, Any]]) -> list[str]:
    """Machine, point and device, each on a line, as far as they are known."""
    one = rows[0]
    machine = "/".join(one[name] for name in ("site", "asset") if one[name])
    point = [one["position"], _each(rows, "axis"), _each(rows, "quantity")]
    device = [one["device"], _each(rows, "channel")]
    lines = (machine, " ".join(filter(None, point)), " ".join(filter(None, device)))
    return [line for line in lines if line]


def _each(rows: list[dict[str, Any]], name: str) -> str:
    return ", ".join(dict.fromkeys(row[name] for row in rows if row[name]))


def _when(row: dict[str, Any], moments: Callable[[str | None, Any], str]) -> str:
    until = f"\nto {moments(row['site'], row['until'])}" if row["until"] else ""
    return f"{moments(row['site'], row['since']) or 'ever'}{until}"
