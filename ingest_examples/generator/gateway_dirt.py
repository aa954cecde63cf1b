"""Dirt in the gateways' files, as in life; each piece is stated in the truth table."""

from __future__ import annotations

from dataclasses import replace

from ingest_examples.generator.clock import DAY, Period, iso
from ingest_examples.generator.message import Message, Parts, count, document
from ingest_examples.generator.package import Output, Package, Truth

_GARBAGE = (
    b"#!! radio buffer reset\n",
    b'{"node":"70b3-0c1??","msg":\n',
    b"\xff\xfe\x7f--\n",
)


def late(period: Period, site: str, source: str, rows: list[Message], out: Output) -> list[Message]:
    """One sensor loses its radio link for two days and delivers them later, newest first."""
    device = "WV-31E9" if source == "raw-water-gateway" else "70b3-0c23"
    begin, end = period.at(0.37), period.at(0.37 + 2 / 90)
    held = [m for m in rows if m.device == device and begin <= m.time < end]
    moved = {m.counter: replace(m, delivered=end + DAY + 600 - 5 * i) for i, m in enumerate(held)}
    out.truth.append(Truth(
        "late-messages", "accepted, out of order",
        "radio link lost; the buffer arrives a day after, newest first", site, source=source,
        device=device, begin=iso(begin), end=iso(end), count=len(held),
    ))  # fmt: skip
    return [moved.get(m.counter, m) if m.device == device else m for m in rows]


def spoil_documents(
    period: Period, site: str, source: str, parts: Parts, rows: list[Message], out: Output
) -> None:
    """A document cut off and sent again whole, a dead clock, a non-number, a correction."""
    _cut_and_sent_again(source, site, parts, out)
    middle = parts[len(parts) * 2 // 3]
    _spoil_clock_and_number(site, source, middle, out)
    _correction(period, site, source, rows, parts, out)


def _cut_and_sent_again(source: str, site: str, parts: Parts, out: Output) -> None:
    """Cut one week's document off; the whole of it comes three days later, under a new name.

    The complete messages before the break can be read; the rest is one undecodable item.
    """
    at = len(parts) // 3
    package, rows = parts[at]
    whole = Package(
        package.file.replace("_week.", "_week_sent_again."),
        package.mapping, package.arrival + 3 * DAY, package.content, note="late",
    )  # fmt: skip
    end_of_message = b"},\n"
    last = package.content.rindex(end_of_message, 0, len(package.content) * 3 // 5)
    cut = replace(package, content=package.content[: last + len(end_of_message) + 50])
    complete = cut.content.count(end_of_message)
    parts[at : at + 1] = [(cut, rows[:complete]), (whole, rows)]
    count(parts)
    cut.counts["undecodable"] += 1
    out.truth.append(Truth(
        "truncated-document", "undecodable", "the document breaks off; it is sent again whole",
        site, source=source, file=cut.file, count=1,
    ))  # fmt: skip


def _spoil_clock_and_number(
    site: str, source: str, part: tuple[Package, list[Message]], out: Output
) -> None:
    """One message with a reset clock, one value that is a word."""
    package, rows = part
    last = max(m.delivered for m in rows)
    sound = [m for m in rows if m.outcome == "accepted" and not m.lost]
    alone = [m for m in sound if m.time < last - DAY - 3600]
    reset, word = alone[-1], alone[-2]
    text = package.content.decode()
    text = text.replace(f'"n":{reset.counter},"t":"{iso(reset.time)}"',
                        f'"n":{reset.counter},"t":"1970-01-01T00:03:20Z"')  # fmt: skip
    old = f'"t":"{iso(word.time)}","x":{{"a":{word.axes[0][0]},'
    assert old in text
    package.content = text.replace(old, f'"t":"{iso(word.time)}","x":{{"a":"err",').encode()
    package.counts["accepted"] -= 12
    package.counts["time-out-of-range"] += 11
    package.counts["bad-number"] += 1
    out.truth += [
        Truth("reset-clock", "time-out-of-range", "device clock fell back to 1970", site,
              source=source, device=reset.device, file=package.file, begin=iso(reset.time),
              count=11),
        Truth("word-for-number", "bad-number", "acceleration of x is the text err", site,
              source=source, device=word.device, file=package.file, begin=iso(word.time), count=1),
    ]  # fmt: skip


def _correction(
    period: Period,
    site: str,
    source: str,
    rows: list[Message],
    parts: Parts,
    out: Output,
) -> None:
    """A later export of one sensor with its temperatures corrected by -1.8 degF."""
    begin, end = period.at(0.2), period.at(0.26)
    fixed = [
        replace(m, temperature=f"{float(m.temperature) - 1.8:.1f}")
        for m in rows
        if m.device == "WV-31D2" and begin <= m.time < end
    ]
    arrival = period.at(0.8)
    package = Package(
        f"{site}/{source}/corrected_WV-31D2.json", f"{source}.toml", arrival,
        document(arrival - 60, fixed), note="correction",
    )  # fmt: skip
    package.counts.update({"revised": len(fixed), "duplicate": 10 * len(fixed)})
    parts.append((package, []))
    out.truth.append(Truth(
        "correction", "revised", "temperatures sent again 1.8 degF lower; all else is equal",
        site, source=source, device="WV-31D2", file=package.file, begin=iso(begin), end=iso(end),
        count=len(fixed),
    ))  # fmt: skip


def spoil_lines(site: str, source: str, parts: Parts, out: Output) -> None:
    """Garbage lines, a cut last line, and one week that arrives nine days late."""
    late_at = len(parts) // 2
    parts[late_at][0].arrival += 9 * DAY
    parts[late_at][0].note = "late"
    count(parts)
    out.truth.append(Truth("late-package", "accepted", "arrives nine days late", site,
                           source=source, file=parts[late_at][0].file))  # fmt: skip
    garbled = parts[1 % len(parts)][0]
    body = garbled.content.splitlines(keepends=True)
    for i, junk in enumerate(_GARBAGE):
        body.insert(len(body) * (i + 1) // (len(_GARBAGE) + 1), junk)
    garbled.content = b"".join(body)
    garbled.counts["undecodable"] += len(_GARBAGE)
    out.truth.append(Truth("garbage-lines", "undecodable", "lines that are no JSON", site,
                           source=source, file=garbled.file, count=len(_GARBAGE)))  # fmt: skip
    _cut_last_line(site, source, parts, out)


def _cut_last_line(site: str, source: str, parts: Parts, out: Output) -> None:
    """The last line of one export breaks off; the overlap of the next brings it whole."""
    at = min(3, len(parts) - 1)
    package, rows = parts[at]
    if not rows:
        return
    package.content = package.content[:-60]
    parts[at] = (package, rows[:-1])
    for p, _ in parts:
        kept = p.counts["undecodable"]
        p.counts.clear()
        p.counts["undecodable"] = kept
    count(parts)
    package.counts["undecodable"] += 1
    out.truth.append(Truth("truncated-line", "undecodable", "the last line breaks off", site,
                           source=source, file=package.file, count=1))  # fmt: skip
