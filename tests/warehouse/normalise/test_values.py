"""Numbers as sources print them: forms, digits, blanks, marks, takes, places. Invented data."""

from __future__ import annotations

import pytest

from tests.warehouse.normalise.small import TEMPERATURE, Taken, mapping_text, take


def _numbers(*texts: str, values: str = "", unit: str = "mm/s") -> Taken:
    lines = "".join(f"2025-06-01T10:00:{n:02d};{text}\n" for n, text in enumerate(texts))
    mapping = mapping_text(file='delimiter = ";"', values=values, unit=f'"{unit}"')
    return take("t;v\n" + lines, mapping)


@pytest.mark.parametrize(
    ("text", "value", "resolution"),
    [
        ("2.50", 2.5, 0.01),
        ("2.5", 2.5, 0.1),
        ("2", 2.0, 1.0),
        ("2.", 2.0, 1.0),
        (".5", 0.5, 0.1),
        ("+2.5", 2.5, 0.1),
        ("007", 7.0, 1.0),
        ("1e3", 1000.0, 1000.0),
        ("2.50E-1", 0.25, 0.001),
        ("1.5e+2", 150.0, 10.0),
        (" 2.5 ", 2.5, 0.1),
    ],
)
def test_number_forms_and_their_last_digit(text: str, value: float, resolution: float) -> None:
    found = _numbers(text)
    assert found.values == [value], found.rejects
    assert found.readings[0]["resolution"] == pytest.approx(resolution, rel=1e-12)
    assert found.readings[0]["source_value"] is None


@pytest.mark.parametrize(
    "text",
    [
        *("1,5", "1'000", "1 000", "1,000.5", "1_000", "0x1F", "1e999", "1.2.3"),
        *("NaN", "nan", "inf", "-Infinity", "--", "2.5 mm/s", "true", "½", "٣"),
    ],
)
def test_what_is_no_number(text: str) -> None:
    found = _numbers(text)
    assert found.counts.rejected_by_reason == {"bad-number": 1}
    assert found.rejects[0]["raw"] == text


@pytest.mark.parametrize(("text", "value"), [("2,50", 2.5), (",5", 0.5), ("2", 2.0), ("1,5E1", 15)])
def test_decimal_comma(text: str, value: float) -> None:
    assert _numbers(text, values='decimal = ","').values == [value]


@pytest.mark.parametrize("text", ["2.5", "1.000,5", "1,000,5"])
def test_point_and_thousands_are_refused_where_the_mark_is_a_comma(text: str) -> None:
    found = _numbers(text, values='decimal = ","')
    assert found.counts.rejected_by_reason == {"bad-number": 1}
    assert "decimal mark ','" in found.rejects[0]["detail"]


@pytest.mark.parametrize(
    ("decimal", "thousands", "text", "value", "resolution"),
    [
        (",", ".", "1.200,00", 1200.0, 0.01),
        (",", ".", "+1.234.567,5", 1234567.5, 0.1),
        (",", ".", "1200,00", 1200.0, 0.01),
        (",", ".", "1.200", 1200.0, 1),
        (".", ",", "1,200.50", 1200.5, 0.01),
        (".", ",", "2.5", 2.5, 0.1),
        (",", " ", "1 200,5", 1200.5, 0.1),
        (",", " ", "1\u202f200,5", 1200.5, 0.1),
        (".", " ", "1\u00a0200", 1200.0, 1),
        (".", "'", "1'200.5", 1200.5, 0.1),
        (".", "'", "1\u2019200.5", 1200.5, 0.1),
    ],
)
def test_marks_between_thousands(
    decimal: str, thousands: str, text: str, value: float, resolution: float
) -> None:
    values = f'decimal = "{decimal}"\nthousands = "{thousands}"'
    found = _numbers(text, values=values)
    assert found.values == [value]
    assert found.readings[0]["resolution"] == pytest.approx(resolution)


@pytest.mark.parametrize(
    "text", ["1.2", "1.20,5", "1200.500", "1.2000", ".200", "1,200.5", "1.200,5,1"]
)
def test_thousands_that_are_no_three_digits_are_refused(text: str) -> None:
    found = _numbers(text, values='decimal = ","\nthousands = "."')
    assert found.counts.rejected_by_reason == {"bad-number": 1}
    assert "decimal mark ',' and '.' between thousands" in found.rejects[0]["detail"]


def test_resolution_is_a_difference_without_the_offset() -> None:
    mapping = mapping_text(**TEMPERATURE | {"unit": '"[degF]"'})
    found = take("t,v\n2025-06-01T10:00:00,95.0\n", mapping)
    assert found.values == [pytest.approx(35.0)]
    assert found.readings[0]["resolution"] == pytest.approx(0.1 / 1.8)


def test_blanks_are_counted_apart_and_are_no_rejects() -> None:
    found = _numbers("", "--", "2.5", " ", values='null = ["", "--"]')
    assert (found.counts.items, found.counts.accepted, found.counts.blank) == (1, 1, 3)
    assert not found.rejects


def test_blank_that_is_not_declared_is_no_number() -> None:
    found = _numbers("", "--", values='null = ["--"]')
    assert (found.counts.blank, found.counts.rejected_by_reason) == (1, {"bad-number": 1})


def test_over_range_is_a_bad_reading_without_a_number() -> None:
    found = _numbers("OL", "2.5", values='over_range = ["OL", "9999"]')
    first, second = found.readings
    assert (first["value"], first["source_value"], first["resolution"]) == (None, None, None)
    assert (first["quality"], first["reason"]) == ("bad", "over-range")
    assert (second["quality"], second["reason"]) == ("good", None)
    assert _numbers("9999", values='over_range = ["9999"]').values == [None]


def test_provisional_mounting_is_suspect() -> None:
    found = take("t,v\n2025-06-01T10:00:00,1\n", mapping_text(channel='"2"'))
    (row,) = found.readings
    assert (row["quality"], row["reason"]) == ("suspect", "provisional-mounting")
    assert (row["position"], row["axis"]) == ("motor-nde", "vertical")


def test_mounting_holds_half_open() -> None:
    times = ["2019-12-31T23:59:59", "2020-01-01T00:00:00", "2020-01-31T23:59:59"]
    times.append("2020-02-01T00:00:00")
    payload = "t,v\n" + "".join(f"{time},1\n" for time in times)
    found = take(payload, mapping_text(device='"E"'))
    assert [row["row"] for row in found.readings] == [3, 4]
    assert found.counts.rejected_by_reason == {"not-mounted": 2}


def test_words_are_trimmed_translated_and_kept_where_not_listed() -> None:
    unit = '{ from = "u", map = { "ips" = "[in_i]/s" } }'
    payload = "t,v,u\n2025-06-01T10:00:00,1, ips \n2025-06-01T10:00:01,2,mm/s\n"
    found = take(payload, mapping_text(unit=unit))
    assert found.values == [25.4, 2.0]
    assert [row["source_unit"] for row in found.readings] == ["[in_i]/s", "mm/s"]
    assert {row["unit"] for row in found.readings} == {"mm/s"}


def test_measure_says_more_than_the_record() -> None:
    measures = (
        '[[measure]]\nfrom = "v"\n[[measure]]\nfrom = "w"\nchannel = "2"\nunit = "[in_i]/s"\n'
    )
    found = take("t,v,w\n2025-06-01T10:00:00,1,1\n", mapping_text(measures=measures))
    assert [(row["row"], row["channel"], row["value"]) for row in found.readings] == [
        (3, "1", 1.0),
        (4, "2", 25.4),
    ]


ROUTE = {"method": "route", "device": '"M"', "channel": '{ from = "c" }', "route": '"R1"'}


def test_stop_measured_again_on_one_walk_is_a_new_take() -> None:
    time = 'from = "t"\nformat = "%Y-%m-%d"\nzone = "Europe/Vienna"\nclock = "date-only"\n'
    payload = "t,c,v\n2025-06-01,1,2.0\n2025-06-01,2,3.0\n2025-06-01,1,2.0\n2025-06-01,1,2.4\n"
    found = take(payload, mapping_text(time=time + 'precision = "day"', **ROUTE))
    assert [(row["channel"], row["take"], row["value"]) for row in found.readings] == [
        ("1", 0, 2.0),
        ("2", 0, 3.0),
        ("1", 1, 2.0),
        ("1", 2, 2.4),
    ]


def test_refused_value_takes_no_take() -> None:
    payload = "t,c,v\n2025-06-01T10:00:00,1,x\n2025-06-01T10:00:00,1,2\n"
    found = take(payload, mapping_text(**ROUTE))
    assert [(row["take"], row["value"]) for row in found.readings] == [(0, 2.0)]


def test_not_measured_stops_are_counted_with_their_note() -> None:
    said = ROUTE | {"not_measured": '{ from = "n" }', "note": '{ from = "r" }'}
    payload = "t,c,v,n,r\n2025-06-01T10:00:00,1,,no access,\n2025-06-01T10:00:00,2,1,,hums\n"
    found = take(payload, mapping_text(**said))
    assert (found.counts.blank, found.not_measured) == (1, 1)
    assert [row["note"] for row in found.readings] == ["hums"]


def test_stop_and_named_point_give_the_place() -> None:
    stop = take("t,c,v\n2025-06-01T10:00:00,2,1\n", mapping_text(**ROUTE)).readings[0]
    assert (stop["asset"], stop["position"], stop["axis"]) == ("M-1", "motor-nde", None)
    said = {"site": '"works"', "asset": '"M-1"', "position": '"motor-de"', "axis": '"axial"'}
    point = take("t,v\n2025-06-01T10:00:00,1\n", mapping_text(device='"X"', **said)).readings[0]
    assert (point["device"], point["position"], point["axis"]) == ("X", "motor-de", "axial")


def test_temperature_has_no_axis_though_its_mounting_has() -> None:
    found = take("t,v\n2025-06-01T10:00:00,1\n", mapping_text(**TEMPERATURE))
    assert found.readings[0]["axis"] is None


def test_value_no_machine_shows_is_kept_but_suspect() -> None:
    found = _numbers("99999", "1000", "2.5")
    assert [row["quality"] for row in found.readings] == ["suspect", "good", "good"]
    assert found.readings[0]["reason"] == "implausible"
    assert found.values == [99999.0, 1000.0, 2.5]
