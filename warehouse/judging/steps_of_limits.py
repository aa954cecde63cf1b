"""The steps of limits: which set, its boundaries, and what readings have held against them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from warehouse.judging.numbers import number
from warehouse.wording import counted

if TYPE_CHECKING:
    from warehouse.judging.explanation import Facts

Row = dict[str, Any]

_READINGS_THAT_LAST = 4
"""Of so many readings the third largest is what has lasted (view `readings_persistent`)."""
_CONFIDENCE = {
    "V1": "seen in a text that quotes the standard",
    "V2": "seen in a secondary text only, not verified",
    "C": "computed here from a value of a secondary text, not verified",
    "M": "from memory, seen in no text, not verified",
    "own": "the plant's own",
}


def limits_step(row: Row) -> list[str]:
    """The limit set in force for the series, why, what is assumed, how sure, and its boundaries."""
    limits, severity = row["limits"], row["severity"]
    if limits is None:
        return []
    if limits["limit_set"] is None:
        return [f"No limit set is in force: {limits['why'] or 'the point belongs to no machine'}."]
    said = [
        f"{limits['limit_edition']} {limits['limit_group']}, {limits['support']} support. "
        f"Chosen by: {limits['why']}.",
        f"Assumed: {limits['assumed'] or 'nothing'}.",
    ]
    if limits["judged_by"] is None or severity is None:
        return [*said, "It gives no value for this quantity at this place."]
    confidence = severity["limit_confidence"] or limits["confidence"]
    said.append(
        f"Confidence {confidence}: {_CONFIDENCE.get(confidence, 'not stated')}"
        f"{'; disputed' if limits['disputed'] else ''}. Source: {row['limit_source']}."
    )
    names = ("lower_name", "a_b"), ("middle_name", "b_c"), ("upper_name", "c_d")
    boundaries = [
        f"{severity[name]} {number(severity[key])}" for name, key in names
        if severity[key] is not None
    ]  # fmt: skip
    unit = f"{row['series']['unit']} {row['series']['judged_detector']}"
    return [*said, f"Boundaries: {', '.join(boundaries)} {unit}."]


def persistence_step(facts: Facts) -> list[str]:
    """What the last readings say of each boundary of the set, and which are held as exceeded."""
    usable = [one for one in facts.readings if one["usable"]]
    severity = facts.row["severity"]
    boundaries = [one for one in facts.boundaries if one["basis"] == "severity"]
    if not boundaries or severity is None:
        return []
    names = {1: severity["lower_name"], 2: severity["middle_name"], 3: severity["upper_name"]}
    said = [_lasting(usable, facts.row["series"])] if usable else []
    return said + [_boundary(one, names[one["boundary"]]) for one in boundaries]


def _lasting(usable: list[Row], series: Row) -> str:
    last = usable[-1]
    read = f"As read, {series['unit']} {series['detector']}: "
    if series["method_group"] == "route":
        return (
            f"{read}a visit counts at once, {number(last['sustained'])}; a boundary is left by two "
            f"in a row, the greater of the last two {number(last['settled'])}."
        )
    since_work = [one for one in usable if one["epoch"] == last["epoch"]]
    if last["epoch"] and len(since_work) < _READINGS_THAT_LAST:
        return (
            f"{read}{counted(len(since_work), 'reading')} since restoring work, of which none was "
            f"below {number(last['sustained'])} or above {number(last['settled'])}; what was read "
            "before it does not count."
        )
    return (
        f"{read}{number(last['sustained'])} was reached by 3 of the last 4 and for 15 min, "
        f"{number(last['settled'])} was not passed by the last 6 and for 30 min, the last two "
        f"were at least {number(last['twice'])}."
    )


def _boundary(one: Row, name: str) -> str:
    said = f"- {name} {number(one['limit_value'])}: "
    if one["since"] is None:
        said += "not held as exceeded"
    else:
        said += f"held as exceeded since {one['since']}, left below {number(one['exit_value'])}"
    if one["fast_value"] is not None and one["boundary"] == 3:
        said += f"; told at once by two in a row above {number(one['fast_value'])}"
    return said
