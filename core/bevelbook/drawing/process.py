"""Ask the process that draws: it is started when first needed, and again where a specification ended it."""

from __future__ import annotations

import atexit
import json
import os
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path
from time import monotonic
from typing import Final

from bevelbook.drawing import child
from bevelbook.drawing.faults import CannotDraw, SpecRefused, TookTooLong

_FIRST_LINE: Final = "Vega-Lite to SVG conversion failed:"
_LONGEST_REASON: Final = 200
LONGEST_S: Final = 10.0
"""The longest that one drawing may take."""
_PATIENCE_S: Final = 5.0
"""How much later a process that does not end itself, as one that was stopped, is ended."""


class DrawingProcess:
    """The process that draws, one picture at a time. Threads may share it."""

    def __init__(self, longest_s: float = LONGEST_S) -> None:
        self._longest_s = longest_s
        self._lock = threading.Lock()
        self._running: subprocess.Popen[bytes] | None = None
        self._started_by = 0
        self._is_over = False

    def draw(self, specification: str) -> str:
        """The SVG of a Vega-Lite specification, which is one line of JSON.

        Raises SpecRefused, TookTooLong where it was given up, or CannotDraw where no process can be had.
        """
        with self._lock:
            line = self._answer(specification) or self._answer(specification)
        if not line:
            raise TookTooLong("the process that draws ended twice over it, perhaps for want of memory")
        answer = json.loads(line)
        if "svg" not in answer:
            raise SpecRefused(_reason(answer["fault"]))
        return str(answer["svg"])

    def _answer(self, specification: str) -> bytes:
        """What the process answers; nothing where it ended before its time, as one does that somebody killed.

        Raises TookTooLong where it ended itself.
        """
        asked = self._process()
        began = monotonic()
        stopped = threading.Timer(self._longest_s + _PATIENCE_S, asked.kill)
        stopped.start()
        try:
            asked.stdin.write(specification.encode() + b"\n")  # type: ignore[union-attr]
            asked.stdin.flush()  # type: ignore[union-attr]
            line = asked.stdout.readline()  # type: ignore[union-attr]
        except OSError:
            line = b""
        finally:
            stopped.cancel()
        if not line:
            self._end()
            if monotonic() - began >= self._longest_s:
                raise TookTooLong(f"drawing it took over {self._longest_s:g} s")
        return line

    def start(self) -> None:
        """Start it ahead of the first drawing. Raises CannotDraw."""
        with self._lock:
            self._process()

    def end(self) -> None:
        """End it for good, in the middle of a drawing too, without waiting for it; a drawing after this is refused."""
        self._is_over = True
        running = self._running
        if running is not None and self._started_by == os.getpid():
            running.kill()

    def close(self) -> None:
        """End it; a drawing after this starts it again."""
        with self._lock:
            self._end()

    def _process(self) -> subprocess.Popen[bytes]:
        running = self._running
        if self._is_over:
            raise CannotDraw("charts are not drawn any more: this server is being stopped")
        if running is not None and self._started_by == os.getpid() and running.poll() is None:
            return running
        if self._started_by == os.getpid():
            self._end()
        words = [sys.executable, "-P", child.__file__, str(self._longest_s)]
        try:
            running = subprocess.Popen(
                words,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd=Path(child.__file__).parent,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError as fault:
            raise CannotDraw(f"charts cannot be drawn here: {fault.strerror or fault}") from fault
        self._running, self._started_by = running, os.getpid()
        if not running.stdout.readline():  # type: ignore[union-attr]
            self._end()
            raise CannotDraw("charts cannot be drawn here: the package vl-convert-python is missing or does not start")
        return running

    def _end(self) -> None:
        running, self._running = self._running, None
        if running is None or self._started_by != os.getpid():
            return
        running.kill()
        with suppress(OSError):
            running.stdin.close()  # type: ignore[union-attr]
        running.stdout.close()  # type: ignore[union-attr]
        running.wait()


def _reason(words: str) -> str:
    """What the library says is wrong, without the lines of its own code."""
    lines = [line.strip() for line in words.removeprefix(_FIRST_LINE).splitlines() if line.strip()]
    return (lines[0] if lines else "no reason was given")[:_LONGEST_REASON].removesuffix(".")


PROCESS: Final = DrawingProcess()
atexit.register(PROCESS.close)
