"""Charts of what the team noted: they show what the calculators found and kept, and say what they do not know."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bevelbook.browser.drawing import drawn, drawn_masses, sql_rows
from bevelbook.records import BY_NAME
from bevelbook.registry import Registry, load
from bevelbook.reports import mass_chart
from bevelbook.store.opening import new_database, open_for_reading
from bevelbook.store.questions import loss_of, masses_of_diff
from bevelbook.store.writing import Writer
from bevelbook_plugins import leaks

BY_CHART = {chart.name: chart for chart in load().charts()}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[sqlite3.Connection]:
    """A connection to read the invented team's two seasons."""
    from bevelbook.tasks.demo import demo

    path = tmp_path_factory.mktemp("charts-demo") / "demo.db"
    demo(path, registry, None)
    opened = open_for_reading(path)
    yield opened
    opened.close()


def values_of(spec: str | None) -> list[dict[str, Any]]:
    """The rows that stand in the picture."""
    assert spec is not None
    values: list[dict[str, Any]] = json.loads(spec)["data"]["values"]
    return values


def kept(connection: sqlite3.Connection, calculator: str, build: str | None = None) -> dict[str, Any]:
    """What the kept row of a calculator found, for a build by its label where one is given."""
    row = connection.execute(
        "SELECT c.found FROM calculations c LEFT JOIN builds b ON b.id = c.subject_id "
        "WHERE c.calculator = ? AND b.label IS ? ORDER BY c.id LIMIT 1",
        (calculator, build),
    ).fetchone()
    found: dict[str, Any] = json.loads(row[0])
    return found


def _masses_of(connection: sqlite3.Connection, label: str) -> list[dict[str, Any]]:
    diff = connection.execute("SELECT id FROM diffs WHERE label = ?", (label,)).fetchone()[0]
    return values_of(drawn_masses(label, masses_of_diff(connection, diff, 4)).spec)


def test_the_chart_of_a_diff_shows_limits_and_the_kept_date(demo: sqlite3.Connection) -> None:
    """5 and 10 % of 1.86 g are 0.093 and 0.186 g (arithmetic); the date is the one that leak-trend found and kept."""
    values = _masses_of(demo, "rear-b")
    found = kept(demo, "leak-trend", "rear-b/2")
    first = next(row for row in values if row["build_label"] == "rear-b/2")
    assert (first["caution_g"], first["stop_g"], first["stop_whose"]) == (0.093, 0.186, "yours")
    for drawn_name, name in (("", ""), ("_low", "_low"), ("_high", "_high")):
        assert first[f"limit_runs{drawn_name}"] == found[f"runs_to_limit{name}"]
    assert math.isclose(first["limit_g"], 0.186)
    runs = demo.execute("SELECT sum(runs) FROM build_runs JOIN builds ON builds.id = build WHERE label = 'rear-b/2'")
    assert first["opened_runs"] == runs.fetchone()[0]
    at, low, high = (found[f"runs_to_limit{end}"] for end in ("", "_low", "_high"))
    told = f"limit expected at run {at:.1f} ({low:.1f} to {high:.1f})"
    assert first["panel"] == f"rear-b/2, opened at run {first['opened_runs']:g}\n{told}"
    later = [row for row in values if row["build_label"] == "rear-b/2"][1:]
    assert later
    assert all(row["stop_g"] is None and row["limit_runs"] is None for row in later), "once for a build"


def test_without_a_trend_there_is_no_date_and_it_is_said_why(demo: sqlite3.Connection) -> None:
    first = {row["build_label"]: row for row in reversed(_masses_of(demo, "rear-b"))}
    for label in ("rear-b/3", "rear-b/4"):
        count = demo.execute(
            "SELECT json_array_length(c.given, '$.weighings') FROM calculations c JOIN builds b ON b.id = c.subject_id "
            "WHERE c.calculator = 'leak-trend' AND b.label = ?",
            (label,),
        ).fetchone()[0]
        assert count < leaks.POINTS_FOR_A_TREND
        assert first[label]["limit_runs"] is None
        assert first[label]["date_words"] == f"no date: {count} weighings give no trend"


@pytest.mark.parametrize(
    ("found", "told"),
    [
        ({}, "no date: leak-trend was not worked out"),
        ({"runs_to_limit": None, "loss_g_per_run": None}, "no date: 2 weighings give no trend"),
        ({"runs_to_limit": None, "loss_g_per_run": 0.01}, "no date: the trend cannot be told from none"),
        (
            {"runs_to_limit": 120.04, "runs_to_limit_low": 99.04, "runs_to_limit_high": 160.2, "loss_g_per_run": 0.01},
            "limit expected at run 120 (99.0 to 160)",
        ),
    ],
)
def test_a_date_in_words(found: dict[str, Any], told: str) -> None:
    """Constructed."""
    given = {"weighings": [{"runs": 0}, {"runs": 6.0}], "stop_share": 0.1, "oil_mass_g": 1.86}
    rows = _weighed(trend=json.dumps({"given": given, "found": found}) if found else None)
    assert next(mass_chart.drawn_rows(rows))["date_words"] == told
    if found.get("runs_to_limit"):
        own = next(mass_chart.drawn_rows([{**row, "own_share": 0.08} for row in rows]))
        assert own["date_words"] == f"{told}\nthat is for 0.186 g lost", "kept for the proposal, not for this limit"
    if found:
        rows[-1]["runs"] = 9.0
        later = next(mass_chart.drawn_rows(rows))["date_words"]
        assert later == f"{told}\nworked out up to run 6, weighed since"


def _weighed(**more: Any) -> list[dict[str, Any]]:
    """Two masses of one build."""
    of_build = {"build": "x", "build_label": "rear-a/1", "oil_mass_g": 1.86, "own_share": None, "own_g": None}
    row = {**of_build, "trend": None, "opened_runs": None, "mass_basis": "closed", "day": "2026-03-03", **more}
    return [{**row, "runs": 0.0, "mass_g": 22.4}, {**row, "runs": 6.0, "mass_g": 22.3}]


@pytest.mark.parametrize(
    ("more", "limits"),
    [
        ({}, (0.093, 0.186, "proposal")),
        ({"own_share": 0.08}, (0.093, 0.1488, "yours")),
        ({"own_share": 0.2, "own_g": 0.12}, (0.093, 0.12, "yours")),
        ({"own_g": 0.05}, (None, 0.05, "yours")),
        ({"oil_mass_g": None}, (None, None, None)),
        ({"oil_mass_g": None, "own_g": 0.2, "own_share": 0.1}, (None, 0.2, "yours")),
    ],
)
def test_the_nearer_of_the_teams_limits_goes_before_the_proposal(more: dict[str, Any], limits: object) -> None:
    """Shares of 1.86 g (arithmetic)."""
    first = next(mass_chart.drawn_rows(_weighed(**more)))
    assert (first["caution_g"], first["stop_g"], first["stop_whose"]) == limits


def test_names_that_would_lie_upon_each_other_are_one() -> None:
    first = next(mass_chart.drawn_rows(_weighed()))
    assert first["caution_words"] == "look at it: 0.093 g"
    assert first["stop_words"] == "open it (proposal): 0.186 g"
    rows = _weighed()
    rows[-1]["mass_g"] = 21.0
    first = next(mass_chart.drawn_rows(rows))
    assert first["caution_words"] is None
    assert first["stop_words"] == "look at it; open it (proposal)"


def test_two_builds_of_one_label_have_a_panel_each() -> None:
    rows = [*_weighed(), *({**row, "build": "y", "day": "2026-04-03"} for row in _weighed())]
    assert len({row["panel"] for row in mass_chart.drawn_rows(rows)}) == 2


def test_a_limit_of_the_diff_goes_before_one_of_the_team(tmp_path: Path, registry: Registry) -> None:
    """8 and 6 % of 1.86 g are 0.1488 and 0.1116 g (arithmetic); 0 is no limit."""
    opened = new_database(tmp_path / "limits.db")
    opened.execute("BEGIN IMMEDIATE")
    writer = Writer(opened, "ana", lambda: "2026-05-04T10:00:00.000Z")
    for label, own in (("one", 0.06), ("two", 0.0), ("three", None)):
        diff = writer.insert(BY_NAME["diff"], {"label": label})
        masses = {"dry_mass_g": 12.4, "oil_mass_g": 1.86, "closed_mass_g": 22.4}
        build = writer.insert(
            BY_NAME["build"], {"label": f"{label}/1", "diff": diff, "built_on": "2026-03-03", **masses}
        )
        weighing = {"weighed_on": "2026-04-03", "mass_g": 22.3, "mass_basis": "closed", "runs": 6.0}
        writer.insert(BY_NAME["weighing"], {"build": build, **weighing})
        if own is not None:
            writer.insert(BY_NAME["limit"], {"kind": "oil lost as a share", "value": own, "diff": diff})
    writer.insert(BY_NAME["limit"], {"kind": "oil lost as a share", "value": 0.08})
    chart = BY_CHART["mass-lost"]
    of_all = values_of(drawn(chart, registry, sql_rows(opened, chart)).spec)
    for label, stop in (("one", 0.1116), ("two", 0.1488), ("three", 0.1488)):
        of_diff = _masses_of(opened, label)
        assert of_diff[0]["stop_g"] == stop
        same = [row for row in of_all if row["build_label"] == f"{label}/1"]
        assert [{**row, "panel_order": 0} for row in same] == of_diff, "both charts show the same"
    opened.rollback()
    opened.close()


def test_the_chart_of_all_diffs_weighs_on_the_basis_that_the_views_take(
    demo: sqlite3.Connection, registry: Registry
) -> None:
    chart = BY_CHART["mass-lost"]
    values = values_of(drawn(chart, registry, sql_rows(demo, chart)).spec)
    last = {row["build_label"]: row for row in values}
    assert len(last) == demo.execute("SELECT count(*) FROM diffs").fetchone()[0]
    for label, row in last.items():
        build = demo.execute("SELECT id FROM builds WHERE label = ?", (label,)).fetchone()[0]
        loss = loss_of(demo, build)
        assert (row["mass_basis"], row["lost_g"], row["runs"]) == (
            loss["loss_basis"],
            loss["loss_g"],
            loss["last_runs"],
        )


def test_fills_have_the_limits_of_the_calculator(demo: sqlite3.Connection, registry: Registry) -> None:
    chart = BY_CHART["fills"]
    told = drawn(chart, registry, sql_rows(demo, chart))
    values, found = values_of(told.spec), kept(demo, "fill-repeatability")
    for name in ("centre_g", "low_limit_g", "high_limit_g"):
        assert math.isclose(values[0][name], found[name], abs_tol=1e-9)
    assert len(values) == found["fills"] < 20
    assert values[0]["high_words"] == "upper limit,\nprovisional"
    assert f"Limits from {found['fills']} fills are provisional" in told.about
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
    assert chart.told is not None
    few = list(chart.made(_fills(0.0, 0.01, 0.02, 0.0)))
    assert not any(row["high_limit_g"] for row in few)
    assert "Under 5 fills tell nothing" in chart.told(few)
    assert chart.told(few[:1]) == "A spread needs two fills."
    many = list(chart.made(_fills(*([0.0, 0.01] * 10))))
    assert many[0]["high_words"] == "upper limit"
    assert "provisional" not in chart.told(many)


def _in_stacks(connection: sqlite3.Connection, registry: Registry) -> list[dict[str, Any]]:
    chart = BY_CHART["runs-by-grip"]
    return values_of(drawn(chart, registry, sql_rows(connection, chart)).spec)


def test_runs_stand_at_the_viscosity_at_the_diffs_temperature(demo: sqlite3.Connection, registry: Registry) -> None:
    """The kept row of the calculator for viscosity where the diff was measured; else that at 25 °C, and it is said."""
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


def test_a_thick_oil_in_a_hot_diff_stands_by_a_thinner_one_in_a_cold_diff(registry: Registry) -> None:
    """10,000 cSt thins to about 7,100 cSt between 25 and 45 °C by the calculator's law."""
    calculator = registry.calculators["viscosity"].calculator
    hot = calculator.compute(calculator.given(viscosity_cst=10_000.0, temperature_c=45.0)).viscosity_at_temperature_cst
    cold = calculator.compute(calculator.given(viscosity_cst=7_000.0, temperature_c=25.0)).viscosity_at_temperature_cst
    chart = BY_CHART["runs-by-grip"]
    assert chart.made is not None
    row = {"position": "rear", "grip": "low", "call": "keep", "doubtful": "full"}
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
    told = drawn(chart, registry, sql_rows(demo, chart))
    words = {row["doubtful"] for row in values}
    assert words == {"full", "not known to be full", "doubtful", "had lost oil"}, "kept apart in the table"
    hollow = chart.spec["spec"]["encoding"]["fillOpacity"]
    assert hollow == {"condition": {"test": "datum.doubtful === 'full'", "value": 1}, "value": 0}
    assert f"{sum(row['doubtful'] == 'full' for row in values)} full" in told.about


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
    told = [row for row in _in_stacks(demo, registry) if row["off_mean_s"] is not None]
    assert len(told) > 20
    for row in told:
        off = allowed[row["venue"], row["run_on"]]
        assert any(math.isclose(row["off_mean_s"], one, abs_tol=0.0006) for one in off), "rounded to a thousandth"


_OF_A_DAY = """
SELECT r.run_on, r.day_order, NULL AS venue, p.name AS driver, r.best_five_s,
       (SELECT group_concat(b.label) FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.run = r.id) AS builds,
       (SELECT group_concat(w.doubtful) FROM what_worked w WHERE w.run = r.id) AS doubts
FROM runs r JOIN people p ON p.id = r.driver WHERE r.run_on = ? AND r.best_five_s IS NOT NULL ORDER BY r.day_order
"""


def test_the_drift_of_a_driver_is_that_of_the_comparison_of_the_day(demo: sqlite3.Connection) -> None:
    """Two builds in turn, a b b a a b b a: the chart and run-comparison, kept, find one drift with one interval."""
    chart = BY_CHART["day-drift"]
    assert chart.made is not None
    cursor = demo.execute(_OF_A_DAY, ("2026-08-09",))
    names = [column[0] for column in cursor.description]
    rows = [dict(zip(names, row, strict=True)) for row in cursor]
    values = list(chart.made(rows))
    own = [row for row in values if row["driver"] == "bo"]
    comparisons = [
        json.loads(row[0]) for row in demo.execute("SELECT found FROM calculations WHERE calculator = 'run-comparison'")
    ]
    found = min(comparisons, key=lambda one: one["drift_s_per_run"])
    for name in ("drift_s_per_run", "drift_low_s_per_run", "drift_high_s_per_run"):
        assert math.isclose(own[0][name], found[name], abs_tol=1e-9)
    assert own[0]["panel"] == "bo, 8 runs\n0.021 s a run faster (0.011 to 0.031, 95 %)"
    for builds in {row["builds"] for row in own}:
        first, *_, last = [row for row in own if row["builds"] == builds]
        slope = (last["line_s"] - first["line_s"]) / (last["day_order"] - first["day_order"])
        assert math.isclose(slope, found["drift_s_per_run"], abs_tol=1e-4)
    doubted = [row for row in values if row["doubtful"] == "doubtful"]
    assert {row["driver"] for row in doubted} == {"cy"}
    assert all(row["line_s"] is None for row in doubted)
    assert doubted[0]["panel"] == "cy, 0 runs, 3 left out\nno drift told: too few runs that count"
