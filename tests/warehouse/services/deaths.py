"""A program that dies right after a commit to one table, and what is left of a package then."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from tests.warehouse.services.small_plant import Plant, Reading
from warehouse.inbox import Ledger
from warehouse.services.ingest import commit_all, receive
from warehouse.store.delta import DeltaLog


class PowerCut(BaseException):
    """The machine went dark."""


@contextmanager
def dying_after(table: str, method: str = "append") -> Iterator[None]:
    """What runs inside must reach a commit to that table, and dies right after it."""
    original = getattr(DeltaLog, method)

    def dying(self: DeltaLog, *arguments: Any, **named: Any) -> bool:
        done: bool = original(self, *arguments, **named)
        if self.table.name == table:
            raise PowerCut(table)
        return done

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(DeltaLog, method, dying)
        with pytest.raises(PowerCut):
            yield


def half_committed(plant: Plant, readings: Iterable[Reading], name: str = "half.csv") -> int:
    """A package that has ended readings of others and is itself not there yet; its number."""
    with Ledger.open(plant.store.inbox) as ledger:
        (receipt,) = receive(plant.store, ledger, [plant.arrive(name, readings)])
        with dying_after("superseded"):
            commit_all(plant.store, ledger)
    return receipt.package
