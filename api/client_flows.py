"""What the clients ask, and what they make of the answers: written once for sync and async.

A flow is a generator that yields what to ask and is sent the answer.
"""

from __future__ import annotations

import uuid
from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar
from urllib.parse import quote

import httpx
from pydantic import BaseModel

from api.models import AssetCondition, Problem
from api.models_cases import CaseActed, CaseOut, Notice
from api.models_lists import AssetName, Change, LookupResult
from api.models_packages import PackageLife, ReceiptOut
from api.models_push import (
    DeliveryOut,
    Queued,
    SecretOut,
    SubscriptionIn,
    SubscriptionMade,
    SubscriptionOut,
)
from api.models_registry import CommissioningOut
from api.models_tables import SqlOut
from api.models_work import ExplanationOut, RouteOut

_T = TypeVar("_T")
_Body = TypeVar("_Body", bound=BaseModel)


class ProblemError(Exception):
    """The server answered with a problem; `problem` says which, and what was wrong."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(f"{problem.title} ({problem.status}): {problem.detail}")
        self.problem = problem


@dataclass(frozen=True, slots=True)
class Ask:
    """A request of a flow; the answer is sent back into it."""

    method: str
    url: str
    params: Mapping[str, Any] | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    json: Any = None
    content: bytes | None = None


@dataclass(frozen=True, slots=True)
class Give:
    """Something a flow gives to whoever iterates."""

    value: Any


Items = Generator[Ask | Give, httpx.Response, None]
One = Generator[Ask, httpx.Response, _T]


def checked(response: httpx.Response) -> httpx.Response:
    """Raises ProblemError for an answer that is an error."""
    if response.is_error:
        raise ProblemError(Problem.model_validate_json(response.content))
    return response


def pages(url: str, params: Mapping[str, Any], shape: Any) -> Items:
    """Rows of every page, in the shape given."""
    following: str | None = url
    first: Mapping[str, Any] | None = {n: v for n, v in params.items() if v is not None}
    while following:
        page = checked((yield Ask("GET", following, first))).json()
        for item in page["items"]:
            yield Give(shape(item))
        following, first = page["next"], None


def changes(after: int, params: Mapping[str, Any]) -> Items:
    """Changes behind a number until there are none now."""
    more = True
    while more:
        page = checked((yield Ask("GET", "/v1/changes", {**params, "after": after}))).json()
        for item in page["items"]:
            yield Give(Change.model_validate(item))
        after, more = page["after"], page["more"]


def condition(site: str, asset: str) -> One[AssetCondition]:
    """The condition of one asset."""
    url = f"/v1/assets/{quote(site, safe='')}/{quote(asset, safe='')}/condition"
    response = checked((yield Ask("GET", url)))
    return AssetCondition.model_validate_json(response.content)


def lookup(assets: Sequence[tuple[str, str]], external_ids: Sequence[str]) -> One[LookupResult]:
    """Conditions of a list of assets."""
    named = [AssetName(site=site, asset=asset).model_dump() for site, asset in assets]
    body = {"assets": named, "external_ids": list(external_ids)}
    response = checked((yield Ask("POST", "/v1/conditions/lookup", json=body)))
    return LookupResult.model_validate_json(response.content)


def whole(url: str, form: str, params: Mapping[str, Any]) -> One[bytes]:
    """A whole table in another form."""
    given = {n: v for n, v in params.items() if v is not None}
    return checked((yield Ask("GET", url, {**given, "format": form}))).content


def ingest(
    source: str, content: bytes, file: str, name: str | None, wait: float, coding: str | None
) -> One[ReceiptOut]:
    """A package handed over."""
    headers = {
        "Idempotency-Key": name or str(uuid.uuid4()),
        "Content-Type": "application/octet-stream",
        **({"Content-Encoding": coding} if coding else {}),
    }
    params = {"source": source, "file": file, "wait": wait}
    ask = Ask("POST", "/v1/ingest", params, headers, content=content)
    return ReceiptOut.model_validate_json(checked((yield ask)).content)


def package(number: int) -> One[PackageLife]:
    """A package and what became of it."""
    response = checked((yield Ask("GET", f"/v1/packages/{number}")))
    return PackageLife.model_validate_json(response.content)


def query(statement: str, limit: int | None) -> One[SqlOut]:
    """Rows of one SELECT."""
    body = {"statement": statement, "limit": limit}
    return SqlOut.model_validate_json(checked((yield Ask("POST", "/v1/query", json=body))).content)


def path(*parts: str) -> str:
    """A path below `/v1`, each part percent-encoded."""
    return "/v1/" + "/".join(quote(part, safe="") for part in parts)


def notifications(after: int, params: Mapping[str, Any]) -> Items:
    """Notifications of cases behind a number."""
    more = True
    while more:
        page = checked((yield Ask("GET", "/v1/notifications", {**params, "after": after}))).json()
        for item in page["items"]:
            yield Give(Notice.model_validate(item))
        after, more = page["after"], page["more"]


def case(number: int) -> One[CaseOut]:
    """One case."""
    response = checked((yield Ask("GET", f"/v1/cases/{number}")))
    return CaseOut.model_validate_json(response.content)


def act(
    number: int, action: str, person: str, name: str | None, said: Mapping[str, Any]
) -> One[CaseActed]:
    """What a person does about a case."""
    body = {"action": action, "person": person, **{n: _plain(v) for n, v in said.items()}}
    headers = {"Idempotency-Key": name or str(uuid.uuid4())}
    ask = Ask("POST", f"/v1/cases/{number}/actions", headers=headers, json=body)
    return CaseActed.model_validate_json(checked((yield ask)).content)


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value


def report(source: str, events: Sequence[Mapping[str, Any]], wait: float) -> One[ReceiptOut]:
    """Maintenance events."""
    told = [{name: _plain(value) for name, value in event.items()} for event in events]
    body = {"source": source, "events": told}
    ask = Ask("POST", "/v1/maintenance-events", {"wait": wait}, json=body)
    return ReceiptOut.model_validate_json(checked((yield ask)).content)


def explanation(site: str, asset: str, params: Mapping[str, Any]) -> One[ExplanationOut]:
    """Why an asset is judged as it is."""
    given = {n: _plain(v) for n, v in params.items() if v is not None}
    response = checked((yield Ask("GET", f"{path('assets', site, asset)}/explanation", given)))
    return ExplanationOut.model_validate_json(response.content)


def route(code: str) -> One[RouteOut]:
    """One route."""
    response = checked((yield Ask("GET", path("routes", code))))
    return RouteOut.model_validate_json(response.content)


def sheet(code: str, date: Any) -> One[bytes]:
    """The workbook of a walk."""
    given = {"date": _plain(date)} if date is not None else {}
    return checked((yield Ask("GET", f"{path('routes', code)}/sheet", given))).content


def hand_back(code: str, content: bytes, file: str, wait: float) -> One[ReceiptOut]:
    """A filled sheet."""
    headers = {"Content-Type": "application/octet-stream"}
    params = {"file": file, "wait": wait}
    ask = Ask("POST", f"{path('routes', code)}/sheet", params, headers, content=content)
    return ReceiptOut.model_validate_json(checked((yield ask)).content)


def every_page(url: str, params: Mapping[str, Any], shape: type[_Body]) -> One[_Body]:
    """A list that says more than its rows, all pages of one state in one body."""
    first = {n: _plain(v) for n, v in params.items() if v is not None}
    body = checked((yield Ask("GET", url, {"limit": 1000, **first}))).json()
    while following := body["next"]:
        page = checked((yield Ask("GET", following))).json()
        body["items"] += page["items"]
        body["next"] = page["next"]
    return shape.model_validate(body)


def outage(
    first: Any, last: Any, following: tuple[Any, Any] | None, filters: Mapping[str, Any]
) -> dict[str, Any]:
    """What is asked of the outage list, by its names in the URL."""
    after = dict(zip(("next_from", "next_to"), following or (None, None), strict=True))
    return {"from": first, "to": last, **after, **filters}


def mounting(device: str, channel: str) -> One[CommissioningOut]:
    """One mounting and its checks."""
    response = checked((yield Ask("GET", path("commissioning", device, channel))))
    return CommissioningOut.model_validate_json(response.content)


def subscription(number: str) -> One[SubscriptionOut]:
    """One subscription."""
    response = checked((yield Ask("GET", path("subscriptions", number))))
    return SubscriptionOut.model_validate_json(response.content)


def subscribe(wanted: SubscriptionIn) -> One[SubscriptionMade]:
    """A new subscription with its secret."""
    response = checked((yield Ask("POST", "/v1/subscriptions", json=wanted.model_dump())))
    return SubscriptionMade.model_validate_json(response.content)


def switch(number: str, state: Literal["active", "disabled"]) -> One[SubscriptionOut]:
    """A subscription enabled or disabled."""
    response = checked((yield Ask("PATCH", path("subscriptions", number), json={"state": state})))
    return SubscriptionOut.model_validate_json(response.content)


def unsubscribe(number: str) -> One[None]:
    """A subscription removed."""
    checked((yield Ask("DELETE", path("subscriptions", number))))


def rotate(number: str, overlap_hours: float) -> One[str]:
    """A new secret."""
    body = {"overlap_hours": overlap_hours}
    ask = Ask("POST", f"{path('subscriptions', number)}/secrets", json=body)
    return SecretOut.model_validate_json(checked((yield ask)).content).secret


def deliveries(number: str, params: Mapping[str, Any]) -> Items:
    """What a subscription was told, the newest first."""
    return pages(f"{path('subscriptions', number)}/deliveries", params, DeliveryOut.model_validate)


def resend(number: str, numbers: Sequence[int]) -> One[list[str]]:
    """Deliveries queued once more; the ids of their events."""
    body = {"deliveries": list(numbers)}
    ask = Ask("POST", f"{path('subscriptions', number)}/resends", json=body)
    return Queued.model_validate_json(checked((yield ask)).content).events


def ping(number: str) -> One[str]:
    """A message that tells nothing, queued; its event id."""
    response = checked((yield Ask("POST", f"{path('subscriptions', number)}/pings")))
    return Queued.model_validate_json(response.content).events[0]
