"""Shapes of subscriptions: who is told of cases and levels, and what became of it."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.examples_cases import SUBSCRIPTION_EXAMPLE
from api.models import Model, described

Stream = Literal["case", "level"]
DeliveryState = Literal["waiting", "delivered", "given-up"]


class SubscriptionIn(Model):
    """Who is to be told of what."""

    model_config = ConfigDict(json_schema_extra={"examples": [SUBSCRIPTION_EXAMPLE]})

    name: Annotated[str, Field(min_length=1, max_length=100)] = described(
        "what it is for; each name stands once"
    )
    url: Annotated[str, Field(min_length=1, max_length=2000)] = described(
        "where to post to; setting `push_targets` must allow it"
    )
    events: list[Stream] = Field(
        default=["case"], min_length=1, max_length=2, description="what is to be told"
    )
    sites: list[str] = Field(
        default_factory=list, max_length=1000, description="only of these sites; none: of all"
    )
    from_start: bool = Field(False, description="tell everything there is, not only what comes")


class SubscriptionOut(Model):
    """A subscription and how it goes, never its secrets."""

    id: str = described("its id")
    name: str = described("what it is for")
    url: str = described("where is posted to")
    events: list[Stream] = described("what is told")
    sites: list[str] | None = described("only of these sites; null: of all")
    state: Literal["active", "disabled"] = described("a disabled one is told nothing")
    why: str | None = described("why it is disabled")
    created_at: dt.datetime = described("when it was made, UTC")
    failures: int = described("attempts that failed since the last that did not, count")
    failing_since: dt.datetime | None = described("when the first of them was, UTC")
    pause_until: dt.datetime | None = described("until when the target is left alone, UTC")
    waiting: int = described("messages that are to be told yet, count")
    delivered: int = described("messages that were taken lately, count")
    given_up: int = described("messages the target refused for days, count")
    last_delivered_at: dt.datetime | None = described("when a message was taken last, UTC")
    next_at: dt.datetime | None = described("when the next message is tried, UTC; null: none waits")
    trouble: str | None = described("what came of the last attempt of a message that waits")


class SubscriptionMade(SubscriptionOut):
    """A new subscription with its secret."""

    secret: str = described("what signatures are checked with; it is told this once")


class SubscriptionsOut(Model):
    """Every subscription, in the order they were made."""

    items: list[SubscriptionOut] = described("subscriptions")
    next: None = described("always null: all are given at once")


class SubscriptionState(Model):
    """Whether a subscription is told anything."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"state": "disabled"}]})

    state: Literal["active", "disabled"] = described("`active` begins with what waits")


class SecretIn(Model):
    """How a secret is followed by another."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"overlap_hours": 24.0}]})

    overlap_hours: float = Field(
        24.0, ge=0, le=8760, description="how long the old one signs besides, in hours"
    )


class SecretOut(Model):
    """A new secret."""

    secret: str = described("what signatures are checked with; it is told this once")


class DeliveryOut(Model):
    """A message to one subscription, and its last attempt."""

    number: int = described("number of the delivery")
    event: str = described("id of the event: header `webhook-id`")
    type: str = described("type of the event")
    subject: str = described("what it is about")
    state: DeliveryState = described("how far it is")
    attempts: int = described("attempts, count")
    queued_at: dt.datetime = described(
        "since when it is to be told, UTC; stays where it is sent once more"
    )
    next_at: dt.datetime = described("when it is tried next, UTC; of those that wait")
    done_at: dt.datetime | None = described("when it was taken or given up, UTC")
    tried_at: dt.datetime | None = described("time of the last attempt, UTC")
    milliseconds: int | None = described("how long that took, in ms")
    status: int | None = described("HTTP status of it; null where no answer came")
    told: str | None = described("what came of it, in words")


class DeliveryList(Model):
    """One page of deliveries, newest first."""

    items: list[DeliveryOut] = described("deliveries")
    next: str | None = described("relative URL of the next page; null on the last one")


class DeliveryQuery(BaseModel):
    """Which deliveries."""

    model_config = ConfigDict(extra="forbid")

    limit: Annotated[int, Field(ge=1, le=1000, description="most on a page")] = 100
    before: Annotated[
        int | None, Field(ge=1, le=2**53, description="deliveries before this number")
    ] = None
    state: Annotated[DeliveryState | None, Field(description="how far they are")] = None


class ResendIn(Model):
    """Deliveries to send once more, with the same id and content."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"deliveries": [17, 18]}]})

    deliveries: list[Annotated[int, Field(ge=1, le=2**53)]] = Field(
        min_length=1, max_length=1000, description="their numbers"
    )


class Queued(Model):
    """What is to be told now."""

    events: list[str] = Field(description="ids of the events")


def subscription_out(row: dict[str, Any]) -> SubscriptionOut:
    """A subscription as it is told."""
    names = SubscriptionOut.model_fields.keys() - {"events"}
    return SubscriptionOut(events=row["streams"], **{name: row[name] for name in names})
