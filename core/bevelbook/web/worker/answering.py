"""In a process that calculates: a question is answered by the plugins that were loaded there."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from bevelbook.calculating.calculate import run
from bevelbook.declare.errors import InputError, PluginFault
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import load
from bevelbook.web.worker.chart_rows import made_rows
from bevelbook.web.worker.crossing import Held, Misfit, bound_from, held_of_fault, held_of_result, record_of

TOO_MUCH_MEMORY: Final = "it wanted more memory than a calculation may have"


class Answering:
    """The plugins, loaded once."""

    def __init__(self, folder: str | None) -> None:
        self._registry = load(folder=None if folder is None else Path(folder))
        self._charts = {chart.name: chart for chart in self._registry.charts()}

    def answer(self, question: Held) -> Held:
        """The answer to a question about a calculator or a chart, or the fault that it ended with."""
        try:
            return self._chart_rows(question) if "chart" in question else self._result(question)
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
