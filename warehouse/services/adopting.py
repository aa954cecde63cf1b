"""Going on without the newest ledger: with an older one, or with none, and what the dataset tells.

Readings are in the dataset and are not lost with a ledger. What only the lost
ledger held, files received and not yet taken in, has to be sent again; what is
there already is recognised.
"""

from __future__ import annotations

from dataclasses import dataclass

from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from schemas.tables.work import MAINTENANCE_EVENTS
from warehouse import clock
from warehouse.durable import sync_folder
from warehouse.errors import (
    ForeignLedgerError,
    LedgerError,
    LedgerVersionError,
    MissingLedgerError,
    OldLedgerError,
    StoreError,
)
from warehouse.inbox import Ledger
from warehouse.inbox.adopting import Adoption, DatasetPackage, adopt
from warehouse.inbox.database import FILE_NAME as LEDGER
from warehouse.inbox.database import NUMBERS_AN_INBOX
from warehouse.inbox.seal import FILE_NAME as SEAL
from warehouse.inbox.seal import read_seal, renew_seal
from warehouse.inbox.upkeep import Upkeep, ledger_fault
from warehouse.services.housekeeping import only_housekeeper
from warehouse.services.ingest import only_committer
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.scan import create_scan
from warehouse.workspace import workspace


@dataclass(frozen=True, slots=True)
class GoingOn:
    """Why the newest ledger is not there, and what the one that is there learns of the dataset.

    `adoption` is None where a new ledger is begun. `lost` packages had been
    received and are in neither the ledger nor the dataset, as far as is known.
    """

    why: str
    adoption: Adoption | None
    lost: int


def plan_going_on(store: Store) -> GoingOn | None:
    """What going on without the newest ledger would do; None where that is there.

    Raises ForeignLedgerError for the ledger of another store: that is not to be
    gone on with; LedgerVersionError for one that has to be lifted before.
    """
    try:
        with Upkeep.open(store.inbox) as upkeep:
            if damage := upkeep.damage():
                return GoingOn(f"the ledger is damaged: {damage}", None, 0)
            fault = ledger_fault(store, upkeep)
            if isinstance(fault, ForeignLedgerError):
                raise fault
            if not isinstance(fault, OldLedgerError):
                return None
            adoption = _plan(store, upkeep)
            _, recorded = upkeep.highest_numbers()
    except MissingLedgerError as fault:
        return GoingOn(fault.why, None, 0)
    except ForeignLedgerError:
        raise
    except LedgerVersionError as fault:
        first = "lift it first (`mcw migrate --without-backup`), then mend"
        raise LedgerVersionError(store.inbox, fault.why, first) from fault
    except LedgerError as fault:  # no ledger at all, by what SQLite says
        return GoingOn(fault.why, None, 0)
    return GoingOn(fault.why, adoption, adoption.highest - recorded - len(adoption.unknown))


def _plan(store: Store, upkeep: Upkeep) -> Adoption:
    told, highest = _dataset(store, upkeep)
    counts = upkeep.counts()
    halfway = set(upkeep.recorded_while_received())
    nothing = {
        seq: DatasetPackage(seq, "", "", "", 0, 0, replaced=False, withdrawn=False)
        for seq in counts
    }
    found = nothing | {one.seq: one for one in told}
    files = upkeep.file_names()
    wrong = [found[s] for s, (_, _, n) in counts.items() if found[s].stored != n or s in halfway]
    kept = _kept(store)
    seal = read_seal(store.inbox)
    return Adoption(
        unknown=[one for one in told if one.seq not in files],
        again=[one for one in wrong if not one.withdrawn and one.seq in kept],
        corrected=[one for one in wrong if one.withdrawn or one.seq not in kept],
        states=[
            one
            for seq, (state, _, _) in counts.items()
            if (one := found[seq]).stored and one.withdrawn != (state == "retracted")
        ],
        highest=max(highest, upkeep.highest_numbers()[1], seal.packages if seal else 0),
    )


def _dataset(store: Store, upkeep: Upkeep) -> tuple[list[DatasetPackage], int]:
    """What the dataset tells of the packages of an inbox, and the highest number it has seen."""
    with workspace(store.inbox, store.settings) as session:
        for table in (READINGS, SUPERSEDED, REJECTS, MAINTENANCE_EVENTS):
            create_scan(session, table.name, table, store.files(table))
        numbers = {
            "base": upkeep.number_of(0),
            "numbers": NUMBERS_AN_INBOX,
            "inboxes": upkeep.inbox_numbers(),
        }
        rows = session.execute(
            load_sql("warehouse.services", "dataset_packages"), numbers
        ).fetchall()
        ((highest,),) = session.execute(
            load_sql("warehouse.services", "dataset_highest"), numbers
        ).fetchall()
    return [DatasetPackage(*row) for row in rows], int(highest)


def _kept(store: Store) -> set[int]:
    """Packages whose bytes are still here."""
    with Ledger.open(store.inbox) as ledger:
        return {package.seq for package in ledger.packages() if ledger.payloads.kept(package)}


def go_on(store: Store, plan: GoingOn) -> None:
    """Do what was planned. Raises StoreError where the store is no longer so."""
    with only_committer(store), only_housekeeper(store):
        if plan_going_on(store) != plan:
            raise StoreError(store.home, "it has changed since it was looked at", "check again")
        if plan.adoption is None:
            _begin_anew(store)
            return
        with Upkeep.open(store.inbox) as upkeep:
            inbox_id = adopt(upkeep, plan.adoption)
            (store.inbox / SEAL).unlink(missing_ok=True)
            renew_seal(store.inbox, inbox_id, upkeep.highest_numbers()[1])


def _begin_anew(store: Store) -> None:
    """Set a damaged ledger aside and begin a new one, with an identity and numbers of its own."""
    now = clock.now()
    for path in sorted(store.inbox.glob(f"{LEDGER}*")):
        path.rename(path.with_name(f"damaged-{now:%Y%m%d%H%M%S}-{path.name}"))
    (store.inbox / SEAL).unlink(missing_ok=True)
    with Ledger.open(store.inbox) as ledger:
        renew_seal(store.inbox, ledger.inbox_id, ledger.highest_package())
    sync_folder(store.inbox)
