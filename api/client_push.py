"""What the clients have for whoever manages subscriptions."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import AsyncIterator, Iterator, Sequence
from typing import Any, Literal, TypeVar

from api import client_flows as flows
from api.client_flows import Items, One
from api.models_push import (
    DeliveryOut,
    Stream,
    SubscriptionIn,
    SubscriptionMade,
    SubscriptionOut,
)

_T = TypeVar("_T")


def _wanted(
    name: str, url: str, events: Sequence[Stream], sites: Sequence[str], from_start: bool
) -> SubscriptionIn:
    return SubscriptionIn(
        name=name, url=url, events=list(events), sites=list(sites), from_start=from_start
    )


class Pushing(ABC):
    """Subscriptions, for `Client`. They need a key of all sites with scope `admin:push`."""

    @abstractmethod
    def _one(self, flow: One[_T]) -> _T:
        """What a flow returns."""

    @abstractmethod
    def _each(self, flow: Items) -> Iterator[Any]:
        """What a flow gives."""

    def subscriptions(self) -> Iterator[SubscriptionOut]:
        """Who is told of cases and levels, and how it goes."""
        return self._each(flows.pages("/v1/subscriptions", {}, SubscriptionOut.model_validate))

    def subscription(self, number: str) -> SubscriptionOut:
        """One subscription, by its id."""
        return self._one(flows.subscription(number))

    def subscribe(
        self, name: str, url: str, events: Sequence[Stream] = ("case",), sites: Sequence[str] = (),
        from_start: bool = False,
    ) -> SubscriptionMade:  # fmt: skip
        """Have something told to a target; the answer has the secret, this once."""
        return self._one(flows.subscribe(_wanted(name, url, events, sites, from_start)))

    def switch_subscription(
        self, number: str, state: Literal["active", "disabled"]
    ) -> SubscriptionOut:
        """Enable or disable a subscription."""
        return self._one(flows.switch(number, state))

    def unsubscribe(self, number: str) -> None:
        """Remove a subscription, its secrets and what it was told."""
        return self._one(flows.unsubscribe(number))

    def rotate_secret(self, number: str, overlap_hours: float = 24.0) -> str:
        """Make a new secret; the old one signs besides for the overlap."""
        return self._one(flows.rotate(number, overlap_hours))

    def deliveries(self, number: str, **filters: Any) -> Iterator[DeliveryOut]:
        """What a subscription was told or is to be told, the newest first; `state`."""
        return self._each(flows.deliveries(number, filters))

    def resend(self, number: str, deliveries: Sequence[int]) -> list[str]:
        """Send messages once more, by their numbers; the ids of their events."""
        return self._one(flows.resend(number, deliveries))

    def ping(self, number: str) -> str:
        """Queue a message that tells nothing, to try a target; its event id."""
        return self._one(flows.ping(number))


class AsyncPushing(ABC):
    """Subscriptions, for `AsyncClient`."""

    @abstractmethod
    async def _one(self, flow: One[_T]) -> _T:
        """What a flow returns."""

    @abstractmethod
    def _each(self, flow: Items) -> AsyncIterator[Any]:
        """What a flow gives."""

    def subscriptions(self) -> AsyncIterator[SubscriptionOut]:
        """As `Client.subscriptions`."""
        return self._each(flows.pages("/v1/subscriptions", {}, SubscriptionOut.model_validate))

    async def subscription(self, number: str) -> SubscriptionOut:
        """As `Client.subscription`."""
        return await self._one(flows.subscription(number))

    async def subscribe(
        self, name: str, url: str, events: Sequence[Stream] = ("case",), sites: Sequence[str] = (),
        from_start: bool = False,
    ) -> SubscriptionMade:  # fmt: skip
        """As `Client.subscribe`."""
        return await self._one(flows.subscribe(_wanted(name, url, events, sites, from_start)))

    async def switch_subscription(
        self, number: str, state: Literal["active", "disabled"]
    ) -> SubscriptionOut:
        """As `Client.switch_subscription`."""
        return await self._one(flows.switch(number, state))

    async def unsubscribe(self, number: str) -> None:
        """As `Client.unsubscribe`."""
        return await self._one(flows.unsubscribe(number))

    async def rotate_secret(self, number: str, overlap_hours: float = 24.0) -> str:
        """As `Client.rotate_secret`."""
        return await self._one(flows.rotate(number, overlap_hours))

    def deliveries(self, number: str, **filters: Any) -> AsyncIterator[DeliveryOut]:
        """As `Client.deliveries`."""
        return self._each(flows.deliveries(number, filters))

    async def resend(self, number: str, deliveries: Sequence[int]) -> list[str]:
        """As `Client.resend`."""
        return await self._one(flows.resend(number, deliveries))

    async def ping(self, number: str) -> str:
        """As `Client.ping`."""
        return await self._one(flows.ping(number))
