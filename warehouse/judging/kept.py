"""The judgement that is kept: what was worked out of each machine, to judge the next time from.

One file of the engine in a folder of the store. It can be thrown away at any time: the next
judgement then works everything out. What it was made with (the views, limits and versions of
program and engine) is told by a fingerprint; of another make it is not used.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

import duckdb
import pyarrow as pa

from warehouse.durable import sync_all
from warehouse.judging.working import files_of
from warehouse.sql import identifier, load_statements

_SQL = load_statements("warehouse.judging", "kept")
_PATTERN = "judgement-*.duckdb"


@dataclass(frozen=True, slots=True)
class KeptJudgement:
    """Where it lies, as of when (UTC) it was judged, and from which versions of the tables."""

    path: Path
    as_of: dt.datetime
    versions: Mapping[str, int]


def fingerprint(rules: Mapping[str, pa.Table]) -> str:
    """What a judgement is made with, beside the data: engine, views, functions and `rules`.

    `rules` are the tables of limits, defaults and work.
    """
    digest = hashlib.sha256(_made_with().encode())
    for name, rows in sorted(rules.items()):
        digest.update(name.encode())
        for batch in rows.combine_chunks().to_batches():
            digest.update(batch.serialize())
    return digest.hexdigest()


@cache
def _made_with() -> str:
    """Engine, views, and the functions that these call."""
    functions = sorted(
        (entry.name, entry.read_text(encoding="utf-8"))
        for entry in files("warehouse.trends").iterdir()
        if entry.name.endswith(".py")
    )
    views = [(file.name, file.text) for file in files_of()]
    return json.dumps([duckdb.__version__, functions, views])


def attach_kept(
    connection: duckdb.DuckDBPyConnection, folder: Path, made_with: str
) -> KeptJudgement | None:
    """Attach the newest judgement kept in `folder` as `kept`, where it is of that fingerprint."""
    for path in sorted(folder.glob(_PATTERN), reverse=True):
        with suppress(duckdb.Error):  # of another engine, or a file that was damaged
            connection.execute(f"ATTACH '{_quoted(path)}' AS kept (READ_ONLY)")
            for made, as_of, versions in connection.execute(_SQL["state"]).fetchall():
                if made == made_with:
                    return KeptJudgement(path, as_of, json.loads(versions))
            connection.execute("DETACH kept")
    return None


def keep(
    connection: duckdb.DuckDBPyConnection,
    folder: Path,
    made_with: str,
    as_of: dt.datetime,
    versions: Mapping[str, int],
) -> None:
    """Keep the working tables of this connection in `folder`, in place of what was kept before.

    Durable before it is named: a file that is found was written whole.
    """
    folder.mkdir(exist_ok=True)
    before = sorted(folder.glob(_PATTERN))
    number = 1 + max((int(path.stem.partition("-")[2]) for path in before), default=0)
    unfinished = folder / "unfinished.duckdb"
    unfinished.unlink(missing_ok=True)
    connection.execute(f"ATTACH '{_quoted(unfinished)}' AS fresh")
    for file in files_of():
        if file.kept or file.remembered:
            connection.execute(_SQL["keep"].replace("@{name}", identifier(file.name)))
    state = {"made_with": made_with, "as_of": as_of, "versions": json.dumps(dict(versions))}
    connection.execute(_SQL["record"], state)
    connection.execute("DETACH fresh")
    sync_all([unfinished])
    unfinished.rename(folder / f"judgement-{number:012d}.duckdb")
    for path in before:
        path.unlink(missing_ok=True)


def _quoted(path: Path) -> str:
    return str(path).replace("'", "''")
