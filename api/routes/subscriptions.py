"""Subscriptions: who is told of cases and levels; the log of it; sending once more."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request, Response

from api.caller import Asking, needs
from api.models_push import (
    DeliveryList,
    DeliveryOut,
    DeliveryQuery,
    Queued,
    ResendIn,
    SecretIn,
    SecretOut,
    SubscriptionIn,
    SubscriptionMade,
    SubscriptionOut,
    SubscriptionsOut,
    SubscriptionState,
    subscription_out,
)
from api.paging import next_page
from api.routes.current import problems
from warehouse.services import subscriptions_served as service

router = APIRouter(tags=["push"], dependencies=[needs("admin:push", whole=True)])

Number = Annotated[
    str, Path(max_length=100, description="id of a subscription", examples=["a1b2c3d4"])
]


@router.get(
    "/v1/subscriptions",
    operation_id="subscriptions_list",
    summary="List subscriptions",
    responses=problems(503),
)
def list_subscriptions(desk: Asking) -> SubscriptionsOut:
    """Every subscription and how it goes, never its secrets."""
    rows = service.subscriptions_of(desk)
    return SubscriptionsOut(items=[subscription_out(row) for row in rows], next=None)


@router.post(
    "/v1/subscriptions",
    operation_id="subscriptions_add",
    summary="Have something told to a target",
    status_code=201,
    responses=problems(400, 408, 413, 422, 503),
)
def add(wanted: SubscriptionIn, desk: Asking, response: Response) -> SubscriptionMade:
    """What is published from now on is posted there, signed with the secret of the answer.

    A target that setting `push_targets` does not allow is refused.
    """
    row, secret = service.add(
        desk, wanted.name, wanted.url, tuple(wanted.events), tuple(wanted.sites), wanted.from_start
    )
    response.headers["Location"] = f"/v1/subscriptions/{row['id']}"
    response.headers["Cache-Control"] = "no-store"
    return SubscriptionMade(**subscription_out(row).model_dump(), secret=secret)


@router.get(
    "/v1/subscriptions/{number}",
    operation_id="subscriptions_get",
    summary="One subscription",
    responses=problems(404, 422, 503),
)
def get_subscription(number: Number, desk: Asking) -> SubscriptionOut:
    """How it goes: what waits, since when it fails, until when the target is left alone."""
    return subscription_out(service.subscription_of(desk, number))


@router.patch(
    "/v1/subscriptions/{number}",
    operation_id="subscriptions_change",
    summary="Enable or disable a subscription",
    responses=problems(400, 404, 408, 413, 422, 503),
)
def change(number: Number, wanted: SubscriptionState, desk: Asking) -> SubscriptionOut:
    """A disabled one is told nothing; enabled again it is told what waited and what came since."""
    return subscription_out(service.switch(desk, number, wanted.state == "active"))


@router.delete(
    "/v1/subscriptions/{number}",
    operation_id="subscriptions_remove",
    summary="Remove a subscription",
    status_code=204,
    responses=problems(404, 422, 503),
)
def remove(number: Number, desk: Asking) -> None:
    """Forget it, its secrets and what it was told."""
    service.remove(desk, number)


@router.post(
    "/v1/subscriptions/{number}/secrets",
    operation_id="subscriptions_rotate",
    summary="Make a new secret",
    status_code=201,
    responses=problems(400, 404, 408, 413, 422, 503),
)
def rotate(number: Number, wanted: SecretIn, desk: Asking, response: Response) -> SecretOut:
    """For the overlap messages bear a signature by the old secret as well."""
    response.headers["Cache-Control"] = "no-store"
    return SecretOut(secret=service.rotate(desk, number, wanted.overlap_hours))


@router.get(
    "/v1/subscriptions/{number}/deliveries",
    operation_id="subscriptions_list_deliveries",
    summary="What a subscription was told",
    responses=problems(404, 422, 503),
)
def list_deliveries(
    request: Request, number: Number, query: Annotated[DeliveryQuery, Query()], desk: Asking
) -> DeliveryList:
    """What it was told or is to be told, the newest first, each with its last attempt."""
    rows = service.log_of(desk, number, query.limit + 1, query.state, query.before)
    url = None
    if len(rows) > query.limit:
        rows = rows[: query.limit]
        given: dict[str, Any] = {"limit": query.limit, "state": query.state}
        url = next_page(request.url.path, given, before=rows[-1]["number"])
    return DeliveryList(items=[DeliveryOut(**row) for row in rows], next=url)


@router.post(
    "/v1/subscriptions/{number}/resends",
    operation_id="subscriptions_resend",
    summary="Send messages once more",
    status_code=202,
    responses=problems(400, 404, 408, 413, 422, 503),
)
def resend(number: Number, wanted: ResendIn, desk: Asking) -> Queued:
    """With the same id and content, so that a receiver that has them knows them again."""
    return Queued(events=service.send_again(desk, number, wanted.deliveries))


@router.post(
    "/v1/subscriptions/{number}/pings",
    operation_id="subscriptions_ping",
    summary="Try a target",
    status_code=202,
    responses=problems(404, 422, 503),
)
def ping(number: Number, desk: Asking) -> Queued:
    """Queue a message that tells nothing; the log tells what came of it."""
    return Queued(events=[service.try_target(desk, number)])
