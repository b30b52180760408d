"""One process that answers questions: started when first needed, and again where a question ended it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from contextlib import suppress
from time import monotonic
from typing import Final

from bevelbook.declare.errors import PluginFault
from bevelbook.plugin.registry import LoadedFrom
from bevelbook.web.worker import child
from bevelbook.web.worker.crossing import Held

LONGEST_S: Final = 2.0
"""The longest that one calculation may take. Our own figure, as all here."""
MOST_BYTES: Final = 1 << 30
"""The address space of one process, of which the libraries take a third."""
_PATIENCE_S: Final = 20.0
"""How much later a process that does not end itself, as one that loads libraries or was stopped, is ended."""
_LITTLE_PATIENCE_S: Final = 0.2
_ONE_THREAD: Final = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


class Ended(Exception):
    """The process ended over a question; ``in_time`` unless that took too long. Its text says which."""

    def __init__(self, after_s: float, longest_s: float) -> None:
        self.in_time = after_s < longest_s
        super().__init__(
            "it ended in the middle of its work"
            if self.in_time
            else f"it took over {max(0.1, round(longest_s, 1)):g} s and was stopped"
        )


class CannotStart(Exception):
    """No process can be had here."""


class AnsweringProcess:
    """One process, which one thread asks; another may close it. Questions are answered there by the class that
    ``answering`` names, as MODULE:CLASS, which is made with ``given``."""

    def __init__(
        self,
        answering: str,
        given: Held,
        longest_s: float = LONGEST_S,
        most_bytes: int = MOST_BYTES,
        longest_answer_bytes: int = child.LONGEST_ANSWER_BYTES,
    ) -> None:
        self._beginning = {
            "answering": answering,
            "given": given,
            "most_bytes": most_bytes,
            "longest_answer_bytes": longest_answer_bytes,
        }
        self.longest_s = longest_s
        self._longest_answer_bytes = longest_answer_bytes
        self.is_ready = False
        """Whether it runs and has loaded what it needs."""
        self._running: subprocess.Popen[bytes] | None = None
        self._is_over = False
        self._number = 0

    @property
    def is_running(self) -> bool:
        """Whether it was started and did not end over a question since."""
        return self._running is not None

    def start(self) -> None:
        """Start it before the first question. Raises CannotStart."""
        if self._running is None:
            self._started()

    def ask(self, question: Held) -> Held:
        """The answer to a question. Raises Ended, CannotStart, or TypeError where JSON cannot hold the question.

        A process that answered before may have ended since: then a new one is asked.
        """
        is_new = self._running is None
        try:
            return self._asked(json.dumps(question), self.longest_s_of(question))
        except Ended as ended:
            if is_new or not ended.in_time:
                raise
        return self._asked(json.dumps(question), self.longest_s_of(question))

    def longest_s_of(self, question: Held) -> float:
        """The longest that the answer to a question may take."""
        return self.longest_s

    def ask_once(self, question: Held, longest_s: float) -> Held:
        """The same within so many seconds and little more, whatever the process does: no other one is started."""
        return self._asked(json.dumps(question), longest_s, _LITTLE_PATIENCE_S)

    def close(self) -> None:
        """End it for good."""
        self._is_over = True
        self._end()

    def _end(self) -> None:
        running, self._running, self.is_ready = self._running, None, False
        if running is None:
            return
        _kill(running)
        with suppress(OSError):
            running.stdin.close()  # type: ignore[union-attr]
        running.wait()
        running.stdout.close()  # type: ignore[union-attr]

    def _asked(self, question: str, longest_s: float, patience_s: float = _PATIENCE_S) -> Held:
        running = self._running or self._started()
        self._number += 1
        began = monotonic()
        answer = self._answer(running, question, longest_s, patience_s)
        if answer is None:
            self._end()
            raise Ended(monotonic() - began, longest_s)
        if answer.get("is_last"):
            self._end()
        return answer

    def _started(self) -> subprocess.Popen[bytes]:
        if self._is_over:
            raise CannotStart("this server is being stopped")
        try:
            running = subprocess.Popen(
                [sys.executable, "-P", child.__file__],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env={**_ONE_THREAD, **os.environ},
                start_new_session=True,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError as fault:
            raise CannotStart(fault.strerror or str(fault)) from fault
        self._running, self._number = running, 0
        tracebacks = PluginFault.show_traceback is not None
        beginning = json.dumps({"path": sys.path, "tracebacks": tracebacks, **self._beginning})
        if self._answer(running, beginning, child.LOADING_S, 0.0) is None:
            self._end()
            raise CannotStart("the process for it ended while it was started")
        self.is_ready = True
        return running

    def _answer(
        self, running: subprocess.Popen[bytes], question: str, longest_s: float, patience_s: float
    ) -> Held | None:
        """The answer; None where the process ended before it, or sent something else."""
        stopped = threading.Timer(longest_s + patience_s, _kill, [running])
        stopped.daemon = True
        stopped.start()
        try:
            line = f'{{"number": {self._number}, "longest_s": {longest_s}, "asked": {question}}}\n'
            running.stdin.write(line.encode())  # type: ignore[union-attr]
            running.stdin.flush()  # type: ignore[union-attr]
            answer: Held = json.loads(running.stdout.readline(self._longest_answer_bytes + 2))  # type: ignore[union-attr]
        except (OSError, ValueError):
            return None
        finally:
            stopped.cancel()
        return answer if isinstance(answer, dict) and answer.get("number") == self._number else None


class CalculatingProcess(AnsweringProcess):
    """One that calculates, with the plugins of a registry."""

    def __init__(self, loaded: LoadedFrom, longest_s: float = LONGEST_S, most_bytes: int = MOST_BYTES) -> None:
        folder = None if loaded.folder is None else str(loaded.folder)
        given = {"folder": folder, "left_out": dict(loaded.left_out)}
        super().__init__("bevelbook.web.worker.answering:Answering", given, longest_s, most_bytes)


def _kill(running: subprocess.Popen[bytes]) -> None:
    """End a process, and those that it began, where the platform keeps them together."""
    if hasattr(os, "killpg"):
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(running.pid, signal.SIGKILL)
    running.kill()
