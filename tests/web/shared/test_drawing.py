"""The charts hook: what is refused, and that every bundled chart gives rows its table and its picture can use."""

from __future__ import annotations

import asyncio
import math
import sqlite3
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from browser_team import Team, make_team

from bevelbook.drawing.faults import CannotDraw
from bevelbook.plugin.chart import Chart, Curve, fault_of_chart
from bevelbook.plugin.registry import Registry, load
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.web.shared import drawing
from bevelbook.web.shared.drawing import MOST_ROWS, all_charts, chart_rows, drawn_meanwhile, gathered

GOOD = Chart("some-chart", "Some", "What it shows.", (("x", "X"),), {"mark": "point"}, sql="SELECT 1 AS x")
CHARTS = all_charts(load())

PLUGIN = """
from bevelbook import Chart, hookimpl

@hookimpl
def bevelbook_charts():
    return {charts}
"""


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("charts") / "team.db")


@pytest.fixture
def connection(team: Team) -> Iterator[sqlite3.Connection]:
    opened = open_for_reading(team.path)
    yield opened
    opened.close()


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Registry]:
    """Load a folder of plugin files given as name and what their hook returns."""

    def loaded(**plugins: str) -> Registry:
        for name, charts in plugins.items():
            (tmp_path / f"{name}.py").write_text(PLUGIN.format(charts=charts))
        return load(entry_points=(), folder=tmp_path)

    return loaded


@pytest.mark.parametrize(
    ("offer", "message"),
    [
        ("chart!", "not a Chart"),
        (GOOD._replace(name="Some Chart"), "lower-case"),
        (GOOD._replace(title=""), "without a title"),
        (GOOD._replace(columns=()), "columns"),
        (GOOD._replace(sql=None), "either points, or sql or"),
        (GOOD._replace(points=lambda _: ()), "either points, or sql or"),
        (GOOD._replace(spec="bar"), "not a mapping"),
        (GOOD._replace(spec={"layer": [{"data": {"url": "https://example.org"}}]}), "data, url"),
        (GOOD._replace(spec={"usermeta": {}}), "usermeta"),
        (GOOD._replace(sql=None, points=lambda _: (), made=list), "made from those of sql"),
    ],
)
def test_a_chart_declared_wrongly_is_reported(offer: object, message: str) -> None:
    fault = fault_of_chart(offer)
    assert fault is not None
    assert message in fault
    assert fault_of_chart(GOOD) is None


def test_charts_of_plugins_are_taken_doubles_and_faults_named(folder: Callable[..., Registry]) -> None:
    good = 'Chart("one", "One", "It.", (("x", "X"),), {"mark": "point"}, sql="SELECT 1 AS x")'
    registry = folder(a=f"[{good}]", b=f"[{good}, 3]", c="1 / 0")
    assert [chart.name for chart in registry.charts()] == ["one"]
    message = " ".join(str(one) for one in registry.failures)
    assert "chart 'one' is offered by plugin a (" in message
    assert "3, which is not a Chart" in message
    assert "ZeroDivisionError" in message
    assert len(registry.charts()) == 1
    assert len(registry.failures) == 3, "asked twice, reported once"


@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: chart.name)
def test_every_bundled_chart_has_rows_columns_and_a_spec(
    chart: Chart, registry: Registry, connection: sqlite3.Connection
) -> None:
    found = asyncio.run(drawn_meanwhile(chart, registry, chart_rows(connection, chart)))
    if chart.name == "fills":
        assert not found.wide, "this team notes no targets"
        return
    values = found.rows
    assert len(values) > 1
    assert {name for name, _ in chart.columns} <= set(values[0])
    used = set(_fields(chart.spec)) - set(_made(chart.spec))
    assert used <= set(values[0]), "the picture asks for a column that the rows lack"
    assert found.table.rows
    for picture in (found.narrow, found.wide):
        assert 'aria-hidden="true"' in picture
        assert set(ElementTree.fromstring(picture).itertext()) >= set(_titles(chart.spec))


@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: chart.name)
def test_a_name_that_may_be_empty_is_hidden_where_it_is(
    chart: Chart, registry: Registry, connection: sqlite3.Connection
) -> None:
    """A picture writes an empty column as "null"."""
    found = gathered(chart, registry, chart_rows(connection, chart))
    values = found.rows
    for layer in chart.spec.get("spec", chart.spec).get("layer", ()):
        encoding = layer.get("encoding", {})
        field = encoding.get("text", {}).get("field")
        if field and "opacity" not in encoding:
            assert all(row[field] for row in values), field


def _made(part: Any) -> Iterator[str]:
    """Columns that the picture makes for itself."""
    if isinstance(part, dict):
        if isinstance(part.get("as"), str):
            yield part["as"]
        for value in part.values():
            yield from _made(value)
    elif isinstance(part, (list, tuple)):
        for value in part:
            yield from _made(value)


def _titles(part: Any) -> Iterator[str]:
    """The titles of axes and legends, which name the unit."""
    if isinstance(part, dict):
        if isinstance(part.get("title"), str):
            yield part["title"]
        for value in part.values():
            yield from _titles(value)
    elif isinstance(part, (list, tuple)):
        for value in part:
            yield from _titles(value)


def _fields(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        if isinstance(part.get("field"), str):
            yield part["field"]
        for value in part.values():
            yield from _fields(value)
    elif isinstance(part, (list, tuple)):
        for value in part:
            yield from _fields(value)


def test_a_curve_asks_the_calculator_itself(registry: Registry) -> None:
    """Viscosity of 1,000 cSt at 40 °C: 754.05 cSt by the law of the data sheet that the calculator names."""
    curve = Curve(
        "viscosity",
        "temperature_c",
        0.0,
        80.0,
        ("viscosity_at_temperature_cst",),
        given={"viscosity_cst": "1000", "temperature_c": "25"},
        points=3,
    )
    chart = GOOD._replace(sql=None, curve=curve)
    found = gathered(chart, registry, ())
    values = found.rows
    assert [one["temperature_c"] for one in values] == [0.0, 40.0, 80.0]
    assert math.isclose(values[1]["viscosity_at_temperature_cst"], 754.05, abs_tol=0.01)


def test_a_curve_leaves_out_what_the_calculator_refuses(registry: Registry) -> None:
    curve = Curve("viscosity", "temperature_c", -400.0, 0.0, ("viscosity_at_temperature_cst",), {}, points=5)
    chart = GOOD._replace(sql=None, curve=curve._replace(given={"viscosity_cst": "1000", "temperature_c": "25"}))
    found = gathered(chart, registry, ())
    assert [one["temperature_c"] for one in found.rows] == [0.0]


def test_a_chart_of_a_calculator_that_is_not_there_says_that_there_is_nothing(registry: Registry) -> None:
    chart = GOOD._replace(sql=None, curve=Curve("no-such", "x", 0.0, 1.0, ("y",), {"x": "1"}))
    found = gathered(chart, registry, ())
    assert not found.rows
    assert found.empty == "Nothing to draw yet."


def test_the_blend_line_begins_and_ends_at_its_oils() -> None:
    """At either end a blend is the oil itself, by every rule (arithmetic)."""
    chart = next(chart for chart in CHARTS if chart.name == "blend-line")
    assert chart.points is not None
    rows = list(chart.points(None))
    for row, oil in ((rows[0], 5000.0), (rows[-1], 10000.0)):
        for name in ("blend_cst", "low_cst", "high_cst"):
            assert math.isclose(row[name], oil, rel_tol=1e-9)
    assert all(row["low_cst"] <= row["blend_cst"] + 1e-6 <= row["high_cst"] + 1e-3 for row in rows)


def test_mass_lost_counts_from_the_first_closed_mass(connection: sqlite3.Connection, registry: Registry) -> None:
    """22.40 g closed and 22.39 g after six runs are 0.01 g lost (arithmetic)."""
    chart = next(chart for chart in CHARTS if chart.name == "mass-lost")
    found = gathered(chart, registry, chart_rows(connection, chart))
    rows = [row for row in found.rows if row["build_label"] == "rear-b/2"]
    assert [(row["runs"], row["lost_g"]) for row in rows] == [(0.0, 0.0), (6.0, 0.01)]


SPREAD = "0.30 ± 0.02 g (k = 2)"
ENDLESS = "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c {}) SELECT x FROM c"


@pytest.mark.parametrize(
    ("changed", "is_cut"),
    [
        ({"sql": ENDLESS.format(f"WHERE x < {MOST_ROWS}")}, False),
        ({"sql": ENDLESS.format("")}, True),
        ({"sql": ENDLESS.format(""), "made": lambda rows: rows[:10]}, True),
        ({"sql": None, "points": lambda _: ({"x": number} for number in count())}, True),
    ],
    ids=["all of them", "endless sql", "made from a part", "endless points"],
)
def test_a_chart_cut_at_a_number_of_rows_says_so(
    registry: Registry, connection: sqlite3.Connection, changed: dict[str, Any], is_cut: bool
) -> None:
    chart = GOOD._replace(**changed)
    found = gathered(chart, registry, chart_rows(connection, chart))
    assert found.cut == ("Only the first 5,000 rows are shown; there are more." if is_cut else "")
    assert len(found.rows) == len(found.table.rows) <= MOST_ROWS


@pytest.mark.parametrize(
    ("name", "value", "measured", "computed"),
    [
        ("runs", 30.3238, "30.3", "30.3"),
        ("runs", 12.0, "12", "12"),
        ("place", 1234, "1234", "1234"),
        ("viscosity_cst", 12004.7, "12,005", "12,000"),
        ("mass_g", 12.423, "12.423", "12.4"),
        ("mass_g", 12.4, "12.40", "12.4"),
        ("gas_fraction", 0.349411, "0.349", "0.349"),
        (
            "words",
            "0.30 ± 0.02 g (k = 2)",
            "0.30\xa0±\xa00.02\xa0g\xa0(k\xa0=\xa02)",
            "0.30\xa0±\xa00.02\xa0g\xa0(k\xa0=\xa02)",
        ),
    ],
)
def test_a_cell_has_no_more_digits_than_are_known(
    registry: Registry, name: str, value: Any, measured: str, computed: str
) -> None:
    of_records = GOOD._replace(columns=((name, "It"),), sql="SELECT 1")
    of_formula = of_records._replace(sql=None, points=lambda _: [{name: value}])
    assert gathered(of_records, registry, [{name: value}]).table.rows == ((measured,),)
    assert gathered(of_formula, registry, ()).table.rows == ((computed,),)


def test_a_chart_that_nothing_can_draw_keeps_its_figures(
    registry: Registry, connection: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    def without(*_: object, **__: object) -> str:
        raise CannotDraw("charts cannot be drawn here: no room")

    monkeypatch.setattr(drawing, "svg_of", without)
    found = asyncio.run(drawn_meanwhile(GOOD, registry, chart_rows(connection, GOOD)))
    assert (found.wide, found.empty) == ("", "Charts cannot be drawn here: no room.")
    assert found.table.rows == (("1",),)


def test_a_specification_that_is_refused_names_its_chart(registry: Registry) -> None:
    found = asyncio.run(drawn_meanwhile(GOOD._replace(spec={"mark": "pint"}), registry, [{"x": 1}]))
    assert "chart some-chart failed: its spec cannot be drawn: TypeError" in found.empty
    assert found.table.rows == (("1",),)


@pytest.mark.parametrize(
    ("rows", "spec", "reason"),
    [
        ([{"y": 1.0}], {"mark": "point"}, "its columns name 'x', which its rows do not give"),
        ([{"x": 1.0}], {"encoding": {"y": {"field": "gone"}}}, "its spec draws 'gone', which its rows do not give"),
        ([{"x": 1.0}, {"gone": 2.0}], {"encoding": {"y": {"field": "gone"}}}, ""),
        ([{"x": 1.0}], {"transform": [{"as": "gone"}], "encoding": {"y": {"field": "gone"}}}, ""),
        ([], {"encoding": {"y": {"field": "gone"}}}, ""),
    ],
)
def test_a_chart_whose_rows_lack_what_it_draws_says_so_and_shows_no_empty_picture(
    registry: Registry, rows: list[dict[str, float]], spec: dict[str, object], reason: str
) -> None:
    chart = Chart("own", "Own", "Points.", (("x", "X"),), spec, points=lambda given: rows)
    found = gathered(chart, registry, ())
    words = f"chart own failed: drawing it gave rows that do not fit: {reason} (test_drawing.py, line "
    assert found.empty.startswith(words) == bool(reason), found.empty
