"""Plugins that are not bundled, kept out of the server: cards, the bench, what is kept after an entry, and checks ask
two further processes for what their code says, so that who tries a calculator on its page does not make those wait.

Whoever asks waits, in a thread, for 2 s at most; in the middle of writing to the database, where others wait too, for
the little that ``plugin.elsewhere.short_of_time`` leaves. Code that took as long as that within a few seconds, or ended
its process, rests for a while: a page with many cards would wait for each of them.
"""

from __future__ import annotations

import threading
import weakref
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from queue import Empty, SimpleQueue
from time import monotonic
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import Bound, Result
from bevelbook.declare.errors import BevelbookError, InputError, PluginFault
from bevelbook.plugin.calculator import Calculator, Formula
from bevelbook.plugin.check import Finding
from bevelbook.plugin.elsewhere import TimeLeft, count_wait, time_left
from bevelbook.plugin.guard import CodeOwner, one_line
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import LoadedFrom, Registry
from bevelbook.web.worker.crossing import Held, finding_from, held_of_bound, result_from, value_from, values_of
from bevelbook.web.worker.process import CalculatingProcess, CannotStart, Ended
from bevelbook.web.worker.stopped import read_answer, reading_answer_of, stopped

PROCESSES: Final = 2
WAITS_FOR_TURN_S: Final = 5.0
RESTS_S: Final = 60.0
AT_ONCE: Final = 100
"""The records that go across at once. Our own figure, as all here."""
_COUNTED_OVER_S: Final = 10.0
_NOT_STARTED: Final = "the process that it is worked out in is not started yet"
_AGAIN: Final = "Load the page again in a minute. If it stays like this, tell the author of the plugin."


class Spent(NamedTuple):
    """How much time the code of one owner took since a moment, and until when it rests."""

    since: float
    seconds: float = 0.0
    rests_until: float = 0.0


class Rests:
    """Which code rests, by its owner's name."""

    def __init__(self, longest_s: float) -> None:
        self._longest_s = longest_s
        self._spent: dict[str, Spent] = {}

    def left_s(self, name: str) -> float:
        """How long it still rests; 0 or less where it does not."""
        spent = self._spent.get(name)
        return 0.0 if spent is None else spent.rests_until - monotonic()

    def count(self, name: str, seconds: float, *, is_ended: bool) -> None:
        """Count what a call took. ``is_ended``: its process ended over it."""
        now = monotonic()
        spent = self._spent.get(name)
        if spent is None or now - spent.since > _COUNTED_OVER_S:
            spent = Spent(now - seconds)
        spent = spent._replace(seconds=spent.seconds + seconds)
        if is_ended or spent.seconds >= self._longest_s:
            spent = Spent(now, rests_until=now + RESTS_S)
        self._spent[name] = spent


class KeptOut:
    """Calls the plugins of one registry in processes of its own, which are started at once."""

    def __init__(
        self, loaded: LoadedFrom, processes: Sequence[CalculatingProcess] = (), while_storing_s: float | None = None
    ) -> None:
        """``while_storing_s`` is how long all calls may take while something is stored, where not that little."""
        self._processes = tuple(processes) or tuple(CalculatingProcess(loaded) for _ in range(PROCESSES))
        self.rests = Rests(while_storing_s or self._processes[0].longest_s)
        self._left = None if while_storing_s is None else TimeLeft(while_storing_s)
        self._idle: SimpleQueue[CalculatingProcess] = SimpleQueue()
        for process in self._processes:
            _make_ready(process, self._idle)
        self.close = weakref.finalize(self, _close, self._processes)

    def called(self, formula: Formula[Any, Any], part: str, *given: Any) -> Any:
        question = {"calculator": formula.name, "part": part, "given": [values_of(one) for one in given]}
        answer = self._answer(formula.owner, question)
        with reading_answer_of(formula.owner):
            return value_from(formula, part, answer["value"])

    def worked_out(self, formula: Formula[Any, Any], bounds: Sequence[Bound[Any]]) -> list[Result | BevelbookError]:
        """For each of some inputs its result, or the fault that it ended with. One that hangs takes down with it those
        that go across together with it."""
        calculator: Calculator[Any, Any] = formula  # type: ignore[assignment]
        remedy = _AGAIN if time_left() is None else _later(calculator)
        found: list[Result | BevelbookError] = []
        for start in range(0, len(bounds), AT_ONCE):
            some = bounds[start : start + AT_ONCE]
            question = {"calculator": calculator.name, "bounds": [held_of_bound(one) for one in some]}
            try:
                results = self._answer(calculator.owner, question, remedy)["results"]
                found += [_result_or_fault(calculator, *one) for one in zip(some, results, strict=True)]
            except (InputError, PluginFault) as fault:
                found += [fault] * len(some)
        return found

    def findings(self, origin: Origin, opened_as: str) -> tuple[list[Finding], list[str]]:
        owner = CodeOwner("", origin)
        if not opened_as:
            raise stopped(owner, "its checks cannot be asked here", _AGAIN)
        answer = self._answer(owner, {"checks": [origin.plugin, origin.file], "opened_as": opened_as})
        with reading_answer_of(owner):
            return [finding_from(one) for one in answer["findings"]], [f"{one}" for one in answer["reasons"]]

    def _answer(self, owner: CodeOwner, question: Held, remedy: str = _AGAIN) -> Held:
        name = f"{owner.name} of {owner.origin}"
        rests_s = self.rests.left_s(name)
        if rests_s > 0:
            raise stopped(owner, f"it was stopped a moment ago, and rests for {rests_s:.0f} s more", remedy)
        began = monotonic()
        try:
            with self._turn(owner, remedy) as (process, longest_s):
                began = monotonic()
                try:
                    answer = process.ask(question) if longest_s is None else process.ask_once(question, longest_s)
                finally:
                    seconds = monotonic() - began
        except Ended as ended:
            self.rests.count(name, seconds, is_ended=True)
            raise stopped(owner, str(ended), remedy) from ended
        except TypeError as fault:
            raise owner.fault(f"its inputs cannot be handed over: {one_line(fault)}") from fault
        except CannotStart as fault:
            raise stopped(owner, f"its process cannot be started here: {fault}", remedy) from fault
        self.rests.count(name, seconds, is_ended=bool(answer.get("is_last")))
        return read_answer(owner, answer)

    def _why_none_was_free(self) -> str:
        if any(process.is_running for process in self._processes):
            return "other calculations were under way for too long"
        return _NOT_STARTED

    @contextmanager
    def _turn(self, owner: CodeOwner, remedy: str) -> Iterator[tuple[CalculatingProcess, float | None]]:
        """A process that is free, and how long it may be asked; None for as long as usual. Raises PluginFault."""
        left, began = self._left or time_left(), monotonic()
        longest_s = None if left is None else left.seconds
        if longest_s is not None and longest_s <= 0:
            raise stopped(owner, "no time was left for it while the entry was stored", remedy)
        try:
            process = self._idle.get(timeout=WAITS_FOR_TURN_S if longest_s is None else longest_s)
        except Empty:
            raise stopped(owner, self._why_none_was_free(), remedy) from None
        try:
            if longest_s is not None:
                longest_s -= monotonic() - began
            if longest_s is not None and not process.is_running:
                raise stopped(owner, _NOT_STARTED, remedy)
            if longest_s is not None and longest_s <= 0:
                raise stopped(owner, "no time was left for it while the entry was stored", remedy)
            yield process, longest_s
        finally:
            count_wait(monotonic() - began)
            if left is not None:
                left.seconds -= monotonic() - began
            if process.is_running:
                self._idle.put(process)
            else:
                _make_ready(process, self._idle)


def keep_out(registry: Registry) -> None:
    """Have the plugins of a registry that are not bundled called in processes of their own from now on."""
    if registry.loaded_from is not None and registry.plugins_not_bundled() and registry not in _KEPT_OUT:
        made = _KEPT_OUT[registry] = KeptOut(registry.loaded_from)
        registry.keep_out(made)


def let_in(registry: Registry) -> None:
    """End those processes, with the server that they were for."""
    made = _KEPT_OUT.pop(registry, None)
    if made is not None:
        registry.keep_out(None)
        made.close()


_KEPT_OUT: Final[weakref.WeakKeyDictionary[Registry, KeptOut]] = weakref.WeakKeyDictionary()


def _result_or_fault(calculator: Calculator[Any, Any], bound: Bound[Any], held: Held) -> Result | BevelbookError:
    try:
        answer = read_answer(calculator.owner, held)
        with reading_answer_of(calculator.owner):
            return result_from(calculator, bound, answer)
    except (InputError, PluginFault) as fault:
        return fault


def _later(calculator: Calculator[Any, Any]) -> str:
    return f"What was entered is stored. 'bevelbook calc {calculator.name} --all {calculator.of}' works it out."


def _make_ready(process: CalculatingProcess, idle: SimpleQueue[CalculatingProcess]) -> None:
    """Start a process aside, and have it asked from then on; where it cannot be had, who asks it tries again."""

    def start() -> None:
        with suppress(CannotStart):
            process.start()
        idle.put(process)

    threading.Thread(target=start, daemon=True).start()


def _close(processes: Sequence[CalculatingProcess]) -> None:
    for process in processes:
        process.close()
