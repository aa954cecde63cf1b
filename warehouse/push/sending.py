"""One message to one target: looked up, checked, connected to that very address, bounded in time.

No redirect is followed, no proxy of the environment is used, and nothing of an
answer but its status is read or kept.
"""

from __future__ import annotations

import asyncio
import socket
import ssl
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import httpx

from warehouse import clock
from warehouse.errors import PushError, SettingsError
from warehouse.push.outbox import Tried
from warehouse.push.targets import Target, TargetRefusedError, Targets
from warehouse.settings import Settings

_LONGEST_ASKED: Final = 3600.0


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of an attempt, and how long the target asks to be left alone, in seconds."""

    tried: Tried
    leave_alone: float | None = None


class Sender:
    """Sends messages to targets of an allow-list; open it with `async with`."""

    def __init__(self, targets: Targets, tls: ssl.SSLContext, seconds: float) -> None:
        self._targets, self._seconds = targets, seconds
        self._client = httpx.AsyncClient(
            verify=tls, trust_env=False, follow_redirects=False, timeout=seconds
        )

    @classmethod
    def of(cls, settings: Settings) -> Sender:
        """The sender of a store. Raises SettingsError where a setting is at fault."""
        context = httpx.create_ssl_context(trust_env=False)
        if settings.push_ca_file:
            try:
                context.load_verify_locations(cafile=settings.push_ca_file)
            except OSError as error:
                raise SettingsError([f"push_ca_file: {error}"], "push") from error
        return cls(Targets.of(settings.push_targets), context, settings.push_seconds)

    async def __aenter__(self) -> Sender:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self._client.aclose()

    async def send(self, url: str, headers: Mapping[str, str], body: bytes) -> Answer:
        """Tell a target something; raises nothing for what it does, and ends in time."""
        at, begun = clock.now(), time.monotonic()
        status, leave_alone = None, None
        try:
            async with asyncio.timeout(self._seconds):
                status, leave_alone = await self._post(url, headers, body)
            told = f"answered {status}"
        except TimeoutError:
            told = f"no answer within {self._seconds:g} s"
        except (PushError, TargetRefusedError) as error:  # it may have been allowed once
            told = f"not connected to: {error}"
        except socket.gaierror as error:
            told = f"its name cannot be looked up: {error.strerror}"
        except (httpx.HTTPError, OSError) as error:
            told = f"{type(error).__name__}: {error}"[:300]
        spent = round(1000 * (time.monotonic() - begun))
        return Answer(Tried(at, spent, status, told), leave_alone)

    async def _post(
        self, url: str, headers: Mapping[str, str], body: bytes
    ) -> tuple[int, float | None]:
        target = self._targets.check(url)
        address = self._targets.choose(target, await _addresses(target))
        request = self._client.build_request(
            "POST", target.at(address), content=body,
            headers={"Host": target.origin, "User-Agent": "mcw", "Connection": "close", **headers},
            # The certificate is that of the name, whatever address it stands for.
            extensions={**_timeouts(self._seconds), "sni_hostname": target.host},
        )  # fmt: skip
        response = await self._client.send(request, stream=True)
        try:
            return response.status_code, _retry_after(response)
        finally:
            await response.aclose()


def _timeouts(seconds: float) -> dict[str, object]:
    return {"timeout": httpx.Timeout(seconds).as_dict()}


async def _addresses(target: Target) -> list[str]:
    loop = asyncio.get_running_loop()
    found = await loop.getaddrinfo(target.host, target.port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(one[4][0]) for one in found))


def _retry_after(response: httpx.Response) -> float | None:
    told = response.headers.get("retry-after", "")
    return min(float(told), _LONGEST_ASKED) if told.isdigit() and len(told) < 9 else None
