"""Charts of plugins that cannot be drawn are left out before anybody opens one, each with its reason."""

from __future__ import annotations

import sqlite3
from contextlib import closing, suppress
from functools import partial
from typing import Final

from bevelbook.drawing.draw import svg_of
from bevelbook.drawing.faults import CannotDraw, SpecRefused
from bevelbook.drawing.looks import NARROW
from bevelbook.facts.views import view_sql
from bevelbook.plugin.chart import Chart, fault_of_columns
from bevelbook.plugin.guard import one_line
from bevelbook.plugin.registry import Registry
from bevelbook.store.calculation_views import ensure_views
from bevelbook.store.schema import schema_sql

_MOST_STEPS: Final = 1_000_000
"""Of SQLite, for finding the columns of an sql: one that takes more is judged when it is asked."""


def leave_out_unfit(registry: Registry) -> None:
    """Look once at the charts of a registry, and leave out those that cannot be drawn.

    A chart is left out where its sql is not a SELECT that this schema can answer, where a column of its table or of
    its picture comes from nowhere, or where the library refuses its spec. The bundled charts are held to that by tests.
    """
    charts = registry.charts_to_look_at()
    if charts:
        with closing(empty_database(registry)) as connection:
            registry.leave_out_charts(charts, partial(fault_of_drawing, connection))


def fault_of_drawing(connection: sqlite3.Connection, chart: Chart) -> str | None:
    """Why a chart cannot be drawn over a database like this one, or None."""
    given: set[str] = set()
    if chart.sql is not None:
        try:
            given |= set(_columns(connection, chart.sql))
        except (sqlite3.Error, sqlite3.Warning) as fault:
            if "interrupted" not in str(fault):
                return f"its sql cannot be asked: {one_line(fault)}"
            return _fault_of_spec(chart)
    if chart.curve is not None:
        given |= {chart.curve.moved, *chart.curve.outputs}
    if chart.points is None and chart.made is None:
        whence = " and ".join(name for name in ("sql", "curve") if getattr(chart, name) is not None)
        if reason := fault_of_columns(chart, given, f"its {whence} does"):
            return reason
    return _fault_of_spec(chart)


def _fault_of_spec(chart: Chart) -> str | None:
    try:
        svg_of(chart.spec, (), width=NARROW)
    except SpecRefused as refused:
        return f"its spec cannot be drawn: {refused}"
    except CannotDraw:
        return None
    except (TypeError, ValueError) as fault:
        return f"its spec cannot be written as JSON: {one_line(fault)}"
    return None


def empty_database(registry: Registry) -> sqlite3.Connection:
    """A database in memory that holds nothing, with the views of every calculator."""
    connection = sqlite3.connect(":memory:")
    for sql in (*schema_sql(), *view_sql()):
        connection.execute(sql)
    for offered in registry.with_rows():
        with suppress(sqlite3.Error):  # a chart that reads such a view is left out with the reason
            ensure_views(connection, offered.calculator)
    return connection


def _columns(connection: sqlite3.Connection, sql: str) -> list[str]:
    """The columns of a SELECT. Raises sqlite3.Error for anything else."""
    connection.set_progress_handler(lambda: 1, _MOST_STEPS)
    try:
        found = connection.execute(f"SELECT * FROM (\n{sql.strip().removesuffix(';')}\n) LIMIT 0")
    finally:
        connection.set_progress_handler(None, 0)
    return [column[0] for column in found.description or ()]
