"""Routers, one file a kind of thing."""

from fastapi import APIRouter

from api.routes import (
    assets,
    changes,
    conditions,
    docs,
    ingest,
    mappings,
    packages,
    probes,
    problem_types,
    query,
    readings,
    registry,
    snapshot,
    tables,
)

ROUTERS: tuple[APIRouter, ...] = (
    assets.router,
    conditions.router,
    changes.router,
    ingest.router,
    packages.router,
    packages.changing,
    mappings.router,
    mappings.changing,
    registry.router,
    registry.changing,
    snapshot.router,
    tables.router,
    readings.router,
    query.router,
    problem_types.router,
    probes.router,
    docs.router,
)
"""Every router of the application."""
