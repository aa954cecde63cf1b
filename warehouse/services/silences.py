"""What may still be said of a machine when its readings stop (rules J6 and J7). Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from warehouse.judging.advice import next_step

Row = dict[str, Any]
"""A row of `condition_current`, by column."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What was judged of an asset: its own row, its machines', its points'."""

    asset: Row
    members: tuple[Row, ...]
    points: tuple[Row, ...]


def served_at(judged: Judgement, roles: Mapping[str, str], now: dt.datetime) -> Judgement:
    """What may be said of an asset at `now`, from what was judged before.

    A level whose evidence no longer holds becomes `unknown`, the level kept as
    `last_level`; coverage is counted again without it, and an asset of which
    too little is still seen is not `normal` (rule J7). `roles` gives the role of
    each member in its train. Rows that were taken back carry `stale`.
    """
    points = tuple(_row_at(row, now) for row in judged.points)
    members = tuple(_row_at(row, now) for row in judged.members)
    asset = _row_at(judged.asset, now)
    if any(row.get("stale") for row in points):
        members = tuple(_covered_member(row, points) for row in members)
        asset = _covered_asset(asset, members, roles)
    return Judgement(asset, members, points)


def _row_at(row: Row, now: dt.datetime) -> Row:
    until = row["stale_after"]
    if row["level"] == "unknown" or until is None or now < until:
        return row
    taken_back = _taken_back(row, "no-fresh-reading") | {
        "reason": f"No judgeable reading since {_moment(row['measured_at'])}; "
        f"last told: {row['reason']}",
        "since": until.astimezone(dt.UTC).date(),
    }
    return taken_back | {"coverage": "none", "measured_points": 0} if _is_point(row) else taken_back


def _taken_back(row: Row, basis: str) -> Row:
    return row | {
        "stale": True,
        "level": "unknown",
        "zone": None,
        "basis": basis,
        "last_level": row["level"],
        "held_since": row.get("held_since") or row.get("measured_at"),
        "next_step": next_step(basis, "unknown"),
    }


def _is_point(row: Row) -> bool:
    return bool(row["scope"] == "point")


def _moment(moment: dt.datetime | None) -> str:
    return f"{moment.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC" if moment else "the start"


def _covered_member(member: Row, points: Sequence[Row]) -> Row:
    own = [row for row in points if row["member"] == member["member"]]
    seen = [row for row in own if row["judgeable_points"] and row["level"] != "unknown"]
    measured = len({row["position"] for row in seen})
    radial = any(row["axis"] != "axial" for row in seen)
    whole = radial or 0 < measured == member["judgeable_points"]
    return member | {
        "measured_points": measured,
        "coverage": "normal" if whole else "partial" if measured else "none",
    }


def _covered_asset(asset: Row, members: Sequence[Row], roles: Mapping[str, str]) -> Row:
    measured = sum(row["measured_points"] for row in members)
    machines = [row for row in members if roles.get(row["member"]) in ("driver", "driven")]
    every = bool(machines) and all(row["coverage"] == "normal" for row in machines)
    pointless = not machines or any(not row["judgeable_points"] for row in machines)
    whole = every or (0 < measured == asset["judgeable_points"] and not pointless)
    counted = asset | {
        "measured_points": measured,
        "coverage": "normal" if whole else "partial" if measured else "none",
    }
    if asset["level"] != "normal" or whole:
        return counted
    unseen = ", ".join(row["member"] for row in machines if row["coverage"] != "normal")
    return _taken_back(counted, "partial-coverage") | {
        "reason": "What is seen is normal, but not enough of the train is any more: "
        f"{unseen or 'a bearing'}. Worst seen: {asset['reason']}",
    }
