"""`display=site`: what people of a site read, beside canonical values that stay as they are."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.app import create_app
from warehouse.access import SCOPES
from warehouse.services.ingest import judge_now
from warehouse.services.keys import Keyring, Wanted
from warehouse.services.registry import import_registry
from warehouse.store import Store, open_store

_OWN = "district-cooling"
_LISTS = ["/v1/meeting-sheet?since=2025-11-01", "/v1/outage-list?from=2025-11-24&to=2025-11-26"]
_ROOT_2 = 2**0.5


@pytest.fixture(scope="module")
def own(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    """A store of which one site reads in other units and local time."""
    target = tmp_path_factory.mktemp("shown") / "store"
    shutil.copytree(home, target)
    store = open_store(target, {"key_rate": 0})
    (target / "changed").mkdir()
    (target / "changed" / "sites.csv").write_text(
        "site,name,time_zone,display_profile\n"
        "board-mill,Board mill,Europe/Stockholm,us-customary\n",
        "utf-8",
    )
    import_registry(store, target / "changed")
    judge_now(store)
    return open_store(target, {"key_rate": 0})


@pytest.fixture(scope="module")
def asked(own: Store) -> Iterator[TestClient]:
    with TestClient(create_app(own)) as client:
        key = Keyring(own).add(Wanted("shown", tuple(SCOPES))).text
        client.headers["Authorization"] = f"Bearer {key}"
        yield client


def _is_local(shown: str, stored: str) -> None:
    """The same moment, told in the time of the mill in winter, or in summer."""
    moment = dt.datetime.fromisoformat(shown)
    assert moment == dt.datetime.fromisoformat(stored)
    assert moment.utcoffset() in (dt.timedelta(hours=1), dt.timedelta(hours=2))


def _without(value: Any) -> Any:
    """The same without what is shown."""
    if isinstance(value, dict):
        return {name: _without(one) for name, one in value.items() if name != "display"}
    return [_without(one) for one in value] if isinstance(value, list) else value


@pytest.mark.parametrize("url", _LISTS)
def test_what_a_site_reads_stands_beside_what_is_stored(asked: TestClient, url: str) -> None:
    canonical = asked.get(f"{url}&site=board-mill&limit=1000").json()["items"]
    shown = asked.get(f"{url}&site=board-mill&limit=1000&display=site").json()["items"]
    assert [{n: v for n, v in row.items() if n != "display"} for row in shown] == canonical
    row = next(one for one in shown if one["unit"] == "mm/s" and one["detector"] == "rms")
    display = row["display"]
    assert (display["profile"], display["unit"]) == ("us-customary", "[in_i]/s")
    assert display["value"] == pytest.approx(row["value"] / 25.4 * 2**0.5, rel=1e-3)
    _is_local(display["level_since"], row["level_since"])
    other = asked.get(f"{url}&display=site&limit=1000").json()["items"]
    assert {one["display"]["profile"] for one in other if one["site"] == _OWN} <= {"si"}
    assert asked.get(f"{url}&display=site&format=csv").status_code == 406
    assert asked.get(f"{url}&display=site&format=xlsx").status_code == 200


@pytest.mark.parametrize("url", ["/v1/conditions?scope=point", "/v1/cases?level=alert"])
def test_rows_have_it_page_by_page(asked: TestClient, url: str) -> None:
    canonical = asked.get(f"{url}&limit=1000").json()["items"]
    rows: list[dict[str, Any]] = []
    following = f"{url}&limit=20&display=site"
    while following:
        page = asked.get(following).json()
        rows, following = rows + page["items"], page["next"]
    assert [_without(row) for row in rows] == canonical
    profiles = {row["site"]: row["display"]["profile"] for row in rows}
    assert profiles["board-mill"] == "us-customary"
    assert {name for site, name in profiles.items() if site != "board-mill"} <= {"si"}
    if "cases" in url:
        _is_local(rows[0]["display"]["opened_at"], rows[0]["opened_at"])
    else:
        row = next(one for one in rows if one["site"] == "board-mill" and one["unit"] == "mm/s"
                   and one["detector"] == "rms" and one["boundary_b_c"])  # fmt: skip
        shown = row["display"]
        _is_local(shown["measured_at"], row["measured_at"])
        for name in ("value", "boundary_b_c", "boundary_c_d"):
            assert shown[name] == pytest.approx(row[name] / 25.4 * _ROOT_2, rel=1e-3)
    assert asked.get(f"{url}&display=site", headers={"Accept": "text/csv"}).status_code == 406
    assert asked.get(f"{url}&display=other").status_code == 422


def test_one_condition_and_one_case_have_it(asked: TestClient) -> None:
    case = next(c for c in asked.get("/v1/cases").json()["items"] if c["site"] == "board-mill")
    urls = (f"/v1/cases/{case['case_id']}", f"/v1/assets/board-mill/{case['asset']}/condition")
    for url in urls:
        plain, answer = asked.get(url), asked.get(f"{url}?display=site")
        shown = answer.json()
        assert _without(shown) == _without(plain.json())
        assert plain.json()["display"] is None
        assert shown["display"]["profile"] == "us-customary"
        assert answer.headers["etag"] != plain.headers["etag"]
        known = {"If-None-Match": answer.headers["etag"]}
        assert asked.get(f"{url}?display=site", headers=known).status_code == 304
        assert asked.get(f"{url}?display=other").status_code == 422
    for level in (shown, *shown["members"], *shown["points"]):
        value = level["evidence"]["value"]
        assert value is None or {"value", "unit"} <= level["display"].keys()
