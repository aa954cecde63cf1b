"""A file on which an adapter fails is that file's affair: the inbox goes on. Invented data."""

from __future__ import annotations

import errno
from pathlib import Path

import duckdb
import pytest

from tests.warehouse.services.small_plant import Plant, make_plant, series, write_mapping
from warehouse.adapters import Decoding, registered
from warehouse.adapters.delimited import ADAPTER
from warehouse.errors import DiskFullError, StoreError
from warehouse.inbox import Ledger, Package
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
