"""Limit sets: those in force, what is in one, and whether the plant's own files are sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from operator import itemgetter
from typing import Annotated, Any

import typer

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.judging.advice import CAUTION
from warehouse.services.limits import (
    Checked,
    ShownSet,
    check_limits,
    limit_set,
    limit_sets,
    limits_for_information,
    machine_limits,
    unjudged_machines,
)
from warehouse.store import Store, open_store


def limits(
    name: Annotated[
        str | None, typer.Argument(metavar="[SET]", help="A limit set: show its rows.")
    ] = None,
    home: Home = DEFAULT_HOME,
    check: Annotated[
        bool,
        typer.Option(
            "--check", help="Check the plant's own files and assignments; every fault is named."
        ),
    ] = False,
    machines: Annotated[
        bool, typer.Option("--machines", help="The set of each machine, why, and what is assumed.")
    ] = False,
    unjudged: Annotated[
        bool, typer.Option("--unjudged", help="Machines that no set judges, and what is missing.")
    ] = False,
    information: Annotated[
        bool, typer.Option("--information", help="Values against sets that fit, not in force.")
    ] = False,
    json: Json = False,
) -> None:
    """List the limit sets and which are in force, show one, or check the plant's own."""
    store = open_store(home)
    if sum((name is not None, check, machines, unjudged, information)) > 1:
        raise typer.BadParameter(
            "a set, --check, --machines, --unjudged or --information: one at a time"
        )
    if machines or unjudged or information:
        _show_machines(store, machines, unjudged, json)
    elif check:
        found = check_limits(store)
        show.as_json(asdict(found)) if json else _say_sound(found)
    elif name:
        one = limit_set(store, name)
        show.as_json(asdict(one)) if json else _show_set(one)
    else:
        every = limit_sets(store)
        show.as_json(every) if json else _show_sets(every)


def _show_machines(store: Store, machines: bool, unjudged: bool, json: bool) -> None:
    found: list[dict[str, Any]]
    if machines:
        found, shown = machine_limits(store), _MACHINES
    elif unjudged:
        found, shown = unjudged_machines(store), _UNJUDGED
    else:
        found, shown = limits_for_information(store), _INFORMATION
    if json:
        show.as_json(found)
        return
    title, columns = shown
    show.table(title, list(columns), [[cell(row) for cell in columns.values()] for row in found])
    show.out.print(CAUTION, style="italic", soft_wrap=True)


_Shown = tuple[str, dict[str, Callable[[dict[str, Any]], Any]]]
"""Title, and the columns with what stands in each."""


def _place(row: dict[str, Any]) -> str:
    names = ("site", "asset", "member", "position", "axis")
    return " ".join(row[name] for name in names if row.get(name))


def _set_of(row: dict[str, Any]) -> str:
    if row["limit_set"] is None:
        return "none: not judged"
    return f"{row['limit_set']} {row['limit_group']}"


_MACHINES: _Shown = (
    "Limit sets of the machines",
    {
        "machine": _place,
        "directions": itemgetter("directions"),
        "set and group": _set_of,
        "support": itemgetter("support"),
        "by": itemgetter("chosen_by"),
        "why": itemgetter("why"),
        "assumed": itemgetter("assumed"),
    },
)
_UNJUDGED: _Shown = (
    "Not judged by any limit set, never green",
    {
        "machine": _place,
        "class": itemgetter("equipment_class"),
        "kW": itemgetter("power_kw"),
        "why": itemgetter("why"),
        "missing": lambda row: row["missing"] or "nothing would bring one in force",
        "would fit then": itemgetter("would_fit"),
    },
)
_INFORMATION: _Shown = (
    "For information: sets that fit and do not judge",
    {
        "place": _place,
        "measured": lambda row: (
            f"{row['quantity']} {_short(row['value'])} {row['unit']} {row['detector']}"
        ),
        "set and group": _set_of,
        "boundaries": lambda row: " / ".join(
            _short(row[name]) for name in ("lower", "middle", "upper") if row[name] is not None
        ),
        "would be": lambda row: row["grade"] or "not to be told in this band",
        "confidence": lambda row: (
            f"{row['confidence']}, of the group {row['rule_confidence']}"
            + ("" if row["verified"] else ", not verified")
        ),
        "in force": lambda row: row["in_force"] or "none",
    },
)


def _say_sound(found: Checked) -> None:
    own = ", ".join(found.sets) or "none"
    whose = "the plant's own" if found.own_order else "as published"
    show.out.print(
        f"Sound. The plant's own sets: {own}. In force, in this order ({whose}): "
        f"{', '.join(found.order)}.",
        markup=False, highlight=False, soft_wrap=True,
    )  # fmt: skip
    if found.dropped:
        show.notes.print(
            "Of the published order these are not named and judge nothing any more: "
            f"{', '.join(found.dropped)}.",
            markup=False, highlight=False, soft_wrap=True,
        )  # fmt: skip
    for file in found.passed_over:
        show.notes.print(f"{file} is not read: only names that end in .toml are.", markup=False)


def _show_sets(found: list[dict[str, Any]]) -> None:
    rows = [
        [
            one["precedence"], one["limit_set"], f"{one['standard']}:{one['edition']}",
            one["kind"], one["used"], one["confidences"] + (", disputed" * one["disputed"]),
            one["applies_to"], one["origin"],
        ]
        for one in found
    ]  # fmt: skip
    columns = ["#", "set", "standard and edition", "kind", "used", "confidence", "applies to",
               "origin"]  # fmt: skip
    show.table("Limit sets, the first in force that fits counts", columns, rows, ["#"])
    show.out.print(_CONFIDENCES, soft_wrap=True)
    show.out.print(CAUTION, style="italic", soft_wrap=True)


_CONFIDENCES = (
    "Confidence: V1 seen in a text that quotes the standard, V2 in a secondary text only, C "
    "computed from such, M from memory, own the plant's own. All but V1 and own are not verified."
)


def _show_set(one: ShownSet) -> None:
    about = one.about
    lines = [f"{about['standard']}:{about['edition']}: {about['title']}", about["note"]]
    lines.append(f"Status {about['status']}, used: {about['used']}, origin: {about['origin']}.")
    for line in filter(None, lines):
        show.out.print(line, markup=False, highlight=False, soft_wrap=True)
    if one.groups:
        rows = [[g["limit_group"], _bounds(g), g["confidence"], g["source"]] for g in one.groups]
        show.table("Groups", ["group", "takes", "confidence", "source"], rows)
    if one.rows:
        show.table("Boundaries", _ROW_COLUMNS, [_row(row) for row in one.rows])
    if one.acceptance:
        rows = [_accepted(row) for row in one.acceptance]
        columns = ["group", "measured", "value", "confidence", "from"]
        show.table("Acceptance values, shown and never used in service", columns, rows)
    show.out.print(_CONFIDENCES, soft_wrap=True)
    show.out.print(CAUTION, style="italic", soft_wrap=True)


_BOUNDS = (
    ("power_over_kw", "above {} kW"),
    ("power_up_to_kw", "up to {} kW"),
    ("shaft_height_from_mm", "shaft height from {} mm"),
    ("shaft_height_below_mm", "shaft height below {} mm"),
    ("pump_category", "category {}"),
    ("fan_application", "application {}"),
)


def _bounds(group: dict[str, Any]) -> str:
    parts = [group["equipment_classes"]]
    parts += [text.format(_short(group[key])) for key, text in _BOUNDS if group[key] is not None]
    if group["pump_types"]:
        parts.append("type " + " or ".join(group["pump_types"]))
    return ", ".join(parts) + (", by hand only" if group["by_hand"] else "")


_ROW_COLUMNS = ["group", "measured", "boundaries", "confidence", "from"]


def _row(row: dict[str, Any]) -> list[str]:
    places = ("lower", "middle", "upper")
    values = [(row[f"{place}_name"], row[place]) for place in places]
    settings = [
        ("recommended alarm", row["alarm_setting"]),
        ("recommended trip", row["trip_setting"]),
    ]
    peaks = [(f"peak {row[f'{place}_name']}", row[f"peak_{place}"]) for place in places]
    beside = _named(settings + peaks)
    return [
        ", ".join(filter(None, (row["limit_group"], row["part"], row["supports"]))),
        _measured(row),
        f"{_named(values)} {row['unit']}" + (f"; printed beside: {beside}" if beside else ""),
        _confidence(row),
        ". ".join(filter(None, (row["clause"], row["source"], row["note"]))),
    ]


def _named(values: list[tuple[str, float | None]]) -> str:
    return ", ".join(f"{name} {_short(value)}" for name, value in values if value is not None)


def _confidence(row: dict[str, Any]) -> str:
    lower = row["lower_confidence"]
    parts = [row["confidence"]]
    if row["lower"] is not None and lower != row["confidence"]:
        parts.append(f"{row['lower_name']} {lower}")
    return ", ".join(parts + (["disputed"] if row["disputed"] else []))


def _measured(row: dict[str, Any]) -> str:
    parts = [row["quantity"], row["detector"]]
    if row.get("reference") == "baseline":
        parts.append("rise over baseline")
    if row.get("speed_over"):
        parts.append(f"above {_short(row['speed_over'])} /min")
    if row["speed_up_to"]:
        parts.append(f"up to {_short(row['speed_up_to'])} /min")
    return " ".join(parts)


def _accepted(row: dict[str, Any]) -> list[str]:
    region = f"{row['operating_region']} operating region" if row["operating_region"] else None
    where = (row["limit_group"], row["place"], region, row["mounting"])
    return [
        ", ".join(filter(None, where)),
        _measured(row),
        f"{_short(row['value'])} {row['unit']}",
        row["confidence"],
        ". ".join(filter(None, (row["source"], row["note"]))),
    ]


def _short(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
