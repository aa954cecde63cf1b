"""The scenario: one invented plant group of three sites, put together."""

from __future__ import annotations

from ingest_examples.generator import site_board_mill as mill
from ingest_examples.generator import site_cooling as cooling
from ingest_examples.generator import site_raw_water as water
from ingest_examples.generator.model import Plant

ENTERPRISE = "Invented Example Group"

PLANT = Plant(
    sites=(water.SITE, mill.SITE, cooling.SITE),
    assets=(*water.ASSETS, *mill.ASSETS, *cooling.ASSETS),
    sensors=(*water.SENSORS, *mill.SENSORS),
    loggers=(water.LOGGER, mill.LOGGER),
    edge_sensors=cooling.EDGE_SENSORS,
    routes=(water.ROUTE, mill.ROUTE),
    faults=(*water.FAULTS, *mill.FAULTS, *cooling.FAULTS),
    units=(*water.UNITS, *mill.UNITS, *cooling.UNITS),
)
