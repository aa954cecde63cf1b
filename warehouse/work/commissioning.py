"""The checks of a new or moved sensor (rule W5): pure, from what was read meanwhile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.tables.rounds import COMMISSIONING_CHECK
from schemas.units import VIBRATION_QUANTITIES

Row = Mapping[str, Any]
Figures = Mapping[str, float]
"""Judging defaults by key."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check came to: `passed`, `failed` or `not-yet`, in words with its numbers."""

    outcome: str
    found: str
    value: float | None = None
    reference: float | None = None
    unit: str | None = None


def needed_checks(axis: str | None) -> tuple[str, ...]:
    """Checks a channel needs; one without an axis, such as a temperature, the last two."""
    return tuple(COMMISSIONING_CHECK) if axis is not None else ("interval", "plausible")


def tapped(channel: str, axis: str | None, rows: Sequence[Row], figures: Figures) -> Finding:
    """Whether the axis that answered a tap along `axis` is that of `channel`.

    `rows` have, by channel and kind of reading, `answer` (highest near the tap) and `usual`.
    The axis that rose most answered; within one kind of reading, since units differ.
    """
    told = [row for row in rows if row["answer"] is not None and row["usual"]]
    own = [row for row in told if row["channel"] == channel]
    if not own:
        return Finding("not-yet", "no reading of this channel near the tap, or none to compare")
    kinds = {_kind(row) for row in own}
    same = [row for row in told if _kind(row) in kinds]
    best = max(same, key=lambda row: (row["answer"] / row["usual"], row["channel"] == channel))
    ratio, least = best["answer"] / best["usual"], figures["tap_least_ratio"]
    words = (
        f"channel {best['channel']} ({best['axis']}) rose most: {best['quantity']} "
        f"{best['answer']:.3g}, {ratio:.1f} times its usual {best['usual']:.3g} {best['unit']}"
    )
    numbers = {"value": best["answer"], "reference": best["usual"], "unit": best["unit"]}
    if ratio < least:
        return Finding("failed", f"no axis answered: {words}; at least {least:g} times", **numbers)
    if best["channel"] == channel:
        return Finding("passed", words, **numbers)
    return Finding("failed", f"tapped {axis}, but {words}: axes exchanged?", **numbers)


def _kind(row: Row) -> tuple[Any, ...]:
    return row["quantity"], row["detector"], row["band"]


def compared(
    kind: tuple[str, str, str | None], handheld: float, rows: Sequence[Row], figures: Figures
) -> Finding:
    """Whether the nearest reading of that quantity, detector and band agrees with a handheld one.

    `handheld` is in the canonical unit. Agreement: 20 %, or 0.5 mm/s of velocity if that is wider.
    """
    found = next((row for row in rows if _kind(row) == kind), None)
    if found is None:
        near = "; ".join(" ".join(filter(None, map(str, _kind(row)))) for row in rows)
        return Finding(
            "not-yet",
            f"no reading of {' '.join(filter(None, kind))} near the handheld one; "
            f"near it is: {near or 'nothing'}",
        )
    allowed = figures["compare_share"] * abs(handheld)
    if kind[0] == "velocity":
        allowed = max(allowed, figures["compare_velocity"])
    away = found["value"] - handheld
    words = (
        f"{found['value']:.3g} {found['unit']} at {found['ts']:%Y-%m-%d %H:%M} UTC, handheld "
        f"{handheld:.3g}: {away:+.3g}, allowed {allowed:.3g}"
    )
    outcome = "passed" if abs(away) <= allowed * (1 + 1e-9) else "failed"
    return Finding(outcome, words, found["value"], handheld, found["unit"])


def proven_running(rows: Sequence[Row]) -> Finding:
    """Whether the machine was proven to run steadily while it was read."""
    steady = next((row for row in rows if row["state"] == "steady"), None)
    if steady:
        return Finding(
            "passed",
            f"{steady['readings']} steady readings, the last at {steady['last_at']:%Y-%m-%d %H:%M} "
            "UTC",
        )
    seen = ", ".join(f"{row['readings']} {row['state']}" for row in rows)
    return Finding("not-yet", f"no reading while it is proven to run: {seen or 'nothing read'}")


def interval_seen(row: Row, figures: Figures) -> Finding:
    """Whether readings come as often as the device declares (minutes)."""
    if row["declared"] is None:
        return Finding("not-yet", "the device declares no interval_minutes in the registry")
    if row["readings"] < figures["first_readings"]:
        return Finding(
            "not-yet",
            f"{row['readings']} readings, {figures['first_readings']:g} are needed",
        )
    longest = figures["interval_share"] * row["declared"]
    words = (
        f"every {row['minutes']:.3g} min in the middle, {row['longest']:.3g} at most, declared "
        f"{row['declared']:.3g}"
    )
    outcome = "passed" if row["minutes"] <= longest else "failed"
    return Finding(outcome, words, row["minutes"], row["declared"], "min")


def plausible(rows: Sequence[Row], figures: Figures) -> Finding:
    """Whether the first readings of every kind are such as this class of machine shows.

    Where a limit set fits, vibration lies between 2 % of B/C and 3 times C/D.
    """
    if not rows or max(row["readings"] for row in rows) < figures["first_readings"]:
        return Finding("not-yet", f"fewer than {figures['first_readings']:g} readings of a kind")
    found = [(_fault(row, figures), _shown(row)) for row in rows]
    faults = [f"{shown}: {fault}" for fault, shown in found if fault]
    if faults:
        return Finding("failed", "; ".join(faults))
    return Finding("passed", "; ".join(shown for _, shown in found))


def _fault(row: Row, figures: Figures) -> str | None:
    if row["unusable"] or row["value"] is None:
        return f"{row['unusable']} of {row['readings']} cannot be used"
    vibration = row["quantity"] in VIBRATION_QUANTITIES
    if vibration and row["value"] <= 0:
        return "reads nothing"
    if vibration and row["readings"] >= figures["first_readings"] and row["different"] == 1:
        return "every reading is the same"
    if row["b_c"] is not None and row["value"] < figures["first_read_low_share"] * row["b_c"]:
        return f"too low for {row['equipment_class']}: B/C is {row['b_c']:.3g}; a wrong unit?"
    if row["c_d"] is not None and row["value"] > figures["first_read_high_share"] * row["c_d"]:
        return f"too high for {row['equipment_class']}: C/D is {row['c_d']:.3g}; a wrong unit?"
    return None


def _shown(row: Row) -> str:
    kind = " ".join(filter(None, (row["quantity"], row["detector"], row["band"])))
    value = "no value" if row["value"] is None else f"{row['value']:.3g} {row['unit']}"
    return f"{kind} {value}"


def open_checks(steps: Sequence[Row], needed: Sequence[str]) -> dict[str, str]:
    """Checks that are neither passed nor waived since the last start, with how they stand."""
    standing = latest(steps)
    outcomes = {check: standing[check]["outcome"] if check in standing else "not done"
                for check in needed}  # fmt: skip
    return {c: outcome for c, outcome in outcomes.items() if outcome not in ("passed", "waived")}


def latest(steps: Sequence[Row]) -> dict[str, Row]:
    """The last step of each check since the last start, by check; steps are in order."""
    standing: dict[str, Row] = {}
    for step in steps:
        if step["step"] == "start":
            standing.clear()
        elif step["step"] in COMMISSIONING_CHECK:
            standing[step["step"]] = step
    return standing
