"""The people's work: what maintenance reported, what persons did about cases, and cases' lives.

Terms of maintenance follow EN 13306 and ISO 14224. Types of maintenance and classes of severity
are from memory (M); failure modes were seen in secondary texts that disagree about some (V2).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from schemas.columns import Column, Table

MAINTENANCE_STATUS: Mapping[str, str] = MappingProxyType(
    {"valid": "the event stands", "cancelled": "the maintenance system took it back"}
)

MAINTENANCE_TYPE: Mapping[str, str] = MappingProxyType(
    {
        "corrective": "after a fault was found (EN 13306; M)",
        "condition-based": "because of an observed condition (EN 13306; M)",
        "scheduled": "by calendar or running time (EN 13306 predetermined maintenance; M)",
        "improvement": "changes the machine (EN 13306; M)",
        "inspection": "looked at, nothing changed (EN 13306; M)",
    }
)

FAILURE_SEVERITY: Mapping[str, str] = MappingProxyType(
    {
        "critical": "the machine lost its function at once (ISO 14224; M)",
        "degraded": "it kept its function, and would have lost it (ISO 14224; M)",
        "incipient": "an imperfection that would become worse (ISO 14224; M)",
    }
)

FAILURE: Mapping[str, str] = MappingProxyType(
    {
        "functional": "it could not do what it is there for: counts in MTBF (rule W3)",
        "potential": "a fault was found before it failed",
        "none": "no fault was found",
    }
)

FAILURE_MODE: Mapping[str, str] = MappingProxyType(
    {
        "AIR": "abnormal instrument reading (ISO 14224; V2)",
        "BRD": "breakdown (ISO 14224; V2)",
        "ELP": "external leakage, process medium (ISO 14224; V2)",
        "ELU": "external leakage, utility medium (ISO 14224; V2)",
        "ERO": "erratic output (ISO 14224; V2)",
        "FTF": "failure to function on demand (ISO 14224; V2)",
        "FTS": "failure to start on demand (ISO 14224; V2)",
        "FTC": "failure to close on demand (ISO 14224; V2)",
        "FTO": "failure to open on demand (ISO 14224; V2)",
        "FTR": "failure to regulate (ISO 14224; V2)",
        "HIO": "high output (ISO 14224; V2)",
        "INL": "internal leakage (ISO 14224; disputed, also printed ILP)",
        "LOO": "low output (ISO 14224; V2)",
        "NOI": "noise (ISO 14224; V2)",
        "OHE": "overheating (ISO 14224; V2)",
        "PDE": "parameter deviation (ISO 14224; V2)",
        "PLU": "plugged or choked (ISO 14224; V2)",
        "SER": "minor in-service problem (ISO 14224; V2)",
        "STD": "structural deficiency (ISO 14224; disputed, also printed STP)",
        "STP": "failure to stop on demand (ISO 14224; disputed, see STD)",
        "UST": "spurious stop (ISO 14224; V2)",
        "VIB": "vibration (ISO 14224; V2)",
        "OTH": "other (ISO 14224; V2)",
        "UNK": "unknown (ISO 14224; V2)",
    }
)

RESETS: Mapping[str, str] = MappingProxyType(
    {
        "none": "changes nothing that a reading is compared with",
        "temperature-mute": "temperatures mean nothing for some time afterwards (rule J13)",
        "baseline": "restores: what was learnt of the machine before no longer holds (rule J4)",
        "new-machine": "another machine, or as good as another, stands there",
    }
)

CASE_STATE: Mapping[str, str] = MappingProxyType(
    {
        "new": "nobody has taken it up",
        "acknowledged": "a named person has seen it",
        "confirmed": "a second look says it is so",
        "work-requested": "the maintenance system has been asked",
        "done": "work was reported",
        "verified": "the machine is better than before the work",
        "deferred": "put off to a date",
        "closed": "ended, with a disposition",
    }
)

DISPOSITION: Mapping[str, str] = MappingProxyType(
    {
        "real": "the machine had what was said",
        "false-alarm": "there was nothing",
        "process": "the process did it, the machine is sound",
        "sensor": "the sensor or its mounting did it",
        "accepted-until": "known, and borne until a date",
    }
)

CASE_ACTION: Mapping[str, str] = MappingProxyType(
    {
        "acknowledge": "has seen it",
        "confirm": "a second look says it is so",
        "request": "asks maintenance for work",
        "defer": "puts it off to a date",
        "done": "reports work as done",
        "verify": "finds the machine better",
        "dispose": "says what it was",
        "assign": "names who takes care of it",
        "comment": "says something about it",
        "suppress": "wants no case of it until a date, with a reason",
        "release": "ends a suppression before its date",
    }
)

CASE_EVENT: Mapping[str, str] = MappingProxyType(
    {
        "opened": "a weakness nobody was told of",
        "worsened": "a higher level",
        "eased": "a lower level, still one that opens cases",
        "cleared": "the level no longer opens cases",
        "returned": "the level is back in a case that was cleared",
        "reopened": "a closed case is open again",
        "acknowledged": "a person has seen it",
        "confirmed": "a person confirmed it",
        "work-requested": "a person asked for work",
        "deferred": "a person put it off",
        "deferral-expired": "the date it was put off to has come",
        "acceptance-expired": "the date it was borne until has come, and it is still there",
        "done": "work was reported",
        "verified": "better than before the work",
        "repair-not-effective": "not better than before the work",
        "disposed": "a person said what it was, and it goes on",
        "assigned": "it has an owner",
        "commented": "a person said something",
        "closed": "ended, with a disposition",
        "corrected": "maintenance reported late, changed or took back an event: so it stands now",
    }
)

CASE_CAUSE: Mapping[str, str] = MappingProxyType(
    {
        "change": "a change of condition; `cause_id` is its seq in `condition_log`",
        "action": "a person's action; `cause_id` is its seq in `case_actions`",
        "work": "a maintenance event; `cause_id` is its source and id",
        "effect": "what a repair came to; `cause_id` is the event's source and id",
        "timer": "a date that has come; `cause_id` is that date",
        "work-changed": "events reported late, changed or taken back",
    }
)

_LINEAGE = (
    Column("package", "int64", "package the event arrived in", required=True),
    Column("row", "int64", "record number in the package", required=True),
    Column("mapping", "string", "version of the mapping that read it", required=True),
    Column("received_at", "timestamp", "time of durable receipt here, UTC", required=True),
)

MAINTENANCE_EVENTS = Table(
    name="maintenance_events",
    purpose="What the maintenance system reported, every version of every event; "
    "`maintenance_current` has those that count.",
    grain="one row a version of an event",
    columns=(
        Column("source", "string", "who reported it", required=True),
        Column("event", "string", "identifier of the event in its source", required=True),
        Column(
            "version_at",
            "timestamp",
            "when the source last changed it, else when it exported it, else receipt, UTC; the "
            "highest counts, of equal ones the highest `digest`",
            required=True,
        ),
        Column("status", "string", "whether it stands", required=True, codes="MAINTENANCE_STATUS"),
        Column("site", "string", "site code", required=True),
        Column("asset", "string", "asset tag", required=True),
        Column("member", "string", "machine of the train; null for the whole train"),
        Column("type", "string", "type of maintenance", codes="MAINTENANCE_TYPE"),
        Column("activity", "string", "code of the activity table", required=True),
        Column("severity", "string", "severity of the failure", codes="FAILURE_SEVERITY"),
        Column("failure", "string", "kind of failure; null where not told", codes="FAILURE"),
        Column("as_found", "string", "failure mode as found", codes="FAILURE_MODE"),
        Column("started_at", "timestamp", "work began, UTC", required=True),
        Column("ended_at", "timestamp", "work ended, UTC; null where not told"),
        Column("down_hours", "float64", "time the machine was down", "h"),
        Column("cost", "float64", "cost in the currency the source keeps", "1"),
        Column("order_id", "string", "work order in the maintenance system"),
        Column("note", "string", "what the technician wrote"),
        Column("digest", "string", "digest of what the source said", required=True),
        *_LINEAGE,
    ),
    key=("source", "event", "version_at", "digest", "package", "row"),
    sort_by=("source", "event", "version_at"),
    since=3,
)

_KEY = (
    Column("site", "string", "site code", required=True),
    Column("asset", "string", "asset tag", required=True),
    Column("member", "string", "machine of the train", required=True),
)

CASE_ACTIONS = Table(
    name="case_actions",
    purpose="What named persons did about cases.",
    grain="one row an action; `seq` strictly increases",
    columns=(
        Column("seq", "int64", "number of the action", required=True),
        Column("kind", "string", "what was done", required=True, codes="CASE_ACTION"),
        Column("case_id", "int64", "the case; null for a suppression"),
        *_KEY,
        Column("basis", "string", "what is wrong; null: whatever it is", codes="BASIS"),
        Column("person", "string", "who did it", required=True),
        Column("acted_at", "timestamp", "when, by the judge's clock, UTC", required=True),
        Column("after_change", "int64", "highest `condition_log.seq` there was", required=True),
        Column("until", "timestamp", "date of a deferral, acceptance or suppression, UTC"),
        Column("disposition", "string", "what it was", codes="DISPOSITION"),
        Column("owner", "string", "who takes care of it"),
        Column("order_id", "string", "work order in the maintenance system"),
        Column("comment", "string", "reason or remark"),
        Column("recorded_at", "timestamp", "when it was recorded here, UTC", required=True),
    ),
    key=("seq",),
    sort_by=("seq",),
    since=3,
)

CASE_EVENTS = Table(
    name="case_events",
    purpose="The whole life of every case. Its last row is how it stands; rows with a `notice` "
    "are the notifications, each once.",
    grain="one row a thing that happened to a case; `seq` strictly increases",
    columns=(
        Column("seq", "int64", "number of the row; a cursor that never expires", required=True),
        Column("case_id", "int64", "`condition_log.seq` of what opened it", required=True),
        *_KEY,
        Column("basis", "string", "what is wrong", required=True, codes="BASIS"),
        Column("kind", "string", "what happened", required=True, codes="CASE_EVENT"),
        Column("happened_at", "timestamp", "when it happened, UTC", required=True),
        Column("notice", "int64", "number of the notification; null where none is sent"),
        Column("state", "string", "state after it", required=True, codes="CASE_STATE"),
        Column("level", "string", "level after it", required=True, codes="LEVEL"),
        Column("level_since", "timestamp", "since when at this level, UTC", required=True),
        Column("worst_told", "string", "highest level told of it", required=True, codes="LEVEL"),
        Column("opened_at", "timestamp", "when the case was opened, UTC", required=True),
        Column("cleared_at", "timestamp", "since when the level opens no case; null while it does"),
        Column("disposition", "string", "what it was; null while open", codes="DISPOSITION"),
        Column("until", "timestamp", "date of a deferral or acceptance in force, UTC"),
        Column("resumes", "string", "state behind a deferral", codes="CASE_STATE"),
        Column("owner", "string", "who takes care of it"),
        Column("order_id", "string", "work order in the maintenance system"),
        Column("done_by", "string", "maintenance event or person that reported the work"),
        Column("confirmed_by", "string", "person that confirmed it"),
        Column("person", "string", "person that did this; null: the rules"),
        Column("comment", "string", "what the person said"),
        Column("reason", "string", "why, in plain words"),
        Column("cause", "string", "kind of cause", required=True, codes="CASE_CAUSE"),
        Column("cause_id", "string", "which one", required=True),
        Column("through_change", "int64", "condition changes known by then", required=True),
        Column("through_action", "int64", "actions known by then", required=True),
        Column("recorded_at", "timestamp", "when it was recorded here, UTC", required=True),
    ),
    key=("seq",),
    sort_by=("seq",),
    since=3,
)
