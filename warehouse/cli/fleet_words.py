"""What the fleet views show on a screen, and what has to be said beside their figures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

Row = dict[str, Any]
Cell = Callable[[Row], Any]


def _place(row: Row) -> str:
    """The train or site a row is about; a device of several trains has a site, or none."""
    return "/".join(row[name] for name in ("site", "asset") if row.get(name))


def _group(row: Row) -> str:
    """What a row sums up."""
    if row["grouped_by"] == "fleet":
        return "all"
    return row.get("equipment_class") or row.get("basis") or _place(row)


def _machine(row: Row) -> str:
    return f"{_place(row)}/{row['member']}" if row["member"] else _place(row)


def _weighed(row: Row) -> str | None:
    return None if row["rank"] is None else f"{row['rank']} ({row['weighted_rank']})"


def _column(name: str) -> Cell:
    return lambda row: row[name]


def _hours(name: str) -> Cell:
    return lambda row: None if row[name] is None else round(row[name])


def _share(name: str) -> Cell:
    return lambda row: None if row[name] is None else f"{100 * row[name]:.0f} %"


def _between(name: str, low: str, high: str, text: Callable[[float], str]) -> Cell:
    """A figure with its bounds, or the one bound it has."""

    def cell(row: Row) -> str | None:
        value, least, most = row[name], row[low], row[high]
        if value is None:
            return row.get(f"{name}_reason") if least is None else f"over {text(least)}"
        return f"{text(value)} ({text(least)} to {text(most)})"

    return cell


def _percent(value: float) -> str:
    return f"{100 * value:.0f} %"


def _whole(value: float) -> str:
    return f"{value:,.0f}"


def _mttr(row: Row) -> float | str | None:
    told: float | None = row["mttr"]
    return row["mttr_reason"] if told is None and row["failures"] else told


def _reported(name: str) -> Cell:
    """A count of events; a site that reports none has not had none."""
    return lambda row: None if row["operating_hours"] is None else row[name]


def _missed(row: Row) -> str | None:
    if not row["failures"]:
        return None
    return f"{row['missed']} of {row['failures']} (at most {_percent(row['missed_share_high'])})"


def _false(row: Row) -> str | None:
    """The bound of false alerts; without enough healthy machine-years it is no claim."""
    most = row["false_per_year_high"]
    if most is None:
        return None
    return f"{most:.2g}" if row["claim"] == "enough" else f"{most:.2g}, no claim"


def _plain(*names: str) -> dict[str, Cell]:
    return {name.replace("_", " "): _column(name) for name in names}


SHOWN: Final[Mapping[str, Mapping[str, Cell]]] = {
    "bad_actors": {"rank": _weighed, "train": _place, "crit.": _column("criticality")}
    | {"score": _column("score")}
    | _plain("into_alert", "into_danger")
    | {"alert h": _hours("alert_hours"), "danger h": _hours("danger_hours")}
    | _plain("time_base", "failures")
    | {"down h": _column("down_hours"), "repeats": _column("repeats")},
    "zone_share": {"site": _column("site"), "week of": _column("week")}
    | _plain("kind", "grade", "machines")
    | {"h": _hours("hours"), "share": _share("share"), "of all": _share("share_of_all")},
    "alarm_rate": {"site": _column("site"), "week of": _column("week")}
    | _plain("machines", "machine_weeks", "into_alert", "into_danger")
    | {"a week and hundred": _column("per_hundred"), "found so": _column("found")},
    "fleet_coverage": {"of": _column("grouped_by"), "which": _group}
    | {"machines": _column("machines"), "bearings": _column("judgeable_points")}
    | {"judged": _column("measured_points"), "share": _share("measured_share")}
    | _plain("seen", "partly_seen", "unseen", "no_points")
    | {"no limits": _column("unjudged")},
    "sensor_health": {"device": _column("device"), "place": _place, "alive": _column("alive")}
    | {"heard (UTC)": _column("last_heard"), "battery d": _hours("battery_days_left")}
    | {"readings": _column("readings"), "good": _share("good_share"), "checks": _column("checks")},
    "route_compliance": {"route": _column("route"), "site": _column("site")}
    | {"next walk": _column("state"), "last (UTC)": _column("last_walk_at")}
    | {"walks": lambda row: f"{row['walks']} of {row['walks_expected'] or 0}"}
    | {"late": _column("walks_late"), "measured": _share("share")}
    | _plain("not_running", "missed", "unexplained")
    | {"overdue": _column("stops_overdue")},
    "reliability": {"of": _column("grouped_by"), "which": _group}
    | {"operating h": _hours("operating_hours")}
    | {"time base": _column("time_base"), "failures": _reported("failures")}
    | {"planned": _reported("planned")}
    | {"MTBF h (bounds)": _between("mtbf", "mtbf_low", "mtbf_high", _whole)}
    | {"MTTR h": _mttr},
    "alert_precision": {"of": _column("grouped_by"), "which": _group}
    | {"cases": _column("cases"), "real": _column("real"), "false": _column("false_alarm")}
    | _plain("process", "sensor", "uncalled")
    | {"precision": _between("precision", "precision_low", "precision_high", _percent)}
    | {"false a year, at most": _false}
    | {"missed": _missed},
    "missed_failures": {"machine": _machine, "event": _column("work_id")}
    | {"failed (UTC)": _column("failed_at"), "as found": _column("as_found")}
    | {"case": lambda row: None if row["case_id"] is None else str(row["case_id"])}
    | {"basis": _column("case_basis"), "lead d": _column("lead_days")}
    | _plain("missed", "why"),
}
"""Columns shown of each view: heading, and what stands there. Exports have every column."""

_TOLD: Final = "Levels count as they were told, from the first judging of this store on."

NOTES: Final[Mapping[str, list[str]]] = {
    "bad_actors": [
        "Score: mean of a train's shares of the trouble told of all ranked trains; those seen for "
        "long enough are ranked. In brackets the rank weighted by criticality.",
        f"{_TOLD} Hours are running time; `calendar` where running is not proven. Hours down are "
        "those of failures, not of planned work.",
    ],
    "zone_share": [f"{_TOLD} Shares are of the time at a known level; unknown is not healthy."],
    "alarm_rate": [f"{_TOLD} `found so`: stood in alert or danger when first judged; no change."],
    "fleet_coverage": ["Not judged is never healthy. Points are bearing positions."],
    "sensor_health": ["What no check sees is not thereby sound."],
    "route_compliance": ["Share measured: of the stops whose machine ran."],
    "reliability": [
        "Functional failures only; planned repairs end an observation without one. Bounds are two-"
        "sided, for a constant rate of failures; what is not defined stays empty.",
        "Time `calendar`: running time is not known for half of the days, so all hours but those "
        "down count, and MTBF is too high for a machine that often stands.",
    ],
    "alert_precision": [
        "Only what people called their cases counts. Bounds in brackets are two-sided, `at most` "
        "is one-sided 95 %.",
        "False a year: of a healthy machine. No claim: too few healthy machine-years, or cases "
        "that nobody called.",
    ],
    "missed_failures": [
        "Missed: no case of the machine was open in the days before. Lead is from the opening of "
        "the case to the beginning of the work.",
    ],
}
"""What has to be known beside the figures of each view."""
