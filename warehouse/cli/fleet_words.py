"""What the fleet views show on a screen, and what has to be said beside their figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

_GROUPS: Final = {
    "grouped_by": "by", "site": "site", "asset": "train", "equipment_class": "class",
}  # fmt: skip

COLUMNS: Final[Mapping[str, Mapping[str, str]]] = {
    "bad_actors": {
        "rank": "rank", "weighted_rank": "weighted", "score": "score", "site": "site",
        "asset": "train", "criticality": "crit.", "into_alert": "into alert",
        "into_danger": "into danger", "alert_hours": "alert h", "danger_hours": "danger h",
        "time_base": "time", "failures": "failures", "down_hours": "down h", "cost": "cost",
        "repeats": "repeats", "seen_hours": "seen h", "visits": "visits", "reason": "no rank",
    },
    "zone_share": {
        "site": "site", "week": "week of", "kind": "kind", "grade": "grade",
        "machines": "trains", "hours": "h", "share": "share", "share_of_all": "share of all",
    },
    "alarm_rate": {
        "site": "site", "week": "week of", "machines": "trains", "machine_weeks": "machine weeks",
        "into_alert": "into alert", "into_danger": "into danger",
        "per_hundred": "a week and hundred", "found": "found so",
    },
    "fleet_coverage": _GROUPS | {
        "machines": "machines", "judgeable_points": "bearings", "measured_points": "judged",
        "measured_share": "share", "seen": "seen", "partly_seen": "partly", "unseen": "unseen",
        "no_points": "no point", "unjudged": "no limits",
    },
    "sensor_health": {
        "source": "source", "device": "device", "site": "site", "asset": "train",
        "seats": "seats", "alive": "alive", "last_heard": "last heard (UTC)",
        "battery_days_left": "battery d left", "readings": "readings", "good_share": "good",
        "findings": "findings", "distrusts": "distrust", "checks": "checks",
    },
    "route_compliance": {
        "route": "route", "site": "site", "stops": "stops", "state": "next walk",
        "last_walk_at": "last (UTC)", "walks": "walks", "walks_expected": "of",
        "walks_late": "late", "share": "measured", "not_running": "not running",
        "missed": "missed", "unexplained": "unexplained", "stops_overdue": "overdue",
    },
    "reliability": _GROUPS | {
        "machines": "machines", "operating_hours": "operating h", "time_base": "time",
        "failures": "failures", "planned": "planned", "mtbf": "MTBF h", "mtbf_low": "low",
        "mtbf_high": "high", "mtbf_reason": "no MTBF", "mttr": "MTTR h", "mttr_reason": "no MTTR",
    },
    "alert_precision": {
        "grouped_by": "by", "site": "site", "equipment_class": "class", "basis": "basis",
        "cases": "cases", "real": "real", "false_alarm": "false", "process": "process",
        "sensor": "sensor", "uncalled": "uncalled", "precision": "precision",
        "precision_low": "low", "precision_high": "high", "machine_years": "machine years",
        "false_per_year_high": "false a year, at most", "claim": "claim", "failures": "failures",
        "missed": "missed", "missed_share_high": "missed, at most",
    },
    "missed_failures": {
        "site": "site", "asset": "train", "member": "machine", "work_id": "event",
        "failed_at": "failed (UTC)", "as_found": "as found", "case_id": "case",
        "case_basis": "basis", "lead_days": "lead d", "watched": "watched", "missed": "missed",
        "why": "why",
    },
}  # fmt: skip
"""Columns shown of each view, and their headings."""

_TOLD: Final = "Levels count as they were told, from the first judging of this store on."

NOTES: Final[Mapping[str, list[str]]] = {
    "bad_actors": [
        "Score: mean of a train's shares of the trouble told of all ranked trains. Ranked are "
        "those seen for long enough.",
        f"{_TOLD} Hours are running time; `calendar` where running is not proven.",
    ],
    "zone_share": [f"{_TOLD} Shares are of the time at a known level; unknown is not healthy."],
    "alarm_rate": [f"{_TOLD} `found so`: stood in alert or danger when first judged; no change."],
    "fleet_coverage": ["Not judged is never healthy. Points are bearing positions."],
    "sensor_health": ["What no check sees is not thereby sound."],
    "route_compliance": ["Share measured: of the stops whose machine ran."],
    "reliability": [
        "Functional failures only; planned repairs end an observation without one. Bounds: two-"
        "sided 90 %, for a constant rate of failures; undefined stays empty.",
        "Time `calendar`: running time is not known for half of the days, so all hours but those "
        "down count, and MTBF is too high for a machine that often stands.",
    ],
    "alert_precision": [
        "Only what people called their cases counts; bounds are two-sided 90 %, `at most` is "
        "one-sided 95 %.",
        "Under 200 healthy machine-years nothing is claimed of false alerts.",
    ],
    "missed_failures": [
        "Missed: no case of the machine was open in the 30 days before. Lead is from the opening "
        "of the case to the beginning of the work.",
    ],
}
"""What has to be known beside the figures of each view."""
