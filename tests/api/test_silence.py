"""`served_at`: what may still be said when readings stop. Pure, on rows made here."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from schemas.codes import LEVEL
from warehouse.services.serving import Judgement, State, served_at

_NOW = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
_ROLES = {"motor": "driver", "pump": "driven"}
_HOUR = dt.timedelta(hours=1)


def _row(scope: str, level: str, until: dt.datetime | None, **more: Any) -> dict[str, Any]:
    return {
        "scope": scope,
        "level": level,
        "zone": "A",
        "basis": "severity",
        "reason": "Velocity 1.00 mm/s rms is in zone A.",
        "last_level": None,
        "since": dt.date(2026, 1, 1),
        "measured_at": _NOW - 72 * _HOUR,
        "stale_after": until,
        "next_step": "Nothing.",
        "coverage": "normal",
        "measured_points": 1,
        "judgeable_points": 1,
        **more,
    }


def _point(member: str, until: dt.datetime, level: str = "normal", **more: Any) -> dict[str, Any]:
    place = {"member": member, "position": f"{member}-de", "axis": "horizontal"}
    return _row("point", level, until, **{**place, **more})


def _train(
    motor: dt.datetime, pump: dt.datetime, level: str = "normal", until: dt.datetime | None = None
) -> Judgement:
    """A motor and a pump, one measured bearing of two on each; the asset rests on the motor."""
    two = {"judgeable_points": 2}
    return Judgement(
        _row("asset", level, until or motor, member=None, measured_points=2, judgeable_points=4),
        (
            _row("member", level, motor, member="motor", **two),
            _row("member", "normal", pump, member="pump", **two),
        ),
        (_point("motor", motor, level), _point("pump", pump)),
    )


def test_before_the_moment_nothing_changes() -> None:
    judged = _train(_NOW + _HOUR, _NOW + _HOUR)
    assert served_at(judged, _ROLES, _NOW) == judged


@pytest.mark.parametrize("level", [level for level in LEVEL if level != "unknown"])
def test_from_the_moment_on_no_level_holds_and_the_last_is_kept(level: str) -> None:
    for past in (_NOW, _NOW - _HOUR):
        served = served_at(_train(past, past, level), _ROLES, _NOW)
        for row in (served.asset, *served.members[:1], *served.points[:1]):
            assert (row["level"], row["basis"]) == ("unknown", "no-fresh-reading")
            assert (row["last_level"], row["zone"], row["stale"]) == (level, None, True)
            assert row["next_step"] != "Nothing."
            assert row["since"] == past.date()
            assert "2026-02-26 12:00 UTC; last told: Velocity 1.00" in row["reason"]
        assert served.asset["coverage"] == "none"
        assert served.asset["measured_points"] == 0


def test_unknown_stays_as_it_was_judged() -> None:
    row = _row("asset", "unknown", _NOW - _HOUR, basis="band-blind", last_level="watch")
    assert served_at(Judgement(row, (), ()), _ROLES, _NOW).asset == row


def test_a_level_held_without_end_stays() -> None:
    row = _row("asset", "alert", None, basis="laid-up")
    assert served_at(Judgement(row, (), ()), _ROLES, _NOW).asset == row


def test_a_train_of_which_one_machine_fell_silent_is_not_normal() -> None:
    served = served_at(_train(_NOW + _HOUR, _NOW - _HOUR), _ROLES, _NOW)
    assert (served.asset["level"], served.asset["basis"]) == ("unknown", "partial-coverage")
    assert (served.asset["last_level"], served.asset["stale"]) == ("normal", True)
    assert (served.asset["coverage"], served.asset["measured_points"]) == ("partial", 1)
    assert "any more: pump." in served.asset["reason"]
    assert [row["coverage"] for row in served.members] == ["normal", "none"]
    assert [row["level"] for row in served.members] == ["normal", "unknown"]


def test_a_train_still_seen_well_enough_stays_normal() -> None:
    judged = _train(_NOW + _HOUR, _NOW + _HOUR)
    spare = _point("pump", _NOW - _HOUR, position="pump-nde")
    served = served_at(
        Judgement(judged.asset, judged.members, (*judged.points, spare)), _ROLES, _NOW
    )
    assert (served.asset["level"], served.asset["coverage"]) == ("normal", "normal")


def test_an_axial_point_alone_does_not_show_a_machine() -> None:
    judged = _train(_NOW + _HOUR, _NOW - _HOUR)
    axial = _point("pump", _NOW + _HOUR, position="pump-nde", axis="axial")
    served = served_at(
        Judgement(judged.asset, judged.members, (*judged.points, axial)), _ROLES, _NOW
    )
    assert (served.asset["level"], served.members[1]["coverage"]) == ("unknown", "partial")


def test_an_alert_is_not_lost_because_another_point_fell_silent() -> None:
    served = served_at(_train(_NOW + _HOUR, _NOW - _HOUR, "alert"), _ROLES, _NOW)
    assert (served.asset["level"], served.asset["coverage"]) == ("alert", "partial")


def test_coverage_counted_here_agrees_with_the_judge(state: State) -> None:
    """Counting again what the judge counted must give the judge's figures, for every asset."""
    from warehouse.services.silences import _covered_asset, _covered_member

    counted = 0
    for key in state.order:
        judged = state.judgement(key, state.snapshot.as_of)
        if judged is None:
            continue
        members = [_covered_member(row, judged.points) for row in judged.members]
        assert members == list(judged.members)
        assert _covered_asset(judged.asset, members, state.roles[key]) == judged.asset
        counted += 1
    assert counted > 40


def test_the_summary_is_the_asset_row_at_any_moment(state: State) -> None:
    moments = [state.snapshot.as_of + dt.timedelta(hours=hours) for hours in (0, 60, 80, 2000, 70)]
    for now in moments:
        for key in state.order:
            judgement, summary = state.judgement(key, now), state.summary(key, now)
            assert (judgement is None) == (summary is None)
            if judgement and summary:
                assert summary["level"] == judgement.asset["level"]
                assert summary["basis"] == judgement.asset["basis"]
                assert summary["coverage"] == judgement.asset["coverage"]
