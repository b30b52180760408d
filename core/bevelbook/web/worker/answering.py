"""In a process that calculates: a question is answered by the plugins that were loaded there."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, Final

from bevelbook.calculating.calculate import run
from bevelbook.declare.errors import InputError, PluginFault
from bevelbook.facts.impossible import leave_out_impossible
from bevelbook.plugin.admitting import LeftOutOfPlugin, as_before
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.check import Reader
from bevelbook.plugin.registry import load
from bevelbook.web.worker.chart_rows import made_rows
from bevelbook.web.worker.crossing import (
    Held,
    Misfit,
    bound_from,
    held_of_fault,
    held_of_result,
    held_of_value,
    record_of,
    values_of,
)

TOO_MUCH_MEMORY: Final = "it wanted more memory than a calculation may have"


class Answering:
    """The plugins, loaded once."""

    def __init__(self, given: Held) -> None:
        folder = given["folder"]
        left_out = {key: LeftOutOfPlugin.from_held(held) for key, held in given["left_out"].items()}
        self._registry = load(folder=None if folder is None else Path(folder), admitted=as_before(left_out))
        self._charts = {chart.name: chart for chart in self._registry.charts()}
        self._answers: dict[str, Callable[[Held], Held]] = {
            "chart": self._chart_rows,
            "checks": self._findings,
            "bounds": self._results,
            "part": self._value,
            "calculator": self._result,
        }

    def answer(self, question: Held) -> Held:
        """The answer to a question about a calculator or a chart, or the fault that it ended with."""
        try:
            return next(answer for kind, answer in self._answers.items() if kind in question)(question)
        except Misfit:
            return {"is_misfit": True}
        except (InputError, PluginFault) as fault:
            wanted_too_much = isinstance(fault, PluginFault) and isinstance(fault.__cause__, MemoryError)
            if isinstance(fault, PluginFault) and wanted_too_much:
                fault.how = TOO_MUCH_MEMORY
            return {"fault": held_of_fault(fault), "is_last": wanted_too_much}

    def _result(self, question: Held) -> Held:
        calculator = self._calculator(question["calculator"])
        return held_of_result(run(calculator, bound_from(calculator, question["bound"])))

    def _results(self, question: Held) -> Held:
        calculator = self._calculator(question["calculator"])
        return {"results": [self._result_or_fault(calculator, one) for one in question["bounds"]]}

    def _result_or_fault(self, calculator: Calculator[Any, Any], bound: Held) -> Held:
        try:
            return held_of_result(run(calculator, bound_from(calculator, bound)))
        except (InputError, PluginFault) as fault:
            if isinstance(fault.__cause__, MemoryError):
                raise
            return {"fault": held_of_fault(fault)}

    def _value(self, question: Held) -> Held:
        calculator = self._calculator(question["calculator"])
        sides = zip((calculator.given, calculator.found), question["given"], strict=False)
        function = _function_of(calculator, question["part"])
        return {"value": held_of_value(function(*(record_of(side, held) for side, held in sides)))}

    def _findings(self, question: Held) -> Held:
        with closing(sqlite3.connect(question["opened_as"], uri=True)) as connection:
            leave_out_impossible(connection)
            plugin, file = question["checks"]
            found = self._registry.findings_of((plugin, file), Reader(connection))
        if found is None:
            raise Misfit
        findings, reasons = found
        wanted_too_much = any(MemoryError.__name__ in one for one in reasons)
        return {"findings": [values_of(one) for one in findings], "reasons": reasons, "is_last": wanted_too_much}

    def _chart_rows(self, question: Held) -> Held:
        chart, given = self._charts.get(question["chart"]), question["given"]
        if chart is None:
            raise Misfit
        if given is not None:
            given = record_of(self._calculator(chart.of_calculator or "").given, given)
        return made_rows(chart, self._registry, question["asked"], given)._asdict()

    def _calculator(self, name: str) -> Calculator[Any, Any]:
        offered = self._registry.calculators.get(name)
        if offered is None:
            raise Misfit
        return offered.calculator


def _function_of(calculator: Calculator[Any, Any], part: str) -> Callable[..., object]:
    """A function of a calculator by the name that a fault gives it. Raises Misfit."""
    card, bench = calculator.card, calculator.bench
    functions: dict[str, Callable[..., object] | None] = {
        "compute": calculator.compute,
        "judge": calculator.judge,
        "working": calculator.working,
        "settled": calculator.settled,
        "picture": calculator.picture,
        "the lines of its card": card and card.lines,
        "the passes of its card": card and card.passes,
        "the words of its picture": card and card.picture_words,
        "the waits of its bench": bench and bench.waits,
        "the passes of its bench": bench and bench.passes,
    }
    function = functions.get(part)
    if function is None:
        raise Misfit
    return function
