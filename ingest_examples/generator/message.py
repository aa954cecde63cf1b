"""One message of a wireless sensor, how gateways write it, and how files of them count."""

from __future__ import annotations

import json
from dataclasses import dataclass

from ingest_examples.generator.clock import iso
from ingest_examples.generator.package import Package

VALUES_A_MESSAGE = 11


@dataclass(frozen=True, slots=True)
class Message:
    """One message: texts of the values, when measured and when delivered, how it ends.

    `outcome` is `accepted` or the reject reason of all its values; `lost` counts the
    values among them whose channel is not registered.
    """

    device: str
    counter: int
    time: int
    delivered: int
    axes: tuple[tuple[str, str, str], ...]
    temperature: str
    battery: int
    outcome: str
    lost: int = 0


Parts = list[tuple[Package, list[Message]]]
"""The files of one source, each with the messages it holds."""


def _document_record(m: Message) -> str:
    axes = ",".join(
        f'"{name}":{{"a":{a},"v":{v},"k":{k}}}'
        for name, (a, v, k) in zip("xyz", m.axes, strict=True)
    )
    return (
        f'{{"dev":"{m.device}","n":{m.counter},"t":"{iso(m.time)}",{axes},'
        f'"temp":{m.temperature},"batt":{m.battery}}}'
    )


def _line_record(m: Message) -> str:
    axes = ",".join(
        f'"{name}":{{"g":{a},"ips":{v},"kurt":{k}}}'
        for name, (a, v, k) in zip("xyz", m.axes, strict=True)
    )
    return (
        f'{{"node":"{m.device}","msg":{m.counter},"ts":{m.time},"axes":{{{axes}}},'
        f'"tempF":{m.temperature},"bat":{m.battery}}}'
    )


def document(exported: int, rows: list[Message]) -> bytes:
    """One JSON document with an envelope that states units and export time."""
    head = {
        "about": "invented example data",
        "exported": iso(exported),
        "units": {"a": "g", "v": "ips", "k": "-", "temp": "F", "batt": "%"},
        "bands": {"a": "10-5000Hz", "v": "10-1000Hz"},
    }
    body = ",\n".join(_document_record(m) for m in rows)
    return (json.dumps(head)[:-1] + ', "messages": [\n' + body + "\n]}\n").encode()


def lines(_exported: int, rows: list[Message]) -> bytes:
    """One JSON document a line, as buffered."""
    return "".join(_line_record(m) + "\n" for m in rows).encode()


def count(parts: Parts, values: int = VALUES_A_MESSAGE) -> None:
    """Fill the counts of one source's packages in their order of arrival."""
    seen: set[tuple[str, int]] = set()
    for package, rows in sorted(parts, key=lambda p: p[0].arrival):
        for m in rows:
            key = (m.device, m.counter)
            if m.outcome == "accepted":
                package.counts["duplicate" if key in seen else "accepted"] += values - m.lost
                if m.lost:
                    package.counts["unknown-channel"] += m.lost
                seen.add(key)
            else:
                package.counts[m.outcome] += values
