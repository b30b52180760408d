"""The rows of a chart that a plugin makes: along a calculator's curve, by a formula, or of rows of the database."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import islice
from math import log
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import bind, clean
from bevelbook.declare.errors import InputError, PluginFault
from bevelbook.declare.fields import items_of
from bevelbook.plugin import guard
from bevelbook.plugin.chart import Chart, Curve, fault_of_columns
from bevelbook.plugin.registry import Registry

MOST_ROWS: Final = 5_000
Rows = Sequence[Mapping[str, Any]]


class ChartRows(NamedTuple):
    """The rows to draw, at most ``MOST_ROWS``, whether there are more, and what they show in words."""

    rows: list[dict[str, Any]]
    are_more: bool = False
    summary: str = ""


def made_rows(chart: Chart, registry: Registry, asked: Rows, given: Any = None) -> ChartRows:
    """The rows that a chart draws, of those that the database gave. Raises PluginFault.

    ``given`` are the inputs on its calculator's page.
    """
    taken = partial(_taken, chart, len(asked) > MOST_ROWS)
    owner = registry.owner_of_chart(chart.name)
    return guard.call(
        owner,
        "drawing it",
        _rows,
        chart,
        registry,
        asked[:MOST_ROWS],
        given,
        taken=taken,
        declared=chart.points or chart.made,
    )


def _taken(chart: Chart, are_more: bool, rows: Iterable[Mapping[str, Any]]) -> ChartRows:
    found = [dict(row) for row in islice(rows, MOST_ROWS + 1)]
    are_more = are_more or len(found) > MOST_ROWS
    del found[MOST_ROWS:]
    json.dumps(found, allow_nan=False)
    if found and (chart.points is not None or chart.made is not None):
        reason = fault_of_columns(chart, {name for row in found for name in row}, "its rows do")
        if reason is not None:
            raise guard.Unfit(f"rows that do not fit: {reason}")
    summary = chart.summary(found) if chart.summary is not None and found else ""
    return ChartRows(found, are_more, f"{summary}")


def _rows(chart: Chart, registry: Registry, asked: Rows, given: Any) -> Iterator[Mapping[str, Any]]:
    if chart.points is not None:
        yield from chart.points(given)
    elif chart.curve is None:
        yield from asked if chart.made is None else chart.made(asked)
    elif chart.sql is None:
        yield from _along(chart.curve, registry, given, {})
    else:
        for row in asked:
            yield from _along(chart.curve, registry, None, row)


def _along(curve: Curve, registry: Registry, given: Any, row: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    offered = registry.in_force(curve.calculator)
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
