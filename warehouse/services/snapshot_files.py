"""The published state for other engines: versions, files and schemas of its tables."""

from __future__ import annotations

from typing import Any

from schemas.tables import PUBLISHED_WITH_SNAPSHOT
from schemas.tables.readings import READINGS
from warehouse.query.limited import files_seen
from warehouse.services.desk import Desk
from warehouse.services.exporting import columns_of
from warehouse.services.serving import State


def snapshot_files(desk: Desk, state: State) -> list[dict[str, Any]]:
    """Tables of a published state with their files.

    A caller limited to sites is told the files of readings of its sites; the
    files of other tables hold those of all sites and are not named.
    """
    found = []
    with desk.places.one() as store:
        for table in PUBLISHED_WITH_SNAPSHOT:
            version = state.snapshot.versions.get(table.name)
            if version is None:  # the state was published before there was that table
                continue
            files = store.files(table, version)
            told = not desk.caller.limited or table is READINGS
            files = files_seen(files, desk.caller) if told else []
            listed = [
                {"path": file.path.relative_to(store.tables).as_posix(), "rows": file.rows}
                for file in files
            ]
            found.append(
                {
                    "table": table.name,
                    "version": version,
                    "rows": sum(file.rows for file in files),
                    "columns": columns_of(table.arrow),
                    "files": sorted(listed, key=lambda one: str(one["path"])) if told else None,
                }
            )
    return found
