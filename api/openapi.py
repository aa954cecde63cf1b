"""The OpenAPI description, and `python -m api.openapi`, which publishes it as a file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from api.examples_forms import fill
from api.models import Model, Problem
from api.routes.current import DOORS, problems

PUBLISHED: Final = Path(__file__).parent.parent / "schemas" / "published" / "openapi.json"

ANSWERS: Final = Path(__file__).parent / "answers.json"
"""Answers of the demo by operation and media type, cut: the tests' `answers` asks for them."""

DESCRIPTION: Final[dict[str, Any]] = {
    "title": "Machine condition: HTTP API",
    "version": "1.0.0",
    "summary": "Judged condition of every machine of every site, with its evidence.",
    "description": (
        "Screening aid, not a machinery protection system and not a safety function.\n\n"
        "Every answer comes from one published state of the dataset (`snapshot`). Times are UTC. "
        "`unknown` is not healthy: it says that nobody knows. Errors are problem documents "
        "(RFC 9457). Within `/v1` fields and routes are only ever added."
    ),
    "openapi_tags": [
        {"name": "assets", "description": "Machine trains, and the judged condition of each."},
        {"name": "conditions", "description": "Judged conditions as rows, of many assets."},
        {"name": "changes", "description": "Every change of condition, in order, once."},
        {"name": "cases", "description": "What wants somebody's attention, and acting on it."},
        {"name": "meetings", "description": "Lists for a meeting and for an outage, of cases."},
        {"name": "routes", "description": "Walked routes: sheets out and back, compliance."},
        {"name": "push", "description": "Who is told of cases and levels, and what became of it."},
        {"name": "tables", "description": "Every published table and view, in any form."},
        {"name": "readings", "description": "Readings, as they are or thinned."},
        {"name": "query", "description": "Read-only SQL, where it is switched on."},
        {"name": "packages", "description": "What sources send, and what became of it."},
        {"name": "mappings", "description": "How sources are read."},
        {"name": "registry", "description": "What stands where."},
        {"name": "snapshot", "description": "The published state, for other engines."},
        {"name": "problems", "description": "What an error means and what helps."},
    ],
}


def install(app: FastAPI) -> None:
    """Let `app` describe itself with problems in place of the framework's own error shape."""

    def describe() -> dict[str, Any]:
        if not app.openapi_schema:
            app.openapi_schema = _describe(app)
        return app.openapi_schema

    app.openapi = describe  # type: ignore[method-assign]  # the framework's documented way


def _describe(app: FastAPI) -> dict[str, Any]:
    names = {"tags": "openapi_tags"}
    found = ("title", "version", "summary", "description", "tags")
    described = get_openapi(
        **{name: DESCRIPTION[names.get(name, name)] for name in found}, routes=app.routes
    )
    # Error responses refer to it; no route returns it, so the framework does not list it.
    template = "#/components/schemas/{model}"
    problem = Problem.model_json_schema(ref_template=template)
    schemas = described["components"]["schemas"]
    schemas.update(problem.pop("$defs"))
    schemas["Problem"] = problem
    described["components"]["schemas"] = dict(sorted(schemas.items()))
    described["components"]["securitySchemes"] = _SCHEMES
    for name in ("HTTPValidationError", "ValidationError"):
        described["components"]["schemas"].pop(name, None)
    _keep_nulls(schemas)
    shown = json.loads(ANSWERS.read_text(encoding="utf-8"))
    _show_answers(described, shown)
    fill(described, shown)
    for path, operations in described["paths"].items():
        if path.startswith("/v1/"):
            for operation in operations.values():
                _behind_the_doors(operation)
    return described


def _keep_nulls(schemas: dict[str, Any]) -> None:
    """Put back what the framework took out of the examples of shapes: members that are null."""
    waiting = list(Model.__subclasses__())
    while waiting:
        model = waiting.pop()
        waiting += model.__subclasses__()
        extra = model.model_config.get("json_schema_extra")
        if isinstance(extra, dict) and "examples" in schemas.get(model.__name__, {}):
            schemas[model.__name__]["examples"] = extra["examples"]


def _show_answers(described: dict[str, Any], shown: dict[str, dict[str, Any]]) -> None:
    """Give each answer that was asked for its example."""
    for operations in described["paths"].values():
        for operation in operations.values():
            answers = shown.get(operation["operationId"], {})
            for status, told in operation["responses"].items():
                for form, content in told.get("content", {}).items():
                    if status < "300" and form in answers:
                        content["example"] = answers[form]


_SCHEMES: Final = {
    "bearer": {
        "type": "http",
        "scheme": "bearer",
        "description": "a key made by `mcw keys add`, or a token of the identity provider where "
        "one is set up",
    }
}


def _behind_the_doors(operation: dict[str, Any]) -> None:
    """Say of a route what the doors in front of it ask for and may answer."""
    operation["security"] = [{"bearer": []}]
    responses = {**operation["responses"]}
    if "application/json" in responses.get("422", {}).get("content", {}):
        responses["422"] = problems(422)[422]  # in place of the framework's own shape
    for status, told in problems(*DOORS).items():
        responses.setdefault(str(status), told)
    operation["responses"] = dict(sorted(responses.items()))


def text() -> str:
    """The description as it is published."""
    from api.app import create_app
    from warehouse.settings import Settings
    from warehouse.store import Store

    # A description needs no store: nothing is opened before the application starts.
    app = create_app(Store(Path(), Settings.model_validate({})), without_keys=True)
    return json.dumps(app.openapi(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    PUBLISHED.write_text(text(), encoding="utf-8")
