"""What pages ask the processes that calculate: a result, the rows of a chart. Two processes, and a few that wait."""

from __future__ import annotations

import asyncio
import threading
import weakref
from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from queue import SimpleQueue
from typing import Any, Final

from bevelbook.calculating.calculate import Bound, Result, run
from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.chart import Chart
from bevelbook.plugin.guard import CodeOwner, one_line
from bevelbook.plugin.registry import LoadedFrom, Registry
from bevelbook.web.worker.chart_rows import ChartRows, Rows, made_rows
from bevelbook.web.worker.crossing import Held, Misfit, fault_from, held_of_bound, result_from, values_of
from bevelbook.web.worker.process import CalculatingProcess, CannotStart, Ended

PROCESSES: Final = 2
MOST_WAITING: Final = 8
"""Calculations that wait for a process; who comes after them reads at once to come again."""
COME_AGAIN_AFTER_S: Final = 5

Asked = tuple[Held, "Future[Held]"]


class CalculatorsBusy(BevelbookError):
    """A calculation that cannot be taken now: others wait, or no process can be had."""


class CalculatorStopped(PluginFault):
    """A calculation that ended its process, or was ended with it."""


class CalculatingProcesses:
    """The processes for the plugins of one registry, started at the first question."""

    def __init__(
        self, loaded: LoadedFrom, processes: Sequence[CalculatingProcess] = (), most_waiting: int = MOST_WAITING
    ) -> None:
        self._processes = tuple(processes) or tuple(CalculatingProcess(loaded) for _ in range(PROCESSES))
        self._most = len(self._processes) + most_waiting
        self._asked: SimpleQueue[Asked | None] = SimpleQueue()
        self._lock = threading.Lock()
        self._under_way = 0
        self._has_begun = False
        self.close = weakref.finalize(self, _close, self._processes, self._asked)

    def submit(self, question: Held) -> Future[Held]:
        """Have a question answered. Raises CalculatorsBusy."""
        future: Future[Held] = Future()
        with self._lock:
            if self._under_way >= self._most:
                raise CalculatorsBusy(
                    "other calculations are under way, and as many wait as this server lets wait",
                    code="calculators_busy",
                    remedy="Wait a few seconds, then load the page again.",
                )
            self._under_way += 1
            if not self._has_begun:
                self._has_begun = True
                for process in self._processes:
                    threading.Thread(target=_serve, args=(process, self._asked), daemon=True).start()
        future.add_done_callback(self._done)
        self._asked.put((question, future))
        return future

    def _done(self, _: Future[Held]) -> None:
        with self._lock:
            self._under_way -= 1


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


async def worked_out(registry: Registry, calculator: Calculator[Any, Any], bound: Bound[Any]) -> Result:
    """The result of a calculator, found in a process of its own. Raises InputError, PluginFault, CalculatorsBusy."""
    calculators = calculators_of(registry)
    if calculators is None:
        return await asyncio.to_thread(run, calculator, bound)
    question = {"calculator": calculator.name, "bound": held_of_bound(bound)}
    answer = await _answer(calculators, calculator.owner, question)
    with _reading_answer_of(calculator.owner):
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
    answer = await _answer(calculators, registry.owner_of_chart(chart.name), question)
    with _reading_answer_of(registry.owner_of_chart(chart.name)):
        return ChartRows(answer["rows"], answer["are_more"], answer["summary"])


_CHANGED: Final = "its file was changed since this server was started"
_UNREADABLE: Final = "its process sent something else than an answer"
_START_AGAIN: Final = "Start the server again."
_LOOK_AT_INPUTS: Final = (
    "Look at the inputs once more. If they are right, this is a fault of the plugin; tell its author."
)


async def _answer(calculators: CalculatingProcesses, owner: CodeOwner, question: Held) -> Held:
    try:
        answer = await asyncio.wrap_future(calculators.submit(question))
    except Ended as ended:
        raise _stopped(owner, str(ended), _LOOK_AT_INPUTS) from ended
    except TypeError as fault:
        raise owner.fault(f"its inputs cannot be handed over: {one_line(fault)}") from fault
    except CannotStart as fault:
        raise CalculatorsBusy(
            f"calculations cannot be started here: {fault}",
            code="calculators_busy",
            remedy="Wait a few seconds, then load the page again.",
        ) from fault
    if answer.get("is_too_long"):
        raise _stopped(owner, "its answer is too long to be shown", _LOOK_AT_INPUTS)
    if answer.get("is_misfit"):
        raise _stopped(owner, _CHANGED, _START_AGAIN)
    if "fault" in answer:
        with _reading_answer_of(owner):
            fault_there = fault_from(answer["fault"])
        raise fault_there
    return answer


@contextmanager
def _reading_answer_of(owner: CodeOwner) -> Iterator[None]:
    """Raise CalculatorStopped for an answer of another form than ours: a plugin can write what it likes there."""
    try:
        yield
    except Misfit:
        raise _stopped(owner, _CHANGED, _START_AGAIN) from None
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        raise _stopped(owner, _UNREADABLE, _LOOK_AT_INPUTS) from fault


def _stopped(owner: CodeOwner, how: str, remedy: str) -> CalculatorStopped:
    fault = owner.fault(how)
    return CalculatorStopped(fault.what, how=how, plugin=fault.plugin, package=fault.package, remedy=remedy)


def _serve(process: CalculatingProcess, asked: SimpleQueue[Asked | None]) -> None:
    """Answer with one process, in a thread, until the queue says that it is over."""
    while (one := asked.get()) is not None:
        question, future = one
        if not future.set_running_or_notify_cancel():
            continue
        try:
            answer = process.ask(question)
        except (Ended, CannotStart, TypeError) as fault:
            future.set_exception(fault)
        else:
            future.set_result(answer)
    process.close()


def _close(processes: Sequence[CalculatingProcess], asked: SimpleQueue[Asked | None]) -> None:
    for process in processes:
        asked.put(None)
        process.close()
