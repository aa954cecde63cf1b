"""Every reason an item is refused for, produced by a small file, with its detail as it reads."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import datetime

import pytest
import xlsxwriter

from schemas.reasons import REJECT_REASON
from tests.warehouse.normalise.small import TEMPERATURE, Taken, mapping_text, take

LINE = "t,v\n2025-06-01T10:00:00,{}\n"
AT_TIME = "t,v\n{},1\n"
VIENNA = 'from = "t"\nzone = "Europe/Vienna"'
GOOD = LINE.format(1)


def _word(attribute: str, word: str, **attributes: str) -> Taken:
    """One velocity whose attribute is a word of the file."""
    said = {attribute: '{ from = "w" }', **attributes}
    return take(f"t,v,w\n2025-06-01T10:00:00,1,{word}\n", mapping_text(**said))


CASES: dict[str, tuple[Callable[[], Taken], str]] = {
    "undecodable": (
        lambda: take(GOOD + "2025-06-01T10:01:00\n", mapping_text()),
        "expected number of columns: 2 found: 1",
    ),
    "bad-number": (
        lambda: take(LINE.format("2;5"), mapping_text()),
        "value '2;5' is no number with decimal mark '.', nor a declared null or over-range mark",
    ),
    "impossible-value": (
        lambda: take(LINE.format("-0.1"), mapping_text()),
        "value '-0.1' mm/s cannot be for velocity rms",
    ),
    "bad-time": (
        lambda: take(AT_TIME.format("soon"), mapping_text()),
        "time 'soon' is not of the form iso8601",
    ),
    "missing-hour": (
        lambda: take(AT_TIME.format("2025-03-30T02:30:00"), mapping_text(time=VIENNA)),
        "local time '2025-03-30T02:30:00' does not exist in Europe/Vienna",
    ),
    "ambiguous-hour": (
        lambda: take(AT_TIME.format("2025-10-26T02:30:00"), mapping_text(time=VIENNA)),
        "local time '2025-10-26T02:30:00' stands for two instants in Europe/Vienna; "
        "the mapping declares no rule that decides",
    ),
    "time-out-of-range": (
        lambda: take(AT_TIME.format("2026-01-16T12:00:01"), mapping_text()),
        "time '2026-01-16T12:00:01' lies outside 2006-01-15 to 2026-01-16",
    ),
    "unknown-quantity": (
        lambda: _word("quantity", "loudness"),
        "quantity 'loudness' is no code of the open schema",
    ),
    "unknown-detector": (
        lambda: _word("detector", "loudest"),
        "detector 'loudest' is no code of the open schema",
    ),
    "unknown-unit": (
        lambda: _word("unit", "ips"),
        "unit 'ips' is not in the unit table",
    ),
    "unit-mismatch": (
        lambda: _word("unit", "Cel"),
        "unit 'Cel' does not measure velocity rms",
    ),
    "bad-band": (
        lambda: _word("band", "10-1000"),
        "band '10-1000' is not of the form LOW-HIGHHz",
    ),
    "blank-identity": (lambda: _word("device", ""), "device and channel are needed"),
    "unknown-device": (lambda: _word("device", "X"), "device 'X' has no registered mounting"),
    "unknown-channel": (
        lambda: _word("channel", "9"),
        "device 'D' is registered, its channel '9' is not",
    ),
    "unknown-stop": (
        lambda: _word("channel", "9", route='"R1"'),
        "route 'R1' has no registered stop '9'",
    ),
    "unknown-point": (
        lambda: _word("position", "roof", site='"works"', asset='"M-1"', axis='"axial"'),
        "asset 'works/M-1' has no registered point 'roof'",
    ),
    "not-mounted": (
        lambda: _word("device", "E"),
        "device 'E' channel '1' was on no machine at 2025-06-01T10:00:00Z",
    ),
    "date-typed-identity": (
        lambda: take(
            _workbook([["t", "v", "c"], ["2025-06-01T10:00:00", 1, datetime(2025, 6, 15)]]),
            mapping_text(adapter="workbook", channel='{ from = "c" }'),
            "file.xlsx",
        ),
        "column 'c' holds the date 2025-06-15 where a code is expected; format the column as text",
    ),
}


def _workbook(rows: list[list[object]]) -> bytes:
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"default_date_format": "yyyy-mm-dd"}) as book:
        sheet = book.add_worksheet()
        for number, row in enumerate(rows):
            sheet.write_row(number, 0, row)
    return target.getvalue()


_OF_LIMITS = {"other-site"}
"""tests/warehouse/services/test_limited.py has it: it takes a store to be refused for it."""

_OF_EVENTS = {"unknown-machine", "unknown-activity", "bad-code", "impossible-event"}
"""Reasons that only maintenance events and stops have; tests/warehouse/work has their cases."""


def test_every_reason_has_a_case() -> None:
    assert set(CASES) | _OF_EVENTS | _OF_LIMITS == set(REJECT_REASON)


@pytest.mark.parametrize("reason", CASES)
def test_reason_and_its_detail(reason: str) -> None:
    make, detail = CASES[reason]
    found = make()
    assert [(row["reason"], row["detail"]) for row in found.rejects] == [(reason, detail)]
    assert found.counts.rejected_by_reason == {reason: 1}
    assert found.rejects[0]["file"].startswith("file.")
    assert found.rejects[0]["line"] == (3 if reason == "undecodable" else 2)


def test_reject_carries_what_could_be_read() -> None:
    found = take("t,v\n2025-06-01T10:00:00,x\n", mapping_text())
    (row,) = found.rejects
    assert (row["column_name"], row["raw"], row["device"], row["channel"], row["ts_text"]) == (
        "v",
        "x",
        "D",
        "1",
        "2025-06-01T10:00:00",
    )


def test_time_is_the_first_thing_told_then_the_key_then_the_number() -> None:
    wrong = {"unit": '{ from = "v" }'}
    assert take("t,v\nsoon,x\n", mapping_text(**wrong)).rejects[0]["reason"] == "bad-time"
    found = take("t,v\n2025-06-01T10:00:00,x\n", mapping_text(**wrong))
    assert found.rejects[0]["reason"] == "unknown-unit"


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("2006-01-15T12:00:00", True),  # receipt less 7,305 days
        ("2006-01-15T11:59:59", False),
        ("2026-01-16T12:00:00", True),  # receipt and a day
        ("2026-01-16T12:00:01", False),
    ],
)
def test_edges_of_the_time_range(text: str, kept: bool) -> None:
    found = take(AT_TIME.format(text), mapping_text())
    assert (found.counts.accepted, found.counts.rejected) == ((1, 0) if kept else (0, 1))


@pytest.mark.parametrize(
    ("unit", "text", "kept"),
    [
        ("Cel", "-273.15", True),
        ("Cel", "-273.16", False),
        ("K", "0", True),
        ("K", "-0.01", False),
        ("[degF]", "-459.67", True),
        ("[degF]", "-459.7", False),
    ],
)
def test_absolute_zero_is_possible_and_nothing_below(unit: str, text: str, kept: bool) -> None:
    found = take(LINE.format(text), mapping_text(**TEMPERATURE | {"unit": f'"{unit}"'}))
    assert found.counts.accepted == int(kept), found.rejects


@pytest.mark.parametrize(
    ("detector", "refused"),
    [
        ("rms", True),
        ("peak", True),
        ("peak-unspecified", True),
        ("crest-factor", True),
        ("kurtosis", True),
        ("excess-kurtosis", False),
        ("mean", False),
    ],
)
def test_which_detectors_cannot_be_negative(detector: str, refused: bool) -> None:
    unit = "1" if detector in ("crest-factor", "kurtosis", "excess-kurtosis") else "m/s2"
    said = {"quantity": '"acceleration"', "detector": f'"{detector}"', "unit": f'"{unit}"'}
    found = take(LINE.format("-1"), mapping_text(**said))
    assert found.counts.rejected_by_reason == ({"impossible-value": 1} if refused else {})


def test_vibration_without_a_band_is_refused_and_temperature_is_not() -> None:
    said = {"band": '{ from = "w", map = { "none" = "" } }'}
    payload = "t,v,w\n2025-06-01T10:00:00,1,none\n"
    assert take(payload, mapping_text(**said)).rejects[0]["reason"] == "bad-band"
    found = take(payload, mapping_text(**TEMPERATURE | said))
    assert found.readings[0]["band"] is None


def test_a_band_that_ends_below_its_beginning_is_refused() -> None:
    found = _word("band", "1000-10Hz")
    assert found.counts.rejected_by_reason == {"bad-band": 1}
