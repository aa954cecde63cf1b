"""Bringing a ledger that is older than the dataset up to what the dataset tells.

The newer ledger is lost, the dataset is not: it names the packages whose
readings it holds. The ledger gets a new identity, so that no commit of it can
be taken for one of the lost one, and goes on after the highest number seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from warehouse.inbox.database import SQL
from warehouse.inbox.package import RE_PLACED
from warehouse.inbox.upkeep import Upkeep
from warehouse.sql import load_statements

_SQL = load_statements("warehouse.inbox.sql", "adopting")


@dataclass(frozen=True, slots=True)
class DatasetPackage:
    """What the dataset tells of a package: readings, those that revised earlier ones, its fate."""

    seq: int
    source: str
    mapping: str
    received_at: str
    stored: int
    revised: int
    replaced: bool
    withdrawn: bool


@dataclass(frozen=True, slots=True)
class Adoption:
    """What a ledger is to learn of the dataset.

    `unknown` packages are recorded, `again` are offered again, `corrected` have
    other counts and no bytes to offer again, `states` changed; `highest` is the
    highest number known to have been given.
    """

    unknown: Sequence[DatasetPackage]
    again: Sequence[DatasetPackage]
    corrected: Sequence[DatasetPackage]
    states: Sequence[DatasetPackage]
    highest: int


def adopt(upkeep: Upkeep, adoption: Adoption) -> str:
    """Record all of it in one transaction; the new identity of the inbox."""
    with upkeep.transaction() as ledger:
        for one in adoption.unknown:
            mapping = RE_PLACED if one.replaced else one.mapping
            ledger.execute(_SQL["remember_mapping"], (mapping,))
            state = "retracted" if one.withdrawn else "committed"
            values = {"mapping": mapping, "source": one.source, "state": state}
            ledger.execute(_SQL["remember_package"], _counts(one) | values)
        for one in adoption.again:
            ledger.execute(SQL["forget_groups"], (one.seq,))
            ledger.execute(_SQL["offer_again"], _counts(one))
        for one in adoption.corrected:
            ledger.execute(_SQL["correct_counts"], _counts(one))
        for one in adoption.states:
            ledger.execute(_SQL["set_state"], {"seq": one.seq, "withdrawn": one.withdrawn})
        upkeep.skip_numbers_in(ledger, adoption.highest)
        return upkeep.renew_inbox_in(ledger)


def _counts(one: DatasetPackage) -> dict[str, str | int]:
    return {
        "seq": one.seq,
        "received_at": one.received_at,
        "stored": one.stored,
        "accepted": one.stored - one.revised,
        "revised": one.revised,
    }
