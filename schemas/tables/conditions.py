"""`condition_current` and `condition_log`: what was judged, with its whole evidence."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from schemas.columns import Column, Table

SCOPE: Mapping[str, str] = MappingProxyType(
    {
        "point": "one measuring position and direction",
        "member": "one machine of a train: its worst point",
        "asset": "a machine train (tag): its worst point",
    }
)

ZONE: Mapping[str, str] = MappingProxyType(
    {
        "A": "vibration of newly commissioned machines",
        "B": "suitable for unrestricted long-term running",
        "C": "unsuitable for long-term continuous running",
        "D": "may be severe enough to cause damage",
        "A-B": "zone A or B, which the set does not part",
        "below-start-up": "not above the start-up value of a set with levels",
        "below-alarm": "above the start-up value, not above the alarm value",
        "above-alarm": "above the alarm value, not known to be above a shutdown value",
        "above-shutdown": "above the shutdown value",
        "accepted": "not above the one value of an acceptance set",
        "not-accepted": "above the one value of an acceptance set",
    }
)

BASIS: Mapping[str, str] = MappingProxyType(
    {
        "severity": "zone of a published limit set",
        "for-information": "the set lets another quantity at this point govern",
        "part-unknown": "the limits go by the part of the machine, which the point does not state",
        "trend": "zone B and a significant rise towards the B/C boundary",
        "change": "zone B and a significant change from its own baseline (criterion II)",
        "temperature": "temperature of a bearing housing: rise over its baseline, or the backstop",
        "hf-change": "high-frequency acceleration or envelope against its own baseline (rule J3)",
        "background": "not turning, shaken from outside by more than 25 % of B/C (rule S2)",
        "stopped": "not turning: the last judged level is held, if there is one (rule J6)",
        "laid-up": "out of use by the registry: the last judged level is held, if there is one",
        "stopped-or-loose": "far below its own history with no proof of running (rule J9)",
        "verify": "the latest readings are not to be trusted, and would be in zone C or D, or are "
        "beyond the range (rule J6)",
        "distrusted": "the latest readings are not to be trusted as values",
        "no-fresh-reading": "silent for longer than a reading holds (rule J6)",
        "band-blind": "the band cannot see all the limit set asks for (rule S4)",
        "peak-only": "a peak above B/C proves nothing; confirm as rms (rule R1)",
        "change-only": "no zone applies at this point and direction (rule M4)",
        "no-baseline": "no zone applies and the baseline to judge a change by is not complete yet",
        "unjudged": "no published limit set fits this machine",
        "partial-coverage": "what is seen is normal, but too little of the train is seen (rule J7)",
        "never-measured": "a registered point from which no reading has come",
        "no-points": "no measuring point is registered",
    }
)

TREND: Mapping[str, str] = MappingProxyType(
    {
        "rising": "a rise to tell: significant among all of the fleet, and large (rule J8)",
        "falling": "a fall of that size",
        "level": "no significant rise or fall of that size",
        "not-judged": "too few daily values in one operating bin; `trend_reason` counts them",
    }
)

ISSUED_EVENT: Mapping[str, str] = MappingProxyType(
    {
        "told": "what is told of the place from then on",
        "withdrawn": "nothing is told of the place from then on; the row repeats the last telling",
    }
)

_EVIDENCE_UNIT = "stands in column `unit`"

_PLACE = (
    Column("scope", "string", "what the row is about", required=True, codes="SCOPE"),
    Column("site", "string", "site code", required=True),
    Column("asset", "string", "asset tag (a machine train)", required=True),
    Column("member", "string", "machine of the train; null for an asset, or a point without one"),
    Column("position", "string", "measuring position; null above the point"),
    Column("axis", "string", "direction; null above the point", codes="AXIS"),
)

CONDITION_CURRENT = Table(
    name="condition_current",
    purpose="The judged condition of every point, member and asset, with its whole evidence.",
    grain="one row a scope and place; rewritten by each judging step",
    columns=(
        *_PLACE,
        Column("level", "string", "what to do about it", required=True, codes="LEVEL"),
        Column(
            "zone",
            "string",
            "zone or grade in the limit set's own words; null where none was given",
            codes="ZONE",
        ),
        Column("basis", "string", "what the level rests on", required=True, codes="BASIS"),
        Column("reason", "string", "one sentence with the numbers", required=True),
        Column("evidence_member", "string", "machine the evidence was measured at", since=3),
        Column("evidence_position", "string", "position of the evidence shown in this row"),
        Column("evidence_axis", "string", "direction of the evidence shown", codes="AXIS"),
        Column("limit_set", "string", "limit set in force; null where none fits"),
        Column("limit_group", "string", "group or class within the limit set"),
        Column("limit_edition", "string", "standard and edition in words"),
        Column(
            "limit_confidence", "string", "how well the values are confirmed: V1, V2, C, M or own"
        ),
        Column("limit_verified", "bool", "true where the values were seen in a text quoting them"),
        Column("quantity", "string", "quantity of the evidence", codes="QUANTITY"),
        Column("detector", "string", "detector the value is judged as", codes="DETECTOR"),
        Column("band", "string", "frequency band of the evidence as LOW-HIGHHz"),
        Column("value", "float64", "the judged value (rule J5)", _EVIDENCE_UNIT),
        Column("unit", "string", "UCUM unit of the value, boundaries and trend"),
        Column("boundary_a_b", "float64", "between zones A and B, or start-up", _EVIDENCE_UNIT),
        Column(
            "boundary_b_c",
            "float64",
            "between zones B and C, or alarm, or the one acceptance value",
            _EVIDENCE_UNIT,
        ),
        Column("boundary_c_d", "float64", "between zones C and D, or shutdown", _EVIDENCE_UNIT),
        Column(
            "baseline",
            "float64",
            "what the evidence was when it was well, in the bin it is compared in (rule J4)",
            _EVIDENCE_UNIT,
            since=3,
        ),
        Column(
            "boundary_watch",
            "float64",
            "above which a change from the baseline, or a temperature, is a watch",
            _EVIDENCE_UNIT,
            since=3,
        ),
        Column(
            "boundary_alert",
            "float64",
            "above which a change from the baseline, or a temperature, is an alert",
            _EVIDENCE_UNIT,
            since=3,
        ),
        Column("support", "string", "support stiffness in this direction", codes="SUPPORT"),
        Column("assumed", "string", "inputs of the limit that are assumed; null where none is"),
        Column("running_state", "string", "state at the judged reading", codes="RUNNING_STATE"),
        Column("operating_bin", "string", "bin the trend compares in; null without a speed"),
        Column("measured_at", "timestamp", "time of the judged reading, UTC"),
        Column("since", "date", "first site-local day of the unbroken run at this or worse"),
        Column("stale_after", "timestamp", "from then on the evidence no longer holds, UTC"),
        Column("as_of", "timestamp", "the moment this was judged for, UTC", required=True),
        Column("last_level", "string", "level before it went unknown", codes="LEVEL"),
        Column(
            "held_since",
            "timestamp",
            "the level, or the one before it went unknown, rests on no later reading than "
            "`measured_at`, and since then none could be judged: standstill, silence or doubt "
            "(rule J6); null while it is measured, UTC",
            since=3,
        ),
        Column("trend_state", "string", "how the evidence moves", codes="TREND", since=2),
        Column(
            "trend_reason", "string", "the trend in plain words, or why none is judged", since=2
        ),
        Column("trend_window_days", "int32", "days the trend is taken from", "d", since=2),
        Column("trend_per_30_days", "float64", "Theil-Sen slope times 30 d", _EVIDENCE_UNIT),
        Column("trend_low", "float64", "lower 95 % bound of the trend", _EVIDENCE_UNIT),
        Column("trend_high", "float64", "upper 95 % bound of the trend", _EVIDENCE_UNIT),
        Column("trend_days", "int32", "daily values in the trend", "1"),
        Column(
            "trend_p",
            "float64",
            "probability of such a trend by chance, two-sided, corrected for dependence of days",
            "1",
            since=2,
        ),
        Column(
            "trend_p_fleet",
            "float64",
            "the same, adjusted for all trends of the fleet (false-discovery rate)",
            "1",
            since=2,
        ),
        Column(
            "trend_step_on",
            "date",
            "first site-local day behind the latest step; the trend is taken behind it",
            since=2,
        ),
        Column("trend_step_size", "float64", "size of that step", _EVIDENCE_UNIT, since=2),
        Column(
            "trend_boundary",
            "string",
            "next boundary a rising value comes to: A/B, B/C or C/D",
            since=2,
        ),
        Column(
            "trend_boundary_days",
            "float64",
            "time to that boundary at the present rate; null beyond the horizon, no remaining life",
            "d",
            since=2,
        ),
        Column(
            "trend_boundary_days_low",
            "float64",
            "its lower 95 % bound, by the line that may come there first",
            "d",
            since=2,
        ),
        Column(
            "trend_boundary_days_high",
            "float64",
            "its upper 95 % bound, by the other line; null where that is beyond the horizon",
            "d",
            since=2,
        ),
        Column(
            "trend_form",
            "string",
            "the line that comes to the boundary first: linear or log-linear",
            since=2,
        ),
        Column("coverage", "string", "how much of the machine is seen", codes="COVERAGE"),
        Column("measured_points", "int32", "bearing positions that are judged", "1"),
        Column("judgeable_points", "int32", "bearing positions that are registered", "1"),
        Column("blind_to", "string", "faults this measurement cannot see; null where none"),
        Column("distrust", "string", "why readings here are doubted; null where none is"),
        Column("observations", "string", "what was seen here on routes lately, in words", since=3),
        Column("next_step", "string", "what to do next, in plain words", required=True),
        Column("caution", "string", "what this judgement is not", required=True),
    ),
    key=("scope", "site", "asset", "member", "position", "axis"),
    sort_by=("site", "asset", "scope", "member", "position", "axis"),
)

CONDITION_LOG = Table(
    name="condition_log",
    purpose="Every change of level, zone or basis, in the order it was judged.",
    grain="one row a change; `seq` strictly increases",
    columns=(
        Column("seq", "int64", "number of the change; a cursor that never expires", required=True),
        *_PLACE,
        Column("level_from", "string", "level before; null for the first time", codes="LEVEL"),
        Column("level_to", "string", "level now", required=True, codes="LEVEL"),
        Column("zone_from", "string", "zone before", codes="ZONE"),
        Column("zone_to", "string", "zone now", codes="ZONE"),
        Column("basis", "string", "what the level now rests on", required=True, codes="BASIS"),
        Column("reason", "string", "one sentence with the numbers", required=True),
        Column("measured_at", "timestamp", "time of the judged reading, UTC"),
        Column("judged_at", "timestamp", "the moment it was judged for, UTC", required=True),
    ),
    key=("seq",),
    sort_by=("seq",),
)
