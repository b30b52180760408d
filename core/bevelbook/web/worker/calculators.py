"""What pages ask the processes that calculate: a result, the rows of a chart. Two processes, and a few that wait."""

from __future__ import annotations

import asyncio
import weakref
from collections.abc import Sequence
from concurrent.futures import Future
from typing import Any, Final

from bevelbook.calculating.calculate import Bound, Result, run
from bevelbook.declare.errors import BevelbookError
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.chart import Chart
from bevelbook.plugin.guard import CodeOwner, one_line
from bevelbook.plugin.registry import LoadedFrom, Registry
from bevelbook.web.worker.chart_rows import ChartRows, Rows, made_rows
from bevelbook.web.worker.crossing import Held, held_of_bound, result_from, values_of
from bevelbook.web.worker.kept_out import let_in
from bevelbook.web.worker.process import CalculatingProcess, CannotStart, Ended
from bevelbook.web.worker.processes import AnsweringProcesses, TooManyWait
from bevelbook.web.worker.stopped import read_answer, reading_answer_of, stopped

PROCESSES: Final = 2
MOST_WAITING: Final = 8
"""Calculations that wait for a process; who comes after them reads at once to come again."""
COME_AGAIN_AFTER_S: Final = 5


class CalculatorsBusy(BevelbookError):
    """A calculation that cannot be taken now: others wait, or no process can be had."""


class CalculatingProcesses(AnsweringProcesses):
    """The processes for the plugins of one registry, started at the first question."""

    def __init__(
        self, loaded: LoadedFrom, processes: Sequence[CalculatingProcess] = (), most_waiting: int = MOST_WAITING
    ) -> None:
        super().__init__(processes or [CalculatingProcess(loaded) for _ in range(PROCESSES)], most_waiting)

    def submit(self, question: Held) -> Future[Held]:
        """Have a question answered. Raises CalculatorsBusy."""
        try:
            return super().submit(question)
        except TooManyWait as fault:
            raise CalculatorsBusy(
                "other calculations are under way, and as many wait as this server lets wait",
                code="calculators_busy",
                remedy="Wait a few seconds, then load the page again.",
            ) from fault


_CALCULATORS: Final[weakref.WeakKeyDictionary[Registry, CalculatingProcesses]] = weakref.WeakKeyDictionary()


def calculators_of(registry: Registry) -> CalculatingProcesses | None:
    """The processes for a registry; None for one made by hand, which no other process can load."""
    found = _CALCULATORS.get(registry)
    if found is None and registry.loaded_from is not None:
        found = _CALCULATORS.setdefault(registry, CalculatingProcesses(registry.loaded_from))
    return found


def end_calculations(registry: Registry) -> None:
    """End the processes for a registry for good, in the middle of a calculation too."""
    found = _CALCULATORS.get(registry)
    if found is not None:
        found.close()
    let_in(registry)


async def worked_out(registry: Registry, calculator: Calculator[Any, Any], bound: Bound[Any]) -> Result:
    """The result of a calculator, found in a process of its own. Raises InputError, PluginFault, CalculatorsBusy."""
    calculators = calculators_of(registry)
    if calculators is None:
        return await asyncio.to_thread(run, calculator, bound)
    question = {"calculator": calculator.name, "bound": held_of_bound(bound)}
    answer = await _answer(calculators, calculator.owner, question, bound.given)
    with reading_answer_of(calculator.owner):
        return result_from(calculator, bound, answer)


async def rows_of_chart(registry: Registry, chart: Chart, asked: Rows, given: Any = None) -> ChartRows:
    """The rows that a plugin's chart draws, made there. Raises PluginFault, CalculatorsBusy."""
    calculators = calculators_of(registry)
    is_core = registry.owner_of_chart(chart.name).is_core
    if calculators is None or is_core or not any((chart.points, chart.curve, chart.made, chart.summary)):
        return await asyncio.to_thread(made_rows, chart, registry, asked, given)
    question = {
        "chart": chart.name,
        "asked": [dict(row) for row in asked],
        "given": None if given is None else values_of(given),
    }
    answer = await _answer(calculators, registry.owner_of_chart(chart.name), question, given)
    with reading_answer_of(registry.owner_of_chart(chart.name)):
        return ChartRows(answer["rows"], answer["are_more"], answer["summary"])


async def _answer(calculators: CalculatingProcesses, owner: CodeOwner, question: Held, given: object) -> Held:
    try:
        answer = await asyncio.wrap_future(calculators.submit(question))
    except Ended as ended:
        raise stopped(owner, str(ended), given=given) from ended
    except TypeError as fault:
        raise owner.fault(f"its inputs cannot be handed over: {one_line(fault)}") from fault
    except CannotStart as fault:
        raise CalculatorsBusy(
            f"calculations cannot be started here: {fault}",
            code="calculators_busy",
            remedy="Wait a few seconds, then load the page again.",
        ) from fault
    return read_answer(owner, answer)
