"""The meeting sheet and the outage list over HTTP: as the command line has them, by any filter."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

import pyarrow as pa
import pytest
import python_calamine
from starlette.testclient import TestClient

from warehouse.services.displaying import displays_of
from warehouse.services.exporting import plain_values
from warehouse.services.meeting_lists import outage_listing, sheet_listing
from warehouse.services.meetings import meeting_sheet, outage_list
from warehouse.store import Store
from warehouse.work.listing_book import listing_book

_SHEET = "/v1/meeting-sheet?since=2025-11-01"
_OUTAGE = "/v1/outage-list?from=2025-11-24&to=2025-11-26"
_SINCE = dt.date(2025, 11, 1)
_WINDOW = (dt.date(2025, 11, 24), dt.date(2025, 11, 26))
_OWN = "district-cooling"


def _plain(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [plain_values(row) for row in rows]


def test_the_sheet_is_that_of_the_command_line(client: TestClient, store: Store) -> None:
    told = meeting_sheet(store, _SINCE)
    body = client.get(f"{_SHEET}&limit=1000").json()
    assert body["items"] == _plain(told.rows) != []
    names = ("open_cases", "silent_machines", "machines")
    assert [body[name] for name in names] == [getattr(told, name) for name in names]
    assert (body["since"], body["cautions"]) == ("2025-11-01", list(told.cautions))
    assert client.get("/v1/meeting-sheet").json()["since"] == str(meeting_sheet(store).since)


def test_the_outage_list_is_that_of_the_command_line(client: TestClient, store: Store) -> None:
    told = outage_list(store, *_WINDOW)
    body = client.get(f"{_OUTAGE}&limit=1000").json()
    assert body["items"] == _plain(told.rows) != []
    assert body["without_outage"] == told.without_outage
    assert (body["next_first"], body["next_last"]) == ("2025-12-22", "2025-12-24")
    own = client.get(f"{_OUTAGE}&next_from=2026-03-02&next_to=2026-03-03&limit=1000").json()
    given = outage_list(store, *_WINDOW, (dt.date(2026, 3, 2), dt.date(2026, 3, 3)))
    assert (own["items"], own["next_last"]) == (_plain(given.rows), "2026-03-03")


@pytest.mark.parametrize("url", [_SHEET, _OUTAGE])
@pytest.mark.parametrize("name", ["site", "area", "class", "criticality"])
def test_filters_choose_rows_and_what_is_counted(client: TestClient, url: str, name: str) -> None:
    whole = client.get(f"{url}&limit=1000").json()
    counts = ("open_cases", "silent_machines", "machines", "without_outage")
    sums = dict.fromkeys(counts, 0)
    values = sorted({row[name] for row in whole["items"]})
    assert values
    for value in values:
        body = client.get(url, params={**_asked(url), name: value, "limit": 1000}).json()
        assert body["items"] == [row for row in whole["items"] if row[name] == value]
        for count in counts:
            sums[count] += body.get(count, 0)
    both = client.get(url, params={**_asked(url), name: values[:2], "limit": 1000}).json()["items"]
    assert both == [row for row in whole["items"] if row[name] in values[:2]]
    assert all(sums[count] <= whole[count] for count in counts if count in whole)
    if name == "criticality":  # each machine has one, so nothing is left out
        every = client.get(url, params={**_asked(url), name: ["A", "B", "C"]}).json()
        assert {n: every.get(n) for n in counts} == {n: whole.get(n) for n in counts}


@pytest.mark.parametrize("site", ["board-mill", _OWN, "none-such"])
def test_a_site_is_counted_as_the_command_line_does(
    client: TestClient, store: Store, site: str
) -> None:
    sheet = client.get(f"{_SHEET}&site={site}").json()
    outage = client.get(f"{_OUTAGE}&site={site}").json()
    if site == "none-such":
        assert (sheet["items"], sheet["machines"], outage["without_outage"]) == ([], 0, 0)
        return
    told = meeting_sheet(store, _SINCE, site)
    names = ("open_cases", "silent_machines", "machines")
    assert [sheet[name] for name in names] == [getattr(told, name) for name in names]
    assert outage["without_outage"] == outage_list(store, *_WINDOW, site=site).without_outage


def _asked(url: str) -> dict[str, Any]:
    return dict(part.split("=") for part in url.partition("?")[2].split("&"))


@pytest.mark.parametrize("url", [_SHEET, _OUTAGE])
def test_pages_forms_and_copies(client: TestClient, url: str) -> None:
    whole = client.get(f"{url}&limit=1000").json()["items"]
    rows: list[dict[str, Any]] = []
    following = f"{url}&limit=2"
    while following:
        page = client.get(following).json()
        rows, following = rows + page["items"], page["next"]
    assert rows == whole
    answer = client.get(f"{url}&format=arrow")
    assert pa.ipc.open_stream(answer.content).read_all().num_rows == len(whole)
    lines = client.get(url, headers={"Accept": "application/x-ndjson"}).text.splitlines()
    assert len(lines) == len(whole)
    assert client.get(f"{url}&format=csv").text.startswith('"heading"')
    for form in ("json", "csv", "xlsx"):
        tag = client.get(f"{url}&format={form}").headers["etag"]
        again = client.get(f"{url}&format={form}", headers={"If-None-Match": tag})
        assert (again.status_code, again.content) == (304, b"")


def test_the_workbook_is_the_one_of_the_command_line(client: TestClient, store: Store) -> None:
    displays = displays_of(store)
    sheet, outage = meeting_sheet(store, _SINCE), outage_list(store, *_WINDOW)
    told = client.get(f"{_SHEET}&format=xlsx")
    assert told.headers["content-disposition"] == 'attachment; filename="meeting-sheet.xlsx"'
    assert told.content == listing_book(sheet_listing(sheet, displays))
    told = client.get(f"{_OUTAGE}&format=xlsx")
    assert told.content == listing_book(outage_listing(outage, displays))
    page = python_calamine.load_workbook(io.BytesIO(told.content)).get_sheet_by_index(0)
    assert "Heading" in page.to_python()[len(outage.cautions) + 3]


@pytest.mark.parametrize(
    ("url", "pointer"),
    [
        ("/v1/outage-list", "/query/from"),
        ("/v1/outage-list?from=2025-11-26&to=2025-11-24", "/query"),
        (f"{_OUTAGE}&next_from=2025-12-01", "/query"),
        (f"{_OUTAGE}&next_from=2025-11-25&next_to=2025-12-01", "/query"),
        ("/v1/outage-list?from=2025-11-24&to=9999-12-31", "/query/to"),
        ("/v1/meeting-sheet?since=yesterday", "/query/since"),
        ("/v1/meeting-sheet?display=mine", "/query/display"),
        ("/v1/meeting-sheet?level=alert", "/query/level"),
    ],
)
def test_what_cannot_be_asked_is_refused_where_it_stands(
    client: TestClient, url: str, pointer: str
) -> None:
    answer = client.get(url)
    assert answer.status_code == 422, answer.text
    assert pointer in [one["pointer"] for one in answer.json()["errors"]]
