"""The registry: sites, assets, members, points, devices, mountings, routes as one event table.

`importing` reads and checks CSV files, `entities` gives the current view,
`placements` answers where a channel belongs and when.
"""

from warehouse.registry.entities import current_entities, empty_entities
from warehouse.registry.importing import read_folder, to_events
from warehouse.registry.placements import placements

__all__ = ["current_entities", "empty_entities", "placements", "read_folder", "to_events"]
