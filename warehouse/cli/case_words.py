"""A case in plain words, for a planner."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from warehouse.services.displaying import Display

_CLASS = {
    "repeat": "measure again",
    "inspect-running": "inspect while it runs",
    "inspect-stopped": "inspect at standstill",
    "plan-repair": "plan the repair",
}


def told(found: dict[str, Any], display: Display) -> Iterator[str]:
    """Lines of a case: what it is, what to do by when, and its life."""
    case, now = found["case"], found["summary"]
    machine = "/".join(case[name] for name in ("site", "asset", "member"))
    yield f"Case {case['case_id']}: {machine}, {case['basis']}"
    if now:
        yield from _open(case, now, display)
        if shown := found["measured"] and display.words(found["measured"]):
            yield f"{shown} (display profile {display.profile.name})"
    else:
        yield f"Closed as {case['disposition']}" + _until(case, display)
    for repair in found["repairs"]:
        yield _repair(repair, display)
    yield "Life:" if display.profile.local_time else "Life (UTC):"
    yield from (f"  {_happened(row, display)}" for row in found["life"])
    yield found["caution"]


def _open(case: dict[str, Any], now: dict[str, Any], display: Display) -> Iterator[str]:
    yield _line("Asset", now["asset_name"], now["area"] and f"area {now['area']}")
    yield _line(
        "Maintenance system", now["asset_external_id"] and f"asset {now['asset_external_id']}",
        now["member_external_id"] and f"machine {now['member_external_id']}",
        now["order_id"] and f"order {now['order_id']}",
    )  # fmt: skip
    yield _line(
        "What", f"{now['level']} since {display.stamp(now['level_since'])}",
        now["condition_since"] and f"condition that bad since {now['condition_since']}",
        now["cleared_at"] and f"cleared at {display.stamp(now['cleared_at'])}", now["state"]
        + _until(case, display), now["disposition"] and f"called {now['disposition']}",
    )  # fmt: skip
    yield f"Evidence: {now['evidence'] or 'see its life'}"
    yield _line(
        "Confidence", now["limit_edition"], _confidence(now),
        None if now["verified"] in (None, True) else "not verified against the standard",
        now["assumed"] and f"assumed: {now['assumed']}", now["distrust"],
        now["blind_to"] and f"blind to: {now['blind_to']}",
    )  # fmt: skip
    if now["observations"]:
        yield f"Seen on the route: {now['observations']}"
    respond = f"by {display.stamp(now['respond_by'])}" if now["respond_by"] else "no date"
    yield _line(
        "To do", _CLASS[now["action_class"]], respond + (", overdue" if now["overdue"] else ""),
        "needs an outage" if now["needs_outage"] else "needs no outage",
        f"priority {now['priority']}", f"criticality {now['criticality'] or 'not stated'}",
    )  # fmt: skip
    yield _line(
        "Parts and place", f"bearing {now['bearing'] or 'not known'}",
        f"coupling {now['coupling'] or 'not known'}",
        f"area classification {now['area_classification'] or 'none registered'}",
    )  # fmt: skip
    yield _line(
        "People", f"owner {now['owner'] or 'nobody'}",
        f"confirmed by {now['confirmed_by']}" if now["confirmed"] else "not analyst-confirmed",
    )  # fmt: skip
    if now["next_step"]:
        yield f"Next: {now['next_step']}"


def _confidence(now: dict[str, Any]) -> str | None:
    """Of limit values, or of a rule that has no standard behind it."""
    told: str | None = now["confidence"]
    return f"values {told}" if told and now["limit_edition"] else told


def _line(name: str, *parts: str | None) -> str:
    return f"{name}: {', '.join(part for part in parts if part) or 'not known'}"


def _until(case: dict[str, Any], display: Display) -> str:
    return f" until {display.stamp(case['until'])}" if case["until"] else ""


def _repair(repair: dict[str, Any], display: Display) -> str:
    outcome = repair["outcome"] or "too little measured yet to compare"
    words = f" ({repair['words']})" if repair["words"] else ""
    return f"Work of {display.stamp(repair['worked_at'])}, {repair['activity']}: {outcome}{words}"


def _happened(row: dict[str, Any], display: Display) -> str:
    parts = [display.moment(row["happened_at"]), row["kind"], f"({row['level']}, {row['state']})"]
    if row["person"]:
        parts.append(f"by {row['person']}")
    why = row["comment"] or row["reason"]
    limits = row["limits_changed"]
    return (
        " ".join(parts)
        + (f": {why}" if why else "")
        + (f" (limits changed: {limits})" if limits else "")
    )
