"""Charts of plugins that cannot be drawn are left out, each with its reason."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browser_team import make_team

from bevelbook.drawing.unfit_charts import fault_of_drawing, leave_out_unfit
from bevelbook.plugin.chart import Chart, Curve
from bevelbook.plugin.registry import Registry, load
from bevelbook.store.opened_to_read import open_for_reading

X = {"encoding": {"x": {"field": "x", "type": "quantitative"}}}
GOOD = Chart("some-chart", "Some", "It.", (("x", "X"),), {"mark": "point", **X}, sql="SELECT 1 AS x;")
CURVE = Curve("viscosity", "temperature_c", 0.0, 60.0, ("viscosity_at_temperature_cst",), {"viscosity_cst": "7000"})
PLUGIN = """
from bevelbook import Chart, hookimpl

def chart(name, sql, spec={"mark": "point"}, columns=(("x", "X"),)):
    return Chart(name, name, "It.", columns, spec, sql=sql)

@hookimpl
def bevelbook_charts():
    return [
        chart("fine", "SELECT 1 AS x"),
        chart("gone", "SELECT 1 AS x FROM nowhere"),
        chart("odd", "SELECT 1 AS x", {"mark": "pint"}),
    ]
"""


@pytest.fixture(scope="module")
def connection(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    with closing(open_for_reading(make_team(tmp_path_factory.mktemp("unfit") / "team.db").path)) as opened:
        yield opened


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({}, None),
        ({"sql": "SELECT 1 AS x FROM builds -- and a remark"}, None),
        ({"sql": "WITH one AS (SELECT 1 AS x) SELECT x FROM one"}, None),
        ({"sql": "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c) SELECT count(*) AS x FROM c"}, None),
        ({"sql": "SELECT 1 AS x FROM"}, "its sql cannot be asked: OperationalError"),
        ({"sql": "SELECT no_such_g AS x FROM builds"}, "no such column: no_such_g"),
        ({"sql": "SELECT 1 AS x FROM nowhere"}, "no such table: nowhere"),
        ({"sql": "DELETE FROM builds"}, "its sql cannot be asked"),
        ({"sql": "SELECT 1 AS x; DELETE FROM builds"}, "its sql cannot be asked"),
        ({"sql": "SELECT :x AS x"}, "its sql cannot be asked"),
        ({"columns": (("x", "X"), ("y", "Y"))}, "its columns name 'y', which its sql does not give"),
        ({"spec": {"mark": "point", "encoding": {"x": {"field": "y"}}}}, "its spec draws 'y', which its sql does not"),
        ({"spec": {"mark": "pint"}}, "its spec cannot be drawn: TypeError"),
        ({"spec": {"mark": {"type": "point", "size": float("inf")}}}, "its spec cannot be written as JSON"),
        ({"sql": None, "curve": CURVE}, "its columns name 'x', which its curve does not give"),
        ({"curve": CURVE, "columns": (("temperature_c", "T"), ("x", "X"))}, None),
        ({"sql": None, "points": lambda _: ()}, None),
        ({"made": lambda rows: rows, "columns": (("made", "Made"),)}, None),
    ],
    ids=lambda one: re.sub(" at 0x[0-9a-f]+", "", str(one)),
)
def test_why_a_chart_cannot_be_drawn(
    connection: sqlite3.Connection, changed: dict[str, Any], message: str | None
) -> None:
    fault = fault_of_drawing(connection, GOOD._replace(**changed))
    assert (fault is None) if message is None else message in str(fault)


@pytest.mark.parametrize("chart", load().charts(), ids=lambda chart: chart.name)
def test_every_bundled_chart_can_be_drawn(connection: sqlite3.Connection, chart: Chart) -> None:
    assert fault_of_drawing(connection, chart) is None


def test_they_are_left_out_once_and_named(tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(PLUGIN)
    registry: Registry = load(folder=tmp_path)
    before = len(registry.charts())
    for _ in range(2):
        leave_out_unfit(registry)
        assert len(registry.charts()) == before - 2
    reasons = [str(one) for one in registry.failures]
    assert len(reasons) == 2
    assert all(one.startswith("plugin own") for one in reasons)
    assert "no such table: nowhere" in str(registry.why_left_out("gone"))
    assert registry.why_left_out("fine") is None
    assert registry.charts_to_look_at() == []
