"""Charts: their rows gathered, drawn as pictures for a phone and for larger screens, and the table beside them."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.declare.fields import Field
from bevelbook.declare.known_units import suffix_of
from bevelbook.display.begun import begun
from bevelbook.display.format import format_rough, unbroken
from bevelbook.drawing.draw import svg_of
from bevelbook.drawing.faults import CannotDraw, SpecRefused
from bevelbook.drawing.looks import NARROW, ON_PAGE, WIDE
from bevelbook.drawing.unfit_charts import leave_out_unfit
from bevelbook.facts.sql import Row
from bevelbook.plugin import guard
from bevelbook.plugin.chart import Chart
from bevelbook.plugin.registry import Registry
from bevelbook.reports import day_drift, mass_chart
from bevelbook.web.host.cells import measured_text
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.worker.calculators import CalculatorsBusy, rows_of_chart
from bevelbook.web.worker.chart_rows import MOST_ROWS, ChartRows, Rows, made_rows


class OwnChart(NamedTuple):
    """A chart of the facts, with the function that reads its rows."""

    chart: Chart
    rows: Callable[[sqlite3.Connection], Rows]


class Drawn(NamedTuple):
    """A chart ready for a page: ``narrow`` is the picture for a phone and ``wide`` for larger screens, both empty where
    there is nothing to draw, which ``empty`` says. ``rows`` are what was drawn, ``cut`` says that there are more."""

    name: str
    title: str
    about: str
    rows: Rows
    table: PageTable
    empty: str
    narrow: Markup = Markup()
    wide: Markup = Markup()
    cut: str = ""


def sql_rows(connection: sqlite3.Connection, chart: Chart) -> list[Row]:
    """The rows that the chart's SQL finds, at most ``MOST_ROWS``, and one more where there are more."""
    if chart.sql is None:
        return []
    cursor = connection.execute(chart.sql)
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchmany(MOST_ROWS + 1)]


def asked_rows(connection: sqlite3.Connection, chart: Chart, registry: Registry) -> Rows | PluginFault:
    """The rows that a chart draws; where its SQL is wrong, the fault."""
    try:
        return chart_rows(connection, chart)
    except (sqlite3.Error, sqlite3.Warning) as fault:
        if "interrupted" in str(fault):
            raise
        return registry.owner_of_chart(chart.name).fault(f"the database cannot answer its sql: {guard.one_line(fault)}")


def gathered(chart: Chart, registry: Registry, asked: Rows | PluginFault, given: Any = None) -> Drawn:
    """A chart with its rows and table, not drawn yet, or with what a plugin failed at.

    ``given`` are the inputs on its calculator's page.
    """
    try:
        if isinstance(asked, PluginFault):
            raise asked
        return _with_table(chart, made_rows(chart, registry, asked, given))
    except PluginFault as fault:
        return _without_rows(chart, fault)


async def drawn_meanwhile(chart: Chart, registry: Registry, asked: Rows | PluginFault, given: Any = None) -> Drawn:
    """The same with its pictures. Rows that a plugin makes are made in a process of its own, and the pictures in a
    thread, so that other pages are answered meanwhile."""
    try:
        if isinstance(asked, PluginFault):
            raise asked
        made = await rows_of_chart(registry, chart, asked, given)
    except (PluginFault, CalculatorsBusy) as fault:
        return _without_rows(chart, fault)
    return await asyncio.to_thread(lambda: _with_pictures(chart, registry, _with_table(chart, made)))


def _with_pictures(chart: Chart, registry: Registry, found: Drawn) -> Drawn:
    if not found.rows:
        return found
    try:
        spec = chart.drawn_spec
        narrow, wide = (Markup(svg_of(spec, found.rows, width=one, colours=ON_PAGE)) for one in (NARROW, WIDE))
    except SpecRefused as refused:
        fault = registry.owner_of_chart(chart.name).fault(f"its spec cannot be drawn: {refused}")
        return found._replace(empty=fault.in_words())
    except CannotDraw as fault:
        return found._replace(empty=f"{begun(str(fault))}.")
    return found._replace(narrow=narrow, wide=wide)


def _with_table(chart: Chart, made: ChartRows) -> Drawn:
    cut = f"Only the first {MOST_ROWS:,} rows are shown; there are more." if made.are_more else ""
    about = unbroken(f"{chart.about} {made.summary}".strip())
    return Drawn(chart.name, chart.title, about, made.rows, _table(chart, made.rows), chart.empty, cut=cut)


def _without_rows(chart: Chart, fault: BevelbookError) -> Drawn:
    words = fault.in_words() if isinstance(fault, PluginFault) else fault_words(fault)
    return Drawn(chart.name, chart.title, chart.about, (), page_table(chart.title, (), ()), words)


def masses_chart(label: str) -> Chart:
    """The chart of what the last builds of a diff lost over their runs; its rows are ``mass_chart.masses_of_diff``."""
    return _MASSES._replace(title=f"Mass lost by {label}")


async def look_at_charts(registry: Registry) -> None:
    """Leave out, once, the charts of plugins that cannot be drawn."""
    if registry.charts_to_look_at():
        await asyncio.to_thread(leave_out_unfit, registry)


def laps_chart(timed: int) -> Chart:
    """The chart of the lap times of any day, of which so many runs are timed and have a place in it."""
    return _LAPS._replace(empty=f"{counted(timed, 'run')} with a lap time and a place in the day: too few to draw.")


def all_charts(registry: Registry) -> list[Chart]:
    """Our own charts and those of the plugins, by name."""
    own = [one.chart for one in OWN_CHARTS]
    return sorted((*own, *registry.charts()), key=lambda chart: chart.name)


def chart_rows(connection: sqlite3.Connection, chart: Chart) -> list[Row]:
    """The rows that a chart draws, from our own function or from the SQL of a plugin."""
    own = next((one for one in OWN_CHARTS if one.chart.name == chart.name), None)
    return [dict(row) for row in own.rows(connection)] if own else sql_rows(connection, chart)


def _table(chart: Chart, rows: Rows) -> PageTable:
    is_measured = chart.curve is None and chart.points is None
    columns = [_column(name, heading, rows, is_measured) for name, heading in chart.columns]
    return page_table(chart.title, columns, rows)


def _column(name: str, heading: str, rows: Rows, is_measured: bool) -> PageColumn[Mapping[str, Any]]:
    has_figures = any(isinstance(row.get(name), (int, float)) for row in rows)
    return PageColumn(heading, lambda row: _cell(name, row.get(name), is_measured), has_figures)


def _cell(name: str, value: Any, is_measured: bool) -> Any:
    """A value as people read it: a measured one with the digits of its unit, else with those worth showing."""
    if isinstance(value, str):
        return unbroken(value)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return value
    if is_measured and suffix_of(name) == "_g" and isinstance(value, float):
        return measured_text(value, Field(name, "quantity", "", unit="g"))
    if is_measured and suffix_of(name):
        return figure(name, float(value))
    if isinstance(value, int) or (is_measured and value.is_integer()):
        return f"{value:.0f}"
    return format_rough(value)


def charts_of(registry: Registry, calculator: str) -> Iterable[Chart]:
    """The charts on a calculator's page."""
    return (chart for chart in registry.charts() if calculator in _asked_for_by(registry, chart.of_calculator))


def _asked_for_by(registry: Registry, calculator: str | None) -> tuple[str, ...]:
    """The calculator whose page shows a chart of that one: itself, or the one in its place."""
    offered = None if calculator is None else registry.in_force(calculator)
    return () if offered is None else (offered.calculator.name,)


_MASSES: Final = Chart(
    "masses",
    "Mass lost",
    f"The newest builds, each on one mass basis. {mass_chart.ABOUT}",
    mass_chart.COLUMNS,
    mass_chart.SPEC,
    empty="No build of it was weighed twice on one mass basis yet.",
)
_LAPS: Final = Chart("laps", "Laps and their drift", day_drift.ABOUT_OF_DAY, day_drift.COLUMNS_OF_DAY, day_drift.SPEC)
OWN_CHARTS: Final = (
    OwnChart(
        Chart(
            "mass-lost",
            "Mass lost over runs",
            f"The last build of each diff, the newest {mass_chart.LAST_BUILDS}, on the mass basis with the worst "
            "loss, else the one weighed last. "
            f"{mass_chart.ABOUT}",
            mass_chart.COLUMNS,
            mass_chart.SPEC,
            empty="No last build of a diff was weighed twice on one mass basis yet.",
        ),
        mass_chart.last_masses,
    ),
    OwnChart(
        Chart(
            "day-drift",
            "Drift of a race day",
            f"The last day that has four timed runs or more. {day_drift.ABOUT}",
            day_drift.COLUMNS,
            day_drift.SPEC,
            summary=day_drift.day_and_venue,
            empty="No day has four runs with their order and a lap time.",
        ),
        day_drift.drift_of_last_day,
    ),
)
