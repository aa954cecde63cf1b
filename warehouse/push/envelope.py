"""What is told, as a CloudEvents 1.0 event in structured JSON."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

MEDIA_TYPE: Final = "application/cloudevents+json; charset=utf-8"
STREAMS: Final = {
    "case": "notifications of cases: what the maintenance system is told, each once",
    "level": "changes of level of whole machine trains",
}
"""What one may be told of."""

PING: Final = "ping"
_DIGITS = 19


@dataclass(frozen=True, slots=True)
class Event:
    """Something that is told, to however many."""

    id: str
    type: str
    subject: str
    time: dt.datetime
    body: bytes


def event(
    inbox_id: str, stream: str, number: int, kind: str, subject: str, time: dt.datetime,
    data: Mapping[str, Any],
) -> Event:  # fmt: skip
    """The event of a row of a log. Its id names the inbox, stream and number: it is never reused.

    `sequence` sorts as text: what comes later in a stream has the higher one.
    """
    identity, named = f"{inbox_id}.{stream}.{number}", f"mcw.{stream}.{kind}"
    body = {
        "specversion": "1.0",
        "id": identity,
        "source": f"urn:uuid:{inbox_id}",
        "type": named,
        "subject": subject,
        "time": time.astimezone(dt.UTC).isoformat().replace("+00:00", "Z"),
        "datacontenttype": "application/json",
        "sequence": f"{number:0{_DIGITS}d}",
        "data": data,
    }
    told = json.dumps(body, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Event(identity, named, subject, time, told.encode())
