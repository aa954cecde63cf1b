"""The steps of a judgement in words and numbers, in their order. Pure: facts in, sentences out.

What is told here is read off the views that judged; nothing is judged again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from warehouse.judging.numbers import moment, number, share
from warehouse.judging.steps_of_change import history_step, trend_step
from warehouse.judging.steps_of_limits import limits_step, persistence_step

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its key for programs, its title, and sentences."""

    key: str
    title: str
    said: list[str]


@dataclass(frozen=True, slots=True)
class Facts:
    """What each view made of one series; lists are oldest or lowest first."""

    row: Row
    running: Row
    readings: list[Row]
    days: list[Row]
    boundaries: list[Row]
    baselines: list[Row]
    windows: list[Row]
    findings: list[Row]

    @property
    def place(self) -> tuple[str, str | None]:
        """Position and direction."""
        return self.row["series"]["position"], self.row["series"]["axis"]

    @property
    def name(self) -> str:
        """The trend line in words."""
        series = self.row["series"]
        parts = (series["quantity"], series["detector"], series["band"], series["method_group"])
        return " ".join(part for part in parts if part)

    @property
    def order(self) -> tuple[Any, ...]:
        """The order in which evidence governs: that of `point_conditions`."""
        evidence = self.row["evidence"]
        measured = evidence["measured_at"]
        return (
            self.row["answered"],
            -self.row["rank"],
            self.row["basis_rank"],
            -(evidence["share_of_b_c"] if evidence["share_of_b_c"] is not None else -1),
            -measured.timestamp() if measured else float("inf"),
        )


def series_steps(facts: Facts) -> list[Step]:
    """The steps of one series: from whether the machine runs to what the series says."""
    told = (
        ("running", "Is the machine running", _running(facts)),
        ("readings", "Which readings count", _readings(facts)),
        ("bin", "In which operating bin", _bin(facts)),
        ("limits", "Which limits, and why", limits_step(facts.row)),
        ("persistence", "What has lasted", persistence_step(facts)),
        ("zone", "Zone", _zone(facts)),
        ("history", "Against its own past", history_step(facts)),
        ("trend", "How it moves", trend_step(facts)),
        ("trust", "Can the readings be believed", _trust(facts)),
        ("holds", "How long it holds", _holds(facts)),
        ("says", "What this series says", [_says(facts.row["evidence"])]),
    )
    return [Step(key, title, said) for key, title, said in told if said]


def _running(facts: Facts) -> list[str]:
    running = facts.running
    if running.get("service_state") in ("laid-up", "removed"):
        return [f"By the registry the machine is {running['service_state']}."]
    if not running.get("evidence"):
        return [
            "Nothing on the train proves running: no speed, current or status has come. "
            "Readings are judged with that caveat."
        ]
    said = f"By {running['evidence']}, last told at {moment(running['evidence_at'])}: "
    if running["at_rest"]:
        said += f"at rest since {moment(running['rest_since'])}"
    else:
        said += "not known to be at rest"
    if running["speed"] is not None:
        said += f", {number(running['speed'])} r/min"
    judged = facts.row["judged"]
    if judged is None:
        return [said + "."]
    return [f"{said}. At the judged reading its state was {judged['state']}."]


def _readings(facts: Facts) -> list[str]:
    series, judged = facts.row["series"], facts.row["judged"]
    unit = series["unit"]
    usable = [one for one in facts.readings if one["usable"]]
    used = usable[-judged["readings_used"] :] if judged else []
    said = [_reading(one, unit, one in used) for one in facts.readings]
    if series["method_group"] == "route":
        said.insert(0, "On a route the reading itself counts. The latest:")
    else:
        said.insert(
            0, "Online the median of the last 3 steady, trusted readings counts. The latest:"
        )
    if judged:
        said.append(
            f"Judged value: {number(judged['value'])} {unit} {series['judged_detector']}, from "
            f"{judged['readings_used']} of them, the last of {moment(judged['measured_at'])}."
        )
    else:
        said.append("None of its readings can be judged.")
    for days in facts.days:
        said.append(
            f"Last 30 days: {days['readings']} readings, {days['judged']} judged "
            f"({days['unproven']} of them without proof of running), {days['transient']} "
            f"transient, {days['stopped']} at standstill, {days['distrusted']} distrusted."
        )
    return said


def _reading(one: Row, unit: str, used: bool) -> str:
    value = "no value" if one["value"] is None else f"{number(one['value'])} {unit}"
    speed = "" if one["speed"] is None else f" at {number(one['speed'])} r/min"
    fate = "counts" if used else f"left out: {one['doubt']}" if one["doubt"] else (
        "earlier" if one["usable"] else "left out"
    )  # fmt: skip
    return f"- {moment(one['ts'])}: {value}, {one['state']}{speed}, {fate}"


def _bin(facts: Facts) -> list[str]:
    found = facts.days[0]["bin"] if facts.days else None
    if found:
        return [
            f"The train counts as driven {found} (as rated, where no speed is told); only readings "
            "there are compared with one another."
        ]
    if facts.running.get("variable"):
        return ["Its speed may vary and none is told: change and trend are not judged."]
    return []


def _zone(facts: Facts) -> list[str]:
    severity = facts.row["severity"]
    return [] if severity is None else [f"{severity['reason']}."]


def _trust(facts: Facts) -> list[str]:
    said = [
        f"{one['check_code']} ({one['effect']}), since {moment(one['since'])}: {one['evidence']}."
        for one in facts.findings
    ]
    doubt = facts.row["evidence"]["distrust"]
    if doubt:
        said.append(f"The latest reading is doubted: {doubt}.")
    return said or ["No check found anything against them; that is no proof that they are sound."]


def _holds(facts: Facts) -> list[str]:
    evidence = facts.row["evidence"]
    said = []
    if evidence["stale_after"] is not None:
        hours = facts.row["series"]["fresh_hours"]
        said.append(
            f"A reading holds for {number(hours)} h: until {moment(evidence['stale_after'])}."
        )
    if evidence["held_since"] is not None:
        said.append(
            f"Held since {moment(evidence['held_since'])}: no later reading could be judged, and "
            "only a trusted steady one clears it (rule J6)."
        )
    if evidence["background"] is not None:
        said.append(f"Background, never judged as running: {evidence['background']}.")
    if evidence["last_level"] is not None:
        said.append(f"Before that the level was {evidence['last_level']}.")
    return said


def _says(evidence: Row) -> str:
    since = f", since {evidence['since']}" if evidence["since"] else ""
    return f"{evidence['level']} ({evidence['basis']}{since}): {evidence['reason']}"


def point_steps(condition: Row, facts: list[Facts]) -> list[Step]:
    """Which series governs the point, and why not the others; `facts` in their order."""
    if not facts:
        return [Step("governs", "What governs here", [condition["reason"]])]
    first = facts[0]
    said = [f"{first.name} governs: {_level(first.row['evidence'])}."]
    said += [f"{other.name} does not: {_why_not(other, first)}." for other in facts[1:]]
    if condition["blind_to"]:
        said.append(f"What is measured here is blind: {condition['blind_to']}.")
    return [Step("governs", "What governs here, and why not the others", said)]


def _level(evidence: Row) -> str:
    before = f", before that {evidence['last_level']}" if evidence["last_level"] else ""
    return f"{evidence['level']} by {evidence['basis']}{before}"


def _why_not(other: Facts, first: Facts) -> str:
    if other.row["answered"]:
        return "it fell silent, and a later trusted reading of the same quantity answered it"
    if other.row["rank"] != first.row["rank"]:
        return f"{_level(other.row['evidence'])} is less grave"
    if other.row["basis_rank"] != first.row["basis_rank"]:
        return f"{_level(other.row['evidence'])}; of the same level the other basis is told first"
    own, its = (one.row["evidence"]["share_of_b_c"] for one in (other, first))
    return f"{_level(other.row['evidence'])}, at {share(own)} of B/C against {share(its)}"


def _of_boundary(row: Row) -> str:
    value, boundary = row["value"], row["boundary_b_c"]
    return "" if value is None or not boundary else f", at {share(value / boundary)} of B/C"


def roll_up(own: list[Row]) -> list[Step]:
    """From points to machines to the train: what governs, and how much of it is seen."""
    points = [row for row in own if row["scope"] == "point"]
    members = [row for row in own if row["scope"] == "member"]
    (asset,) = (row for row in own if row["scope"] == "asset")
    governing = (asset["evidence_position"], asset["evidence_axis"])
    said = [
        f"- {row['position']}{' ' + row['axis'] if row['axis'] else ''}: {_level(row)}"
        f"{_of_boundary(row)}"
        f"{', governs' if (row['position'], row['axis']) == governing else ''}"
        for row in points
    ]
    seen = [
        f"- {row['member']}: {_level(row)}; coverage {row['coverage']}, "
        f"{row['measured_points']} of {row['judgeable_points']} bearing positions judged"
        for row in members
    ]
    train = [f"{_level(asset)}; coverage {asset['coverage']}. {asset['reason']}"]
    if asset["blind_to"]:
        train.append(f"Blind: {asset['blind_to']}.")
    steps = (("points", "Points", said), ("members", "Machines", seen), ("train", "Train", train))
    advice = [asset["next_step"], asset["caution"]]
    return [
        *(Step(key, title, lines) for key, title, lines in steps if lines),
        Step("next", "Next step", advice),
    ]
