"""`snapshots`: which versions of the tables belong together."""

from schemas.columns import Column, Table

SNAPSHOTS = Table(
    name="snapshots",
    purpose="Published states of the store. A reader takes the row with the highest `seq` and "
    "reads each table at the version it names, so that no answer is torn across tables.",
    grain="one row a published state",
    columns=(
        Column("seq", "int64", "counts up by one with each published state", required=True),
        Column("published_at", "timestamp", "when it was published, UTC", required=True),
        Column("as_of", "timestamp", "the `now` its conditions were judged at, UTC", required=True),
        Column(
            "versions",
            "string",
            "JSON object: Delta version of each table by its name",
            required=True,
        ),
    ),
    key=("seq",),
    sort_by=("seq",),
)
