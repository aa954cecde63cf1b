"""A plant's own authority, made for a test, and certificates of it."""

from __future__ import annotations

import datetime as dt
import ssl
from dataclasses import dataclass, field
from pathlib import Path

import trustme


@dataclass(frozen=True, slots=True)
class Authority:
    """Its keys exist while the test runs."""

    _ca: trustme.CA = field(default_factory=trustme.CA)

    def file(self, folder: Path) -> Path:
        """Its certificate as a PEM file, as an operator has it."""
        path = folder / "plant-ca.pem"
        self._ca.cert_pem.write_to_path(str(path))
        return path

    def serving(self, *names: str, ended: dt.datetime | None = None) -> ssl.SSLContext:
        """What a server of those names or addresses shows; with `ended` a certificate of old."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        begun = ended - dt.timedelta(days=30) if ended else None
        issued = self._ca.issue_cert(*names, not_before=begun, not_after=ended)
        issued.configure_cert(context)
        return context
