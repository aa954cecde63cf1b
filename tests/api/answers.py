"""Answers that the API's description shows: `python -m tests.api.answers` asks for them anew.

They are what the API answers over a copy of the demo's store, every list in them cut.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from api.app import create_app
from api.models_registry import REGISTRY_EXAMPLE
from api.openapi import ANSWERS
from ingest_examples import FILES, MAPPINGS
from tests.ingest_examples.scenario import shared_scenario
from warehouse.store import open_store

_TARGETS = "https://cmms.example.org"
_WINDOW = "from=2025-11-24&to=2025-11-26"
_PERSON = {"person": "A. Example"}
_SUPPRESSED = {"site": "raw-water", "asset": "P-104", "member": "pump", **_PERSON,
               "until": "2026-02-01", "comment": "rebuilt in January"}  # fmt: skip
_LOGGED = (FILES / "board-mill/mill-gateway/2025-11-08_week.ndjson").read_text(encoding="utf-8")
_TRIAL = {
    "mapping": (MAPPINGS / "mill-gateway.toml").read_text(encoding="utf-8"),
    "content": "".join(_LOGGED.splitlines(keepends=True)[:5]),
}
ASKED: dict[str, tuple[str, Any]] = {
    "adapters_list": ("/v1/adapters", None),
    "assets_explain": ("/v1/assets/raw-water/P-104/explanation", None),
    "assets_list": ("/v1/assets", None),
    "cases_act": ("/v1/cases/{case}/actions", {"action": "acknowledge", **_PERSON}),
    "cases_list": ("/v1/cases", None),
    "changes_list": ("/v1/changes", None),
    "commissioning_get": ("/v1/commissioning/WV-323A/y", None),
    "commissioning_list": ("/v1/commissioning?every=true", None),
    "conditions_list": ("/v1/conditions", None),
    "conditions_lookup": (
        "/v1/conditions/lookup", {"assets": [{"site": "raw-water", "asset": "P-104"}]},
    ),
    "mappings_list": ("/v1/mappings", None),
    "mappings_get": ("/v1/mappings/mill-gateway", None),
    "mappings_put": ("/v1/mappings/mill-gateway", _TRIAL["mapping"]),
    "mappings_try": ("/v1/mapping-trials", _TRIAL),
    "meetings_get_outage_list": (f"/v1/outage-list?{_WINDOW}", None),
    "meetings_get_sheet": ("/v1/meeting-sheet?since=2025-11-06", None),
    "notifications_list": ("/v1/notifications", None),
    "packages_get": ("/v1/packages/{refused}", None),
    "packages_get_rejects": ("/v1/packages/{refused}/rejects", None),
    "packages_list": ("/v1/packages", None),
    "packages_replay": ("/v1/replays", {"source": "cooling-edge", "reason": "unknown-unit"}),
    "problems_get": ("/problems/not-found", None),
    "problems_list": ("/problems", None),
    "query_run": ("/v1/query", {"statement": "SELECT site, count(*) AS n FROM assets GROUP BY 1"}),
    "readings_list": ("/v1/readings?site=raw-water&asset=P-104&quantity=velocity&points=4", None),
    "registry_change": ("/v1/registry?dry_run=true", REGISTRY_EXAMPLE),
    "registry_get": ("/v1/registry", None),
    "registry_get_entities": ("/v1/registry/assets", None),
    "rejects_list": ("/v1/rejects", None),
    "routes_get": ("/v1/routes/RW-R1", None),
    "routes_get_sheet": ("/v1/routes/RW-R1/sheet?date=2025-11-26&format=json", None),
    "routes_get_stops": ("/v1/routes/RW-R1/stops", None),
    "routes_get_walks": ("/v1/routes/RW-R1/walks", None),
    "routes_list": ("/v1/routes", None),
    "snapshot_get": ("/v1/snapshot", None),
    "sources_list": ("/v1/sources", None),
    "subscriptions_add": ("/v1/subscriptions", {"name": "maintenance", "url": f"{_TARGETS}/hooks"}),
    "subscriptions_get": ("/v1/subscriptions/{subscription}", None),
    "subscriptions_list": ("/v1/subscriptions", None),
    "subscriptions_ping": ("/v1/subscriptions/{subscription}/pings", {}),
    "subscriptions_list_deliveries": ("/v1/subscriptions/{subscription}/deliveries", None),
    "subscriptions_resend": ("/v1/subscriptions/{subscription}/resends", {"deliveries": [1]}),
    "subscriptions_rotate": ("/v1/subscriptions/{subscription}/secrets", {}),
    "subscriptions_change": ("/v1/subscriptions/{subscription}", {"state": "disabled"}),
    "suppressions_record": ("/v1/suppressions", _SUPPRESSED),
    "suppressions_list": ("/v1/suppressions", None),
    "tables_get_rows": ("/v1/tables/worst_machines", None),
    "tables_list": ("/v1/tables", None),
}  # fmt: skip
"""What is asked, in this order, by operation; a body is posted, or sent as `_METHODS` says."""
_METHODS = {
    "mappings_put": ("put", "/v1/mappings/mill-gateway"),
    "registry_change": ("patch", "/v1/registry"),
    "subscriptions_change": ("patch", None),
}
"""Bodies that are not posted, and what they are made on: its ETag is sent along."""
_NOT_JSON = {"mappings_get"}
_COLUMNS = 3
_LINES = 2


def main() -> None:
    """Ask, cut, and write."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "scenario").mkdir()
        shutil.copytree(shared_scenario(place / "scenario").store.home, place / "store")
        settings = {"clock": "data", "sql_endpoint": True, "push_targets": _TARGETS}
        app = create_app(open_store(place / "store", settings), without_keys=True)
        with TestClient(app, base_url="http://localhost") as client:
            told = ask(client)
    ANSWERS.write_text(json.dumps(told, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def ask(client: TestClient) -> dict[str, dict[str, Any]]:
    """What is shown of each operation, by media type."""
    known: dict[str, Any] = {}
    told = {}
    for name, (path, body) in ASKED.items():
        if "{case}" in path:
            known["case"] = client.get("/v1/cases").json()["items"][0]["case_id"]
        if "{refused}" in path:
            known["refused"] = client.get("/v1/rejects").json()["items"][0]["package"]
        url = path.format_map(known)
        answer = client.get(url) if body is None else _sent(client, name, url, body)
        assert answer.is_success, (url, answer.text)
        if name in _NOT_JSON:
            told[name] = {answer.headers["Content-Type"].partition(";")[0]: answer.text}
            continue
        content = answer.json()
        if name == "subscriptions_add":
            known["subscription"] = content["id"]
        if "secret" in content:
            content["secret"] = "whsec_" + "A" * 43 + "="
        told[name] = {"application/json": cut(content)}
        if "columns" in content and name not in _METHODS:
            asked = {"Accept": "text/csv"}
            table = (
                client.get(url, headers=asked)
                if body is None
                else client.post(url, json=body, headers=asked)
            )
            told[name]["text/csv"] = "\n".join(table.text.splitlines()[:_LINES]) + "\n"
    return told


def _sent(client: TestClient, name: str, url: str, body: Any) -> Any:
    """The answer to a body; text goes as it is."""
    method, made_on = _METHODS.get(name, ("post", None))
    headers = {"Idempotency-Key": name}
    if made_on:
        headers["If-Match"] = client.get(made_on).headers["ETag"]
    if isinstance(body, str):
        headers["Content-Type"] = "application/toml"
        return client.request(method, url, content=body, headers=headers)
    return client.request(method, url, json=body, headers=headers)


def cut(value: Any, name: str = "") -> Any:
    """Of every list the first, of columns the first few."""
    if isinstance(value, dict):
        return {key: cut(one, key) for key, one in value.items()}
    if isinstance(value, list):
        return [cut(one) for one in value[: _COLUMNS if name == "columns" else 1]]
    return value


if __name__ == "__main__":
    main()
