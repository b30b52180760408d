"""Charts: their rows gathered, drawn as pictures for a phone and for larger screens, and the table beside them."""

from __future__ import annotations

import asyncio
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import islice
from math import log
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.calculating.calculate import bind, clean
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, PluginFault
from bevelbook.declare.fields import Field, items_of, suffix_of
from bevelbook.display.format import format_rough, unbroken
from bevelbook.drawing.draw import svg_of
from bevelbook.drawing.faults import CannotDraw, SpecRefused
from bevelbook.drawing.looks import NARROW, ON_PAGE, WIDE
from bevelbook.drawing.unfit_charts import leave_out_unfit
from bevelbook.facts.sql import Row
from bevelbook.plugin import guard
from bevelbook.plugin.chart import Chart, Curve
from bevelbook.plugin.registry import Registry
from bevelbook.reports import day_drift, mass_chart
from bevelbook.web.host.cells import measured_text
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table

MOST_ROWS: Final = 5_000
Rows = Sequence[Mapping[str, Any]]


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
    owner = registry.owner_of_chart(chart.name)
    try:
        if isinstance(asked, PluginFault):
            raise asked
        taken = partial(_gathered, chart, len(asked) > MOST_ROWS)
        return guard.call(owner, "drawing it", _rows, chart, registry, asked[:MOST_ROWS], given, taken=taken)
    except PluginFault as fault:
        return Drawn(chart.name, chart.title, chart.about, (), page_table(chart.title, (), ()), fault.in_words())


def drawn(chart: Chart, registry: Registry, asked: Rows | PluginFault, given: Any = None) -> Drawn:
    """The same with its pictures. It takes its time: a page awaits ``drawn_meanwhile``."""
    found = gathered(chart, registry, asked, given)
    if not found.rows:
        return found
    try:
        narrow, wide = (Markup(svg_of(chart.spec, found.rows, width=one, colours=ON_PAGE)) for one in (NARROW, WIDE))
    except SpecRefused as refused:
        fault = registry.owner_of_chart(chart.name).fault(f"its spec cannot be drawn: {refused}")
        return found._replace(empty=fault.in_words())
    except CannotDraw as fault:
        return found._replace(empty=f"{str(fault)[:1].upper()}{str(fault)[1:]}.")
    return found._replace(narrow=narrow, wide=wide)


async def drawn_meanwhile(chart: Chart, registry: Registry, asked: Rows | PluginFault, given: Any = None) -> Drawn:
    """The same in a thread of its own, so that other pages are answered meanwhile."""
    return await asyncio.to_thread(drawn, chart, registry, asked, given)


def _gathered(chart: Chart, has_more: bool, rows: Iterable[Mapping[str, Any]]) -> Drawn:
    found = [dict(row) for row in islice(rows, MOST_ROWS + 1)]
    cut = f"Only the first {MOST_ROWS:,} rows are shown; there are more." if has_more or found[MOST_ROWS:] else ""
    del found[MOST_ROWS:]
    json.dumps(found, allow_nan=False)
    line = chart.summary(found) if chart.summary is not None and found else ""
    about = unbroken(f"{chart.about} {line}".strip())
    return Drawn(chart.name, chart.title, about, found, _table(chart, found), chart.empty, cut=cut)


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


def _rows(chart: Chart, registry: Registry, asked: Rows, given: Any) -> Iterator[Mapping[str, Any]]:
    if chart.points is not None:
        yield from chart.points(given)
    elif chart.curve is None:
        yield from asked if chart.made is None else chart.made(asked)
    elif chart.sql is None:
        yield from _swept(chart.curve, registry, given, {})
    else:
        for row in asked:
            yield from _swept(chart.curve, registry, None, row)


def _swept(curve: Curve, registry: Registry, given: Any, row: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    offered = registry.calculators.get(curve.calculator)
    if offered is None:
        return
    calculator = offered.calculator
    base = dict(items_of(given if given is not None else bind(calculator, curve.given).given))
    base |= {name: row[name] for name in base if name in row and row[name] is not None}
    if curve.relative and base[curve.moved] is None:
        return
    factor = base[curve.moved] if curve.relative else 1.0
    for value in _steps(curve.low * factor, curve.high * factor, curve):
        try:
            found = calculator.compute(calculator.given(**{**base, curve.moved: value}))
        except InputError:
            continue
        except PluginFault as fault:
            if not fault.may_be_inputs:
                raise
            continue
        outputs = {name: clean(getattr(found, name)) for name in curve.outputs}
        if any(one is not None for one in outputs.values()):
            yield {**row, curve.moved: clean(value), **outputs}


def _steps(low: float, high: float, curve: Curve) -> Iterator[float]:
    for place in range(curve.points):
        share = place / (curve.points - 1)
        if curve.logarithmic:
            yield float(low * (high / low) ** share) if log(high / low) else low
        else:
            yield low + (high - low) * share


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
    return (chart for chart in registry.charts() if chart.of_calculator == calculator)


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
