"""Laws that hold for any file: nothing is lost, and what was sent can be had back."""

from __future__ import annotations

from itertools import cycle

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schemas.codes import QUANTITY
from schemas.units import UNITS, Unit, unit_kind
from tests.warehouse.normalise.small import SmallPlant, Taken, mapping_text, small_plant, take

FEW = settings(max_examples=12, deadline=None, derandomize=True)

_QUANTITY_OF_KIND = {unit_kind(quantity, "mean"): quantity for quantity in QUANTITY}


def _what_measures(unit: Unit) -> tuple[str, str]:
    """Quantity and detector of a reading in that unit; a mean may be negative."""
    if unit.kind == "number":
        return "acceleration", "excess-kurtosis"
    return _QUANTITY_OF_KIND[unit.kind], "mean"


def _printed() -> st.SearchStrategy[str]:
    """Numbers as sources print them: fixed digits, or with an exponent."""
    fixed = st.builds(
        lambda number, digits: f"{number / 10**digits:.{digits}f}",
        st.integers(-(10**7), 10**7),
        st.integers(0, 6),
    )
    exponent = st.builds(
        lambda number, power: f"{number / 100:.2f}e{power}",
        st.integers(-999, 999),
        st.integers(-3, 3),
    )
    return st.one_of(fixed, exponent)


def _last_digit(text: str) -> int:
    """Places behind the point of the last digit printed."""
    mantissa, _, power = text.partition("e")
    return len(mantissa.partition(".")[2]) - int(power or 0)


@given(texts=st.lists(_printed(), min_size=len(UNITS), max_size=3 * len(UNITS)))
@settings(FEW)
def test_value_converted_back_and_rounded_is_what_was_sent(texts: list[str]) -> None:
    """Every unit of the table in each file."""
    sent = list(zip(texts, cycle(UNITS.values()), strict=False))
    lines = "".join(
        ",".join(["2025-06-01T10:00:00", str(n), text, unit.code, *_what_measures(unit), "\n"])
        for n, (text, unit) in enumerate(sent)
    )
    said = {name: f'{{ from = "{name}" }}' for name in ("channel", "unit", "quantity", "detector")}
    place = {"site": '"works"', "asset": '"M-1"', "position": '"motor-de"'}
    found = take("t,channel,v,unit,quantity,detector,end\n" + lines, mapping_text(**said, **place))
    assert {row["reason"] for row in found.rejects} <= {"impossible-value"}, found.rejects
    assert len(found.readings) + len(found.rejects) == len(texts)
    for row in found.readings:
        text, unit = sent[row["row"] - 2]
        digits = _last_digit(text)
        assert (row["source_unit"], row["unit"]) == (unit.code, unit.canonical)
        assert row["resolution"] == pytest.approx(unit.factor * 10.0**-digits, rel=1e-9)
        back = row["source_value"]
        if back is None:
            back = round((row["value"] - unit.offset) / unit.factor, digits)
        assert back == float(text), (row, text)


def test_every_kind_of_unit_has_a_quantity() -> None:
    kinds = {unit.kind for unit in UNITS.values()}
    assert kinds == set(_QUANTITY_OF_KIND) | {unit_kind("speed", "kurtosis")}


_TIMES = st.sampled_from(
    [
        "2025-06-01T10:00:00",
        "2025-06-01T10:00:01",
        "2025-03-30T02:30:00",
        "2025-10-26T02:30:00",
        "",
        "soon",
        "1999-01-01T00:00:00",
        "2200-01-01T00:00:00",
    ]
)
_CELLS = st.sampled_from(["1", "1.0", "2.5", "", "--", "OL", "x", "-1", "1e400", '"a"', "ä"])
_CHANNELS = st.sampled_from(["1", "2", "9", ""])
_LINES = st.one_of(
    st.tuples(_TIMES, _CHANNELS, _CELLS, _CELLS).map(",".join),
    st.lists(_CELLS, max_size=6).map(",".join),
)
_CONSERVING = mapping_text(
    time='from = "t"\nzone = "Europe/Vienna"',
    values='null = ["", "--"]\nover_range = ["OL"]',
    channel='{ from = "c" }',
    measures='[[measure]]\nfrom = "v"\n[[measure]]\nfrom = "w"\ndetector = "mean"\n',
)


def _conserved(found: Taken, lines: list[str]) -> None:
    counts = found.counts
    assert counts.items == counts.accounted
    undecodable = counts.rejected_by_reason.get("undecodable", 0)
    decoded = (counts.items - undecodable + counts.blank) // 2
    assert counts.items - undecodable + counts.blank == 2 * decoded, "two values a record"
    assert undecodable + decoded <= len(lines)
    assert undecodable + decoded >= sum(1 for line in lines if line.strip())
    assert counts.rejected == len(found.rejects) == sum(counts.rejected_by_reason.values())
    rows = [row["row"] for row in (*found.readings, *found.rejects)]
    assert len(set(rows)) == len(rows), "an item is a reading or a reject, once"


@given(lines=st.lists(_LINES, max_size=30))
@settings(FEW, max_examples=15)
def test_no_item_of_a_file_is_lost(lines: list[str]) -> None:
    found = take("t,c,v,w\n" + "".join(f"{line}\n" for line in lines), _CONSERVING)
    assert found.counts.accepted == len(found.readings)
    _conserved(found, lines)


def _packages() -> list[list[str]]:
    first = ["2025-06-01T10:00:00,1,1.00,2.0", "2025-06-01T10:00:01,1,x,", "2025-06-01T10:00:02,2"]
    return [
        first,
        [*first, "2025-06-01T10:00:03,1,4,5"],
        ["2025-06-01T10:00:00,1,1.5,2.0", "2025-06-01T10:00:00,1,1.5,2.0"],
        [*first, *first],
    ]


def _take(plant: SmallPlant, number: int, lines: list[str]) -> Taken:
    payload = "t,c,v,w\n" + "".join(f"{line}\n" for line in lines)
    return plant.take(payload, _CONSERVING, f"file-{number}.csv")


def test_what_repeats_and_what_revises_over_packages() -> None:
    with small_plant() as plant:
        found = [_take(plant, number, lines) for number, lines in enumerate(_packages())]
    for package, lines in zip(found, _packages(), strict=True):
        _conserved(package, lines)
        assert len(package.readings) == package.counts.accepted + package.counts.revised
    counts = [package.counts for package in found]
    told = [(c.accepted, c.duplicate, c.revised, c.rejected, c.blank) for c in counts]
    assert told == [
        (2, 0, 0, 2, 1),
        (2, 2, 0, 2, 1),  # two readings again, two new ones
        (0, 3, 1, 0, 0),  # 1.00 becomes 1.5 once; the other three say nothing new
        (0, 3, 1, 4, 2),  # 1.00 again revises 1.5; its copy in the file is a duplicate
    ]


def test_coarser_print_of_the_same_value_is_a_duplicate() -> None:
    with small_plant() as plant:
        plant.take("t,v\n2025-06-01T10:00:00,2.537\n", mapping_text(), "fine.csv")
        coarse = plant.take("t,v\n2025-06-01T10:00:00,2.5\n", mapping_text(), "coarse.csv")
        other = plant.take("t,v\n2025-06-01T10:00:00,2.6\n", mapping_text(), "other.csv")
    assert coarse.counts.duplicate == 1
    assert other.counts.revised == 1, "2.6 printed to a tenth cannot be 2.537"
