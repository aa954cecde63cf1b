"""The documentation page, from files installed with the program: nothing comes from elsewhere."""

from __future__ import annotations

from importlib.resources import as_file, files

from fastapi import APIRouter, FastAPI
from fastapi.responses import HTMLResponse, Response
from fastapi.staticfiles import StaticFiles

router = APIRouter(include_in_schema=False)

_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Machine condition: HTTP API</title>
<link rel="stylesheet" href="/docs/assets/swagger-ui.css">
<link rel="icon" href="data:,">
</head>
<body>
<div id="reference"></div>
<script src="/docs/assets/swagger-ui-bundle.js"></script>
<script src="/docs/start.js"></script>
</body>
</html>
"""

# A file of its own, so that the page needs no inline script. `validatorUrl` would
# otherwise send the description to a server elsewhere.
_START = """SwaggerUIBundle({
  url: "/openapi.json", dom_id: "#reference", deepLinking: true, validatorUrl: null,
  presets: [SwaggerUIBundle.presets.apis],
});
"""


@router.get("/docs", operation_id="docs_page")
async def page() -> HTMLResponse:
    """The documentation page."""
    return HTMLResponse(_PAGE)


@router.get("/docs/start.js", operation_id="docs_start")
async def start() -> Response:
    """The script that opens the description."""
    return Response(_START, media_type="text/javascript")


def mount_assets(app: FastAPI) -> None:
    """Serve the page's script and style sheet."""
    with as_file(files("fastapi_offline") / "static") as folder:
        app.mount("/docs/assets", StaticFiles(directory=folder), name="docs-assets")
