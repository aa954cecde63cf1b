"""The checks every adapter must pass. Call `check_adapter` from a test of your own.

    from warehouse.adapters.contract import check_adapter

    def test_my_adapter() -> None:
        check_adapter(ADAPTER, Path("sample.xyz"), Path("mapping.toml"))

The sample must be one that the mapping reads; the broken payloads are made
from it. A check that fails raises AssertionError and says what was expected.
"""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import duckdb

from schemas.reasons import REJECT_REASON
from warehouse.adapters.base import RAW_LENGTH, REFUSED_SCHEMA, Adapter, Decoding, field_names
from warehouse.errors import UnreadableSourceError
from warehouse.mapping import Mapping, load_mapping

RECEIVED_AT = dt.datetime(2026, 1, 15, 12, 0, tzinfo=dt.UTC)
"""The time of receipt every check uses, so that relative times are the same each time."""

_LONGEST_LINE = 100_000
Row = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Decoded:
    """What an adapter left in its session."""

    columns: list[tuple[str, str]]
    """Name and type of each column of `records`."""
    records: list[Row]
    refused: list[Row]


def examples(folder: Path) -> tuple[Path, Path]:
    """Sample and mapping of an adapter's `examples` folder.

    Raises FileNotFoundError where there is not exactly one of each.
    """
    mapping = folder / "mapping.toml"
    samples = sorted(path for path in folder.glob("sample.*"))
    if not mapping.is_file() or len(samples) != 1:
        raise FileNotFoundError(f"{folder}: one mapping.toml and one sample.* are needed")
    return samples[0], mapping


def decode(
    adapter: Adapter, payload: Path, mapping: Mapping, max_line_bytes: int = _LONGEST_LINE
) -> Decoded:
    """Run the adapter over one payload in a session of its own."""
    decoding = Decoding(payload, payload.name, mapping, RECEIVED_AT, max_line_bytes)
    with duckdb.connect() as session:
        session.execute("SET TimeZone = 'UTC'")
        adapter.read(decoding, session)
        columns = [(row[0], row[1]) for row in session.execute("DESCRIBE records").fetchall()]
        named = [row[0] for row in session.execute("DESCRIBE refused").fetchall()]
        assert named == REFUSED_SCHEMA.names, f"`refused` has the columns {named}"
        records = session.execute("SELECT * FROM records ORDER BY line").fetchall()
        refused = session.execute("SELECT * FROM refused ORDER BY line, column_name").fetchall()
    return Decoded(columns, records, refused)


def check_adapter(adapter: Adapter, sample: Path, mapping: Path) -> None:
    """Every check of the contract, on one adapter and a sample it must be able to read."""
    loaded = load_mapping(mapping)
    check_shape(adapter, loaded)
    check_sample(adapter, sample, loaded)
    check_deterministic(adapter, sample, loaded)
    for what, payload in broken_payloads(sample.read_bytes()):
        check_broken(adapter, payload, loaded, what)


def check_shape(adapter: Adapter, mapping: Mapping) -> None:
    """The adapter has the protocol's members, and the mapping asks for it by its name."""
    assert isinstance(adapter, Adapter), f"{adapter!r} has not the shape of an adapter"
    assert adapter.name == mapping.source.adapter, "the mapping asks for another adapter"
    assert adapter.suffixes, "an adapter names the file name endings of its format"
    for suffix in adapter.suffixes:
        assert suffix.startswith("."), f"{suffix!r} is no file name ending"
        assert suffix == suffix.lower(), f"{suffix!r} is not in lower case"


def check_sample(adapter: Adapter, sample: Path, mapping: Mapping) -> None:
    """The sample becomes records, and both tables have the form that is promised."""
    decoded = decode(adapter, sample, mapping)
    assert decoded.records, f"{sample.name}: no record was read"
    check_tables(decoded, mapping, sample.name)


def check_tables(decoded: Decoded, mapping: Mapping, what: str) -> None:
    """`records`: line, then f0, f1, ... as text. `refused`: known reasons, raw text cut."""
    expected = [("line", "BIGINT"), *((name, "VARCHAR") for name in field_names(mapping))]
    assert decoded.columns == expected, f"{what}: `records` has the columns {decoded.columns}"
    lines = [row[0] for row in decoded.records]
    assert all(isinstance(line, int) and line >= 1 for line in lines), f"{what}: lines count from 1"
    assert len(set(lines)) == len(lines), f"{what}: two records claim one line"
    out = [row[0] for row in decoded.refused]
    assert len(set(out)) == len(out), f"{what}: a line is refused twice"
    for line, _, reason, detail, raw in decoded.refused:
        assert isinstance(line, int), f"{what}: a refused line has no number"
        assert line >= 1, f"{what}: lines count from 1, not {line}"
        assert reason in REJECT_REASON, f"{what}: {reason!r} is no reason of the open schema"
        assert detail, f"{what}: line {line} is refused without a detail"
        assert raw is None or len(str(raw)) <= RAW_LENGTH, f"{what}: raw text is not cut"
        assert line not in lines, f"{what}: line {line} is both a record and refused"


def check_deterministic(adapter: Adapter, sample: Path, mapping: Mapping) -> None:
    """The same bytes give the same rows."""
    first, again = (decode(adapter, sample, mapping) for _ in range(2))
    assert first == again, f"{sample.name}: a second reading gave other rows"


def broken_payloads(good: bytes) -> Iterator[tuple[str, bytes]]:
    """Payloads as they do arrive, made from a good one: what is wrong, and the bytes."""
    yield "empty", b""
    yield "blank", b" \n\n \n"
    yield "one zero byte", b"\x00"
    yield "binary", bytes(range(256)) * 64
    yield "garbage text", b"lorem ipsum; {[ dolor, \"sit' amet\n" * 50
    yield "a lone bracket", b"["
    yield "deep nesting", b"[" * 100_000
    yield "a huge line", b"x" * (3 * _LONGEST_LINE)
    yield "a huge line behind the sample", good + b"\n" + b"9" * (3 * _LONGEST_LINE) + b"\n"
    for part in (1, 3, 7):
        yield f"cut after {part} of 8", good[: len(good) * part // 8]
    yield "cut before the last byte", good[:-1]
    yield "cut in the first line", good[: max(1, good.find(b"\n") // 2)]
    yield "wrong encoding", good[: len(good) // 2] + b"\xff\xfe\xe4\x80" + good[len(good) // 2 :]
    yield "utf-16 of the bytes", good.decode("latin-1").encode("utf-16")
    yield "zero bytes inside", good[: len(good) // 2] + b"\x00\x00" + good[len(good) // 2 :]
    yield "half a character, escaped", good.replace(b': "', b': "\\ud800')
    yield "a zero character, escaped", good.replace(b': "', b': "\\u0000')
    yield "twice behind itself", good + b"\n" + good


def check_broken(adapter: Adapter, payload: bytes, mapping: Mapping, what: str) -> None:
    """A broken payload is refused as a whole or by lines; nothing else may be raised."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"payload{adapter.suffixes[0]}"
        path.write_bytes(payload)
        try:
            decoded = decode(adapter, path, mapping)
        except UnreadableSourceError as error:
            message = error.message
            decoded = None
        except AssertionError:
            raise
        except Exception as error:
            raise AssertionError(
                f"{what}: {type(error).__name__} was raised ({error}); "
                "UnreadableSourceError or refused lines are expected"
            ) from error
    if decoded is None:
        assert path.name in message, f"{what}: the message does not name the file"
    else:
        check_tables(decoded, mapping, what)
