"""Charts of fills, runs and the drift of a day: they show what was noted and kept, and say what they do not know."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterator
from typing import Any

import pytest
from constructed import Add, Team
from demo_book import demo_book

from bevelbook.plugin.registry import Registry, load
from bevelbook.reports.day_drift import drift_of_day, drift_of_last_day
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.web.shared.drawing import gathered, sql_rows

BY_CHART = {chart.name: chart for chart in load().charts()}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    """A connection to read the invented team's two seasons."""
    opened = open_for_reading(demo_book(tmp_path_factory.mktemp("charts-demo") / "demo.db"))
    yield opened
    opened.close()


def kept(connection: sqlite3.Connection, calculator: str, build: str | None = None) -> dict[str, Any]:
    """What the kept row of a calculator found, for a build by its label where one is given."""
    row = connection.execute(
        "SELECT c.found FROM calculations c LEFT JOIN builds b ON b.id = c.subject_id "
        "WHERE c.calculator = ? AND b.label IS ? ORDER BY c.id LIMIT 1",
        (calculator, build),
    ).fetchone()
    found: dict[str, Any] = json.loads(row[0])
    return found


def test_fills_have_the_limits_of_the_calculator(demo: sqlite3.Connection, registry: Registry) -> None:
    chart = BY_CHART["fills"]
    summary = gathered(chart, registry, sql_rows(demo, chart))
    values, found = list(summary.rows), kept(demo, "fill-repeatability")
    for name in ("centre_g", "low_limit_g", "high_limit_g"):
        assert math.isclose(values[0][name], found[name], abs_tol=1e-9)
    assert len(values) == found["fills"] < 20
    assert values[0]["high_words"] == "upper limit,\nprovisional"
    assert f"Limits from {found['fills']} fills are provisional" in summary.about
    outside = [row for row in values if row["outside"] == "yes"]
    assert len(outside) == found["outside"] == 1
    low, high = found["low_limit_g"], found["high_limit_g"]
    assert all(low <= row["difference_g"] <= high for row in values if row not in outside)


def _fills(*differences: float) -> list[dict[str, Any]]:
    return [{"build": f"a/{nth}", "person": None, "difference_g": one} for nth, one in enumerate(differences)]


def test_a_few_fills_have_no_limits_and_many_are_not_provisional() -> None:
    """Constructed."""
    chart = BY_CHART["fills"]
    assert chart.made is not None
    assert chart.summary is not None
    few = list(chart.made(_fills(0.0, 0.01, 0.02, 0.0)))
    assert not any(row["high_limit_g"] for row in few)
    assert "Under 5 fills say nothing" in chart.summary(few)
    assert chart.summary(few[:1]) == "A spread needs two fills."
    many = list(chart.made(_fills(*([0.0, 0.01] * 10))))
    assert many[0]["high_words"] == "upper limit"
    assert "provisional" not in chart.summary(many)


def _in_stacks(connection: sqlite3.Connection, registry: Registry) -> list[dict[str, Any]]:
    chart = BY_CHART["runs-by-grip"]
    return list(gathered(chart, registry, sql_rows(connection, chart)).rows)


def test_runs_stand_at_the_viscosity_at_the_diffs_temperature(demo: sqlite3.Connection, registry: Registry) -> None:
    """At the diff's temperature where that was measured; else the viscosity at 25 °C, and it is said."""
    values = _in_stacks(demo, registry)
    asked = demo.execute(
        "SELECT count(*) FROM what_worked WHERE grip > '' AND call > '' AND viscosity_cst > 0"
    ).fetchone()[0]
    assert len(values) == asked
    warm = [row for row in values if row["diff_temp_c"] is not None]
    cold = [row for row in values if row["diff_temp_c"] is None]
    assert min(len(warm), len(cold)) > 10
    for row in warm:
        assert row["run_viscosity_cst"] == row["viscosity_at_diff_temperature_cst"] != row["viscosity_cst"]
        assert row["taken"] == "at the diff's temperature"
        assert row["taken_how"] == f"at the diff's {row['diff_temp_c']:g} °C"
    for row in cold:
        assert row["run_viscosity_cst"] == row["viscosity_cst"], "never from the track's temperature"
        assert row["taken"] == "at 25 °C, label or bottle"
        assert row["taken_how"] == "at 25 °C: the diff was not measured"


def test_a_thick_oil_in_a_hot_diff_is_next_to_a_thinner_one_in_a_cold_diff(registry: Registry) -> None:
    """10,000 cSt thins to about 7,100 cSt between 25 and 45 °C by the calculator's law."""
    calculator = registry.calculators["viscosity"].calculator
    hot = calculator.compute(calculator.given(viscosity_cst=10_000.0, temperature_c=45.0)).viscosity_at_temperature_cst
    cold = calculator.compute(calculator.given(viscosity_cst=7_000.0, temperature_c=25.0)).viscosity_at_temperature_cst
    chart = BY_CHART["runs-by-grip"]
    assert chart.made is not None
    row = {"position": "rear", "grip": "low", "call": "keep", "fill_state": "full"}
    first, second, third = chart.made(
        [
            {**row, "viscosity_cst": 10_000.0, "viscosity_at_diff_temperature_cst": hot, "diff_temp_c": 45.0},
            {**row, "viscosity_cst": 7_000.0, "viscosity_at_diff_temperature_cst": cold, "diff_temp_c": 25.0},
            {**row, "viscosity_cst": 7_000.0, "viscosity_at_diff_temperature_cst": None, "diff_temp_c": 40.0},
        ]
    )
    assert math.isclose(first["run_viscosity_cst"], second["run_viscosity_cst"], rel_tol=0.05)
    assert third["taken_how"] == "at 25 °C: not worked out at 40 °C"


def test_no_run_hides_another_and_doubtful_ones_are_hollow(demo: sqlite3.Connection, registry: Registry) -> None:
    values = _in_stacks(demo, registry)
    places = {(row["panel"], row["call"], row["stack"], round(row["run_viscosity_cst"])) for row in values}
    assert len(places) == len(values)
    assert all(0.0 < row["stack"] < 1.0 for row in values)
    chart = BY_CHART["runs-by-grip"]
    summary = gathered(chart, registry, sql_rows(demo, chart))
    states = {row["fill_state"] for row in values}
    assert states == {"full", "unknown", "doubtful", "lost oil"}, "kept apart in the table"
    hollow = chart.spec["spec"]["encoding"]["fillOpacity"]
    assert hollow == {"condition": {"test": "datum.fill_state === 'full'", "value": 1}, "value": 0}
    assert f"{sum(row['fill_state'] == 'full' for row in values)} full" in summary.about


def test_seconds_are_off_the_mean_of_day_venue_and_driver(demo: sqlite3.Connection, registry: Registry) -> None:
    times = demo.execute(
        "SELECT v.name, r.run_on, r.driver, r.best_five_s FROM runs r JOIN venues v ON v.id = r.venue "
        "WHERE r.best_five_s IS NOT NULL AND r.driver IS NOT NULL"
    ).fetchall()
    sums: dict[tuple[Any, ...], list[float]] = {}
    for *who, seconds in times:
        sums.setdefault(tuple(who), []).append(seconds)
    allowed: dict[tuple[str, str], list[float]] = {}
    for (venue, day, _), group in sums.items():
        if len(group) > 1:
            allowed.setdefault((venue, day), []).extend(one - math.fsum(group) / len(group) for one in group)
    summary = [row for row in _in_stacks(demo, registry) if row["off_mean_s"] is not None]
    assert len(summary) > 20
    for row in summary:
        off = allowed[row["venue"], row["run_on"]]
        assert any(math.isclose(row["off_mean_s"], one, abs_tol=0.0006) for one in off), "rounded to a thousandth"


def test_the_drift_of_a_driver_is_that_of_the_comparison_of_the_day(demo: sqlite3.Connection) -> None:
    """Two builds in turn, a b b a a b b a: the chart and run-comparison, kept, find one drift with one interval."""
    values = drift_of_day(demo, "2026-08-09")
    own = [row for row in values if row["driver"] == "bo"]
    comparisons = [
        json.loads(row[0]) for row in demo.execute("SELECT found FROM calculations WHERE calculator = 'run-comparison'")
    ]
    found = min(comparisons, key=lambda one: one["drift_s_per_run"])
    for name in ("drift_s_per_run", "drift_low_s_per_run", "drift_high_s_per_run"):
        assert math.isclose(own[0][name], found[name], abs_tol=1e-9)
    assert own[0]["panel"] == "bo, 8 runs\n0.021 s a run faster\n(0.011 to 0.031, 95 %)"
    for builds in {row["builds"] for row in own}:
        first, *_, last = [row for row in own if row["builds"] == builds]
        slope = (last["line_s"] - first["line_s"]) / (last["day_order"] - first["day_order"])
        assert math.isclose(slope, found["drift_s_per_run"], abs_tol=1e-4)
    doubted = [row for row in values if row["fill_state"] == "doubtful"]
    assert {row["driver"] for row in doubted} == {"cy"}
    assert all(row["line_s"] is None for row in doubted)
    assert doubted[0]["panel"] == "cy, 0 runs, 3 left out\nno drift shown: too few runs that count"


def test_the_drift_of_a_day_goes_by_the_times_of_day(connection: sqlite3.Connection, add: Add) -> None:
    """Constructed: each run a tenth faster than the one before, written down out of order."""
    team = Team(add)
    build, driver = team.build(), add("person", name="ana")
    for hour, best in ((15, 15.1), (9, 15.4), (13, 15.2), (11, 15.3), (17, 15.0)):
        run = add(
            "run", label=f"at {hour}", run_on="2026-05-04", driver=driver, started_at=f"{hour}:10", best_five_s=best
        )
        add("run_diff", run=run, build=build)
    values = drift_of_last_day(connection)
    assert [(row["day_order"], row["best_five_s"]) for row in values] == [
        (1, 15.4),
        (2, 15.3),
        (3, 15.2),
        (4, 15.1),
        (5, 15.0),
    ]


def test_a_day_of_best_laps_alone_is_drawn_by_them_and_never_mixed(connection: sqlite3.Connection, add: Add) -> None:
    """Constructed: each run a tenth slower than the one before; one run in the middle has a mean of five laps too."""
    team = Team(add)
    build, driver = team.build(), add("person", name="ana")
    for place in range(5):
        five = {"best_five_s": 18.9} if place == 2 else {}
        run = add(
            "run",
            label=f"run {place}",
            run_on="2026-05-04",
            driver=driver,
            started_at=f"{9 + place}:10",
            best_lap_s=18.0 + place / 10,
            **five,
        )
        add("run_diff", run=run, build=build)
    values = drift_of_day(connection, "2026-05-04")
    assert [row["time_s"] for row in values] == pytest.approx([18.0, 18.1, 18.2, 18.3, 18.4])
    assert {row["time"] for row in values} == {"best lap"}
    assert values == drift_of_last_day(connection)
    assert values[0]["panel"].startswith("ana, 5 runs, by best lap\n0.100 s a run slower")
    connection.execute("UPDATE runs SET best_five_s = 19.0 WHERE label IN ('run 0', 'run 4')")
    assert [row["time_s"] for row in drift_of_day(connection, "2026-05-04")] == [19.0, 18.9, 19.0]
