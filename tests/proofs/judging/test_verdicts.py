"""The proof's own reckoning: it can tell a find from luck, and a false alert from a true one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ingest_examples.large.truth import Row
from tests.proofs.judging.figures import Rate, false_lines, found_lines, last_lines, poisson_upper
from tests.proofs.judging.prove import count_tests
from tests.proofs.judging.verdicts import (
    DAY,
    YEAR,
    Planted,
    Seen,
    Verdict,
    judge_machine,
    planted_in,
)

_FAILING = Planted("P-1", "online", 0, 400 * DAY, "unbalance", "linear", 95 * DAY, 100 * DAY,
                   200 * DAY, True)  # fmt: skip
_SOUND = Planted("P-2", "online", 0, 400 * DAY)


def _verdict(planted: Planted, **days: str) -> Verdict:
    """What a machine came to whose level was judged on some days, given as d10='alert'."""
    return judge_machine(
        planted, [Seen(int(d[1:]) * DAY, lv, "severity") for d, lv in days.items()]
    )


def test_an_alert_between_first_showing_and_failure_is_a_find() -> None:
    verdict = _verdict(_FAILING, d50="normal", d120="watch", d150="alert", d190="danger")
    assert verdict.alerted == 150 * DAY
    assert verdict.watched == 120 * DAY
    assert verdict.warning_days(verdict.alerted) == 50
    assert verdict.false_alerts == ()


def test_no_alert_or_one_after_the_failure_is_none() -> None:
    for days in ({"d150": "watch"}, {"d210": "alert"}, {"d150": "unknown"}):
        verdict = _verdict(_FAILING, d50="normal", **days)
        assert verdict.alerted is None
        assert verdict.warning_days(verdict.alerted) == 0
        assert verdict.false_alerts == ()


def test_an_alert_that_stood_before_is_luck_and_false() -> None:
    verdict = _verdict(_FAILING, d50="alert", d120="alert", d190="alert")
    assert verdict.alerted is None
    assert len(verdict.false_alerts) == 1


def test_luck_becomes_a_find_when_the_level_rises_or_comes_again() -> None:
    assert _verdict(_FAILING, d50="alert", d120="danger").alerted == 120 * DAY
    again = _verdict(_FAILING, d50="alert", d120="normal", d150="alert")
    assert again.alerted == 150 * DAY
    assert len(again.false_alerts) == 1


def test_every_alert_of_a_sound_machine_is_false_and_unknown_does_not_part_two() -> None:
    verdict = _verdict(
        _SOUND, d10="alert", d20="unknown", d30="danger", d40="normal", d50="alert", d60="watch"
    )
    assert [(e.begins // DAY, e.worst) for e in verdict.false_alerts] == [(10, 3), (50, 2)]
    assert verdict.alerted is None
    assert verdict.sound_seconds == 400 * DAY


def test_a_failing_machine_counts_as_sound_until_its_damage_begins() -> None:
    assert _verdict(_FAILING).sound_seconds == 95 * DAY
    sudden = replace(_FAILING, kind="sudden-failure", visible=None, detectable=False)
    verdict = _verdict(sudden, d150="alert", d190="normal")
    assert verdict.sound_seconds == 200 * DAY
    assert len(verdict.false_alerts) == 1
    assert verdict.alerted is None


@pytest.mark.parametrize(
    ("count", "upper"), [(0, 2.996), (1, 4.744), (2, 6.296), (5, 10.513), (10, 16.962)]
)
def test_poisson_bound_agrees_with_published_tables(count: int, upper: float) -> None:
    """One-sided 95 % limits as tabled for counts in Biometrika 28 (1936) 437-442."""
    assert poisson_upper(count) == pytest.approx(upper, abs=5e-4)


def test_two_hundred_years_without_a_false_alert_prove_less_than_two_per_hundred() -> None:
    rate = Rate(0, 200.0)
    assert rate.per_hundred == 0
    assert rate.upper == pytest.approx(1.498, abs=1e-3)


def test_the_last_lines_count_what_they_say() -> None:
    verdicts = [_verdict(_FAILING, d150="alert"), _verdict(_FAILING), _verdict(_SOUND, d9="alert")]
    years = (95 + 95 + 400) * DAY / YEAR
    rate = f"{100 / years:.1f} (upper {100 * poisson_upper(1) / years:.1f})"
    assert last_lines(7, 8, verdicts) == [
        f"outside 7/8  found 1/2  false alerts per 100 machine-years {rate}",
        "on invented data; says nothing of your plant",
    ]


def test_a_false_alert_is_told_with_what_disturbed_the_machine() -> None:
    rows = [
        Row("machine", "P-2", "batch", "online", "1970-01-01T00:00:00Z", "1971-02-05T00:00:00Z"),
        Row("disturbance", "P-2", "cavitation", "online", "1970-01-09T00:00:00Z",
            "1970-01-10T00:00:00Z"),
    ]  # fmt: skip
    verdict = _verdict(_SOUND, d9="alert", d20="normal", d100="alert")
    text = "\n".join(false_lines([verdict], rows))
    assert "cavitation 1" in text
    assert "batch, undisturbed 1" in text
    assert planted_in(rows) == [replace(_SOUND, ends=400 * DAY)]


def test_found_is_told_by_type_law_pace_and_method() -> None:
    verdicts = [_verdict(_FAILING, d150="alert"), _verdict(replace(_FAILING, method="route"))]
    lines = [" ".join(line.split()) for line in found_lines(verdicts)]
    assert "all 1/2 5 25 1/2 5 25" in lines
    assert "unbalance, online 1/1 50 50 1/1 50 50" in lines
    assert "unbalance, route 0/1 0 0 0/1 0 0" in lines
    assert any(line.startswith("45-120 d, online 1/1") for line in lines)


@pytest.mark.parametrize(
    ("told", "counted"),
    [
        ("....\n205 passed in 21.1s\n", (205, 205)),
        ("F...\n1 failed, 204 passed, 2 skipped in 1.00s (0:00:01)\n", (204, 207)),
        ("no tests ran in 0.01s\n", (0, 0)),
    ],
)
def test_what_the_checks_say_is_counted(told: str, counted: tuple[int, int]) -> None:
    assert count_tests(told) == counted
