"""What people bring back from routes, and from new sensors: stop results, commissioning checks."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from schemas.columns import Column, Table

STOP_RESULT: Mapping[str, str] = MappingProxyType(
    {
        "measured": "measured",
        "not-running": "the machine stood: counts neither for nor against the walk",
        "no-access": "the stop could not be reached",
        "unsafe": "it would not have been safe to measure",
        "no-time": "there was no time",
        "meter-fault": "the meter did not work",
    }
)
"""What became of a stop (rule W4). A blank is none of them: it is unexplained."""

OBSERVATION: Mapping[str, str] = MappingProxyType(
    {
        "leak": "something leaks",
        "noise": "an unusual noise",
        "looseness": "something is loose",
        "oil": "oil is low, dark, foaming, or where it should not be",
        "smell": "an unusual smell",
    }
)
"""What a technician sees, hears or smells at a stop (rule W4)."""

COMMISSIONING_CHECK: Mapping[str, str] = MappingProxyType(
    {
        "tap": "the axis that was tapped is the one that answered",
        "compare": "agrees with a handheld reading of the same band and detector",
        "running": "the machine was proven to run while it was read",
        "interval": "readings come at the declared interval",
        "plausible": "the first readings are such as this class of machine shows",
    }
)
"""What is checked of a new or moved sensor before it may raise cases (rule W5)."""

COMMISSIONING_STEP: Mapping[str, str] = MappingProxyType(
    {
        "start": "the sensor is new or was moved: its mounting is provisional from here on",
        **COMMISSIONING_CHECK,
        "pass": "a named person lets the mounting count",
        "fail": "a named person says what is wrong; the mounting stays provisional",
    }
)

COMMISSIONING_OUTCOME: Mapping[str, str] = MappingProxyType(
    {
        "passed": "as it should be",
        "failed": "not as it should be",
        "not-yet": "there are not enough readings to say",
        "waived": "a named person does without it, with a reason",
        "noted": "a start, pass or fail, which is no check",
    }
)

STOP_RESULTS = Table(
    name="stop_results",
    purpose="What became of every stop of a walked route, as its sheet says; "
    "`stop_results_current` has those that count.",
    grain="one row a stop, visit and version",
    columns=(
        Column("source", "string", "source of the sheet", required=True),
        Column("route", "string", "route code", required=True),
        Column("stop", "string", "stop code", required=True),
        Column("visited_at", "timestamp", "when the technician was there, UTC", required=True),
        Column("result", "string", "what became of it; null: unexplained", codes="STOP_RESULT"),
        Column("observations", "string", "codes of observations, separated by spaces"),
        Column("note", "string", "what the technician wrote"),
        Column("person", "string", "who walked the route"),
        Column("device", "string", "meter carried"),
        Column("site", "string", "site of the stop", required=True),
        Column("asset", "string", "asset of the stop", required=True),
        Column("position", "string", "position of the stop", required=True),
        Column("axis", "string", "direction of the stop", codes="AXIS"),
        Column("digest", "string", "digest of what the sheet said", required=True),
        Column("package", "int64", "package the sheet arrived in", required=True),
        Column("row", "int64", "item number of the first value of the stop", required=True),
        Column("mapping", "string", "version of the mapping that read it", required=True),
        Column("received_at", "timestamp", "time of durable receipt here, UTC", required=True),
    ),
    key=("source", "route", "stop", "visited_at", "package", "row"),
    sort_by=("source", "route", "visited_at", "stop"),
    since=3,
)

COMMISSIONING_STEPS = Table(
    name="commissioning_steps",
    purpose="What was done and found when a sensor was commissioned (rule W5).",
    grain="one row a step; `seq` strictly increases",
    columns=(
        Column("seq", "int64", "number of the step", required=True),
        Column("device", "string", "device as the source names it", required=True),
        Column("channel", "string", "channel of the device", required=True),
        Column("mounted_from", "timestamp", "start of the mounting, UTC", required=True),
        Column("step", "string", "what was done", required=True, codes="COMMISSIONING_STEP"),
        Column("outcome", "string", "how it went", required=True, codes="COMMISSIONING_OUTCOME"),
        Column("found", "string", "what was found, in words with the numbers", required=True),
        Column("at", "timestamp", "moment the step is about, UTC"),
        Column("value", "float64", "figure of the sensor", "stands in column `unit`"),
        Column("reference", "float64", "figure it is held against", "stands in column `unit`"),
        Column("unit", "string", "UCUM unit of both"),
        Column("person", "string", "who did it; the judge of automatic checks too", required=True),
        Column("comment", "string", "remark, or why a check is waived"),
        Column("recorded_at", "timestamp", "when it was recorded here, UTC", required=True),
    ),
    key=("seq",),
    sort_by=("seq",),
    since=3,
)
