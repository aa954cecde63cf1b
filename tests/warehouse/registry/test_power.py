"""Power in the registry: kilowatts, or mechanical horsepower that says so, and nothing guessed."""

from __future__ import annotations

import pytest

from schemas.tables.registry import MEMBERS
from warehouse.registry.cells import read_cell

(POWER,) = [column for column in MEMBERS.columns if column.name == "rated_power_kw"]


@pytest.mark.parametrize(
    ("text", "kw"),
    [
        ("186.4", 186.4),
        ("1.5e2", 150.0),
        ("186.4 kW", 186.4),
        ("186.4kW", 186.4),
        ("250 hp", 186.424967896),
        ("250hp", 186.424967896),
        ("250 HP", 186.424967896),
        ("250 [HP]", 186.424967896),
    ],
)
def test_a_power_is_read(text: str, kw: float) -> None:
    assert read_cell(POWER, text) == pytest.approx(kw, rel=1e-9)


@pytest.mark.parametrize("text", ["250 PS", "250 CV", "250 W", "hp", "250 hp net", "much", "MW 2"])
def test_another_unit_is_refused_and_the_allowed_ones_told(text: str) -> None:
    with pytest.raises(
        ValueError, match=r"is no power; write kilowatts.* or mechanical horsepower"
    ):
        read_cell(POWER, text)


@pytest.mark.parametrize("text", ["0", "-5 kW", "-0.0 hp"])
def test_a_power_is_above_zero(text: str) -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        read_cell(POWER, text)


@pytest.mark.parametrize("text", ["186,4", "1 2 hp"])
def test_a_number_that_is_none_is_told(text: str) -> None:
    with pytest.raises(ValueError, match=r"is no (number|power)"):
        read_cell(POWER, text)
