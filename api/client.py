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
import uuid
from collections.abc import AsyncIterator, Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar, cast
from urllib.parse import quote

import httpx

from api.models import AssetCondition, AssetItem, Problem
from api.models_lists import AssetName, Change, LookupResult
from api.models_packages import PackageLife, ReceiptOut
from api.models_tables import SqlOut

_T = TypeVar("_T")
_AGAIN: Final = (429, 503)
_ATTEMPTS = 4


class ProblemError(Exception):
    """The server answered with a problem; `problem` says which, and what was wrong."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(f"{problem.title} ({problem.status}): {problem.detail}")
        self.problem = problem


@dataclass(frozen=True, slots=True)
class _Ask:
    """A request of a flow; the answer is sent back into it."""

    method: str
    url: str
    params: Mapping[str, Any] | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    json: Any = None
    content: bytes | None = None


@dataclass(frozen=True, slots=True)
class _Give:
    """Something a flow gives to whoever iterates."""

    value: Any


_Items = Generator[_Ask | _Give, httpx.Response, None]
_One = Generator[_Ask, httpx.Response, _T]


def _checked(response: httpx.Response) -> httpx.Response:
    """Raises ProblemError for an answer that is an error."""
    if response.is_error:
        raise ProblemError(Problem.model_validate_json(response.content))
    return response


def _pages(url: str, params: Mapping[str, Any], shape: Any) -> _Items:
    following: str | None = url
    first: Mapping[str, Any] | None = {n: v for n, v in params.items() if v is not None}
    while following:
        page = _checked((yield _Ask("GET", following, first))).json()
        for item in page["items"]:
            yield _Give(shape(item))
        following, first = page["next"], None


def _changes(after: int, params: Mapping[str, Any]) -> _Items:
    more = True
    while more:
        page = _checked((yield _Ask("GET", "/v1/changes", {**params, "after": after}))).json()
        for item in page["items"]:
            yield _Give(Change.model_validate(item))
        after, more = page["after"], page["more"]


def _condition(site: str, asset: str) -> _One[AssetCondition]:
    url = f"/v1/assets/{quote(site, safe='')}/{quote(asset, safe='')}/condition"
    response = _checked((yield _Ask("GET", url)))
    return AssetCondition.model_validate_json(response.content)


def _lookup(assets: Sequence[tuple[str, str]], external_ids: Sequence[str]) -> _One[LookupResult]:
    named = [AssetName(site=site, asset=asset).model_dump() for site, asset in assets]
    body = {"assets": named, "external_ids": list(external_ids)}
    response = _checked((yield _Ask("POST", "/v1/conditions/lookup", json=body)))
    return LookupResult.model_validate_json(response.content)


def _bytes(url: str, form: str, params: Mapping[str, Any]) -> _One[bytes]:
    given = {n: v for n, v in params.items() if v is not None}
    return _checked((yield _Ask("GET", url, {**given, "format": form}))).content


def _ingest(
    source: str, content: bytes, file: str, name: str | None, wait: float, coding: str | None
) -> _One[ReceiptOut]:
    headers = {
        "Idempotency-Key": name or str(uuid.uuid4()),
        "Content-Type": "application/octet-stream",
        **({"Content-Encoding": coding} if coding else {}),
    }
    params = {"source": source, "file": file, "wait": wait}
    ask = _Ask("POST", "/v1/ingest", params, headers, content=content)
    return ReceiptOut.model_validate_json(_checked((yield ask)).content)


def _package(number: int) -> _One[PackageLife]:
    response = _checked((yield _Ask("GET", f"/v1/packages/{number}")))
    return PackageLife.model_validate_json(response.content)


def _query(statement: str, limit: int | None) -> _One[SqlOut]:
    body = {"statement": statement, "limit": limit}
    return SqlOut.model_validate_json(
        _checked((yield _Ask("POST", "/v1/query", json=body))).content
    )


def _options(base_url: str, key: str | None, options: Mapping[str, Any]) -> dict[str, Any]:
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    return {"base_url": base_url, "headers": headers, "timeout": 60.0, **options}


def _pause(response: httpx.Response) -> float:
    told = response.headers.get("retry-after", "1")
    return min(60.0, float(told)) if told.isdigit() else 1.0


class Client:
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

    def _ask(self, ask: _Ask) -> httpx.Response:
        for attempt in range(_ATTEMPTS):
            response = self._http.request(
                ask.method, ask.url, params=ask.params, headers=ask.headers, json=ask.json,
                content=ask.content,
            )  # fmt: skip
            if response.status_code not in _AGAIN or attempt == _ATTEMPTS - 1:
                break
            time.sleep(_pause(response))
        return response

    def _one(self, flow: _One[_T]) -> _T:
        try:
            ask = next(flow)
            while True:
                ask = flow.send(self._ask(ask))
        except StopIteration as end:
            return cast("_T", end.value)

    def _each(self, flow: _Items) -> Iterator[Any]:
        step = next(flow, None)
        while step is not None:
            try:
                if isinstance(step, _Give):
                    yield step.value
                    step = next(flow)
                else:
                    step = flow.send(self._ask(step))
            except StopIteration:
                return

    def assets(self, **filters: Any) -> Iterator[AssetItem]:
        """Registered assets with their level, all pages of one state."""
        return self._each(_pages("/v1/assets", filters, AssetItem.model_validate))

    def condition(self, site: str, asset: str) -> AssetCondition:
        """The judged condition of one asset."""
        return self._one(_condition(site, asset))

    def conditions(self, **filters: Any) -> Iterator[dict[str, Any]]:
        """Conditions as rows, all pages of one state."""
        return self._each(_pages("/v1/conditions", filters, dict))

    def lookup(
        self, assets: Sequence[tuple[str, str]] = (), external_ids: Sequence[str] = ()
    ) -> LookupResult:
        """Conditions of a list of assets, by our code or the maintenance system's."""
        return self._one(_lookup(assets, external_ids))

    def changes(self, after: int = 0, **filters: Any) -> Iterator[Change]:
        """Changes behind a number until there are none now; go on later behind the last `seq`."""
        return self._each(_changes(after, filters))

    def rows(self, table: str, **filters: Any) -> Iterator[dict[str, Any]]:
        """Rows of a published table or view, all pages of one state."""
        return self._each(_pages(f"/v1/tables/{quote(table, safe='')}", filters, dict))

    def readings(self, **filters: Any) -> Iterator[dict[str, Any]]:
        """Readings of a place and window as rows."""
        return self._each(_pages("/v1/readings", filters, dict))

    def download(self, url: str, form: str = "arrow", **filters: Any) -> bytes:
        """A whole table in another form: `/v1/conditions`, `/v1/readings`, `/v1/tables/...`."""
        return self._one(_bytes(url, form, filters))

    def ingest(
        self, source: str, content: bytes, file: str = "posted", *, name: str | None = None,
        wait: float = 0.0, coding: str | None = None,
    ) -> ReceiptOut:  # fmt: skip
        """Hand a package over; `name` makes it safe to send again (a new one if none is given)."""
        return self._one(_ingest(source, content, file, name, wait, coding))

    def package(self, number: int) -> PackageLife:
        """A package and what became of it."""
        return self._one(_package(number))

    def query(self, statement: str, limit: int | None = None) -> SqlOut:
        """Rows of one SELECT, where SQL is switched on."""
        return self._one(_query(statement, limit))


class AsyncClient:
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

    async def _ask(self, ask: _Ask) -> httpx.Response:
        for attempt in range(_ATTEMPTS):
            response = await self._http.request(
                ask.method, ask.url, params=ask.params, headers=ask.headers, json=ask.json,
                content=ask.content,
            )  # fmt: skip
            if response.status_code not in _AGAIN or attempt == _ATTEMPTS - 1:
                break
            await asyncio.sleep(_pause(response))
        return response

    async def _one(self, flow: _One[_T]) -> _T:
        try:
            ask = next(flow)
            while True:
                ask = flow.send(await self._ask(ask))
        except StopIteration as end:
            return cast("_T", end.value)

    async def _each(self, flow: _Items) -> AsyncIterator[Any]:
        step = next(flow, None)
        while step is not None:
            try:
                if isinstance(step, _Give):
                    yield step.value
                    step = next(flow)
                else:
                    step = flow.send(await self._ask(step))
            except StopIteration:
                return

    def assets(self, **filters: Any) -> AsyncIterator[AssetItem]:
        """As `Client.assets`."""
        return self._each(_pages("/v1/assets", filters, AssetItem.model_validate))

    async def condition(self, site: str, asset: str) -> AssetCondition:
        """As `Client.condition`."""
        return await self._one(_condition(site, asset))

    def conditions(self, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.conditions`."""
        return self._each(_pages("/v1/conditions", filters, dict))

    async def lookup(
        self, assets: Sequence[tuple[str, str]] = (), external_ids: Sequence[str] = ()
    ) -> LookupResult:
        """As `Client.lookup`."""
        return await self._one(_lookup(assets, external_ids))

    def changes(self, after: int = 0, **filters: Any) -> AsyncIterator[Change]:
        """As `Client.changes`."""
        return self._each(_changes(after, filters))

    def rows(self, table: str, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.rows`."""
        return self._each(_pages(f"/v1/tables/{quote(table, safe='')}", filters, dict))

    def readings(self, **filters: Any) -> AsyncIterator[dict[str, Any]]:
        """As `Client.readings`."""
        return self._each(_pages("/v1/readings", filters, dict))

    async def download(self, url: str, form: str = "arrow", **filters: Any) -> bytes:
        """As `Client.download`."""
        return await self._one(_bytes(url, form, filters))

    async def ingest(
        self, source: str, content: bytes, file: str = "posted", *, name: str | None = None,
        wait: float = 0.0, coding: str | None = None,
    ) -> ReceiptOut:  # fmt: skip
        """As `Client.ingest`."""
        return await self._one(_ingest(source, content, file, name, wait, coding))

    async def package(self, number: int) -> PackageLife:
        """As `Client.package`."""
        return await self._one(_package(number))

    async def query(self, statement: str, limit: int | None = None) -> SqlOut:
        """As `Client.query`."""
        return await self._one(_query(statement, limit))
