"""The application, put together over one store."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI

from api import openapi, problems
from api.routes import assets, docs, probes, problem_types
from api.surroundings import Surroundings
from warehouse.services.serving import Serving
from warehouse.store import Store


def create_app(store: Store, serving: Serving | None = None) -> FastAPI:
    """The REST API over `store`; it follows the published states while it runs.

    `serving` stands in for the one this would make, such as one with a clock of
    its own.
    """
    following = serving or Serving(store)

    @asynccontextmanager
    async def follow(_: FastAPI) -> AsyncIterator[None]:
        await asyncio.to_thread(following.start)
        try:
            yield
        finally:
            await asyncio.to_thread(following.stop)

    app = FastAPI(
        **openapi.DESCRIPTION,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=follow,
    )
    app.state.serving = following
    for module in (assets, problem_types, probes, docs):
        app.include_router(module.router)
    docs.mount_assets(app)
    problems.install(app)
    openapi.install(app)
    app.add_middleware(Surroundings)
    return app
