"""Power as a nameplate gives it, from the registry file to the power class and the zone.

Sources:
 hp    mechanical horsepower = 550 ft lbf/s = 745.69987 W (UCUM `[HP]`; NIST SP 811 appendix B)
 din   one-page German summary of DIN ISO 10816-7:2009-08: the class boundary 200 kW belongs to
       the lower class; category I up to 200 kW 2.5 / 4.0 / 6.6, over 200 kW 3.5 / 5.0 / 7.6 mm/s
 lib   a public acoustics library that transcribes ISO 10816-3:2009: more than 15 kW
 own   computed: 250 hp = 186.425 kW, 268 hp = 199.848 kW, 270 hp = 201.339 kW,
       200 kW = 268.204 hp
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from schemas.units import UNITS
from tests.outside.machines import HP_KW
from tests.warehouse.views.plant import Plant
from warehouse.registry.exporting import export_entities
from warehouse.registry.stored import stored_entities
from warehouse.services.registry_changes import import_changes
from warehouse.store import Store, create_store

VALUE = 4.5
"""mm/s rms: zone C of category I up to 200 kW (above 4.0), zone B over 200 kW (not above 5.0)."""

# Nameplate: kW, group and zone of a pump; the motor of 15 kW is in no class at all.
PUMPS = {
    "250 hp": (250 * HP_KW, "category-I-up-to-200-kW", "C"),
    "268 hp": (268 * HP_KW, "category-I-up-to-200-kW", "C"),
    "270 hp": (270 * HP_KW, "category-I-over-200-kW", "B"),
    "200 kW": (200.0, "category-I-up-to-200-kW", "C"),
    "200": (200.0, "category-I-up-to-200-kW", "C"),
    "200.1 kW": (200.1, "category-I-over-200-kW", "B"),
}
MOTORS: Mapping[str, tuple[float, str | None, str | None]] = {
    "15 kW": (15.0, None, None),
    "20 hp": (20 * HP_KW, None, None),
    "15.1 kW": (15.1, "group-2", "C"),
}
RATED = [*PUMPS, *MOTORS]


def _registry(folder: Path) -> Path:
    tags = [(f"M-{number}", power) for number, power in enumerate(RATED)]
    pump, motor = "driven,centrifugal-pump,I", "driver,electric-motor,"
    files = {
        "sites": ["site,name,time_zone", "works,Works,UTC"],
        "assets": ["site,asset,name,service_state"]
        + [f"works,{tag},{tag},in-service" for tag, _ in tags],
        "members": [
            "site,asset,member,role,equipment_class,pump_category,rated_power_kw,rated_speed,"
            "support_horizontal"
        ]
        + [
            f"works,{tag},m,{pump if power in PUMPS else motor},{power},1480,rigid"
            for tag, power in tags
        ],
        "points": ["site,asset,position,member,bearing_housing,thrust_end"]
        + [f"works,{tag},m-de,m,true,true" for tag, _ in tags],
    }
    for name, lines in files.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = create_store(tmp_path_factory.mktemp("store") / "store")
    import_changes(store, _registry(tmp_path_factory.mktemp("registry")))
    return store


@pytest.fixture(scope="module")
def conditions(store: Store) -> dict[str, dict[str, Any]]:
    """The judged member of each nameplate, after one reading of `VALUE`."""
    plant = Plant()
    for name, rows in stored_entities(store).items():
        plant.entities[name] = rows.to_pylist()
    for number in range(len(RATED)):
        plant.read(VALUE, site="works", asset=f"M-{number}", position="m-de")
    found = plant.judged().conditions.to_pylist()
    return {RATED[int(row["asset"][2:])]: row for row in found if row["scope"] == "member"}


@pytest.mark.parametrize("power", RATED)
def test_power_is_stored_in_kilowatts(store: Store, power: str) -> None:
    expected = (PUMPS | dict(MOTORS))[power][0]
    members = stored_entities(store)["members"].to_pylist()
    found = {RATED[int(row["asset"][2:])]: row["rated_power_kw"] for row in members}
    assert found[power] == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("power", PUMPS)
def test_a_pump_gets_its_power_class_and_zone(
    conditions: dict[str, dict[str, Any]], power: str
) -> None:
    _, group, zone = PUMPS[power]
    row = conditions[power]
    assert (row["limit_set"], row["limit_group"]) == ("iso-10816-7-2009", group)
    assert row["zone"] == zone


@pytest.mark.parametrize("power", MOTORS)
def test_a_motor_up_to_15_kw_is_unjudged(conditions: dict[str, dict[str, Any]], power: str) -> None:
    _, group, zone = MOTORS[power]
    row = conditions[power]
    assert (row["limit_group"], row["zone"]) == (group, zone)
    if group is None:
        assert (row["level"], row["basis"]) == ("unknown", "unjudged")


def test_200_kw_is_268_2_hp() -> None:
    assert 200 / UNITS["power", "[HP]"].factor == pytest.approx(268.204, abs=5e-4)
    assert 268 * UNITS["power", "[HP]"].factor == pytest.approx(199.85, abs=5e-3)


@pytest.mark.parametrize("form", ["folder", "book.xlsx"])
def test_an_export_changes_nothing(store: Store, tmp_path: Path, form: str) -> None:
    export_entities(stored_entities(store), tmp_path / form)
    assert not import_changes(store, tmp_path / form, dry_run=True).differences.any


def test_the_nameplates_imported_again_change_nothing(store: Store, tmp_path: Path) -> None:
    assert not import_changes(store, _registry(tmp_path), dry_run=True).differences.any
