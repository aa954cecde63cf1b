"""Data files are read by column name: what a file lacks is null, and no file is no row."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from schemas.columns import Column, Table
from warehouse.store.delta import DataFile
from warehouse.store.scan import create_scan

_TABLE = Table(
    "things",
    "Things.",
    "one row a thing",
    (
        Column("id", "int64", "number"),
        Column("name", "string", "name"),
        Column("seen", "timestamp", "when seen, UTC"),
    ),
    key=("id",),
)


def _file(path: Path, rows: pa.Table) -> DataFile:
    pq.write_table(rows, path)
    return DataFile(path, rows.num_rows, None, None)


def test_a_column_that_one_file_lacks_is_null_whichever_comes_first(tmp_path: Path) -> None:
    short = _file(tmp_path / "a.parquet", pa.table({"id": pa.array([1], pa.int64())}))
    whole = _file(
        tmp_path / "b.parquet", pa.table({"name": ["two"], "id": pa.array([2], pa.int64())})
    )
    for files in ([short, whole], [whole, short]):
        with duckdb.connect() as session:
            create_scan(session, "things", _TABLE, files)
            found = session.sql("SELECT id, name, seen FROM things ORDER BY id").fetchall()
        assert found == [(1, None, None), (2, "two", None)]


def test_without_files_there_are_columns_and_no_rows() -> None:
    with duckdb.connect() as session:
        create_scan(session, "things", _TABLE, [])
        described = session.sql("DESCRIBE things").fetchall()
        assert session.sql("SELECT count(*) FROM things").fetchall() == [(0,)]
    assert [(row[0], row[1]) for row in described] == [
        ("id", "BIGINT"),
        ("name", "VARCHAR"),
        ("seen", "TIMESTAMP WITH TIME ZONE"),
    ]


def test_a_path_with_quotes_and_spaces_is_read(tmp_path: Path) -> None:
    folder = tmp_path / 'it\'s a "folder" [1]'
    folder.mkdir()
    file = _file(folder / "a.parquet", pa.table({"id": pa.array([1], pa.int64())}))
    with duckdb.connect() as session:
        create_scan(session, "things", _TABLE, [file])
        assert session.sql("SELECT id FROM things").fetchall() == [(1,)]
