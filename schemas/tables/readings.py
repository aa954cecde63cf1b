"""`readings`: one row a scalar reading, the table everything else hangs on."""

from schemas.columns import Column, Table
from schemas.reasons import KEPT_REJECTS

IDENTITY = (
    "source",
    "device",
    "channel",
    "quantity",
    "detector",
    "band",
    "feature",
    "method",
    "ts",
    "take",
)
"""Who said what, and when. Two rows equal in all of these, null-safe, are the same reading."""

PLACE = ("site", "asset", "position", "axis")
"""Where, as resolved by the mounting valid at `ts`. An attribute, not part of the identity."""

SERIES = (*PLACE, "quantity", "detector", "band", "feature", "method_group")
"""A trend line (rule R3): a place and what is measured there; no device in it."""

READINGS = Table(
    name="readings",
    purpose="Every scalar condition reading, in canonical units, with its place and lineage.",
    grain="one row a reading as sent; `superseded` says which rows no longer count",
    columns=(
        Column(
            "source",
            "string",
            "the source that sent the reading, as its mapping names it",
            required=True,
        ),
        Column(
            "device", "string", "sensor, logger or meter, as the source names it", required=True
        ),
        Column("channel", "string", "channel of the device, or stop of the route", required=True),
        Column("quantity", "string", "what was measured", required=True, codes="QUANTITY"),
        Column(
            "detector",
            "string",
            "how the waveform became one number (rule R1)",
            required=True,
            codes="DETECTOR",
        ),
        Column("band", "string", "frequency band as LOW-HIGHHz; null where none applies"),
        Column(
            "feature",
            "string",
            "`overall`, or the line or feature the value describes",
            required=True,
        ),
        Column("method", "string", "how the reading was taken", required=True, codes="METHOD"),
        Column("ts", "timestamp", "time of the reading, UTC", required=True),
        Column(
            "take",
            "int32",
            "counts up when a reading is taken again at the same stop and time",
            required=True,
        ),
        Column(
            "ts_source",
            "string",
            "whose clock gave `ts` (rule R4)",
            required=True,
            codes="TS_SOURCE",
        ),
        Column(
            "ts_precision",
            "string",
            "precision of `ts` as sent",
            required=True,
            codes="TS_PRECISION",
        ),
        Column(
            "received_at",
            "timestamp",
            "time of durable receipt here, UTC; never before that of the receipt before it",
            required=True,
        ),
        Column(
            "issued_at",
            "timestamp",
            "export or version time the source declares; null where it declares none",
        ),
        Column("sequence", "int64", "message counter of the device; null where it has none"),
        Column("site", "string", "site of the point", required=True),
        Column("asset", "string", "asset (tag, a machine train) of the point", required=True),
        Column(
            "position", "string", "measuring position, such as motor-nde or pump-de", required=True
        ),
        Column(
            "axis", "string", "direction; null for a scalar such as a temperature", codes="AXIS"
        ),
        Column(
            "value",
            "float64",
            "the value in canonical units; null only where `quality` is bad and no number exists",
            unit="stands in column `unit`",
        ),
        Column("unit", "string", "canonical UCUM unit of quantity and detector", required=True),
        Column(
            "source_value",
            "float64",
            "the value as received; null where `value`, converted back to `source_unit` and "
            "rounded to the digit `resolution` tells, is that value",
            unit="stands in column `source_unit`",
        ),
        Column("source_unit", "string", "UCUM unit as received", required=True),
        Column(
            "resolution",
            "float64",
            "one unit of the last digit the source printed, as a difference in `unit`",
            unit="stands in column `unit`",
        ),
        Column("quality", "string", "may the value be used", required=True, codes="QUALITY"),
        Column(
            "reason",
            "string",
            "why `quality` is not good; null where it is",
            codes="READING_REASON",
        ),
        Column("note", "string", "what the technician wrote beside the reading; null mostly"),
        Column("package", "int64", "package the reading arrived in", required=True),
        Column(
            "row",
            "int64",
            "item number in the package: (line - 1) x values a line + place in the line",
            required=True,
        ),
        Column("mapping", "string", "version of the mapping that read it", required=True),
    ),
    key=IDENTITY,
    partition_by=("p_site", "p_month"),
    sort_by=(
        "site",
        "asset",
        "position",
        "axis",
        "quantity",
        "detector",
        "band",
        "feature",
        "method",
        "ts",
    ),
)

SUPERSEDED = Table(
    name="superseded",
    purpose="Rows of `readings` that no longer count: current readings are `readings` "
    "anti-joined with this.",
    grain="one row a reading that stopped counting",
    columns=(
        Column("package", "int64", "package of the row that no longer counts", required=True),
        Column("row", "int64", "item number of the row that no longer counts", required=True),
        Column("ended_by", "int64", "package whose arrival ended it", required=True),
        Column("why", "string", "why it no longer counts", required=True, codes="SUPERSEDED_WHY"),
        Column("recorded_at", "timestamp", "when this was recorded, UTC", required=True),
    ),
    key=("package", "row"),
    sort_by=("package", "row"),
)

REJECTS = Table(
    name="rejects",
    purpose="Items that could not become readings: why, where in the file, and the raw text.",
    grain=f"one row a refused item, reason and attempt that recorded it, at most {KEPT_REJECTS:,} "
    "a package, reason and attempt; what came in since stays, and the ledger counts what is open",
    columns=(
        Column("package", "int64", "package the item arrived in", required=True),
        Column("row", "int64", "item number in the package", required=True),
        Column("source", "string", "the source that sent it", required=True),
        Column("file", "string", "name of the file as received", required=True),
        Column("line", "int64", "line or record number in the file, from 1", required=True),
        Column("column_name", "string", "column or path the value stood in; null for a whole line"),
        Column("reason", "string", "why it was refused", required=True, codes="REJECT_REASON"),
        Column("detail", "string", "what was wrong and what is allowed", required=True),
        Column("raw", "string", "the text as received, at most 200 characters"),
        Column("device", "string", "device as sent, where that could be read"),
        Column("channel", "string", "channel or stop as sent, where that could be read"),
        Column("ts_text", "string", "time as sent, where that could be read"),
        Column("mapping", "string", "version of the mapping in force", required=True),
        Column(
            "received_at",
            "timestamp",
            "time of durable receipt here, UTC; never before that of the receipt before it",
            required=True,
        ),
        Column(
            "attempt",
            "int32",
            "attempt at the package that recorded the refusal; of several rows of an item the "
            "highest attempt has the say; null stands for 1",
            since=2,
        ),
    ),
    key=("package", "row", "reason", "attempt"),
    sort_by=("package", "row"),
)
