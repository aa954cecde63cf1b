"""Routers, one file a kind of thing."""

from fastapi import APIRouter

from api.routes import (
    assets,
    cases,
    changes,
    commissioning,
    conditions,
    docs,
    events,
    explanations,
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
    walked,
)

ROUTERS: tuple[APIRouter, ...] = (
    assets.router,
    conditions.router,
    changes.router,
    cases.router,
    cases.changing,
    events.router,
    explanations.router,
    walked.router,
    walked.changing,
    ingest.router,
    packages.router,
    packages.changing,
    mappings.router,
    mappings.changing,
    registry.router,
    registry.changing,
    commissioning.router,
    snapshot.router,
    tables.router,
    readings.router,
    query.router,
    problem_types.router,
    probes.router,
    docs.router,
)
"""Every router of the application."""
