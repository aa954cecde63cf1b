"""Of one package and reason so many refused items are kept with their text; all are counted."""

from __future__ import annotations

from pathlib import Path

from schemas.reasons import KEPT_REJECTS
from tests.warehouse.services.small_plant import Plant, make_plant, series
from warehouse.inbox import Ledger
from warehouse.services.registry import import_registry

_MORE = KEPT_REJECTS + 3
_ENDED = (
    "device,channel,site,asset,position,axis,mounted_from,mounted_to,commissioning\n"
    "L1,1,works,M-1,motor-de,horizontal,2020-01-01T00:00:00Z,2020-02-01T00:00:00Z,passed\n"
)


def _kept(plant: Plant) -> list[tuple[str, int]]:
    found = plant.ask("SELECT reason, count(*) AS n FROM rejects GROUP BY ALL ORDER BY ALL")
    return [(row["reason"], row["n"]) for row in found]


def _counted(plant: Plant) -> list[tuple[str, int]]:
    with Ledger.open(plant.store.inbox) as ledger:
        return [(row["reason"], row["items"]) for row in ledger.reject_counts()]


def test_of_what_arrives(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    unknown = [("L9", *reading[1:]) for reading in series(0, _MORE)]
    (package,) = plant.ingest([*unknown, *series(0, 2, channel="7")])
    assert package.counts.rejected_by_reason == {
        "unknown-device": _MORE,
        "unknown-channel": 2,
    }
    assert _kept(plant) == [("unknown-channel", 2), ("unknown-device", KEPT_REJECTS)]
    assert plant.ask("SELECT max(line) AS line FROM rejects WHERE reason = 'unknown-device'") == [
        {"line": KEPT_REJECTS + 1}
    ], "the first of them"


def test_of_what_a_corrected_registry_leaves_on_no_machine(tmp_path: Path) -> None:
    plant = make_plant(tmp_path)
    plant.ingest(series(0, _MORE))
    (tmp_path / "more").mkdir()
    (tmp_path / "more" / "mountings.csv").write_text(_ENDED, encoding="utf-8")
    import_registry(plant.store, tmp_path / "more")
    assert plant.current() == []
    assert _kept(plant) == [("not-mounted", KEPT_REJECTS)]
    assert _counted(plant) == [("not-mounted", _MORE)]
