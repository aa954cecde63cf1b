"""Signatures of what is told: the headers of Standard Webhooks, symmetric (`v1`, HMAC-SHA256)."""

from __future__ import annotations

import base64
import hmac
import secrets
from collections.abc import Sequence

_PREFIX = "whsec_"
_BYTES = 32


def new_secret() -> str:
    """A secret as a receiver is given it: 256 random bits."""
    return _PREFIX + base64.b64encode(secrets.token_bytes(_BYTES)).decode()


def signed_headers(
    known: Sequence[str], message: str, timestamp: int, body: bytes
) -> dict[str, str]:
    """Headers of a message; one signature for each secret that is known, newest first.

    `timestamp`: seconds since 1970, of this attempt.
    """
    told = f"{message}.{timestamp}.".encode() + body
    signatures = [
        base64.b64encode(hmac.digest(_key(secret), told, "sha256")).decode() for secret in known
    ]
    return {
        "webhook-id": message,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(f"v1,{one}" for one in signatures),
    }


def _key(secret: str) -> bytes:
    return base64.b64decode(secret.removeprefix(_PREFIX), validate=True)
