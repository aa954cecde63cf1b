"""How each site reads, of a published state: what `display=site` shows beside canonical values."""

from __future__ import annotations

from schemas.tables.registry import SITES
from warehouse.registry.stored import stored_entities
from warehouse.services.desk import Desk
from warehouse.services.displaying import Displays, displays_in
from warehouse.services.serving import State


def displays_at(desk: Desk, state: State) -> Displays:
    """How each site reads by the registry of a state, so that one state gives one answer."""

    def ask() -> Displays:
        with desk.places.one() as store:
            entities = stored_entities(store, state.snapshot.versions["registry"])
        return displays_in(entities[SITES.name])

    found: Displays = state.memory.get("displays", ask)
    return found
