"""JSON records and JSON lines. Invented data."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.warehouse.adapters.reading import mapping_text, read
from warehouse.errors import UnreadableSourceError

ARRAY = mapping_text("json-records", "v")
LINES = mapping_text("json-records", "v", file="lines = true")
IN_DOCUMENT = mapping_text("json-records", "v", file='records = "$.messages[*]"')


def test_lines_of_documents_with_refused_ones_between(tmp_path: Path) -> None:
    payload = b'{"t":"A","v":2.50}\nnot json\n\n[1]\n{"t":"B","v":3}\n{"t":"C"'
    records, refused = read(tmp_path, payload, LINES)
    assert records == [{"line": 1, "t": "A", "v": "2.50"}, {"line": 5, "t": "B", "v": "3"}]
    assert [row["line"] for row in refused] == [2, 4, 6]
    assert [row["raw"] for row in refused] == ["not json", "[1]", '{"t":"C"']
    assert refused[0]["detail"].startswith("not one whole JSON document: ")
    assert refused[1]["detail"] == "an object is needed for each record"


@pytest.mark.parametrize("text", ["2.50", "1e3", "-0.0", "12345678901234567890", "0.1000000000001"])
def test_digits_stay_as_printed(tmp_path: Path, text: str) -> None:
    records, _ = read(tmp_path, b'[{"t":1,"v":%s}]' % text.encode(), ARRAY)
    assert records == [{"line": 1, "t": "1", "v": text}]


def test_null_and_absent_are_null_and_words_stay(tmp_path: Path) -> None:
    payload = b'[{"t":1,"v":null},{"t":2},{"t":3,"v":"OL"},{"t":4,"v":true},{"t":5,"v":NaN}]'
    records, refused = read(tmp_path, payload, ARRAY)
    assert [row["v"] for row in records] == [None, None, "OL", "true", "NaN"]
    assert not refused


def test_nested_paths_indices_and_document_paths(tmp_path: Path) -> None:
    mapping = mapping_text(
        "json-records",
        "axes.x.v",
        "list[1]",
        file='records = "$.messages[*]"',
        device='{ from = "$.head.gateway" }',
    )
    document = {
        "head": {"gateway": "GW-1"},
        "messages": [
            {"t": "A", "axes": {"x": {"v": 1}}, "list": [7, 8]},
            {"t": "B", "axes": {"y": {}}, "list": [7]},
        ],
    }
    records, _ = read(tmp_path, json.dumps(document).encode(), mapping)
    assert records == [
        {"line": 1, "t": "A", "axes.x.v": "1", "list[1]": "8", "$.head.gateway": "GW-1"},
        {"line": 2, "t": "B", "axes.x.v": None, "list[1]": None, "$.head.gateway": "GW-1"},
    ]


def test_one_object_is_one_record(tmp_path: Path) -> None:
    assert read(tmp_path, b'{"t":"A","v":1}', ARRAY)[0] == [{"line": 1, "t": "A", "v": "1"}]


def test_document_that_breaks_off_keeps_its_whole_records(tmp_path: Path) -> None:
    payload = b'{"gateway":"GW-1","messages":[{"t":"A","v":1.0},{"t":"B","v":2},{"t":"C","v'
    mapping = mapping_text(
        "json-records", "v", file='records = "$.messages[*]"', device='{ from = "$.gateway" }'
    )
    records, refused = read(tmp_path, payload, mapping)
    assert [(row["line"], row["t"], row["v"], row["$.gateway"]) for row in records] == [
        (1, "A", "1.0", "GW-1"),
        (2, "B", "2", "GW-1"),
    ]
    assert [row["line"] for row in refused] == [3]
    assert refused[0]["detail"].startswith("the document breaks off: ")


def test_digits_of_a_broken_document_are_kept_too(tmp_path: Path) -> None:
    records, _ = read(tmp_path, b'[{"t":1,"v":1.50},{"t":1,"v":1e3},{"t":2', ARRAY)
    assert records[0]["v"] == "1.50"
    assert records[1]["v"].lower() in ("1e3", "1e+3")


def test_items_that_are_no_objects_are_refused_by_number(tmp_path: Path) -> None:
    records, refused = read(tmp_path, b'{"messages":[7,{"t":"A","v":1},null]}', IN_DOCUMENT)
    assert [row["line"] for row in records] == [2]
    assert [(row["line"], row["raw"]) for row in refused] == [(1, '"7"'), (3, "null")]


def test_byte_order_mark_and_other_scripts(tmp_path: Path) -> None:
    payload = '\ufeff[{"t":"Ж","v":"温"}]'.encode()
    assert read(tmp_path, payload, ARRAY)[0] == [{"line": 1, "t": "Ж", "v": "温"}]


@pytest.mark.parametrize(
    ("payload", "message"),
    [
        (b"", "it is empty"),
        (b" \n ", "it is empty"),
        (b'[{"t":"\x00"}]', "it is binary"),
        (b"{", "it is not JSON"),
        (b"[]", r"there are no records at \$"),
        (b"[1, 2]", r"there are no records at \$"),
        (b'"text"', r"there are no records at \$"),
        (b"[" * 100_000, "it is nested too deeply"),
    ],
)
def test_unusable_document_is_refused_whole(tmp_path: Path, payload: bytes, message: str) -> None:
    with pytest.raises(UnreadableSourceError, match=message):
        read(tmp_path, payload, ARRAY)


def test_long_and_deep_lines_are_refused_and_the_rest_goes_on(tmp_path: Path) -> None:
    payload = b"[" * 90_000 + b'\n{"t":"' + b"x" * 200_000 + b'","v":1}\n{"t":"A","v":1}\n'
    records, refused = read(tmp_path, payload, LINES, max_line_bytes=100_000)
    assert [row["line"] for row in records] == [3]
    assert [(row["line"], row["detail"]) for row in refused] == [
        (1, "nested too deeply"),
        (2, "the line is longer than the setting max_line_bytes allows"),
    ]


@pytest.mark.parametrize("lines", [True, False])
@pytest.mark.parametrize(
    ("broken", "detail"),
    [
        (b"\xe4", "bytes that are not UTF-8"),
        (b"\\ud800", "an escape in it stands for half a character"),
    ],
)
def test_what_is_no_character_refuses_its_record_only(
    tmp_path: Path, lines: bool, broken: bytes, detail: str
) -> None:
    good, bad = b'{"t":"A\\ud83d\\ude00","v":1}', b'{"t":"B%s","v":2}' % broken
    payload = good + b"\n" + bad if lines else b"[" + good + b"," + bad + b"]"
    records, refused = read(tmp_path, payload, LINES if lines else ARRAY)
    assert [(row["line"], row["t"]) for row in records] == [(1, "A\N{GRINNING FACE}")]
    assert [(row["line"], row["detail"]) for row in refused] == [(2, detail)]


@pytest.mark.parametrize("layout", ["lines", "document", "broken document"])
def test_a_key_that_stands_twice_refuses_its_record_only(tmp_path: Path, layout: str) -> None:
    good, bad = b'{"t":"A","v":1}', b'{"t":"B","v":2.5,"v":99}'
    payload, mapping = {
        "lines": (good + b"\n" + bad, LINES),
        "document": (b"[%s,%s]" % (good, bad), ARRAY),
        "broken document": (b'[%s,%s,{"t' % (good, bad), ARRAY),
    }[layout]
    records, refused = read(tmp_path, payload, mapping)
    assert [(row["line"], row["v"]) for row in records] == [(1, "1")]
    assert (refused[0]["line"], refused[0]["detail"]) == (
        2,
        "the key 'v' stands twice in one object: which value counts is not told",
    )


def test_a_key_that_stands_twice_around_the_records_refuses_the_document(tmp_path: Path) -> None:
    payload = b'{"messages":[{"t":"A","v":1}],"messages":[{"t":"A","v":2}]}'
    with pytest.raises(UnreadableSourceError, match="the key 'messages' stands twice"):
        read(tmp_path, payload, IN_DOCUMENT)


@pytest.mark.parametrize("lines", [True, False])
def test_a_key_that_stands_twice_is_found_beside_what_is_nested_deeply(
    tmp_path: Path, lines: bool
) -> None:
    good, deep = b'{"t":"A","v":1}', b'{"t":"B","v":1,"v":2,"w":' + b"[" * 700 + b"]" * 700 + b"}"
    payload = good + b"\n" + deep if lines else b"[" + good + b"," + deep + b"]"
    records, refused = read(tmp_path, payload, LINES if lines else ARRAY)
    assert [row["line"] for row in records] == [1]
    assert "the key 'v' stands twice" in refused[0]["detail"]
