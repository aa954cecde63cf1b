"""A small typed client of this API: sync and async, iterating pages and changes.

    with Client("http://127.0.0.1:8765", key="mcw_...") as client:
        for item in client.assets(level="danger"):
            print(item.site, item.asset, item.reason)

Both clients run the same flows: what to ask and what to make of it is written
once. A 429 or 503 is asked again after `Retry-After`, a few times.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Iterator, Mapping, Sequence
from typing import Any, Final, TypeVar, cast
from urllib.parse import quote

import httpx

from api import client_flows as flows
from api.client_flows import Ask, Give, Items, One
from api.client_flows import ProblemError as ProblemError
from api.client_push import AsyncPushing, Pushing
from api.models import AssetCondition, AssetItem
from api.models_cases import CaseActed, CaseOut, Notice
from api.models_lists import Change, LookupResult
from api.models_meetings import MeetingSheetOut, OutageListOut
from api.models_packages import PackageLife, ReceiptOut
from api.models_registry import CommissioningOut
from api.models_tables import SqlOut
from api.models_work import ExplanationOut, RouteOut

_T = TypeVar("_T")
_AGAIN: Final = (429, 503)
_ATTEMPTS = 4


def _options(base_url: str, key: str | None, options: Mapping[str, Any]) -> dict[str, Any]:
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    return {"base_url": base_url, "headers": headers, "timeout": 60.0, **options}


def _pause(response: httpx.Response) -> float:
    told = response.headers.get("retry-after", "1")
    return min(60.0, float(told)) if told.isdigit() else 1.0


class Client(Pushing):
    """Asks, and waits for the answer. `options` go to `httpx.Client`."""

    def __init__(self, base_url: str, key: str | None = None, **options: Any) -> None:
        self._http = httpx.Client(**_options(base_url, key, options))

    def __enter__(self) -> Client:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections."""
        self._http.close()

    def _ask(self, ask: Ask) -> httpx.Response:
        for attempt in range(_ATTEMPTS):
            response = self._http.request(
                ask.method, ask.url, params=ask.params, headers=ask.headers, json=ask.json,
                content=ask.content,
            )  # fmt: skip
            if response.status_code not in _AGAIN or attempt == _ATTEMPTS - 1:
                break
            time.sleep(_pause(response))
        return response

    def _one(self, flow: One[_T]) -> _T:
        try:
            ask = next(flow)
            while True:
                ask = flow.send(self._ask(ask))
        except StopIteration as end:
            return cast("_T", end.value)

    def _each(self, flow: Items) -> Iterator[Any]:
        step = next(flow, None)
        while step is not None:
            try:
                if isinstance(step, Give):
                    yield step.value
                    step = next(flow)
                else:
                    step = flow.send(self._ask(step))
            except StopIteration:
                return

    def assets(self, **filters: Any) -> Iterator[AssetItem]:
        """Registered assets with their level, all pages of one state."""
        return self._each(flows.pages("/v1/assets", filters, AssetItem.model_validate))

    def condition(self, site: str, asset: str) -> AssetCondition:
        """The judged condition of one asset."""
        return self._one(flows.condition(site, asset))

    def conditions(self, **filters: Any) -> Iterator[dict[str, Any]]:
        """Conditions as rows, all pages of one state."""
        return self._each(flows.pages("/v1/conditions", filters, dict))

    def lookup(
        self, assets: Sequence[tuple[str, str]] = (), external_ids: Sequence[str] = ()
    ) -> LookupResult:
        """Conditions of a list of assets, by our code or the maintenance system's."""
        return self._one(flows.lookup(assets, external_ids))

    def changes(self, after: int = 0, **filters: Any) -> Iterator[Change]:
        """Changes behind a number until there are none now; go on later behind the last `seq`."""
        return self._each(flows.changes(after, filters))

    def rows(self, table: str, **filters: Any) -> Iterator[dict[str, Any]]:
        """Rows of a published table or view, all pages of one state."""
        return self._each(flows.pages(f"/v1/tables/{quote(table, safe='')}", filters, dict))

    def readings(self, **filters: Any) -> Iterator[dict[str, Any]]:
        """Readings of a place and window as rows."""
        return self._each(flows.pages("/v1/readings", filters, dict))

    def download(self, url: str, form: str = "arrow", **filters: Any) -> bytes:
        """A whole table in another form: `/v1/conditions`, `/v1/readings`, `/v1/tables/...`."""
        return self._one(flows.whole(url, form, filters))

    def ingest(
        self, source: str, content: bytes, file: str = "posted", *, name: str | None = None,
        wait: float = 0.0, coding: str | None = None,
    ) -> ReceiptOut:  # fmt: skip
        """Hand a package over; `name` makes it safe to send again (a new one if none is given)."""
        return self._one(flows.ingest(source, content, file, name, wait, coding))

    def package(self, number: int) -> PackageLife:
        """A package and what became of it."""
        return self._one(flows.package(number))

    def query(self, statement: str, limit: int | None = None) -> SqlOut:
        """Rows of one SELECT, where SQL is switched on."""
        return self._one(flows.query(statement, limit))

    def cases(self, **filters: Any) -> Iterator[dict[str, Any]]:
        """Cases as rows, the most urgent first; open ones unless `state` is given."""
        return self._each(flows.pages("/v1/cases", filters, dict))

    def case(self, number: int) -> CaseOut:
        """One case with all a planner needs and its whole life."""
        return self._one(flows.case(number))

    def act(
        self, number: int, action: str, person: str, *, name: str | None = None, **said: Any
    ) -> CaseActed:
        """Record what a person does about a case; `name` makes it safe to send again."""
        return self._one(flows.act(number, action, person, name, said))

    def notifications(self, after: int = 0, **filters: Any) -> Iterator[Notice]:
        """Notifications behind a number until there are none now; go on behind the last."""
        return self._each(flows.notifications(after, filters))

    def report(
        self, source: str, events: Sequence[Mapping[str, Any]], *, wait: float = 0.0
    ) -> ReceiptOut:
        """Report maintenance events; the same again are no new ones."""
        return self._one(flows.report(source, events, wait))

    def explanation(self, site: str, asset: str, **asked: Any) -> ExplanationOut:
        """Why an asset is judged as it is; `member`, `position`, `axis`, `as_of`."""
        return self._one(flows.explanation(site, asset, asked))

    def routes(self, **filters: Any) -> Iterator[dict[str, Any]]:
        """Walked routes and how well they are walked."""
        return self._each(flows.pages("/v1/routes", filters, dict))

    def route(self, code: str) -> RouteOut:
        """One route and its stops."""
        return self._one(flows.route(code))

    def sheet(self, code: str, date: Any = None) -> bytes:
        """The workbook of a walk, to be filled in."""
        return self._one(flows.sheet(code, date))

    def hand_back(
        self, code: str, content: bytes, file: str = "sheet.xlsx", *, wait: float = 0.0
    ) -> ReceiptOut:
        """Hand a filled sheet back; the same file again is no new one."""
        return self._one(flows.hand_back(code, content, file, wait))

    def meeting_sheet(self, since: Any = None, **filters: Any) -> MeetingSheetOut:
        """What changed since a day, by heading, all pages in one; a week ago if none is given."""
        return self._one(
            flows.every_page("/v1/meeting-sheet", {"since": since, **filters}, MeetingSheetOut)
        )

    def outage_list(
        self, first: Any, last: Any, following: tuple[Any, Any] | None = None, **filters: Any
    ) -> OutageListOut:
        """What must go in to an outage, and what can wait for the following one."""
        asked = flows.outage(first, last, following, filters)
        return self._one(flows.every_page("/v1/outage-list", asked, OutageListOut))

    def mountings(self, **filters: Any) -> Iterator[dict[str, Any]]:
        """New and moved sensors that are not passed yet; `every`, `site`."""
        return self._each(flows.pages("/v1/commissioning", filters, dict))

    def mounting(self, device: str, channel: str) -> CommissioningOut:
        """The checks of one sensor, as they stand."""
        return self._one(flows.mounting(device, channel))


class AsyncClient(AsyncPushing):
    """The same for programs that must not wait. `options` go to `httpx.AsyncClient`."""

    def __init__(self, base_url: str, key: str | None = None, **options: Any) -> None:
        self._http = httpx.AsyncClient(**_options(base_url, key, options))

    async def __aenter__(self) -> AsyncClient:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.close()

    async def close(self) -> None:
        """Close the connections."""
        await self._http.aclose()

    async def _ask(self, ask: Ask) -> httpx.Response:
        for attempt in range(_ATTEMPTS):
            response = await self._http.request(
                ask.method, ask.url, params=ask.params, headers=ask.headers, json=ask.json,
                content=ask.content,
            )  # fmt: skip
            if response.status_code not in _AGAIN or attempt == _ATTEMPTS - 1:
                break
            await asyncio.sleep(_pause(response))
        return response

    async def _one(self, flow: One[_T]) -> _T:
        try:
            ask = next(flow)
            while True:
                ask = flow.send(await self._ask(ask))
        except StopIteration as end:
            return cast("_T", end.value)

    async def _each(self, flow: Items) -> AsyncIterator[Any]:
        step = next(flow, None)
        while step is not None:
            try:
                if isinstance(step, Give):
                    yield step.value
                    step = next(flow)
                else:
                    step = flow.send(await self._ask(step))
            except StopIteration:
                return

    def assets(self, **filters: Any) -> AsyncIterator[AssetItem]:
        """As `Client.assets`."""
        return self._each(flows.pages("/v1/assets", filters, AssetItem.model_validate))

    async def condition(self, site: str, asset: str) -> AssetCondition:
        """As `Client.condition`."""
        return await self._one(flows.condition(site, asset))

    def conditions(self, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.conditions`."""
        return self._each(flows.pages("/v1/conditions", filters, dict))

    async def lookup(
        self, assets: Sequence[tuple[str, str]] = (), external_ids: Sequence[str] = ()
    ) -> LookupResult:
        """As `Client.lookup`."""
        return await self._one(flows.lookup(assets, external_ids))

    def changes(self, after: int = 0, **filters: Any) -> AsyncIterator[Change]:
        """As `Client.changes`."""
        return self._each(flows.changes(after, filters))

    def rows(self, table: str, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.rows`."""
        return self._each(flows.pages(f"/v1/tables/{quote(table, safe='')}", filters, dict))

    def readings(self, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.readings`."""
        return self._each(flows.pages("/v1/readings", filters, dict))

    async def download(self, url: str, form: str = "arrow", **filters: Any) -> bytes:
        """As `Client.download`."""
        return await self._one(flows.whole(url, form, filters))

    async def ingest(
        self, source: str, content: bytes, file: str = "posted", *, name: str | None = None,
        wait: float = 0.0, coding: str | None = None,
    ) -> ReceiptOut:  # fmt: skip
        """As `Client.ingest`."""
        return await self._one(flows.ingest(source, content, file, name, wait, coding))

    async def package(self, number: int) -> PackageLife:
        """As `Client.package`."""
        return await self._one(flows.package(number))

    async def query(self, statement: str, limit: int | None = None) -> SqlOut:
        """As `Client.query`."""
        return await self._one(flows.query(statement, limit))

    def cases(self, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.cases`."""
        return self._each(flows.pages("/v1/cases", filters, dict))

    async def case(self, number: int) -> CaseOut:
        """As `Client.case`."""
        return await self._one(flows.case(number))

    async def act(
        self, number: int, action: str, person: str, *, name: str | None = None, **said: Any
    ) -> CaseActed:
        """As `Client.act`."""
        return await self._one(flows.act(number, action, person, name, said))

    def notifications(self, after: int = 0, **filters: Any) -> AsyncIterator[Notice]:
        """As `Client.notifications`."""
        return self._each(flows.notifications(after, filters))

    async def report(
        self, source: str, events: Sequence[Mapping[str, Any]], *, wait: float = 0.0
    ) -> ReceiptOut:
        """As `Client.report`."""
        return await self._one(flows.report(source, events, wait))

    async def explanation(self, site: str, asset: str, **asked: Any) -> ExplanationOut:
        """As `Client.explanation`."""
        return await self._one(flows.explanation(site, asset, asked))

    def routes(self, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.routes`."""
        return self._each(flows.pages("/v1/routes", filters, dict))

    async def route(self, code: str) -> RouteOut:
        """As `Client.route`."""
        return await self._one(flows.route(code))

    async def sheet(self, code: str, date: Any = None) -> bytes:
        """As `Client.sheet`."""
        return await self._one(flows.sheet(code, date))

    async def hand_back(
        self, code: str, content: bytes, file: str = "sheet.xlsx", *, wait: float = 0.0
    ) -> ReceiptOut:
        """As `Client.hand_back`."""
        return await self._one(flows.hand_back(code, content, file, wait))

    async def meeting_sheet(self, since: Any = None, **filters: Any) -> MeetingSheetOut:
        """As `Client.meeting_sheet`."""
        return await self._one(
            flows.every_page("/v1/meeting-sheet", {"since": since, **filters}, MeetingSheetOut)
        )

    async def outage_list(
        self, first: Any, last: Any, following: tuple[Any, Any] | None = None, **filters: Any
    ) -> OutageListOut:
        """As `Client.outage_list`."""
        asked = flows.outage(first, last, following, filters)
        return await self._one(flows.every_page("/v1/outage-list", asked, OutageListOut))

    def mountings(self, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.mountings`."""
        return self._each(flows.pages("/v1/commissioning", filters, dict))

    async def mounting(self, device: str, channel: str) -> CommissioningOut:
        """As `Client.mounting`."""
        return await self._one(flows.mounting(device, channel))
