"""Every installed adapter passes the contract on its own examples; the contract can fail."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import duckdb
import pyarrow as pa
import pytest

import warehouse.adapters
from warehouse.adapters import Decoding, adapters, fill_records, fill_refused
from warehouse.adapters.base import field_names
from warehouse.adapters.contract import (
    broken_payloads,
    check_adapter,
    check_broken,
    check_deterministic,
    check_sample,
    check_shape,
    decode,
    examples,
)
from warehouse.errors import UnreadableSourceError
from warehouse.mapping import AnyMapping, load_mapping

INSTALLED, FAILED = adapters()
PAYLOADS = [what for what, _ in broken_payloads(b"a\nb\n")]


def folder_of(name: str) -> Path:
    module = type(INSTALLED[name]).__module__.rpartition(".")[0]
    return Path(str(files(module)))


def test_the_four_built_in_adapters_are_installed() -> None:
    assert FAILED == {}
    assert set(INSTALLED) >= {"delimited", "workbook", "json-records", "senml"}


@pytest.mark.parametrize("name", sorted(INSTALLED))
def test_adapter_passes_the_whole_contract(name: str) -> None:
    check_adapter(INSTALLED[name], *examples(folder_of(name) / "examples"))


@pytest.mark.parametrize("what", PAYLOADS)
@pytest.mark.parametrize("name", sorted(INSTALLED))
def test_broken_payload_is_refused_in_order(name: str, what: str) -> None:
    sample, mapping = examples(folder_of(name) / "examples")
    payload = dict(broken_payloads(sample.read_bytes()))[what]
    check_broken(INSTALLED[name], payload, load_mapping(mapping), what)


@pytest.mark.parametrize("name", sorted(INSTALLED))
def test_example_file_says_that_it_is_invented(name: str) -> None:
    sample, mapping = examples(folder_of(name) / "examples")
    assert "Invented" in mapping.read_text(encoding="utf-8").splitlines()[0]
    if sample.suffix != ".xlsx":
        assert "invented" in sample.read_text(encoding="utf-8").lower()


def test_every_adapter_folder_has_the_same_shape() -> None:
    root = Path(warehouse.adapters.__path__[0])
    folders = {path.name for path in root.iterdir() if (path / "__init__.py").exists()}
    assert folders == {"delimited", "workbook", "json_records", "senml"}
    for folder in sorted(folders):
        for part in ("__init__.py", "reader.py", "README.md", "examples/mapping.toml"):
            assert (root / folder / part).is_file(), f"{folder} lacks {part}"
        readme = (root / folder / "README.md").read_text(encoding="utf-8")
        assert readme.splitlines()[0] == f"# {folder.replace('_', '-')}"
        assert "`[file]` key" in readme
        assert examples(root / folder / "examples")


def test_examples_needs_one_sample_and_one_mapping(tmp_path: Path) -> None:
    (tmp_path / "mapping.toml").touch()
    with pytest.raises(FileNotFoundError, match=r"one sample"):
        examples(tmp_path)
    (tmp_path / "sample.csv").touch()
    assert examples(tmp_path) == (tmp_path / "sample.csv", tmp_path / "mapping.toml")
    (tmp_path / "sample.txt").touch()
    with pytest.raises(FileNotFoundError, match=r"one sample"):
        examples(tmp_path)


# The contract itself: an adapter that errs in one way is caught by the check of that name.


class LineAdapter:
    """A third party's adapter: each line `time value`; it errs as it is told to."""

    name = "lines"
    suffixes: tuple[str, ...] = (".log",)

    def __init__(self, fault: str = "") -> None:
        self.fault = fault
        self.calls = 0

    def read(self, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
        self.calls += 1
        text = decoding.payload.read_bytes().decode("ascii", "replace")
        if not text.strip():
            raise UnreadableSourceError(decoding.file, "it is empty", "text is needed")
        good: list[tuple[int, str, str]] = []
        refused = []
        for number, line in enumerate(text.splitlines(), 1):
            cells = line.split()
            if len(cells) == 2 and "\0" not in line and "�" not in line:
                good.append((number, cells[0], cells[1]))
            else:
                refused.append(self._refusal(number, line))
        if self.fault == "raises" and refused:
            raise ValueError("not what is promised")
        fill_records(session, self._records(good, decoding.mapping))
        fill_refused(session, refused * 2 if self.fault == "refuses twice" else refused)

    def _refusal(self, number: int, line: str) -> dict[str, object]:
        return {
            "line": 0 if self.fault == "line 0" else number,
            "column_name": None,
            "reason": "odd" if self.fault == "odd reason" else "undecodable",
            "detail": "" if self.fault == "no detail" else "two words are needed",
            "raw": line,
        }

    def _records(self, good: list[tuple[int, str, str]], mapping: AnyMapping) -> pa.Table:
        lines = [row[0] for row in good]
        if self.fault == "one line":
            lines = [1] * len(good)
        if self.fault == "random":
            lines = [line + 100 * self.calls for line in lines]
        names = field_names(mapping)
        values = pa.array([row[2] for row in good], pa.string())
        if self.fault == "numbers":
            values = pa.array([float(row[2]) for row in good], pa.float64())
        table = {
            "line": pa.array(lines, pa.int64()),
            names[0]: pa.array([row[1] for row in good], pa.string()),
            names[1]: values,
        }
        if self.fault == "order":
            table = {name: table[name] for name in ("line", names[1], names[0])}
        return pa.table(table)


MAPPING = """format_version = 1
name = "lines-example"
[source]
id = "invented"
adapter = "lines"
method = "wired"
[time]
from = "time"
[record]
device = "D"
channel = "1"
[[measure]]
from = "value"
quantity = "temperature"
detector = "value"
unit = "Cel"
"""


@pytest.fixture
def own_example(tmp_path: Path) -> tuple[Path, Path]:
    (tmp_path / "mapping.toml").write_text(MAPPING, encoding="utf-8")
    (tmp_path / "sample.log").write_text(
        "2025-06-01T10:00:00Z 41.5\n2025-06-01T10:10:00Z 41.6\n", encoding="utf-8"
    )
    return examples(tmp_path)


def test_third_party_adapter_passes(own_example: tuple[Path, Path]) -> None:
    check_adapter(LineAdapter(), *own_example)


@pytest.mark.parametrize(
    ("fault", "message"),
    [
        ("raises", "ValueError was raised"),
        ("refuses twice", "a line is refused twice"),
        ("line 0", "lines count from 1"),
        ("odd reason", "no reason of the open schema"),
        ("no detail", "refused without a detail"),
        ("one line", "two records claim one line"),
        ("random", "a second reading gave other rows"),
        ("numbers", "`records` has the columns"),
        ("order", "`records` has the columns"),
    ],
)
def test_contract_catches_an_adapter_that_errs(
    own_example: tuple[Path, Path], fault: str, message: str
) -> None:
    with pytest.raises(AssertionError, match=message):
        check_adapter(LineAdapter(fault), *own_example)


def test_contract_names_each_fault_by_its_own_check(own_example: tuple[Path, Path]) -> None:
    sample, path = own_example
    mapping = load_mapping(path)
    with pytest.raises(AssertionError, match="two records claim"):
        check_sample(LineAdapter("one line"), sample, mapping)
    with pytest.raises(AssertionError, match="other rows"):
        check_deterministic(LineAdapter("random"), sample, mapping)
    loud = LineAdapter()
    loud.suffixes = (".LOG",)
    with pytest.raises(AssertionError, match="not in lower case"):
        check_shape(loud, mapping)


def test_decode_counts_lines_from_one(own_example: tuple[Path, Path]) -> None:
    sample, path = own_example
    sample.write_text("bad\n2025-06-01T10:00:00Z 1\n", encoding="utf-8")
    decoded = decode(LineAdapter(), sample, load_mapping(path))
    assert decoded.records == [(2, "2025-06-01T10:00:00Z", "1")]
    assert decoded.refused == [(1, None, "undecodable", "two words are needed", "bad")]
