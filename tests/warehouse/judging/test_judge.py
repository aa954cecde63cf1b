"""From evidence to a level: freshness, standstill, doubt, coverage, changes."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

import pytest

from schemas.codes import COVERAGE, LEVEL
from schemas.tables.conditions import BASIS, CONDITION_CURRENT, CONDITION_LOG
from tests.warehouse.views.plant import AS_OF, Plant
from warehouse.judging import judge, worked_out
from warehouse.judging.advice import next_step
from warehouse.views import sql_files

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
_HIGH: dict[str, Any] = {"quantity": "acceleration", "band": "1000-10000Hz"}
PUMP: dict[str, Any] = {"scope": "point", "position": "pump-de", "axis": "horizontal"}


def _healthy(value: float = 1.0) -> Plant:
    return Plant().train().read(value).read(1.0, position="motor-de")


def test_tables_are_as_described() -> None:
    judged = _healthy().judged()
    assert judged.conditions.schema.equals(CONDITION_CURRENT.arrow)
    assert judged.changes.schema.equals(CONDITION_LOG.arrow)
    for row in judged.conditions.to_pylist():
        assert row["level"] in LEVEL
        assert row["basis"] in BASIS
        assert row["coverage"] in COVERAGE
        assert row["reason"].endswith(".")
        assert "protection" in row["caution"]


def test_empty_plant_gives_empty_tables() -> None:
    judged = Plant().judged()
    assert (judged.conditions.num_rows, judged.changes.num_rows) == (0, 0)


@pytest.mark.parametrize(
    ("value", "zone", "level"),
    [(3.2, "A", "normal"), (5.1, "B", "normal"), (8.5, "C", "alert"), (8.6, "D", "danger")],
)
def test_level_table(value: float, zone: str, level: str) -> None:
    row = _healthy(value).condition()
    assert (row["zone"], row["level"], row["coverage"]) == (zone, level, "normal")


def test_an_asset_carries_the_evidence_of_its_worst_point() -> None:
    row = _healthy(6.0).condition()
    assert (row["evidence_position"], row["evidence_axis"]) == ("pump-de", "horizontal")
    assert (row["limit_set"], row["limit_verified"]) == ("iso-10816-7-2009", True)
    assert (row["value"], row["unit"], row["boundary_b_c"]) == (6.0, "mm/s", 5.1)
    assert "6.00 mm/s" in row["reason"]
    assert (row["measured_points"], row["judgeable_points"]) == (2, 2)
    assert row["blind_to"].startswith("velocity only")


def test_silence_is_never_green() -> None:
    plant = _healthy(6.0)
    stale = AS_OF - HOUR + timedelta(hours=72)
    assert plant.condition(as_of=stale - timedelta(seconds=1))["level"] == "alert"
    row = plant.condition(as_of=stale)
    assert (row["level"], row["basis"]) == ("unknown", "no-fresh-reading")
    assert (row["last_level"], row["zone"], row["since"]) == ("alert", None, stale.date())


def test_a_silent_danger_outranks_a_healthy_neighbour() -> None:
    plant = Plant().train().read(9.0, ago=4 * DAY).read(1.0, position="motor-de")
    plant.read(1.0, axis="vertical")
    for row in (plant.condition("asset"), plant.condition("member", member="pump")):
        assert (row["level"], row["last_level"]) == ("unknown", "danger")


def test_a_fresh_route_reading_answers_a_silent_sensor_at_the_same_point() -> None:
    plant = Plant().train().read(9.0, ago=4 * DAY).read(1.0, method="route")
    assert plant.condition(**PUMP)["level"] == "normal"


def test_a_stopped_machine_holds_its_level_and_is_not_healthy_by_being_quiet() -> None:
    plant = Plant().train()
    for hours in (30, 29, 28):
        plant.speed(1480.0, ago=hours * HOUR).read(6.0, ago=hours * HOUR)
    for hours in (3, 2, 1):
        plant.speed(0.0, ago=hours * HOUR).read(0.05, ago=hours * HOUR)
    row = plant.condition(**PUMP)
    assert (row["level"], row["zone"], row["basis"], row["value"]) == ("alert", "C", "stopped", 6.0)
    assert row["stale_after"] == AS_OF - HOUR + timedelta(hours=72)
    assert "Stopped since 2026-03-01 09:00 UTC" in row["reason"]


def test_a_stopped_machine_never_judged_is_unknown() -> None:
    plant = Plant().train().speed(0.0).read(0.05)
    row = plant.condition(**PUMP)
    assert (row["level"], row["basis"], row["last_level"]) == ("unknown", "stopped", None)


def test_stopped_or_loose_cannot_tell() -> None:
    plant = Plant().train().daily([2.5] * 10, last_days_ago=1)
    plant.read(0.05, ago=3 * HOUR).read(0.05, ago=2 * HOUR)
    assert plant.condition(**PUMP)["level"] == "normal"  # two odd readings do not decide
    row = plant.read(0.05).condition(**PUMP)
    assert (row["level"], row["basis"]) == ("unknown", "stopped-or-loose")
    assert row["last_level"] == "normal"
    assert "cannot tell" in row["distrust"]


def test_a_loose_sensor_does_not_clear_an_alert() -> None:
    plant = Plant().train().daily([6.0] * 10, last_days_ago=1)
    for hours in (3, 2, 1):
        plant.read(0.05, ago=hours * HOUR)
    row = plant.condition(**PUMP)
    assert (row["level"], row["distrust"] is None) == ("alert", False)


@pytest.mark.parametrize(
    ("value", "quality", "reason", "basis"),
    [
        (9.0, "suspect", "provisional-mounting", "distrusted"),
        (1.0, "suspect", "implausible", "distrusted"),
        (9.0, "suspect", "implausible", "verify"),  # in zone D if it were true
        (None, "bad", "over-range", "verify"),
    ],
)
def test_distrusted_readings_are_not_judged(
    value: float | None, quality: str, reason: str, basis: str
) -> None:
    row = Plant().train().read(value, quality=quality, reason=reason).condition(**PUMP)
    assert (row["level"], row["basis"], row["zone"]) == ("unknown", basis, None)
    assert "erify" in row["next_step"] or basis == "distrusted"


def test_a_reading_to_be_verified_is_not_lost_among_healthy_neighbours() -> None:
    plant = _healthy().read(None, axis="vertical", quality="bad", reason="over-range")
    row = plant.condition()
    assert (row["level"], row["basis"], row["evidence_axis"]) == ("unknown", "verify", "vertical")
    assert "beyond the measuring range: verify" in row["reason"]


def test_one_sensor_never_makes_a_train_green() -> None:
    row = Plant().train().read(1.0).condition()
    assert (row["level"], row["basis"], row["coverage"]) == (
        "unknown", "partial-coverage", "partial",
    )  # fmt: skip
    assert "motor" in row["reason"]
    assert Plant().train().read(6.0).condition()["level"] == "alert"


def test_axial_alone_is_partial() -> None:
    plant = Plant().train().read(1.0, axis="axial").point("P-101", "pump", "pump-nde")
    assert plant.condition("member", member="pump")["coverage"] == "partial"


def test_an_unjudged_member_is_listed_and_never_green() -> None:
    plant = _healthy()
    plant.entities["members"][0] |= {"rated_power_kw": 11.0, "shaft_height_mm": 132.0}
    motor = plant.condition("member", member="motor")
    assert (motor["level"], motor["basis"]) == ("unknown", "unjudged")
    asset = plant.condition()
    assert (asset["level"], asset["basis"]) == ("unknown", "unjudged")
    assert "motor (not judged)" in asset["reason"]
    assert (
        " motor: Velocity 1.00 mm/s rms at motor-de horizontal is not judged: " in asset["reason"]
    )


def test_high_frequency_change_raises_a_normal_point_and_never_to_danger() -> None:
    plant = _healthy().daily([1.0] * 33 + [50.0] * 3, **_HIGH)
    row = plant.condition(**PUMP)
    assert (row["level"], row["basis"], row["quantity"]) == ("alert", "hf-change", "acceleration")
    assert row["blind_to"] is None


def test_registered_points_and_machines_without_readings_are_listed() -> None:
    plant = Plant().train().add(
        "mountings", device="d", channel="1", site="s1", asset="P-101", position="pump-de",
        axis="vertical", mounted_from=AS_OF - DAY,
    )  # fmt: skip
    point = plant.condition("point", position="pump-de")
    assert (point["level"], point["basis"]) == ("unknown", "never-measured")
    assert plant.condition("member", member="motor")["basis"] == "no-points"
    assert plant.condition()["coverage"] == "none"


def test_a_point_whose_sensor_was_taken_off_says_so() -> None:
    def plant(**more: Any) -> Plant:
        place = {"channel": "1", "site": "s1", "asset": "P-101", "position": "pump-de",
                 "axis": "horizontal"}  # fmt: skip
        made = Plant().train().read(1.0, ago=20 * DAY)
        made.add("mountings", device="d", mounted_from=AS_OF - 30 * DAY,
                 mounted_to=AS_OF - 10 * DAY, **place)  # fmt: skip
        return made.add("mountings", device="e", **place, **more) if more else made

    words = "its sensor was taken off at 2026-02-19 12:00 UTC and none is there now"
    assert words in plant().condition(**PUMP)["reason"]
    replaced = plant(mounted_from=AS_OF - 9 * DAY).condition(**PUMP)
    assert replaced["basis"] == "no-fresh-reading"
    assert "taken off" not in replaced["reason"]


def test_removed_assets_and_stations_have_no_condition() -> None:
    assert Plant().train(service_state="removed").read(1.0).judged().conditions.num_rows == 0
    plant = Plant().train()
    plant.entities["members"] = [
        {"site": "s1", "asset": "P-101", "member": name, "role": "station",
         "equipment_class": "environment"} for name in ("motor", "pump")
    ]  # fmt: skip
    assert plant.read(1.0).judged().conditions.num_rows == 0


def test_a_laid_up_machine_keeps_its_level() -> None:
    plant = Plant().train(service_state="laid-up").read(6.0, ago=90 * DAY)
    row = plant.condition(**PUMP)
    assert (row["level"], row["basis"]) == ("alert", "laid-up")


def test_same_inputs_same_answer_and_nothing_left_on_the_connection() -> None:
    connection = _healthy(6.0).base()
    with worked_out(connection):
        first = judge(connection, None, AS_OF, 1)
        second = judge(connection, None, AS_OF, 1)
    assert first.conditions.equals(second.conditions)
    assert first.changes.equals(second.changes)
    assert connection.table("duckdb_tables").filter("temporary").fetchall() == []


def test_order_of_rows_in_the_store_does_not_matter() -> None:
    plant = _healthy(6.0).daily([2.0, 3.0, 4.0], axis="vertical")
    first = plant.judged()
    plant.readings.reverse()
    assert plant.judged().conditions.equals(first.conditions)


def test_changes_are_numbered_and_only_changes() -> None:
    first = _healthy(1.0).judged(next_seq=7)
    assert first.changes["seq"].to_pylist() == list(range(7, 7 + first.conditions.num_rows))
    later = AS_OF + HOUR
    same = _healthy(1.1).judged(first.conditions, as_of=later, next_seq=20)
    assert same.changes.num_rows == 0
    worse = _healthy(6.0).judged(first.conditions, as_of=later, next_seq=20)
    found = [
        (row["seq"], row["scope"], row["level_from"], row["level_to"], row["zone_to"])
        for row in worse.changes.to_pylist()
    ]
    assert found == [
        (20, "asset", "normal", "alert", "C"),
        (21, "member", "normal", "alert", "C"),
        (22, "point", "normal", "alert", "C"),
    ]


def test_last_level_and_since_come_from_before_where_the_data_do_not_tell() -> None:
    healthy = _healthy(6.0)
    first = healthy.judged()
    gone = Plant().train()
    second = gone.judged(first.conditions, as_of=AS_OF + DAY)
    (asset,) = [row for row in second.conditions.to_pylist() if row["scope"] == "asset"]
    assert (asset["level"], asset["last_level"]) == ("unknown", "alert")
    assert asset["since"] == date(2026, 3, 2)
    third = gone.judged(second.conditions, as_of=AS_OF + 2 * DAY)
    (asset,) = [row for row in third.conditions.to_pylist() if row["scope"] == "asset"]
    assert (asset["last_level"], asset["since"]) == ("alert", date(2026, 3, 2))


def test_as_of_without_a_time_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        judge(Plant().base(), None, AS_OF.replace(tzinfo=None), 1)


def test_every_basis_has_a_next_step_for_every_level() -> None:
    for basis in BASIS:
        for level in LEVEL:
            assert next_step(basis, level)
    with pytest.raises(KeyError):
        next_step("severity", "purple")


def test_every_basis_the_views_give_is_in_the_code_list() -> None:
    (ranked,) = [file.text for file in sql_files() if file.name == "basis_rank"]
    assert set(re.findall(r"'([a-z-]+)'", ranked)) | {"partial-coverage"} == set(BASIS)


_EVERY_STEP = [
    next_step(basis, level, criticality)
    for basis in BASIS
    for level in LEVEL
    for criticality in (None, "A")
]


def test_no_step_leads_past_a_guard_or_to_work_without_isolation_and_permit() -> None:
    for text in _EVERY_STEP:
        if re.search(r"(?i)\b(plan work|any work|before it|standstill)", text):
            assert "isolation and permit" in text, text
        if re.search(r"(?i)\b(inspect while running|check (the|lubrication))", text):
            assert "without passing a guard" in text, text
        assert not re.search(r"(?i)remove|open the guard|reach in|bypass", text)
        assert "{" not in text


def test_criticality_a_halves_the_time_to_respond_and_no_other_lengthens_it() -> None:
    for level, ordinary, critical in (
        ("danger", "within 24 hours", "within 12 hours"),
        ("alert", "within 7 days; if confirmed, plan work within 30 days",
         "within 3 days; if confirmed, plan work within 15 days"),
        ("watch", "within 30 days", "within 15 days"),
    ):  # fmt: skip
        assert critical in next_step("severity", level, "A")
        for other in (None, "B", "C"):
            assert ordinary in next_step("severity", level, other)


def test_the_criticality_of_the_asset_counts() -> None:
    plant = _healthy(9.0)
    assert "within 24 hours" in plant.condition()["next_step"]
    plant.entities["assets"][0]["criticality"] = "A"
    for scope in ("asset", "point"):
        place = {} if scope == "asset" else PUMP
        assert "within 12 hours" in plant.condition(**{"scope": scope} | place)["next_step"]


_BLIND = "blind to gear teeth and early bearing wear"


@pytest.mark.parametrize(
    ("also", "blind"),
    [
        ([], f"velocity only: {_BLIND}"),
        ([1.0], f"high frequency has no baseline to be compared with: {_BLIND}"),
        ([1.0] * 36, None),
        ([1.0] * 33 + [3.0] * 3, None),  # it governs, beside a healthy velocity
    ],
)
def test_what_a_point_is_blind_to_beside_high_frequency(
    also: list[float], blind: str | None
) -> None:
    row = _healthy().daily(also, **_HIGH).condition(**PUMP)
    assert row["blind_to"] == blind


def test_high_frequency_that_is_old_doubted_or_narrow_sees_nothing() -> None:
    velocity_only = f"velocity only: {_BLIND}"
    old = _healthy().daily([1.0] * 36, last_days_ago=4, **_HIGH)
    assert old.condition(**PUMP)["blind_to"] == velocity_only
    doubted = _healthy().daily([1.0] * 36, last_days_ago=4, **_HIGH)
    doubted.read(1.0, quality="suspect", reason="implausible", **_HIGH)
    assert doubted.condition(**PUMP)["blind_to"] == velocity_only
    narrow = _healthy().daily([1.0] * 36, quantity="acceleration", band="10-1000Hz")
    assert narrow.condition(**PUMP)["blind_to"] == velocity_only
    alone = Plant().train().daily([1.0] * 36, **_HIGH).condition(**PUMP)
    assert alone["blind_to"] == "acceleration only: no zone can be given"


def test_a_machine_says_which_of_its_points_are_blind() -> None:
    plant = _healthy().daily([1.0] * 36, **_HIGH).point("P-101", "pump", "pump-nde")
    plant.read(1.0, position="pump-nde")
    row = plant.condition("member", member="pump")
    assert row["blind_to"] == f"pump-nde: velocity only: {_BLIND}"


def test_evidence_of_a_change_comes_with_its_baseline_and_boundaries() -> None:
    plant = _healthy().daily([1.0] * 33 + [3.0] * 3, **_HIGH)
    for row in (plant.condition(**PUMP), plant.condition("member", member="pump")):
        found = [row[name] for name in ("baseline", "boundary_watch", "boundary_alert")]
        assert found == [1.0, 2.0, 4.0]
        assert (row["value"], row["unit"], row["evidence_member"]) == (3.0, "m/s2", "pump")


def test_a_doubt_beside_the_evidence_is_told_on_the_machine_too() -> None:
    plant = _healthy(6.0).read(1.0, axis="vertical", quality="suspect", reason="implausible")
    row = plant.condition()
    assert (row["level"], row["evidence_axis"]) == ("alert", "horizontal")
    assert row["distrust"] == "pump-de vertical: the latest velocity is marked implausible"
