"""A file on which an adapter fails is that file's affair: the inbox goes on. Invented data."""

from __future__ import annotations

import errno
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import duckdb
import pytest

from tests.warehouse.services.small_plant import (
    MAPPING,
    Plant,
    make_plant,
    series,
    write_mapping,
)
from warehouse.adapters import Decoding, registered
from warehouse.adapters.delimited import ADAPTER
from warehouse.errors import DiskFullError, StoreError
from warehouse.inbox import Ledger, Package
from warehouse.normalise import normalise
from warehouse.services.ingest import Arrival, commit_all, receive

_MIXED = b"device,channel,time,value\r\nL1,1,2025-06-01T00:00,1.0\nL1,1,2025-06-01T00:01,bad\r\n"
_LONG_HEADER = b"x" * 200_000 + b",device,channel,time,value\n1,L1,1,2025-06-01T00:00,1.0\n"


class FaultyAdapter:
    """Reads as the delimited adapter does, but has a fault that one file brings out."""

    name = "delimited"
    suffixes: tuple[str, ...] = (".csv",)

    def __init__(self, error: Exception) -> None:
        self.error = error

    def read(self, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
        if "odd" in decoding.file:
            raise self.error
        ADAPTER.read(decoding, session)


class FaultyBatchAdapter(FaultyAdapter):
    """The same fault, when it reads several files at once."""

    def read_many(
        self, decodings: list[Decoding], session: duckdb.DuckDBPyConnection
    ) -> dict[int, Exception]:
        del decodings, session
        raise self.error


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    return make_plant(tmp_path)


@pytest.fixture(autouse=True)
def _own_adapters(monkeypatch: pytest.MonkeyPatch) -> None:
    loaded, failed = registered.adapters()
    monkeypatch.setattr(registered, "adapters", lambda: (dict(loaded), failed))


def _install(monkeypatch: pytest.MonkeyPatch, one: FaultyAdapter) -> None:
    monkeypatch.setattr(registered, "adapters", lambda: ({"delimited": one}, {}))


def _take(plant: Plant, *contents: bytes) -> list[Package]:
    mapping = write_mapping(plant.folder)
    with Ledger.open(plant.store.inbox) as ledger:
        for number, content in enumerate(contents):
            path = plant.folder / ("odd.csv" if number == 1 else f"even-{number}.csv")
            path.write_bytes(content)
            receive(plant.store, ledger, [Arrival(path, mapping)])
        commit_all(plant.store, ledger)
        assert ledger.pending() == []
        return ledger.packages()


def _file(first: int) -> bytes:
    lines = [",".join(reading) for reading in series(first, 3)]
    return "\n".join(["device,channel,time,value", *lines, ""]).encode()


@pytest.mark.parametrize("kind", [FaultyAdapter, FaultyBatchAdapter])
def test_fault_of_an_adapter_fails_one_package(
    plant: Plant, monkeypatch: pytest.MonkeyPatch, kind: type[FaultyAdapter]
) -> None:
    _install(monkeypatch, kind(ZeroDivisionError("a fault of its own")))
    first, odd, last = _take(plant, _file(0), _file(10), _file(20))
    assert (first.state, odd.state, last.state) == ("committed", "failed", "committed")
    assert odd.error is not None
    assert odd.error.startswith(
        "odd.csv: the adapter delimited failed on it: ZeroDivisionError: a fault of its own; "
    )
    assert len(plant.current()) == 6


@pytest.mark.parametrize(
    ("error", "told"),
    [(OSError(errno.ENOSPC, "no room"), DiskFullError), (MemoryError(), StoreError)],
)
def test_what_the_machine_lacks_is_no_fault_of_the_file(
    plant: Plant, monkeypatch: pytest.MonkeyPatch, error: Exception, told: type[StoreError]
) -> None:
    with monkeypatch.context() as patch:
        _install(patch, FaultyAdapter(error))
        with pytest.raises(told):
            _take(plant, _file(0), _file(10), _file(20))
    with Ledger.open(plant.store.inbox) as ledger:
        assert not [package for package in ledger.packages() if package.state == "failed"]
        commit_all(plant.store, ledger)
    assert len(plant.current()) == 9, "once there is room again, all of it goes in"


def test_files_that_once_stopped_the_inbox(plant: Plant) -> None:
    mixed, long, good = _take(plant, _MIXED, _LONG_HEADER, _file(20))
    assert (mixed.counts.accepted, mixed.counts.rejected_by_reason) == (1, {"bad-number": 1})
    assert long.state == "failed"
    assert "line 1 is no line of column names" in (long.error or "")
    assert good.counts.accepted == 3


def test_what_cannot_be_worked_out_fails_alone(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The engine refuses something of one file; the others of the same job are taken in."""

    def strict(decodings: list[Decoding], *rest: Any, **named: Any) -> Any:
        if any("odd" in decoding.file for decoding in decodings):
            raise duckdb.InvalidInputException("no such directive")
        return normalise(decodings, *rest, **named)

    monkeypatch.setattr("warehouse.services.committing.normalise", strict)
    names = ("a.csv", "odd.csv", "b.csv")
    with Ledger.open(plant.store.inbox) as ledger:
        arrivals = [plant.arrive(name, series(10 * n, 3)) for n, name in enumerate(names)]
        receive(plant.store, ledger, arrivals)
        commit_all(plant.store, ledger)
        packages = ledger.packages()
    assert [package.state for package in packages] == ["committed", "failed", "committed"]
    assert "no such directive" in str(packages[1].error)
    assert len(plant.current()) == 6


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        ("UPDATE mappings SET text = replace(text, 'iso8601', '%d.%Q')", "no pattern of %"),
        (
            "UPDATE mappings SET text = replace(text, '\"delimited\"', '\"gone\"')",
            "adapter gone: is not",
        ),
    ],
)
def test_a_mapping_that_holds_no_longer_fails_its_packages_only(
    plant: Plant, harm: str, words: str
) -> None:
    """It was received by an older program, or by one that had another adapter installed."""
    text = MAPPING.replace('from = "time"', 'from = "time"\nformat = "iso8601"')
    with Ledger.open(plant.store.inbox) as ledger:
        path = write_mapping(plant.folder, text)
        file = plant.arrive("old.csv", series(0, 3)).file
        path.write_text(text, encoding="utf-8")
        receive(plant.store, ledger, [Arrival(file, path)])
        with closing(sqlite3.connect(plant.store.inbox / "ledger.sqlite")) as database, database:
            database.execute(harm)
        path.write_text(text.replace('"logger"', '"other"'), encoding="utf-8")
        receive(plant.store, ledger, [Arrival(file, path)])
        commit_all(plant.store, ledger)
        first, second = ledger.packages()
    assert (first.state, second.state) == ("failed", "committed")
    assert words in str(first.error)
