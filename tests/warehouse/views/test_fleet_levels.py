"""Bad actors, shares of levels, and rates of alarms, against hand-counted rows.

That each of them is empty for an empty store stands in `test_loader.py`.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.warehouse.views.fleet_history import one, rows, told
from tests.warehouse.views.plant import AS_OF, Plant, Row

DAY = timedelta(days=1)


def _hours(plant: Plant, asset: str, days: int, running: int) -> Plant:
    """A reading every hour of so many days until AS_OF; of each day's the first ones run."""
    for hour in range(24 * days):
        ago = timedelta(hours=24 * days - hour)
        runs = (AS_OF - ago).hour < running
        plant.speed(1480.0 if runs else 0.0, ago=ago, asset=asset)
        plant.read(1.0, ago=ago, asset=asset)
    return plant


def test_a_day_ran_as_long_as_its_readings_say() -> None:
    plant = _hours(Plant().train("P-1").train("P-2"), "P-1", 3, running=12)
    plant.read(1.0, asset="P-2").read(1.0, ago=2 * DAY, asset="P-2", method="route")
    plant.read(60.0, asset="P-1", quantity="temperature", detector="value", band=None, axis=None)
    found = {(row["asset"], row["day"].day): row for row in rows(plant, "asset_days")}
    assert found["P-1", 27]["running_share"] == pytest.approx(0.5)
    # readings without proof of running, and a route's, say nothing of how long it ran
    assert found["P-2", 1]["running_share"] is None
    assert (found["P-2", 1]["judged"], found["P-2", 1]["visited"]) == (True, False)
    assert (found["P-2", 27]["judged"], found["P-2", 27]["visited"]) == (False, True)


def test_hours_in_alarm_are_running_hours_where_they_are_known() -> None:
    plant = _hours(Plant().train("P-1").train("P-2").train("P-3"), "P-1", 4, running=12)
    for asset in ("P-1", "P-2"):
        told(plant, asset, (20, "normal"), (3.5, "alert"), (2.5, "danger"), (1.5, "normal"))
    told(plant, "P-3", (20, "normal"))
    proven = one(plant, "alarm_hours", asset="P-1")
    assert proven["alert_hours"] == pytest.approx(12)
    assert proven["danger_hours"] == pytest.approx(12)
    assert proven["unproven_hours"] == pytest.approx(0)
    calendar = one(plant, "alarm_hours", asset="P-2")
    assert [calendar[name] for name in ("alert_hours", "danger_hours", "unproven_hours")] == [
        pytest.approx(24), pytest.approx(24), pytest.approx(48),
    ]  # fmt: skip
    assert rows(plant, "alarm_hours", asset="P-3") == []


def _troubled() -> Plant:
    """P-1 (C) had the most trouble, P-2 (A) half of it; P-3 had none, P-4 was hardly seen."""
    plant = Plant()
    for asset, criticality in (("P-1", "C"), ("P-2", "A"), ("P-3", "B"), ("P-4", "A")):
        plant.train(asset, criticality=criticality)
        if asset != "P-4":
            plant.daily([1.0] * 10, asset=asset)
    told(
        plant, "P-1", (90, "normal"), (60, "alert"), (58, "normal"), (40, "danger"), (38, "normal")
    )
    told(plant, "P-2", (90, "normal"), (50, "alert"), (48, "normal"))
    told(plant, "P-3", (90, "unknown"), (80, "normal"))
    told(plant, "P-4", (90, "danger"))
    for days in (70, 20):
        plant.worked("bearing", days, asset="P-1", member="pump", failure="functional",
                     as_found="VIB", down_hours=10.0, cost=100.0)  # fmt: skip
    plant.worked("bearing", 20, asset="P-2", member="pump", failure="functional",
                 as_found="VIB", down_hours=10.0, cost=100.0)  # fmt: skip
    return plant


def test_hours_down_by_plan_make_no_bad_actor() -> None:
    plant = _troubled()
    for told_of in (
        {"type": "scheduled", "failure": "none", "down_hours": 400.0},
        {"type": "corrective", "failure": "potential", "down_hours": 9.0},
        {"down_hours": 4.0},
    ):
        plant.worked("bearing", 4, "P-3", **told_of)
    plant.worked("bearing", 2, "P-2", type="corrective", down_hours=3.0)
    found = {row["asset"]: row for row in rows(plant, "bad_actors")}
    assert (found["P-3"]["score"], found["P-3"]["down_hours"]) == (0, None)
    assert found["P-2"]["down_hours"] == 13.0, "whether function was lost is not told"


def test_bad_actors_are_ranked_by_their_share_of_the_trouble() -> None:
    found = rows(_troubled(), "bad_actors")
    assert [row["asset"] for row in found] == ["P-1", "P-2", "P-3", "P-4"]
    first, second, third, unseen = found
    assert [row["rank"] for row in found] == [1, 2, 3, None]
    assert [row["weighted_rank"] for row in found] == [2, 1, 3, None]
    # two of three entries, 4 of 6 days, failures, hours down and cost; the only repeat
    assert first["score"] == pytest.approx((5 * 2 / 3 + 1) / 6)
    assert second["score"] == pytest.approx((5 * 1 / 3 + 0) / 6)
    assert (second["weight"], second["weighted_score"]) == (3, pytest.approx(5 / 6))
    assert (first["into_alert"], first["into_danger"], first["repeats"]) == (1, 1, 1)
    assert (first["failures"], first["down_hours"], first["cost"]) == (2, 20.0, 200.0)
    assert (first["alert_hours"], first["danger_hours"]) == (pytest.approx(48), pytest.approx(48))
    assert first["time_base"] == "calendar"
    assert (third["score"], third["time_base"]) == (0, None)
    assert {row["n"] for row in found} == {3}
    assert (unseen["enough"], unseen["reason"], unseen["into_danger"]) == (
        False, "too-little-seen", 1,
    )  # fmt: skip


def test_three_visits_are_enough_and_two_are_not() -> None:
    plant = Plant()
    for asset, visits in (("P-1", 3), ("P-2", 2)):
        plant.train(asset)
        for visit in range(visits):
            plant.read(1.0, ago=30 * visit * DAY + DAY, asset=asset, method="route")
    found = {row["asset"]: row for row in rows(plant, "bad_actors")}
    assert (found["P-1"]["visits"], found["P-1"]["enough"]) == (3, True)
    assert (found["P-2"]["visits"], found["P-2"]["enough"]) == (2, False)
    assert (found["P-1"]["rank"], found["P-1"]["reason"]) == (None, "no-trouble")


def test_window_and_machines_are_chosen_before_anything_is_ranked() -> None:
    plant = _troubled()
    plant.variables = {"fleet_from": AS_OF - 55 * DAY, "fleet_to": AS_OF - 39 * DAY,
                       "fleet_criticalities": ["A", "C"]}  # fmt: skip
    found = {row["asset"]: row for row in rows(plant, "bad_actors")}
    assert set(found) == {"P-1", "P-2", "P-4"}
    assert (found["P-1"]["into_alert"], found["P-1"]["into_danger"]) == (0, 1)
    assert found["P-1"]["danger_hours"] == pytest.approx(24)
    assert (found["P-2"]["into_alert"], found["P-2"]["failures"]) == (1, 0)
    assert found["P-1"]["window_to"] == AS_OF - 39 * DAY
    plant.variables = {"fleet_classes": ["fan"]}
    assert rows(plant, "bad_actors") == []


def _judged_twice(plant: Plant) -> list[Row]:
    """Judge three days ago and now, then rank what was told by then."""
    previous, seq = None, 1
    for back in (3, 0):
        judged = plant.judged(previous, AS_OF - back * DAY, seq)
        previous, seq = judged.conditions, seq + judged.changes.num_rows
        plant.log += judged.changes.to_pylist()
    return rows(plant, "bad_actors")


@pytest.mark.slow
def test_more_sensors_on_a_machine_never_mean_a_higher_rank() -> None:
    def plant(copies: int) -> Plant:
        made = Plant().train("P-1", criticality="B").train("P-2", criticality="A")
        for asset, values in (("P-1", [6.0] * 6), ("P-2", [1.0] * 3 + [9.0] * 3)):
            for position in ("motor-de", "pump-de"):
                made.daily(values, asset=asset, position=position)
            for copy in range(copies if asset == "P-2" else 0):
                made.point(asset, "pump", f"pump-nde{copy}")
                made.daily(values, asset=asset, position=f"pump-nde{copy}")
                made.daily(values, asset=asset, position=f"pump-nde{copy}", axis="vertical")
        return made

    plain, copied = _judged_twice(plant(0)), _judged_twice(plant(2))
    assert [(row["asset"], row["rank"]) for row in plain] == [("P-1", 1), ("P-2", 2)]
    assert plain[1]["into_danger"] == 1
    assert [row | {"seen_hours": pytest.approx(row["seen_hours"])} for row in plain] == copied


def test_shares_of_time_leave_the_unknown_apart() -> None:
    plant = Plant().train("P-1").train("P-2")
    told(plant, "P-1", (13, "normal"), (3, "alert"))
    told(plant, "P-2", (13, "normal"), (5, "unknown"))
    # weeks begin on Monday: AS_OF is Sunday noon, 6.5 days after the last Monday began
    week = {row["grade"]: row for row in rows(plant, "zone_share", kind="level")
            if row["week"].isoformat() == "2026-02-23"}  # fmt: skip
    assert {name: round(row["hours"] / 24, 3) for name, row in week.items()} == {
        "normal": 3.5 + 1.5, "alert": 3.0, "unknown": 5.0,
    }  # fmt: skip
    assert (week["alert"]["share"], week["unknown"]["share"]) == (pytest.approx(3 / 8), None)
    assert week["unknown"]["share_of_all"] == pytest.approx(5 / 13)
    zones = {row["grade"]: row["share"] for row in rows(plant, "zone_share", kind="zone")
             if row["week"].isoformat() == "2026-02-23"}  # fmt: skip
    assert zones == {"C": pytest.approx(3 / 8), "none": pytest.approx(5 / 8), "unknown": None}


def test_a_week_is_the_week_of_the_site() -> None:
    plant = Plant().add("sites", site="s1", name="One", time_zone="Asia/Tokyo").train("P-1")
    told(plant, "P-1", (30, "normal"))
    # Monday 00:00 in Tokyo is Sunday 15:00 UTC, three hours after AS_OF
    plant.variables = {"fleet_from": AS_OF - 7 * DAY - timedelta(hours=12)}
    found = {row["week"].isoformat(): row["hours"] for row in rows(plant, "level_weeks")}
    assert found == {"2026-02-16": pytest.approx(15), "2026-02-23": pytest.approx(165)}


def test_alarms_a_week_and_hundred_machines() -> None:
    plant = Plant().train("P-1").train("P-2").train("P-3")
    told(plant, "P-1", (30, "normal"), (5, "alert"), (4, "danger"), (3, "unknown"), (2, "danger"))
    told(plant, "P-2", (30, "watch"), (1, "watch"))
    told(plant, "P-3", (6, "unknown"), (4, "danger"))
    found = one(plant, "alarm_rate", week=(AS_OF - 6 * DAY).date())
    # the same danger behind a gap is not a second alarm; a danger found is no change
    assert (found["into_alert"], found["into_danger"], found["found"]) == (1, 1, 1)
    weeks = (5.5 + 6.5 + 4) / 7
    assert (found["machines"], found["machine_weeks"]) == (3, pytest.approx(weeks))
    assert found["per_hundred"] == pytest.approx(100 * 2 / weeks)


def test_what_was_told_at_the_moment_judged_for_counts() -> None:
    plant = told(Plant().train("P-1"), "P-1", (3, "normal"), (0, "alert"))
    assert one(plant, "alarm_rate", into_alert=1)["site"] == "s1"


def test_what_comes_back_within_90_days_is_counted_once_each_time() -> None:
    plant = Plant().train("P-1")
    told(plant, "P-1", (300, "normal"), (290, "alert"), (280, "normal"), (150, "alert"),
         (140, "danger"), (130, "normal"), (61, "alert"), scope="member")  # fmt: skip
    for days, mode in ((200, "VIB"), (111, "VIB"), (20, "VIB"), (10, "UNK"), (5, "UNK")):
        plant.worked("bearing", days, asset="P-1", member="pump", failure="functional",
                     as_found=mode)  # fmt: skip
    found = [(row["kind"], row["what"], (AS_OF - row["happened_at"]).days)
             for row in rows(plant, "recurrences")]  # fmt: skip
    assert found == [("alarm", "severity", 61), ("failure", "VIB", 111)]


def test_a_machine_that_was_removed_stands_at_its_last_level_no_longer() -> None:
    plant = told(Plant().train("P-1"), "P-1", (5, "normal"))
    gone = {"service_state": "removed", "service_from": AS_OF - 3 * DAY}
    plant.entities["assets"][0] |= gone
    assert sum(row["hours"] for row in rows(plant, "level_weeks")) == pytest.approx(48)
    assert rows(plant, "bad_actors") == []
