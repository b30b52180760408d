"""A few processes that answer questions, and what waits for them."""

from __future__ import annotations

import threading
import weakref
from collections.abc import Sequence
from concurrent.futures import Future
from contextlib import suppress
from queue import SimpleQueue

from bevelbook.web.worker.crossing import Held
from bevelbook.web.worker.process import AnsweringProcess, CannotStart, Ended

Asked = tuple[Held, "Future[Held]"]


class TooManyWait(Exception):
    """As many questions wait as may."""


class AnsweringProcesses:
    """Processes of one kind, each started once those before it are all at work."""

    def __init__(self, processes: Sequence[AnsweringProcess], most_waiting: int) -> None:
        self._processes = tuple(processes)
        self._most = len(self._processes) + most_waiting
        self._asked: SimpleQueue[Asked | None] = SimpleQueue()
        self._lock = threading.Lock()
        self._under_way = 0
        self._begun = 0
        self.close = weakref.finalize(self, _close, self._processes, self._asked)

    def submit(self, question: Held) -> Future[Held]:
        """Have a question answered. Raises TooManyWait."""
        future: Future[Held] = Future()
        with self._lock:
            if self._under_way >= self._most:
                raise TooManyWait
            self._under_way += 1
            if self._begun < min(self._under_way, len(self._processes)):
                process = self._processes[self._begun]
                threading.Thread(target=_serve, args=(process, self._asked), daemon=True).start()
                self._begun += 1
        future.add_done_callback(self._done)
        self._asked.put((question, future))
        return future

    @property
    def is_ready(self) -> bool:
        """Whether one of them need not be started first."""
        return any(process.is_ready for process in self._processes)

    def _done(self, _: Future[Held]) -> None:
        with self._lock:
            self._under_way -= 1


def _serve(process: AnsweringProcess, asked: SimpleQueue[Asked | None]) -> None:
    """Answer with one process, in a thread, until the queue says that it is over."""
    while (one := asked.get()) is not None:
        question, future = one
        if not future.set_running_or_notify_cancel():
            continue
        try:
            answer = process.ask(question)
        except Ended as fault:
            future.set_exception(fault)
            with suppress(CannotStart):  # the next question says so
                process.start()
        except (CannotStart, TypeError) as fault:
            future.set_exception(fault)
        else:
            future.set_result(answer)
    process.close()


def _close(processes: Sequence[AnsweringProcess], asked: SimpleQueue[Asked | None]) -> None:
    for process in processes:
        asked.put(None)
        process.close()
