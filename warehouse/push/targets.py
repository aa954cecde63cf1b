"""Targets that may be told: the operator's allow-list, and the address that is connected to.

A plant's targets have private addresses, so a list of what is forbidden would
not do: nothing is told to a target that is not listed (setting `push_targets`).
A name that is listed may stand for a public address only; any other address
must lie in a network that is listed, whatever name led to it. The address is
looked up and checked at each attempt, and that very address is connected to: a
name that leads elsewhere a moment later changes nothing.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

from warehouse.errors import PushError, SettingsError

_ENTRY = re.compile(r"(https?)://(\[[0-9A-Fa-f:.]+\](?:/\d+)?|[^\[\]:@?#\s]+)(?::(\d+|\*))?")
_NAME = re.compile(r"[a-z0-9]([a-z0-9.-]*[a-z0-9])?")
_PORTS: Final = {"http": 80, "https": 443}
_LONGEST = 2000
Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network


class TargetRefusedError(Exception):
    """A target is not one that may be told; the text says why."""


@dataclass(frozen=True, slots=True)
class Target:
    """Where something is told: the URL in its parts."""

    scheme: str
    host: str
    port: int
    path: str

    @property
    def origin(self) -> str:
        """Host and port as they stand in the header `Host`."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == _PORTS[self.scheme] else f"{host}:{self.port}"

    def at(self, address: str) -> str:
        """The URL with the address in place of the name."""
        host = f"[{address}]" if ":" in address else address
        return f"{self.scheme}://{host}:{self.port}{self.path}"


@dataclass(frozen=True, slots=True)
class _Entry:
    """A line of the allow-list: a name, or a network; `port` None is any."""

    scheme: str
    name: str | None
    network: Network | None
    port: int | None

    def fits(self, target: Target) -> bool:
        """Whether scheme and port are those of a target."""
        return self.scheme == target.scheme and self.port in (None, target.port)


@dataclass(frozen=True, slots=True)
class Targets:
    """The allow-list of a store."""

    entries: tuple[_Entry, ...]

    @classmethod
    def of(cls, text: str) -> Targets:
        """The list as it stands in the setting. Raises SettingsError with every fault."""
        entries, faults = [], []
        for word in text.split():
            try:
                entries.append(_entry(word))
            except ValueError as error:
                faults.append(
                    f"push_targets: {word!r} {error}; allowed are https://NAME, https://NETWORK "
                    "such as https://10.1.2.0/24, http:// likewise, each with :PORT or :* behind"
                )
        if faults:
            raise SettingsError(faults, "push")
        return cls(tuple(entries))

    def check(self, url: str) -> Target:
        """The target of a URL, as far as that can be said without looking its name up.

        Raises PushError where it cannot be one, or no entry could allow it.
        """
        target = _target(url)
        literal = _address(target.host)
        fitting = [entry for entry in self.entries if entry.fits(target)]
        if literal is not None:
            self._check_address(target, literal)
        elif not any(entry.network or entry.name == target.host for entry in fitting):
            raise PushError([_not_listed(target)])
        return target

    def choose(self, target: Target, addresses: Sequence[str]) -> str:
        """The first address of a target that may be connected to. Raises TargetRefusedError."""
        why = f"{target.host} has no address"
        for text in addresses:
            address = _address(text)
            if address is None:
                continue
            try:
                self._check_address(target, address)
            except PushError as error:
                why = error.faults[0]
                continue
            return str(address)
        raise TargetRefusedError(why)

    def _check_address(self, target: Target, address: Address) -> None:
        fitting = [entry for entry in self.entries if entry.fits(target)]
        if any(e.network and address in e.network for e in fitting if not _never(address)):
            return
        if address.is_global and not _never(address):
            if any(entry.name == target.host for entry in fitting):
                return
            raise PushError([_not_listed(target)])
        raise PushError(
            [
                f"{target.host} is at {address}, which is no public address and lies in no network "
                f"that is allowed for {target.scheme} and port {target.port} (setting push_targets)"
            ]
        )


def _never(address: Address) -> bool:
    return address.is_multicast or address.is_unspecified


def _not_listed(target: Target) -> str:
    return f"{target.scheme}://{target.origin} is not allowed (setting push_targets)"


def _entry(word: str) -> _Entry:
    found = _ENTRY.fullmatch(word)
    if found is None:
        raise ValueError("cannot be read")
    scheme, place, port = found.groups()
    number = None if port == "*" else int(port or _PORTS[scheme])
    if number is not None and not 1 <= number <= 65535:
        raise ValueError("has a port that is none")
    place = place.replace("[", "").replace("]", "").lower()
    try:
        return _Entry(scheme, None, ipaddress.ip_network(place), number)
    except ValueError:
        if re.fullmatch(r"[0-9.:a-f]*/\d+|[0-9.]+", place):
            raise ValueError("is no network: its host bits must be zero") from None
    if not _NAME.fullmatch(place):
        raise ValueError("has a name that is none")
    return _Entry(scheme, place, None, number)


def _target(url: str) -> Target:
    faults = []
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError as error:
        raise PushError([f"the URL cannot be read: {error}"]) from error
    if len(url) > _LONGEST or not url.isascii() or any(c.isspace() or c < " " for c in url):
        faults.append(f"a URL is plain text of at most {_LONGEST} characters without blanks")
    if parts.scheme not in _PORTS:
        faults.append(f"a URL begins with https:// or http://, not with {parts.scheme!r}")
    if not parts.hostname:
        faults.append("the URL names no host")
    if parts.username or parts.password:
        faults.append("a URL holds no user and no password: what is told is signed")
    if parts.fragment:
        faults.append("a URL to tell something to has no part behind #")
    if faults:
        raise PushError(faults)
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    host = (parts.hostname or "").lower().rstrip(".")
    return Target(parts.scheme, host, port or _PORTS[parts.scheme], path)


def _address(text: str) -> Address | None:
    """An address; one of IPv4 in the clothes of IPv6 is what it is."""
    try:
        found = ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return None
    mapped = found.ipv4_mapped if isinstance(found, ipaddress.IPv6Address) else None
    return mapped or found
