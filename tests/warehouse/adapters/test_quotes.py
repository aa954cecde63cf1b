"""Quotes and lines: a quoted cell may go on over lines, a stray quote costs its own line."""

from __future__ import annotations

import random
from pathlib import Path

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.warehouse.adapters.reading import mapping_text, read
from warehouse.adapters import Decoding, adapter, decode
from warehouse.adapters.contract import RECEIVED_AT
from warehouse.adapters.delimited.quotes import all_in_order
from warehouse.mapping import File, parse_mapping

PLAIN = mapping_text("delimited", "v")
NOT_CLOSED = "a quote that is not closed, or text behind a closing quote"

_GOOD = {
    "A,1": ("A", "1"),
    '"Q",3': ("Q", "3"),
    '"A\nB",1': ("A\nB", "1"),
    '"say ""no""\n\n, and go",2': ('say "no"\n\n, and go', "2"),
    '"","x\ny"': (None, "x\ny"),
    'a 5" pipe,1': ('a 5" pipe', "1"),
    ' "spaces" ,2': ("spaces", "2"),
}
_BAD = {
    '"B,2': "t",
    '"B"x,2': "t",
    'A"b,"1': "v",
    ' "C,4': "t",
    '"a" "b,1': "t",
    "short": None,
    "a,b,c": None,
    '"one cell\nonly"': None,
}
"""Lines that are no record, and the column that is told."""


def _expected(
    chunks: list[str],
) -> tuple[list[tuple[int, str | None, str]], list[tuple[int, str | None]]]:
    records, refused, line = [], [], 2
    for chunk in chunks:
        if chunk in _GOOD:
            records.append((line, *_GOOD[chunk]))
        elif chunk == '"one cell\nonly"':  # closed, and no record: neither line is one
            refused += [(line, "t"), (line + 1, None)]
        elif chunk:
            refused.append((line, _BAD[chunk]))
        line += chunk.count("\n") + 1
    return records, refused


_CHUNKS = st.lists(st.sampled_from([*_GOOD, *_BAD, ""]), max_size=15)


@settings(max_examples=60, deadline=None)
@given(chunks=_CHUNKS, end=st.sampled_from(["\n", "\r\n"]), last=st.booleans())
def test_law_of_lines_and_quotes(
    tmp_path_factory: pytest.TempPathFactory, chunks: list[str], end: str, last: bool
) -> None:
    payload = "".join(f"{chunk}\n" for chunk in ("t,v", *chunks)).replace("\n", end)
    payload = payload if last else payload.removesuffix(end)
    records, refused = read(tmp_path_factory.mktemp("law"), payload.encode(), PLAIN)
    expected = _expected(chunks)
    assert [(row["line"], row["t"], row["v"]) for row in records] == expected[0]
    assert [(row["line"], row["column"]) for row in refused] == expected[1]


@settings(max_examples=200, deadline=None)
@given(lines=st.lists(st.text(alphabet='a,"" ', max_size=8), max_size=6))
def test_law_of_files_that_pass_as_they_are(
    tmp_path_factory: pytest.TempPathFactory, lines: list[str]
) -> None:
    """What is found in order in columns of bytes leaves no quote open at a line's end."""
    path = tmp_path_factory.mktemp("order") / "lines.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    if not all_in_order(path, File()):
        return
    for line in lines:
        begun = closed = True
        for place, letter in enumerate(line):
            if letter == '"' and closed and begun:
                closed = False
            elif letter == '"' and not closed:
                closed = True
                begun = line[place + 1 : place + 2] == '"'
            elif closed:
                begun = letter == ","
        assert closed, lines


@pytest.mark.parametrize(
    "text", ['"t","v"\n"A","1"\n', '\ufefft,v\n"A",""\n', '"t",v\r\n"a ""b""",1\r\n', "t,v\n"]
)
def test_quoted_files_in_order_are_read_as_they_are(tmp_path: Path, text: str) -> None:
    (tmp_path / "f.csv").write_bytes(text.encode())
    assert all_in_order(tmp_path / "f.csv", File())


@pytest.mark.parametrize("text", ['t,v\n"A,1\n', 't,v\nA"b,"1\n', 't,v\nA,1\n"', '"t\nu",v\n'])
def test_files_with_a_quote_left_open_are_not(tmp_path: Path, text: str) -> None:
    (tmp_path / "f.csv").write_bytes(text.encode())
    assert not all_in_order(tmp_path / "f.csv", File())


def test_a_stray_quote_is_shown_with_its_line(tmp_path: Path) -> None:
    payload = b't,v\nA,1\n"B \xe4,2\nC,3\nD,"4\n' + b'"E,' + b"5" * 400 + b"\n"
    records, refused = read(tmp_path, payload, PLAIN)
    assert [row["t"] for row in records] == ["A", "C"]
    assert [(row["line"], row["column"], row["detail"]) for row in refused] == [
        (3, "t", NOT_CLOSED),
        (5, "v", NOT_CLOSED),
        (6, "t", NOT_CLOSED),
    ]
    assert [row["raw"][:6] for row in refused] == ['"B \ufffd,2', 'D,"4', '"E,555']
    assert len(refused[2]["raw"]) == 200


def test_lines_before_the_header_may_hold_what_they_like(tmp_path: Path) -> None:
    payload = b'it\'s 5" long\n\nt,v\n"A\nB",1\n'
    records, refused = read(
        tmp_path, payload, mapping_text("delimited", "v", file="header_line = 3")
    )
    assert [(row["line"], row["t"]) for row in records] == [(4, "A\nB")]
    assert refused == []


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16"])
def test_in_another_encoding_too(tmp_path: Path, encoding: str) -> None:
    payload = 't,v\n"Ä\nB",1\n"Ö,2\nC,3\n'.encode(encoding)
    mapping = mapping_text("delimited", "v", file=f'encoding = "{encoding}"')
    records, refused = read(tmp_path, payload, mapping)
    assert [(row["line"], row["t"]) for row in records] == [(2, "Ä\nB"), (5, "C")]
    assert [(row["line"], row["raw"]) for row in refused] == [(4, '"Ö,2')]


def test_with_spaces_between_the_columns(tmp_path: Path) -> None:
    mapping = mapping_text("delimited", "v", file='delimiter = " "\nquote = "\'"')
    payload = b"t v\n'A\nB' 1\n\n'C 2\nD 3\n"
    records, refused = read(tmp_path, payload, mapping)
    assert [(row["line"], row["t"]) for row in records] == [(2, "A\nB"), (6, "D")]
    assert [row["line"] for row in refused] == [5]


def test_a_record_over_lines_is_as_long_as_a_line_may_be(tmp_path: Path) -> None:
    """A quote that is left open for longer is a stray one."""
    cell = "\n".join(["x" * 99] * 9)
    payload = f't,v\n"{cell}",1\n"{cell}\n{cell}\n",2\nC,3\n'
    records, refused = read(tmp_path, payload.encode(), PLAIN, max_line_bytes=1_000)
    assert [(row["line"], row["v"]) for row in records] == [(2, "1"), (30, "3")]
    assert [row["line"] for row in refused] == list(range(11, 30))


def test_files_decoded_together_keep_their_stray_lines(tmp_path: Path) -> None:
    mapping = parse_mapping(PLAIN, "mapping of the test")
    decodings = []
    for number, text in enumerate(['t,v\nA,1\n"B,2\n', "t,v\nC,3\nshort\n", 't,v\n"D,4\nE,5\n']):
        path = tmp_path / f"{number}.csv"
        path.write_text(text, encoding="utf-8")
        decodings.append(Decoding(path, path.name, mapping, RECEIVED_AT, package=number))
    with duckdb.connect() as session:
        assert decode(adapter("delimited"), decodings, session) == {}
        found = session.execute("SELECT file_no, line, raw FROM batch_refused ORDER BY ALL")
        assert found.fetchall() == [(0, 3, '"B,2'), (1, 3, "short"), (2, 2, '"D,4')]
        found = session.execute("SELECT file_no, line FROM batch_records ORDER BY ALL")
        assert found.fetchall() == [(0, 2), (1, 2), (2, 3)]


@pytest.mark.slow
def test_line_numbers_hold_where_the_parser_reads_in_parallel(tmp_path: Path) -> None:
    """More than one of its buffers, with records over lines and stray quotes all through it."""
    chance = random.Random(7)
    kinds = ["G,1," + "x" * 200] * 400 + ['"a\n\nb",2,c', '"stray,3,d', "short"]
    lengths = {kind: kind.count("\n") + 1 for kind in kinds}
    good: list[int] = []
    bad: list[int] = []
    line = 2
    with (tmp_path / "payload.csv").open("w") as stream:
        stream.write("t,v,w\n")
        for kind in chance.choices(kinds, k=200_000):
            stream.write(f"{kind}\n")
            (good if kind.count(",") == 2 and '"stray' not in kind else bad).append(line)
            line += lengths[kind]
    mapping = parse_mapping(PLAIN, "mapping of the test")
    decoding = Decoding(tmp_path / "payload.csv", "big", mapping, RECEIVED_AT)
    with duckdb.connect() as session:
        adapter("delimited").read(decoding, session)
        for table, lines in (("records", good), ("refused", bad)):
            found = session.execute(f"SELECT line FROM {table} ORDER BY line").fetchall()
            assert [number for (number,) in found] == lines
    (tmp_path / "payload.csv").unlink()
