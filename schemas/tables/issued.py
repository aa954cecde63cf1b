"""`issued`: what was told, as it was told. History: nothing that is worked out anew changes it."""

from __future__ import annotations

from schemas.columns import Column, Table
from schemas.tables.conditions import CONDITION_CURRENT

_TOLD = tuple(
    column for column in CONDITION_CURRENT.columns if column.name not in CONDITION_CURRENT.key
)
_PLACE = tuple(
    column for column in CONDITION_CURRENT.columns if column.name in CONDITION_CURRENT.key
)

ISSUED = Table(
    name="issued",
    purpose="What was told of every point, member and asset, as it was told: a row of "
    "`condition_current` as published, on record before it is published. Append-only; late "
    "data, new limits and rebuilds write new rows and change none.",
    grain="one row a place and time that something told of it differed; `seq` strictly increases",
    columns=(
        Column("seq", "int64", "number of what was told; never given twice", required=True),
        Column(
            "snapshot",
            "int64",
            "`seq` of the published state it was told with; of two rows of a place with the same "
            "number the later one was published, the earlier nobody saw",
            required=True,
        ),
        Column("event", "string", "told, or withdrawn", required=True, codes="ISSUED_EVENT"),
        Column(
            "change",
            "int64",
            "`seq` of the change in `condition_log`; null where level, zone and basis stayed",
        ),
        *_PLACE,
        *_TOLD,
        Column(
            "data_versions",
            "string",
            "JSON object: Delta versions of the tables it was judged from, by name",
            required=True,
        ),
    ),
    key=("seq",),
    sort_by=("seq",),
    since=3,
)
