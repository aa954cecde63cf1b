"""The description: published file, documentation page, and `docs/http.md` say what is served."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, get_args

import jsonschema
import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.testclient import TestClient

from api import models, openapi
from api.app import create_app
from api.problems import KINDS
from api.routes import docs, probes
from schemas import codes
from schemas.tables.conditions import ZONE
from tests.api.answers import ASKED
from warehouse.store import Store

_GUIDE = Path(__file__).parents[2] / "docs" / "http.md"


@pytest.fixture(scope="module")
def app(store: Store) -> FastAPI:
    return create_app(store, without_keys=True)


@pytest.fixture(scope="module")
def described(app: FastAPI) -> dict[str, Any]:
    return app.openapi()


def test_the_published_description_is_the_one_served(client: TestClient) -> None:
    published = openapi.PUBLISHED.read_text(encoding="utf-8")
    assert published == openapi.text(), "write it again: python -m api.openapi"
    assert client.get("/openapi.json").json() == json.loads(published)


def _operations(described: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {
        operation["operationId"]: operation
        for path in described["paths"].values()
        for operation in path.values()
    }


def test_operations_are_named_tagged_and_explained(described: dict[str, Any]) -> None:
    operations = _operations(described)
    assert len(operations) > 25
    assert {"assets_list", "changes_list", "packages_ingest", "query_run"} <= set(operations)
    for operation in operations.values():
        assert operation["tags"]
        assert operation["summary"]
        assert operation["description"]
        for parameter in operation.get("parameters", []):
            assert parameter["description"], parameter["name"]


def test_every_error_is_described_as_a_problem(described: dict[str, Any]) -> None:
    for operation in _operations(described).values():
        failures = {s: r for s, r in operation["responses"].items() if s >= "400"}
        assert "500" in failures
        asked = [one for one in operation.get("parameters", []) if one["in"] != "header"]
        assert ("422" in failures) >= bool(asked or "requestBody" in operation)
        for response in failures.values():
            assert list(response["content"]) == ["application/problem+json"]
            schema = response["content"]["application/problem+json"]["schema"]
            assert schema == {"$ref": "#/components/schemas/Problem"}
            example = response["content"]["application/problem+json"]["example"]
            kind = KINDS[example["type"].removeprefix("/problems/")]
            assert (example["status"], example["title"]) == (kind.status, kind.title)
    assert "HTTPValidationError" not in described["components"]["schemas"]


def test_every_shape_is_closed_and_every_field_explained(described: dict[str, Any]) -> None:
    schemas = described["components"]["schemas"]
    assert {"Problem", "ProblemDetail", "AssetList", "AssetCondition"} <= set(schemas)
    for name, schema in schemas.items():
        assert schema["additionalProperties"] is False, name
        for field, content in schema["properties"].items():
            assert content.get("description"), f"{name}.{field}"


def test_no_reference_leads_nowhere(described: dict[str, Any]) -> None:
    found = set(re.findall(r"'#/components/schemas/(\w+)'", str(described)))
    assert found <= set(described["components"]["schemas"])


@pytest.mark.parametrize("model", [models.Problem, models.AssetItem, models.AssetCondition])
def test_examples_are_of_the_shape_they_show(model: type[models.Model]) -> None:
    (example,) = model.model_json_schema()["examples"]
    assert model.model_validate(example).model_dump(mode="json", exclude_none=True)


def test_every_json_answer_has_an_example_of_its_shape(described: dict[str, Any]) -> None:
    schemas = described["components"]["schemas"]
    shown = json.loads(openapi.ANSWERS.read_text(encoding="utf-8"))
    assert shown.keys() <= _operations(described).keys()
    for operation in _operations(described).values():
        for status, told in operation["responses"].items():
            content = told.get("content", {}).get("application/json")
            if status >= "300" or content is None:
                continue
            schema = {**content["schema"], "components": {"schemas": schemas}}
            of_shape = schemas.get(content["schema"].get("$ref", "").rpartition("/")[2], {})
            example = content.get("example") or of_shape["examples"][0]
            jsonschema.validate(example, schema)


def test_every_body_and_answer_has_an_example_in_every_form(described: dict[str, Any]) -> None:
    schemas = described["components"]["schemas"]
    for name, operation in _operations(described).items():
        forms = [
            ("body", *one) for one in operation.get("requestBody", {}).get("content", {}).items()
        ]
        for status, told in operation["responses"].items():
            forms += [(status, *one) for one in told.get("content", {}).items()]
        for what, media, content in forms:
            of_shape = schemas.get(content["schema"].get("$ref", "").rpartition("/")[2], {})
            shown = content.get("example") or content.get("examples") or of_shape.get("examples")
            assert shown, (name, what, media)


@pytest.mark.parametrize("name", ["conditions_list", "cases_list", "meetings_get_sheet",
                                  "readings_list", "routes_list", "tables_get_rows"])  # fmt: skip
def test_examples_have_the_columns_that_are_served(client: TestClient, name: str) -> None:
    example = json.loads(openapi.ANSWERS.read_text(encoding="utf-8"))[name]
    url = ASKED[name][0].replace("raw-water&asset=P-104", "board-mill")
    body = client.get(url).json()
    again = "write them again: python -m tests.api.answers"
    assert example["application/json"].keys() == body.keys(), again
    assert example["application/json"]["items"][0].keys() == body["items"][0].keys(), again
    assert example["application/json"]["columns"] == body["columns"][:3], again
    header = client.get(url, headers={"Accept": "text/csv"}).text.splitlines()[0]
    assert example["text/csv"].splitlines()[0] == header, again


@pytest.mark.parametrize(
    ("literal", "known"),
    [
        (models.Level, codes.LEVEL),
        (models.Zone, ZONE),
        (models.CoverageState, codes.COVERAGE),
        (models.Criticality, codes.CRITICALITY),
    ],
)
def test_codes_are_those_of_the_open_schema(literal: object, known: dict[str, str]) -> None:
    assert get_args(literal) == tuple(known)


def test_the_documentation_page_needs_nothing_from_elsewhere(client: TestClient) -> None:
    page = client.get("/docs")
    assert page.headers["content-type"].startswith("text/html")
    assert "//" not in page.text.replace("<!DOCTYPE", "")
    assert "<script>" not in page.text  # the policy allows no inline script
    references = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    assert len(references) == 4
    for reference in references:
        if not reference.startswith("data:"):
            assert client.get(reference).status_code == 200
    start = client.get("/docs/start.js").text
    assert "//" not in start
    assert "validatorUrl: null" in start
    assert '"/openapi.json"' in start
    assert len(client.get("/docs/assets/swagger-ui-bundle.js").content) > 100_000


def test_the_guide_shows_every_route_and_every_problem_type(app: FastAPI) -> None:
    guide = _GUIDE.read_text(encoding="utf-8")
    paths = {path for path in _paths(app) if path != "/docs/start.js"}
    assert {"/v1/assets", "/livez", "/readyz", "/docs", "/problems/{slug}"} <= paths
    for path in paths:
        methods = app.openapi()["paths"].get(path, {"get": None})
        for method in methods:
            assert f"`{method.upper()} {path}`" in guide, (method, path)
    for kind in KINDS.values():
        assert f"| `{kind.slug}` | {kind.status} |" in guide, kind.slug
    shown = set(re.findall(r"^\| `([a-z-]+)` \| \d{3} \|", guide, re.MULTILINE))
    assert shown == set(KINDS)


def _paths(app: FastAPI) -> set[str]:
    described = set(app.openapi()["paths"])
    hidden = [route for module in (docs, probes) for route in module.router.routes]
    return (
        described
        | {route.path for route in hidden if isinstance(route, APIRoute)}
        | {str(app.openapi_url)}
    )


def test_the_guide_shows_every_filter() -> None:
    guide = _GUIDE.read_text(encoding="utf-8")
    for name in models.AssetQuery.model_fields:
        assert f"| `{name}` |" in guide, name
