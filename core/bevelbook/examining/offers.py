"""What a plugin offers beside calculators, tried: its charts drawn, its checks asked, its tables and profiles read."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterator
from contextlib import closing, contextmanager, suppress
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any, Final

from bevelbook.calculating.calculate import bind
from bevelbook.declare.errors import BevelbookError, Place, PluginFault
from bevelbook.drawing.process import PROCESS
from bevelbook.drawing.unfit_charts import empty_database, leave_out_unfit
from bevelbook.examining.calling import Calls
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.examining.parts import DRAWING, PROFILES
from bevelbook.notes.known_profiles import known_profiles
from bevelbook.plugin.chart import Chart
from bevelbook.plugin.check import Reader
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import Registry

CHECKS: Final = "bevelbook_checks"
_MOST_ROWS: Final = 5_000
_MOST_STEPS: Final = 20_000_000
"""Of SQLite, for the rows of a chart over a database that holds no record: a second or so. Our own figure."""


def try_offers(
    registry: Registry,
    origin: Origin,
    hooks: Collection[str],
    declared: DeclaredLines,
    calls: Calls,
    database: Path | None,
) -> None:
    """Try the charts, checks, tables and profiles of one plugin, of the ``hooks`` that it has.

    Its checks are asked about an empty database, and about ``database`` where one is named, which is read alone.
    """
    charts = registry.charts() if "bevelbook_charts" in hooks else []
    own = [chart for chart in charts if registry.owner_of_chart(chart.name).origin == origin]
    if own:
        with _more_memory():
            PROCESS.start()
        calls.make(DRAWING, partial(leave_out_unfit, registry))
        left = {chart.name for chart in registry.charts()}
        for chart in own:
            if chart.name in left:
                _try_chart(chart, registry, declared, calls)
                if chart.sql is not None:
                    _ask_chart(chart, chart.sql, registry, declared, calls)
    if PROFILES in hooks:
        calls.make(PROFILES, partial(known_profiles, registry))
    if CHECKS in hooks:
        with closing(empty_database(registry)) as connection:
            _ask_checks(registry, origin, declared, calls, connection, "an empty database")
        if database is not None:
            with closing(sqlite3.connect(f"{database.absolute().as_uri()}?mode=ro", uri=True)) as connection:
                connection.row_factory = sqlite3.Row
                _ask_checks(registry, origin, declared, calls, connection, database.name)


def _try_chart(chart: Chart, registry: Registry, declared: DeclaredLines, calls: Calls) -> None:
    """Make the rows of a chart where that needs no database: from a formula, of no rows, and along a curve."""
    place = declared.named_in(f"chart {chart.name!r}")
    for which, given in _given(chart, registry):
        found = calls.make(f"chart {chart.name}, {which},", partial(_rows, chart, registry, given))
        if isinstance(found, BevelbookError):
            where = calls.place_of(found, place)
            how = found.how if isinstance(found, PluginFault) else f"{found}".removesuffix(".")
            remedy = "Mend it: where there is nothing to draw, give no rows."
            if chart.curve is not None:
                remedy = (
                    "Have given= of its Curve name that input too, as a person types it, also the one that is moved."
                )
            calls.add(
                "chart_fails", f"chart {chart.name}, {which}, cannot be drawn: {how}", remedy, where, is_serious=True
            )


def _ask_chart(chart: Chart, sql: str, registry: Registry, declared: DeclaredLines, calls: Calls) -> None:
    """Ask the sql of a chart over a database that holds no record: it comes to an end there, and soon."""
    place = declared.named_in(f"chart {chart.name!r}")
    with closing(empty_database(registry)) as connection:
        connection.set_progress_handler(lambda: 1, _MOST_STEPS)
        try:
            rows = sum(1 for _ in islice(connection.execute(sql), _MOST_ROWS + 1))
        except sqlite3.Error as fault:
            what = "its sql comes to no end" if "interrupted" in f"{fault}" else f"its sql cannot be asked: {fault}"
            remedy = "Try the SELECT on a database made with 'bevelbook demo'; an endless one is cut off on the page."
            calls.add("chart_fails", f"chart {chart.name}: {what}", remedy, place, is_serious=True)
            return
    if rows > _MOST_ROWS:
        what = f"chart {chart.name}: its sql gives over {_MOST_ROWS} rows where no record is yet"
        calls.add("chart_too_long", what, "Have it give fewer: a chart draws the first of them alone.", place)


def _given(chart: Chart, registry: Registry) -> Iterator[tuple[str, Any]]:
    offered = registry.in_force(chart.of_calculator or "")
    yield "on its own page", None
    if offered is not None and chart.points is not None:
        with suppress(BevelbookError):
            calculator = offered.calculator
            yield f"on the page of {calculator.name}", bind(calculator, calculator.worked[0].given).given


def _rows(chart: Chart, registry: Registry, given: Any) -> None:
    """Make the rows, and what is said of them. Raises whatever goes wrong in it."""
    rows: list[dict[str, Any]] = []
    if chart.points is not None:
        rows = [dict(row) for row in islice(chart.points(given), _MOST_ROWS)]
    elif chart.made is not None:
        rows = [dict(row) for row in islice(chart.made([]), _MOST_ROWS)]
    elif chart.curve is not None and chart.sql is None:
        offered = registry.in_force(chart.curve.calculator)
        if offered is not None:
            bind(offered.calculator, chart.curve.given)
    json.dumps(rows, allow_nan=False)
    if chart.summary is not None and rows:
        json.dumps(chart.summary(rows))


def _ask_checks(
    registry: Registry,
    origin: Origin,
    declared: DeclaredLines,
    calls: Calls,
    connection: sqlite3.Connection,
    which: str,
) -> None:
    noted = list(registry.failures)
    found = calls.make(
        f"{CHECKS} of {which}", lambda: registry.findings_of((origin.plugin, origin.file), Reader(connection))
    )
    registry.failures = noted
    reasons = [] if found is None else [f"{found}"] if isinstance(found, BevelbookError) else found[1]
    for reason in reasons:
        place = declared.named_in(reason)
        if place == declared.module:
            place = declared.named_in(CHECKS)
        calls.add(
            "check_fails",
            f"asked about {which}, {reason}",
            "Give Finding(...) objects alone, and none where there is nothing to find.",
            Place(place.file, place.line),
            is_serious=True,
        )


@contextmanager
def _more_memory() -> Iterator[None]:
    """Let a process that is started meanwhile have as much memory as it likes."""
    try:
        import resource
    except ImportError:
        yield
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (hard, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
