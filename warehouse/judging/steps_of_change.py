"""The steps of change: a series against its baseline, and its trend with the test behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from warehouse.judging.numbers import number, probability

if TYPE_CHECKING:
    from warehouse.judging.explanation import Facts

Row = dict[str, Any]

_KINDS = {
    "change": "criterion II, a quarter of B/C above the baseline",
    "hf-change": "high frequency, a multiple of the baseline",
    "temperature-rise": "rise over the baseline",
    "temperature": "backstop of common practice",
}


def history_step(facts: Facts) -> list[str]:
    """Baselines by operating bin, and the boundaries of a change from them."""
    unit = facts.row["series"]["unit"]
    said = [_baseline(one, unit) for one in facts.baselines]
    if facts.row["baseline_missing"]:
        said.append(f"As it runs now it {facts.row['baseline_missing']}.")
    said += [_change(one, unit) for one in facts.boundaries if one["basis"] in _KINDS]
    return said


def _baseline(one: Row, unit: str) -> str:
    said = (
        f"Baseline {one['bin_words']}: {number(one['median'])} {unit}, scatter "
        f"{number(one['mad'])}, of {one['first_day']} to {one['last_day']} ({one['days']} days, "
        f"{one['readings']} readings)"
    )
    if one["complete"] and one["scattered"]:
        return f"{said}; refused, it scatters too much for one way of running."
    if one["refused"] and not one["scattered"]:
        return f"{said}; refused, the point was above B/C meanwhile."
    return f"{said}{'' if one['complete'] else '; not complete yet'}."


def _change(one: Row, unit: str) -> str:
    level = {1: "watch", 2: "alert"}[one["boundary"]]
    where = f" {one['bin_words']}" if one["bin_words"] else ""
    said = f"- {level} above {number(one['limit_value'])} {unit}{where} ({_KINDS[one['basis']]}): "
    if one["since"] is None:
        return f"{said}not held as exceeded"
    return f"{said}held as exceeded since {one['since']}, left below {number(one['exit_value'])}"


def trend_step(facts: Facts) -> list[str]:
    """The test of every window, then what is told of them and the time to the next boundary."""
    evidence = facts.row["evidence"]
    unit = facts.row["series"]["unit"]
    said = [_window(one, unit) for one in facts.windows]
    if evidence["trend_state"] is None:
        return said
    said.append(f"Told as {evidence['trend_state']}: {evidence['trend_reason']}.")
    if evidence["trend_boundary_days"] is not None:
        said.append(
            f"Of a line and a growth in per cent the {evidence['trend_form']} one comes to "
            f"{evidence['trend_boundary']} first; that is a time at the present rate, no remaining "
            "life."
        )
    return said


def _window(one: Row, unit: str) -> str:
    interval = (
        "no interval" if one["low"] is None else f"{number(one['low'])} to {number(one['high'])}"
    )
    return (
        f"- {one['window_days']:.0f} d, {one['days']} daily values: Mann-Kendall S {one['s']:.0f}, "
        f"z {number(one['z'])}, variance times {number(one['factor'])} for dependent days, p "
        f"{probability(one['p'])}, over the fleet {probability(one['p_fleet'])}; Theil-Sen "
        f"{number(one['per_30_days'])} {unit} in 30 days (95 %: {interval})"
    )
