"""Bearer tokens of an identity provider (OIDC): signature, issuer, audience and times are checked.

Only asymmetric algorithms are taken. The key set is a file, for sites without
a way out, or an https address; it is read again, at most once a minute, where
a token names a key that is not in it. Claim `scope` gives the scopes, claims
`mcw_sites` and `mcw_sources` (lists) limit the caller; without `mcw_sites` a
token opens no site at all, unless it holds `["*"]`.
"""

from __future__ import annotations

import json
import threading
import time
from pathlib import Path
from typing import Any, Final

import httpx
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet

from warehouse.access import SCOPES, Caller
from warehouse.errors import SettingsError
from warehouse.settings import Settings

ALGORITHMS: Final = ("RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384",
                     "ES512", "Ed25519")  # fmt: skip
_LEEWAY_SECONDS = 60
_AGAIN_SECONDS = 60.0
_FETCH_SECONDS = 5.0
_MOST_BYTES = 1_000_000


class Tokens:
    """Checks the tokens of one issuer. `check` may read a file or the network: use a thread."""

    def __init__(self, issuer: str, audience: str, keys: str) -> None:
        self._issuer, self._audience, self._place = issuer, audience, keys
        self._keys: KeySet | None = None
        self._read_at = -_AGAIN_SECONDS
        self._lock = threading.Lock()

    @classmethod
    def of(cls, settings: Settings) -> Tokens | None:
        """What the settings ask for; None for no tokens. Raises SettingsError for half of it."""
        given = (settings.oidc_issuer, settings.oidc_audience, settings.oidc_keys)
        if not any(given):
            return None
        if not all(given):
            raise SettingsError(
                ["oidc_issuer, oidc_audience and oidc_keys belong together: give all or none"],
                "mcw serve",
            )
        if settings.oidc_keys.startswith("http://"):
            raise SettingsError(
                ["oidc_keys: an address must begin with https://; or name a file"], "mcw serve"
            )
        return cls(*given)

    def check(self, text: str) -> Caller | None:
        """Who a token speaks for; None where it opens nothing."""
        try:
            claims = self._claims(text)
        except (JoseError, ValueError, KeyError, TypeError):
            return None
        if claims is None:
            return None
        scopes = frozenset(str(claims.get("scope", "")).split()) & SCOPES.keys()
        name = f"token {str(claims.get('sub', ''))[:80]}"
        sites, sources = _named(claims, "mcw_sites"), _named(claims, "mcw_sources")
        if sites == {"*"}:
            return Caller(name, scopes, None, sources or None)
        return Caller(name, scopes, sites, sources)

    def _claims(self, text: str) -> dict[str, Any] | None:
        registry = jwt.JWTClaimsRegistry(
            leeway=_LEEWAY_SECONDS,
            iss={"essential": True, "value": self._issuer},
            aud={"essential": True, "value": self._audience},
            exp={"essential": True},
            sub={"essential": True},
        )
        for fresh in (False, True):
            keys = self._key_set(fresh)
            if keys is None:
                continue
            try:
                token = jwt.decode(text, keys, algorithms=list(ALGORITHMS))
            except (JoseError, ValueError):
                if fresh:
                    raise
                continue
            registry.validate(token.claims)
            return dict(token.claims)
        return None

    def _key_set(self, fresh: bool) -> KeySet | None:
        with self._lock:
            due = time.monotonic() - self._read_at >= _AGAIN_SECONDS
            if (self._keys is None or fresh) and due:
                self._read_at = time.monotonic()
                try:
                    self._keys = KeySet.import_key_set(json.loads(self._read()))
                except (OSError, ValueError, JoseError, httpx.HTTPError):
                    return self._keys
            return self._keys

    def _read(self) -> str:
        if not self._place.startswith("https://"):
            return Path(self._place).read_text(encoding="utf-8")
        answer = httpx.get(self._place, timeout=_FETCH_SECONDS, follow_redirects=False)
        answer.raise_for_status()
        if len(answer.content) > _MOST_BYTES:
            raise ValueError("a key set of that size is none")
        return answer.text


def _named(claims: dict[str, Any], name: str) -> frozenset[str]:
    found = claims.get(name, [])
    return frozenset(str(one) for one in found) if isinstance(found, list) else frozenset()
