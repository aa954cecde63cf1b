"""The application, put together over one store."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI

from api import openapi, problems
from api.doors import Doors, Guard
from api.heads import Heads
from api.paging import Pages
from api.recent import Recent
from api.routes import ROUTERS, docs
from api.surroundings import Surroundings
from api.watching import Figures
from warehouse.services.desk import Places
from warehouse.services.keys import Keyring
from warehouse.services.receiving import Reception
from warehouse.services.serving import Serving
from warehouse.store import Store


def create_app(
    store: Store, serving: Serving | None = None, *, without_keys: bool = False
) -> FastAPI:
    """The REST API over `store`; it follows the published states while it runs.

    `serving` stands in for the one this would make, such as one with a clock of
    its own. `without_keys` lets everybody in: for loopback addresses only.
    """
    following = serving or Serving(store)

    @asynccontextmanager
    async def follow(app: FastAPI) -> AsyncIterator[None]:
        await asyncio.to_thread(following.start)
        app.state.reception.start()
        app.state.pages = Pages(await asyncio.to_thread(Keyring(store).secret, "cursors"))
        try:
            yield
        finally:
            await asyncio.to_thread(app.state.reception.stop)
            await asyncio.to_thread(following.stop)

    app = FastAPI(
        **openapi.DESCRIPTION,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=follow,
    )
    app.state.serving = following
    app.state.places = Places(store)
    app.state.reception = Reception(store)
    app.state.under_way = set()
    app.state.mappings = Recent()
    for router in ROUTERS:
        app.include_router(router)
    docs.mount_assets(app)
    problems.install(app)
    openapi.install(app)
    app.add_middleware(Heads)
    app.add_middleware(Doors, guard=Guard.of(store, without_keys))
    app.state.figures = Figures()
    app.add_middleware(Surroundings, figures=app.state.figures, serving=following)
    return app
