"""Signatures are those of the standard's own library."""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path
from typing import Any

import pytest
from standardwebhooks.webhooks import Webhook, WebhookVerificationError

from warehouse.push.envelope import event
from warehouse.push.signing import new_secret, signed_headers


@pytest.fixture(name="now")
def _now() -> dt.datetime:
    """The moment of the test, not of the collection: receivers refuse what is five minutes old."""
    return dt.datetime.now(dt.UTC)


def _event(now: dt.datetime) -> bytes:
    data = {"level": "alert", "reason": "5.1 mm/s über 4.5"}
    return event("inbox", "case", 31, "opened", "raw-water/P-104/pump", now, data).body


def test_the_standards_own_library_takes_them(now: dt.datetime) -> None:
    secret, body = new_secret(), _event(now)
    headers = signed_headers([secret], "inbox.case.31", int(now.timestamp()), body)
    assert Webhook(secret).verify(body, headers) == json.loads(body)
    with pytest.raises(WebhookVerificationError):
        Webhook(secret).verify(body + b" ", headers)
    with pytest.raises(WebhookVerificationError):
        Webhook(new_secret()).verify(body, headers)
    with pytest.raises(WebhookVerificationError):
        Webhook(secret).verify(body, {**headers, "webhook-id": "inbox.case.32"})
    same = Webhook(secret).sign("inbox.case.31", now.replace(microsecond=0), body.decode())
    assert headers["webhook-signature"] == same


def test_during_an_overlap_old_and_new_secrets_verify(now: dt.datetime) -> None:
    secrets, body = [new_secret(), new_secret()], _event(now)
    headers = signed_headers(secrets, "x", int(now.timestamp()), body)
    assert headers["webhook-signature"].count("v1,") == 2
    for secret in secrets:
        Webhook(secret).verify(body, headers)


def test_the_receiver_of_the_guide_checks_them(now: dt.datetime) -> None:
    guide = (Path(__file__).parents[3] / "docs" / "push.md").read_text(encoding="utf-8")
    (text,) = re.findall(r"(?ms)^```python\n(.*?)^```", guide)
    shown: dict[str, Any] = {}
    exec(text, shown)
    secrets, body, sent = [new_secret(), new_secret()], _event(now), int(now.timestamp())
    headers = signed_headers(secrets, "x", sent, body)
    assert all(shown["is_genuine"](one, headers, body) for one in secrets)
    assert not shown["is_genuine"](new_secret(), headers, body)
    assert not shown["is_genuine"](secrets[0], headers, body + b" ")
    assert not shown["is_genuine"](secrets[0], signed_headers(secrets, "x", sent - 400, body), body)


def test_secrets_are_random_and_long_enough() -> None:
    made = {new_secret() for _ in range(50)}
    assert len(made) == 50
    assert all(one.startswith("whsec_") and len(one) == 50 for one in made)


def test_what_is_told_is_a_cloud_event(now: dt.datetime) -> None:
    told = json.loads(_event(now))
    assert told["specversion"] == "1.0"
    assert (told["type"], told["subject"]) == ("mcw.case.opened", "raw-water/P-104/pump")
    assert told["source"] == "urn:uuid:inbox"
    assert told["datacontenttype"] == "application/json"
    assert dt.datetime.fromisoformat(told["time"]) == now
    later = json.loads(event("inbox", "case", 200, "opened", "x", now, {}).body)
    assert later["sequence"] > told["sequence"]
    assert later["id"] != told["id"]
