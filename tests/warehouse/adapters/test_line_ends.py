"""Lines of delimited text are counted as a person counts them, however they end. Invented data."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.warehouse.adapters.reading import mapping_text, read
from warehouse.adapters import Decoding, adapter, decode
from warehouse.adapters.contract import RECEIVED_AT
from warehouse.errors import UnreadableSourceError
from warehouse.mapping import parse_mapping

PLAIN = mapping_text("delimited", "v")
LINES = ["t,v", "A,1", "short", "B,2", "C,3"]


@pytest.mark.parametrize(
    "ends",
    [["\n"] * 5, ["\r\n"] * 5, ["\r"] * 5, ["\n", "\n", "\r\n", "\r\n", "\n"],
     ["\r\n", "\n", "\r\n", "\r", "\r\n"], ["\r\n"] * 4 + [""]],
    ids=["lf", "crlf", "cr", "lf-first", "crlf-first", "none-at-the-end"],
)  # fmt: skip
def test_lines_may_end_in_any_way_and_in_several(tmp_path: Path, ends: list[str]) -> None:
    payload = "".join(line + end for line, end in zip(LINES, ends, strict=True)).encode()
    records, refused = read(tmp_path, payload, PLAIN)
    assert [(row["line"], row["t"], row["v"]) for row in records] == [
        (2, "A", "1"),
        (4, "B", "2"),
        (5, "C", "3"),
    ]
    assert [(row["line"], row["raw"]) for row in refused] == [(3, "short")]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_blank_lines_count_and_are_not_refused(tmp_path: Path, end: str) -> None:
    payload = end.join(["", "t,v", "", "A,1", "", "", "short", "", "B,2", "", ""]).encode()
    mapping = mapping_text("delimited", "v", file="header_line = 2")
    records, refused = read(tmp_path, payload, mapping)
    assert [(row["line"], row["t"]) for row in records] == [(4, "A"), (9, "B")]
    assert [(row["line"], row["raw"]) for row in refused] == [(7, "short")]


def test_blank_line_inside_quotes_is_text(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b't,v\n"A\n\nB",1\n\nC,2\n', PLAIN)
    assert [(row["t"], row["v"]) for row in records] == [("A\n\nB", "1"), ("C", "2")]
    assert not refused


def test_bytes_of_another_encoding_cost_their_own_line_in_a_mixed_file(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b"t,v\r\nA,1\n\xe4,2\r\n\nB,3\n", PLAIN)
    assert [(row["line"], row["t"]) for row in records] == [(2, "A"), (5, "B")]
    assert [(row["line"], row["detail"]) for row in refused] == [
        (3, "bytes that are not of the declared encoding")
    ]


@pytest.mark.parametrize("encoding", ["utf-16", "cp1252"])
def test_blank_lines_count_in_other_encodings_too(tmp_path: Path, encoding: str) -> None:
    mapping = mapping_text("delimited", "v", file=f'encoding = "{encoding}"')
    records, _ = read(tmp_path, "t,v\r\n\r\nÄ,1\r\n".encode(encoding), mapping)
    assert [(row["line"], row["t"]) for row in records] == [(3, "Ä")]


def test_header_cell_longer_than_the_parser_takes(tmp_path: Path) -> None:
    with pytest.raises(UnreadableSourceError, match=r"line 1 is no line of column names"):
        read(tmp_path, b"x" * 200_000 + b",t,v\n1,A,1\n", PLAIN)


_LINE = st.sampled_from(["A,1", "B,2", "short", "a,b,c,d", "", '"Q",3', " "])
_END = st.sampled_from(["\n", "\r\n", "\r"])


@settings(max_examples=60, deadline=None)
@given(lines=st.lists(st.tuples(_LINE, _END), max_size=25), end=_END)
def test_law_of_line_numbers(
    tmp_path_factory: pytest.TempPathFactory, lines: list[tuple[str, str]], end: str
) -> None:
    """Against Python's own reader, line by line: no cell here spans two lines."""
    payload = "t,v" + end + "".join(line + mark for line, mark in lines)
    folder = tmp_path_factory.mktemp("law")
    records, refused = read(folder, payload.encode(), PLAIN)
    expected: dict[int, list[str] | None] = {}
    for number, line in enumerate(io.StringIO(payload, newline=None).read().split("\n")[1:], 2):
        cells = next(csv.reader([line]), [])
        if line.strip():
            expected[number] = cells if len(cells) == 2 else None
    assert {row["line"]: [row["t"], row["v"]] for row in records} == {
        number: cells for number, cells in expected.items() if cells is not None
    }
    assert {row["line"] for row in refused} == {n for n, cells in expected.items() if cells is None}


@settings(max_examples=25, deadline=None)
@given(files=st.lists(st.lists(st.tuples(_LINE, _END), max_size=8), min_size=2, max_size=4))
def test_law_of_the_batch(
    tmp_path_factory: pytest.TempPathFactory, files: list[list[tuple[str, str]]]
) -> None:
    """Files decoded together give what each gives alone."""
    folder = tmp_path_factory.mktemp("batch")
    mapping = parse_mapping(PLAIN, "mapping of the test")
    decodings = []
    for number, lines in enumerate(files):
        path = folder / f"{number}.csv"
        header = "t,v\n" if number % 2 else "v,t\n"
        path.write_bytes((header + "".join(line + end for line, end in lines)).encode())
        decodings.append(Decoding(path, path.name, mapping, RECEIVED_AT, package=number))

    def rows(chosen: list[Decoding]) -> list[list[tuple[object, ...]]]:
        with duckdb.connect() as session:
            assert decode(adapter("delimited"), chosen, session) == {}
            return [
                session.execute(f"SELECT * FROM {table} ORDER BY ALL").fetchall()
                for table in ("batch_records", "batch_refused")
            ]

    alone = [rows([one]) for one in decodings]
    for table, together in enumerate(rows(decodings)):
        expected = [
            (number, *row[1:]) for number, found in enumerate(alone) for row in found[table]
        ]
        assert together == expected
