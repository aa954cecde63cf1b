"""The registry: sites, assets, members, points, devices, mountings, routes as one event table.

`sheets` finds the rows in a folder or workbook, `importing` reads and checks
them, `differences` tells what they change, `exporting` writes them again.
`entities` gives the current view, `placements` answers where a channel belongs
and when.
"""

from warehouse.registry.differences import Differences, compare
from warehouse.registry.entities import current_entities, empty_entities
from warehouse.registry.exporting import export_entities
from warehouse.registry.importing import Statements, read_folder, read_statements, to_events
from warehouse.registry.placements import placements

__all__ = [
    "Differences",
    "Statements",
    "compare",
    "current_entities",
    "empty_entities",
    "export_entities",
    "placements",
    "read_folder",
    "read_statements",
    "to_events",
]
