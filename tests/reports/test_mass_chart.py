"""Mass lost over runs: limits and whose they are, the date with its interval, and why there is none.

Records are constructed unless a test names another source. The proposed limits are 5 and 10 % of the oil put in.
"""

from __future__ import annotations

import csv
import math
import sqlite3
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.known import find_subject, known_of
from bevelbook.demo.make import demo as make_demo
from bevelbook.drawing.draw import svg_of
from bevelbook.drawing.looks import ON_PAGE, WIDE
from bevelbook.facts.leak import leaks_of
from bevelbook.plugin.registry import Registry, load
from bevelbook.reports.mass_chart import LAST_BUILDS, LONGEST_NAME, SPEC, last_masses, masses_of_diff
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.web.shared.drawing import all_charts, chart_rows, gathered, masses_chart

REFERENCES = Path(__file__).parent.parent / "references"
CHART = next(chart for chart in all_charts(load()) if chart.name == "mass-lost")
TWICE = ((0.0, 22.4), (6.0, 22.3))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[sqlite3.Connection]:
    """A connection to read the invented team's two seasons."""
    path = tmp_path_factory.mktemp("mass-chart") / "demo.db"
    make_demo(path, registry, None)
    opened = open_for_reading(path)
    yield opened
    opened.close()


def of_diff(connection: sqlite3.Connection, label: str) -> list[dict[str, Any]]:
    diff = connection.execute("SELECT id FROM diffs WHERE label = ?", (label,)).fetchone()[0]
    return list(gathered(masses_chart(label), Registry(), masses_of_diff(connection, diff, 4)).rows)


def of_all(connection: sqlite3.Connection, registry: Registry) -> list[dict[str, Any]]:
    return list(gathered(CHART, registry, chart_rows(connection, CHART)).rows)


def first_of(connection: sqlite3.Connection, team: Team, weighings: Sequence[tuple[float, float]], **build: Any) -> Any:
    """The first row of a build that was weighed so."""
    team.weigh(team.build(**{"oil_mass_g": 1.86, **build}), *weighings)
    return of_diff(connection, team.label)[0]


# The date


def test_the_chart_of_a_diff_shows_limits_and_the_date(demo: sqlite3.Connection, registry: Registry) -> None:
    """5 and 10 % of 1.86 g are 0.093 and 0.186 g (arithmetic); the date is the one that the calculator finds."""
    values = of_diff(demo, "rear-b")
    calculator = registry.calculators["leak-trend"].calculator
    known = known_of(demo, calculator, [find_subject(demo, "build:rear-b/2")])
    found = run(calculator, bind(calculator, {}, known)).found
    first = next(row for row in values if row["build_label"] == "rear-b/2")
    assert (first["caution_g"], first["stop_g"], first["stop_whose"]) == (0.093, 0.186, "yours")
    assert first["limit_runs"] is not None
    for end in ("", "_low", "_high"):
        assert first[f"limit_runs{end}"] == getattr(found, f"runs_to_limit{end}")
    assert math.isclose(first["limit_g"], 0.186)
    runs = demo.execute("SELECT sum(runs) FROM build_runs JOIN builds ON builds.id = build WHERE label = 'rear-b/2'")
    assert first["opened_runs"] == runs.fetchone()[0]
    at, low, high = (first[f"limit_runs{end}"] for end in ("", "_low", "_high"))
    date_line = f"limit expected at run {at:.1f} ({low:.1f} to {high:.1f})"
    assert first["panel"] == f"rear-b/2, opened at run {first['opened_runs']:g}\n{date_line}"


def test_what_applies_to_the_whole_build_is_in_its_first_row_only(demo: sqlite3.Connection) -> None:
    values = of_diff(demo, "rear-b")
    firsts = [row for row in values if row["first"]]
    assert [row["panel_order"] for row in firsts] == [0, 1, 2, 3]
    assert {row["build_label"] for row in firsts} == {row["build_label"] for row in values}
    later = [row for row in values if not row["first"]]
    assert later
    of_build = ("caution_g", "stop_g", "stop_whose", "caution_words", "stop_words", "opened_runs", "limit_runs")
    assert all(row[name] is None for row in later for name in (*of_build, "limit_g", "date_words"))
    for before, after in pairwise(values):
        assert (before["panel"] == after["panel"]) is (before["build_label"] == after["build_label"])


def test_the_date_is_the_limit_divided_by_the_rate(connection: sqlite3.Connection, team: Team) -> None:
    """Constructed masses of tests/references/statistics_inverse_regression.csv: 1.50 to 1.46 g, 10 % of 1.00 g of oil.

    Slope 0.0064286 g per run (least squares), Sxx = 42; u = 0.01 / sqrt 12 g, so 1.96 u / sqrt 42 = 0.000873 g per run.
    """
    with (REFERENCES / "statistics_inverse_regression.csv").open(encoding="utf-8", newline="") as file:
        points = [(float(row["x"]), float(row["y"])) for row in csv.DictReader(file) if "leak" in row["example"]]
    team.scale = team.add("scale", name="without scatter", step_g=0.01, repeatability_g=0.0, day_to_day_g=0.0)
    first = first_of(connection, team, points, oil_mass_g=1.0, scale=team.scale)
    assert first["limit_g"] == pytest.approx(0.1)
    found = [first[f"limit_runs{end}"] for end in ("", "_low", "_high")]
    assert found == pytest.approx([0.1 / 0.0064286, 0.1 / 0.0073016, 0.1 / 0.0055556], abs=2e-3)
    assert first["panel"] == "rear-a/1\nlimit expected at run 15.6 (13.7 to 18.0)"


def test_the_date_follows_the_certified_line_of_a_standard_data_set(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """NIST Statistical Reference Datasets, Norris: intercept -0.262323073774029 and slope 1.00211681802045 with the
    standard deviation 0.429796848199937E-03, residual standard deviation 0.884796396144373, taken here as that of the
    scale. Taken as grams lost in runs, 500 g are gone after 500 / slope runs from the first weighing, at 0.2 runs. The
    ends by 1.96 standard deviations of the slope.
    """
    with (REFERENCES / "statistics_nist_norris.csv").open(encoding="utf-8", newline="") as file:
        points = [(float(row["x"]), 2000.0 - float(row["y"])) for row in csv.DictReader(file)]
    add("limit", kind="oil lost in grams", value=500.0)
    team.scale = add(
        "scale", name="for large masses", step_g=0.001, repeatability_g=0.884796396144373, day_to_day_g=0.0
    )
    first = first_of(connection, team, points, oil_mass_g=None, scale=team.scale)
    rates = (1.00211681802045 + many * 0.429796848199937e-3 for many in (0.0, 1.96, -1.96))
    found = [first[f"limit_runs{end}"] for end in ("", "_low", "_high")]
    assert found == pytest.approx([0.2 + 500.0 / rate for rate in rates], rel=1e-6)
    assert first["date_words"] == "limit expected at run 499 (499 to 500)"


OFF_THE_LINE = ((0.0, 22.35), (3.0, 22.34), (6.0, 22.34), (13.0, 22.05), (17.0, 21.88))
FLAT = tuple((3.0 * number, mass) for number, mass in enumerate((22.35, 22.34, 22.35, 22.34, 22.35, 22.34)))
STEADY = tuple((5.0 * number, 22.40 - 0.02 * number) for number in range(5))


@pytest.mark.parametrize(
    ("weighings", "oil", "words"),
    [
        (TWICE, 1.86, "5 weighings are needed to predict a date; there are 2"),
        (STEADY[:4], 1.86, "5 weighings are needed to predict a date; there are 4"),
        (OFF_THE_LINE, 1.86, "no date: the 5 weighings do not lie on a line"),
        (
            FLAT,
            1.86,
            "no date: the trend is not distinguishable from zero; at least 156 runs from the build (95 %)",
        ),
        (STEADY, None, "no date: the oil put in is not known"),
        (((0.0, 22.35), (6.0, 14.26)), 1.86, "no date: 8.09 g lighter, and only 1.86 g went in"),
    ],
)
def test_where_there_is_no_date_it_is_said_why(
    connection: sqlite3.Connection, team: Team, weighings: Sequence[tuple[float, float]], oil: float | None, words: str
) -> None:
    first = first_of(connection, team, weighings, oil_mass_g=oil)
    assert (first["date_words"], first["panel"]) == (words, "rear-a/1\n" + words.replace("; ", ";\n"))
    assert [first[f"limit_{name}"] for name in ("g", "runs", "runs_low", "runs_high")] == [None] * 4


def test_without_a_trend_there_is_no_date_in_the_demo(demo: sqlite3.Connection) -> None:
    first = {row["build_label"]: row for row in of_diff(demo, "rear-b") if row["first"]}
    for label in ("rear-b/3", "rear-b/4"):
        count = demo.execute(
            "SELECT count(*) FROM masses m JOIN builds b ON b.id = m.build "
            "WHERE b.label = ? AND m.mass_basis = 'closed'",
            (label,),
        ).fetchone()[0]
        assert count < 5
        assert first[label]["limit_runs"] is None
        assert first[label]["date_words"] == f"5 weighings are needed to predict a date; there are {count}"


def test_the_date_is_for_the_limit_that_holds(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """0.02 g each 5 runs reach 0.186 g at run 46.5, and 8 % of 1.86 g (0.1488 g) at run 37.2."""
    assert first_of(connection, team, STEADY)["limit_runs"] == pytest.approx(46.5, abs=1e-6)
    add("limit", kind="oil lost as a share", value=0.08)
    first = of_diff(connection, "rear-a")[0]
    assert (first["limit_g"], first["limit_runs"]) == (pytest.approx(0.1488), pytest.approx(37.2, abs=1e-6))


def test_a_later_weighing_moves_the_date_at_once(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, *STEADY)
    before = of_diff(connection, "rear-a")[0]["limit_runs"]
    team.weigh(build, (25.0, 22.29))
    rows = of_diff(connection, "rear-a")
    assert rows[0]["limit_runs"] < before
    assert rows[-1]["runs"] == 25.0


# The limits


@pytest.mark.parametrize(
    ("oil", "share", "grams", "limits"),
    [
        (1.86, None, None, (0.093, 0.186, "proposal")),
        (1.86, 0.08, None, (0.093, 0.1488, "yours")),
        (1.86, 0.2, 0.12, (0.093, 0.12, "yours")),
        (1.86, None, 0.05, (None, 0.05, "yours")),
        (1.86, 0.05, None, (None, 0.093, "yours")),
        (None, None, None, (None, None, None)),
        (None, 0.1, 0.2, (None, 0.2, "yours")),
        (None, 0.1, None, (None, None, None)),
    ],
)
def test_the_nearer_of_the_teams_limits_goes_before_the_proposal(
    connection: sqlite3.Connection,
    add: Add,
    team: Team,
    oil: float | None,
    share: float | None,
    grams: float | None,
    limits: object,
) -> None:
    """Shares of 1.86 g (arithmetic)."""
    for kind, value in (("oil lost as a share", share), ("oil lost in grams", grams)):
        if value is not None:
            add("limit", kind=kind, value=value)
    first = first_of(connection, team, TWICE, oil_mass_g=oil)
    assert (first["caution_g"], first["stop_g"], first["stop_whose"]) == limits


@pytest.mark.parametrize(
    ("last_g", "grams", "caution", "stop"),
    [
        (22.3, None, "look at it: 0.09 g", "open it (proposal): 0.19 g"),
        (21.0, None, "", "look at it: 0.09 g; open it (proposal): 0.19 g"),
        (22.3, 0.05, "", "open it (yours): 0.05 g"),
    ],
)
def test_names_that_would_lie_upon_each_other_are_one(
    connection: sqlite3.Connection,
    add: Add,
    team: Team,
    last_g: float,
    grams: float | None,
    caution: str,
    stop: str,
) -> None:
    if grams is not None:
        add("limit", kind="oil lost in grams", value=grams)
    first = first_of(connection, team, ((0.0, 22.4), (6.0, last_g)))
    assert (first["caution_words"], first["stop_words"]) == (caution, stop)


def test_without_a_limit_there_is_no_name_of_one(connection: sqlite3.Connection, team: Team) -> None:
    first = first_of(connection, team, TWICE, oil_mass_g=None)
    assert (first["caution_words"], first["stop_words"]) == ("", ""), "null would be drawn as a word"


def test_the_figures_under_the_chart_have_the_digits_of_the_limit(connection: sqlite3.Connection, team: Team) -> None:
    """10 % of 1.86 g is 0.186 g, not 0.19 g."""
    team.weigh(team.build(oil_mass_g=1.86), *TWICE)
    shown = gathered(masses_chart("rear-a"), Registry(), masses_of_diff(connection, team.diff, 4)).table
    row = dict(zip((name for name, _ in shown.headings), shown.rows[0], strict=True))
    assert (row["Look at it [g]"], row["Open it [g]"], row["Mass [g]"]) == ("0.093", "0.186", "22.40")


def test_a_limit_of_the_diff_goes_before_one_of_the_team(
    connection: sqlite3.Connection, registry: Registry, add: Add
) -> None:
    """8 and 6 % of 1.86 g are 0.1488 and 0.1116 g (arithmetic); 0 is not a limit."""
    for label, own in (("one", 0.06), ("two", 0.0), ("three", None)):
        team = Team(add, label)
        build = team.build(dry_mass_g=12.4, oil_mass_g=1.86, closed_mass_g=22.4)
        weighing = {"weighed_on": "2026-04-03", "mass_g": 22.3, "mass_basis": "closed", "runs": 6.0}
        add("weighing", build=build, **weighing)
        if own is not None:
            add("limit", kind="oil lost as a share", value=own, diff=team.diff)
    add("limit", kind="oil lost as a share", value=0.08)
    both = of_all(connection, registry)
    for label, stop in (("one", 0.1116), ("two", 0.1488), ("three", 0.1488)):
        rows = of_diff(connection, label)
        assert rows[0]["stop_g"] == stop
        same = [row for row in both if row["build_label"] == f"{label}/1"]
        assert [{**row, "panel_order": 0} for row in same] == rows, "both charts show the same"


# Rows and panels


def test_two_builds_of_one_label_have_a_panel_each(connection: sqlite3.Connection, team: Team) -> None:
    for day in ("2026-03-03", "2026-04-03"):
        team.weigh(team.build(label="rear-a/1", built_on=day, closed_mass_g=22.4, oil_mass_g=1.86), (6.0, 22.3))
    panels = [row["panel"].partition("\n")[0] for row in of_diff(connection, "rear-a") if row["first"]]
    assert panels == ["rear-a/1 (2026-04-03)", "rear-a/1 (2026-03-03)"]


def test_a_long_label_is_cut_to_what_a_phone_has_room_for(connection: sqlite3.Connection, team: Team) -> None:
    assert LONGEST_NAME == 22
    first = first_of(connection, team, TWICE, label="the rear diff of the second car")
    assert first["panel"].partition("\n")[0] == "the rear diff of the …"
    assert first["build_label"] == "the rear diff of the second car"


def test_builds_stand_newest_first_and_those_not_weighed_twice_are_left_out(
    connection: sqlite3.Connection, team: Team
) -> None:
    team.weigh(team.build(closed_mass_g=22.4), (6.0, 22.39))
    team.build(closed_mass_g=22.4)
    team.weigh(team.build(closed_mass_g=22.5), (6.0, 22.49), (8.0, 22.47))
    rows = masses_of_diff(connection, team.diff, 4)
    assert [(row["build_label"], row["runs"], row["lost_g"]) for row in rows] == [
        ("rear-a/3", 0.0, 0.0),
        ("rear-a/3", 6.0, 0.01),
        ("rear-a/3", 8.0, 0.03),
        ("rear-a/1", 0.0, 0.0),
        ("rear-a/1", 6.0, 0.01),
    ]
    assert [row["build_label"] for row in masses_of_diff(connection, team.diff, 2)] == ["rear-a/3"] * 3
    assert masses_of_diff(connection, team.diff, 0) == []


def test_an_opened_build_has_its_opening_at_its_runs_and_last_loss(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build(closed_mass_g=22.4, oil_mass_g=1.86)
    team.weigh(build, (6.0, 22.39))
    team.run(build, "2026-02-01", 9.0)
    assert of_diff(connection, "rear-a")[0]["opened_runs"] is None
    team.open(build, "2026-02-02")
    first = of_diff(connection, "rear-a")[0]
    assert (first["opened_runs"], first["opened_lost_g"]) == (9.0, 0.01)
    assert first["panel"].startswith("rear-a/1, opened at run 9\n")


def test_the_chart_of_all_diffs_weighs_on_the_basis_that_the_views_take(
    demo: sqlite3.Connection, registry: Registry
) -> None:
    last = {row["build_label"]: row for row in of_all(demo, registry)}
    assert len(last) == demo.execute("SELECT count(*) FROM diffs").fetchone()[0]
    for label, row in last.items():
        loss = demo.execute(
            "SELECT l.weighed_as, l.loss_g, l.weighed_at_runs FROM losses l JOIN builds b ON b.id = l.build "
            "WHERE b.label = ?",
            (label,),
        ).fetchone()
        assert (row["mass_basis"], row["lost_g"], row["runs"]) == tuple(loss)


def test_the_chart_of_all_diffs_shows_the_newest_builds_by_the_name_of_their_diff(
    connection: sqlite3.Connection, add: Add
) -> None:
    for number in range(LAST_BUILDS + 2):
        team = Team(add, f"diff {number:02}")
        team.weigh(team.build(built_on=f"2026-02-{28 - number:02}", closed_mass_g=22.4), (6.0, 22.39))
    shown = [row["build_label"] for row in last_masses(connection) if row["first"]]
    assert shown == [f"diff {number:02}/1" for number in range(LAST_BUILDS)]


def test_a_limit_that_may_be_passed_already_is_not_expected_later(connection: sqlite3.Connection, team: Team) -> None:
    """0.18 g of 1.86 g, U = 0.0163 g: from under to over 0.186 g. The trend alone is there after run 20."""
    points = [(5.0 * step, 22.40 - 0.045 * step) for step in range(5)]
    words = first_of(connection, team, points)["date_words"]
    assert words.startswith("unclear whether any runs are left; by the trend the limit is at run 20.7 (")


def test_the_newest_loss_has_a_bar_as_wide_as_its_uncertainty(connection: sqlite3.Connection, team: Team) -> None:
    """The interval that the verdict goes by; it is drawn once, at the runs of the newest weighing."""
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, (0.0, 22.40), (4.0, 22.35), (9.0, 22.30))
    rows = of_diff(connection, "rear-a")
    (loss,) = [one.loss for one in leaks_of(connection, [build]).values()]
    assert rows[0]["loss_runs"] == 9.0
    assert rows[0]["loss_low_g"] == pytest.approx(loss.loss_g - loss.uncertainty_g, abs=1e-4)
    assert rows[0]["loss_high_g"] == pytest.approx(loss.loss_g + loss.uncertainty_g, abs=1e-4)
    assert [row["loss_low_g"] for row in rows[1:]] == [None, None]
    drawn = svg_of(SPEC, rows, width=WIDE, colours=ON_PAGE)
    without = [{**row, "loss_low_g": None, "loss_high_g": None} for row in rows]
    assert drawn != svg_of(SPEC, without, width=WIDE, colours=ON_PAGE)
