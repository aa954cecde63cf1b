"""The closed list of checks: what is found is in it and on the page, with its thresholds."""

from __future__ import annotations

import re
from pathlib import Path

from schemas.trust import TRUST_CHECK, TRUST_EFFECT, UNIT_SLIPS
from schemas.units import UNITS
from warehouse.limits import load_limits
from warehouse.views import sql_files

ROOT = Path(__file__).parents[3]
VIEWS = {file.name: file.text for file in sql_files() if file.name.startswith("trust_")}
PAGE = (ROOT / "docs" / "trust.md").read_text(encoding="utf-8")


def test_every_view_finds_checks_of_the_list() -> None:
    named = {
        code
        for text in VIEWS.values()
        for code in re.findall(
            r"'([a-z-]+)' AS check_code|^\s+'([a-z-]+)', (?:NULL|f\.)", text, re.M
        )
        for code in code
        if code
    }
    marks = {"over-range", "implausible", "provisional-mounting"}  # the reading's own
    assert named | marks == set(TRUST_CHECK)


def test_every_effect_is_of_the_list() -> None:
    for name, text in VIEWS.items():
        effects = set(re.findall(r"'(\w+)' AS effect", text))
        assert effects <= set(TRUST_EFFECT), name


def test_every_check_is_described_and_has_a_remedy() -> None:
    for code, check in TRUST_CHECK.items():
        assert f"`{code}`" in PAGE
        assert check.meaning
        assert check.remedy.endswith(".")


_FED = (
    "battery_life",
    "common_causes",
    "is_quiet",
    "saturated_tops",
    "stream_references",
    "temperature_slips",
)
"""Views and macros beside the checks whose thresholds are theirs."""


def _thresholds() -> list[str]:
    """The rows of the page's table, as they must be."""
    used = {
        key
        for file in sql_files()
        if file.name in VIEWS or file.name in _FED
        for key in re.findall(r"setting\('(\w+)'\)", file.text)
    }
    return [
        f"| `{row['key']}` | {row['value']:g}{'' if row['unit'] == '1' else ' ' + row['unit']} "
        f"| {row['reason']} | {row['confidence']} |"
        for row in load_limits()["judging_defaults"].to_pylist()
        if row["key"] in used
    ]


def test_every_threshold_stands_on_the_page_with_its_reason_and_confidence() -> None:
    rows = [line for line in PAGE.splitlines() if re.match(r"\| `[a-z0-9_]+` \| -?[0-9]", line)]
    assert rows == _thresholds()


def test_slips_are_ratios_of_units_of_the_table() -> None:
    """The inch and gravity agree with the unit table, which converts what is declared rightly."""
    factors = {unit.factor for unit in UNITS.values()}
    for slip in UNIT_SLIPS:
        assert any(
            abs(slip.factor / known - 1) < 1e-12 or abs(slip.factor * known - 1) < 1e-12
            for known in factors
        ), slip
