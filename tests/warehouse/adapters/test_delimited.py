"""Delimited text: lines, quotes, encodings. Invented data."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.adapters.reading import mapping_text, read
from warehouse.errors import UnreadableSourceError

PLAIN = mapping_text("delimited", "v")


def test_lines_count_refused_ones_and_the_lines_before_the_header(tmp_path: Path) -> None:
    text = b"about\nt,v\nA,1\nB,2,3\nC\nD,4\nE,5,6\nF,7\n"
    records, refused = read(tmp_path, text, mapping_text("delimited", "v", file="header_line = 2"))
    assert records == [
        {"line": 3, "t": "A", "v": "1"},
        {"line": 6, "t": "D", "v": "4"},
        {"line": 8, "t": "F", "v": "7"},
    ]
    assert [(row["line"], row["reason"], row["raw"]) for row in refused] == [
        (4, "undecodable", "B,2,3"),
        (5, "undecodable", "C"),
        (7, "undecodable", "E,5,6"),
    ]
    assert "expected number of columns" in refused[0]["detail"]


def test_refused_first_line_shifts_the_rest(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b"t,v\nX\nY\nA,1\n", PLAIN)
    assert [row["line"] for row in refused] == [2, 3]
    assert records == [{"line": 4, "t": "A", "v": "1"}]


def test_digits_stay_as_printed(tmp_path: Path) -> None:
    records, _ = read(tmp_path, b"t,v\nA,2.50\nB,007\nC,1E+2\nD, 3 \n", PLAIN)
    assert [row["v"] for row in records] == ["2.50", "007", "1E+2", " 3 "]


def test_quotes_keep_delimiters_and_doubled_quotes(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b't,v\n"A, the first","say ""1"""\n"","2"\n', PLAIN)
    assert [row["v"] for row in records] == ['say "1"', "2"]
    assert records[0]["t"] == "A, the first"
    assert not refused


def test_other_quoting_character_and_delimiter(tmp_path: Path) -> None:
    file = 'delimiter = "\\t"\nquote = "\'"'
    records, _ = read(tmp_path, b"t\tv\n'A\tx'\t1\n", mapping_text("delimited", "v", file=file))
    assert records == [{"line": 2, "t": "A\tx", "v": "1"}]


def test_unclosed_quote_is_refused_and_said(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b't,v\nA,1\nB,2\n"C,3\n', PLAIN)
    assert [row["v"] for row in records] == ["1", "2"]
    assert [(row["line"], row["detail"]) for row in refused] == [
        (4, "a quote that is not closed, or text behind a closing quote")
    ]


@pytest.mark.parametrize("ends", [b"\n", b"\r\n"])
def test_byte_order_mark_is_no_part_of_the_first_column(tmp_path: Path, ends: bytes) -> None:
    payload = b"\xef\xbb\xbf" + ends.join([b"t,v", b"A,1", b"B,2", b""])
    records, refused = read(tmp_path, payload, PLAIN)
    assert [row["t"] for row in records] == ["A", "B"]
    assert [row["line"] for row in records] == [2, 3]
    assert not refused


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16", "utf-16-le", "iso-8859-1", "utf-8-sig"])
def test_declared_encoding_is_read(tmp_path: Path, encoding: str) -> None:
    mapping = mapping_text("delimited", "Größe µm", file=f'encoding = "{encoding}"')
    records, refused = read(tmp_path, "t,Größe µm\nA,1\nÄ,2\n".encode(encoding), mapping)
    assert [(row["line"], row["t"], row["Größe µm"]) for row in records] == [
        (2, "A", "1"),
        (3, "Ä", "2"),
    ]
    assert not refused


def test_bytes_of_another_encoding_refuse_their_line_only(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b"t,v\nA,1\n\xc4,2\nC,3\n", PLAIN)
    assert [(row["line"], row["t"]) for row in records] == [(2, "A"), (4, "C")]
    assert [(row["line"], row["column"], row["detail"]) for row in refused] == [
        (3, "t", "bytes that are not of the declared encoding")
    ]


def test_wrong_declared_encoding_refuses_the_file(tmp_path: Path) -> None:
    mapping = mapping_text("delimited", "v", file='encoding = "utf-16"')
    with pytest.raises(UnreadableSourceError, match="it is not utf-16 text"):
        read(tmp_path, b"t,v\nA,1\n", mapping)


@pytest.mark.parametrize(
    ("payload", "message"),
    [
        (b"", "it is empty"),
        (b"t,\x00v\nA,1\n", "it is binary: a zero byte at byte 3"),
        (b"t,w\nA,1\n", "line 1 lacks the column 'v'; it has 't', 'w'"),
        (b"t,v,v\nA,1,2\n", "line 1 has the column 'v' more than once"),
        (b"t;v\nA;1\n", "lacks the column 't', 'v'"),
    ],
)
def test_unusable_file_is_refused_whole(tmp_path: Path, payload: bytes, message: str) -> None:
    with pytest.raises(UnreadableSourceError, match=message):
        read(tmp_path, payload, PLAIN)


@pytest.mark.parametrize("tail", [b"\x00" * 7, b"\x00" * 70_000 + b"\n", b"D,\x00\x00"])
def test_a_zero_byte_costs_its_own_line(tmp_path: Path, tail: bytes) -> None:
    """As a logger leaves them that lost its power."""
    payload = b"t,v\nA,1\nB,\x002\nC,3\n" + tail
    records, refused = read(tmp_path, payload, PLAIN, max_line_bytes=100_000)
    assert [(row["line"], row["t"], row["v"]) for row in records] == [(2, "A", "1"), (4, "C", "3")]
    assert [row["line"] for row in refused] == [3, 5]
    assert {row["detail"] for row in refused} == {"a zero byte, which is no text"}


def test_file_that_ends_before_its_header(tmp_path: Path) -> None:
    mapping = mapping_text("delimited", "v", file="header_line = 3")
    with pytest.raises(UnreadableSourceError, match="it ends before line 3"):
        read(tmp_path, b"t,v\n", mapping)


def test_header_alone_is_no_fault(tmp_path: Path) -> None:
    assert read(tmp_path, b"t,v\n", PLAIN) == ([], [])


def test_long_line_is_refused_and_the_rest_goes_on(tmp_path: Path) -> None:
    payload = b"t,v\nA,1\nB," + b"9" * 5_000 + b"\nC,3\n"
    records, refused = read(tmp_path, payload, PLAIN, max_line_bytes=1_000)
    assert [(row["line"], row["v"]) for row in records] == [(2, "1"), (4, "3")]
    assert [(row["line"], row["detail"]) for row in refused] == [
        (3, "the line is longer than the setting max_line_bytes allows")
    ]
    assert len(refused[0]["raw"]) <= 200


def test_fields_in_the_mappings_order_not_the_files(tmp_path: Path) -> None:
    records, _ = read(tmp_path, b"w,x,t,v\n2,9,A,1\n", mapping_text("delimited", "v", "w"))
    assert list(records[0].items()) == [("line", 2), ("t", "A"), ("v", "1"), ("w", "2")]


def test_blank_lines_count(tmp_path: Path) -> None:
    records, _ = read(tmp_path, b"t,v\nA,1\n\nB,2\n", PLAIN)
    assert [row["line"] for row in records] == [2, 4]


def test_line_ends_inside_quotes_count(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b't,v\n"A\nB",1\nC,2\nbad\n', PLAIN)
    assert [row["line"] for row in records] == [2, 4]
    assert [row["line"] for row in refused] == [5]


def test_stray_quote_costs_its_own_line_only(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b't,v\nA,1\n"B,2\nC,3\nD,4\n', PLAIN)
    assert [row["t"] for row in records] == ["A", "C", "D"]
    assert [row["line"] for row in refused] == [3]
