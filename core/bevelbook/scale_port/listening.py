"""A thread that listens to a scale for as long as a server runs, and wakes the pages that wait for news."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING, Final

from bevelbook.declare.errors import InputError
from bevelbook.display.begun import begun
from bevelbook.scale_port.last_reading import LastReading, SaidLast
from bevelbook.scale_port.line_cutter import CutLine, LineCutter
from bevelbook.scale_port.line_settings import LineSettings
from bevelbook.scale_port.serial_ports import PortFault, open_port

if TYPE_CHECKING:
    from serial import Serial

RETRY_S: Final = 2.0
"""How long a port rests that could not be opened."""
ASK_S: Final = 1.0
"""How often a scale is asked while a page waits."""
NOTHING_YET: Final = "The port is not open yet."
PULLED_OUT: Final = "The scale was pulled out; it comes back when it is plugged in again."
ENDED: Final = (
    "Nothing comes from the scale any more: a fault in this program. Start 'bevelbook enter' again on the laptop."
)
"""What pages say where the thread that listens is gone though nobody stopped it."""

Opener = Callable[[str, LineSettings], "Serial"]
_Waiting = tuple[asyncio.AbstractEventLoop, "asyncio.Future[None]"]


class ScaleListening:
    """Listens to the scale at a port. ``asked`` is sent to it once a second while a page waits for a reading, to a
    scale that prints only when asked."""

    def __init__(
        self,
        port: str,
        settings: LineSettings,
        asked: bytes = b"",
        *,
        open_port: Opener = open_port,
        retry_s: float = RETRY_S,
        ask_s: float = ASK_S,
    ) -> None:
        self.port = port
        self._settings, self._asked = settings, asked
        self._open_port = open_port
        self._retry_s, self._ask_s = retry_s, ask_s
        self._kept = LastReading()
        self._kept.trouble(NOTHING_YET)
        self._lock = threading.Lock()
        self._waiting: set[_Waiting] = set()
        self._is_stopped = threading.Event()
        self._asked_at = 0.0
        self._thread = threading.Thread(target=self._listen, name="scale", daemon=True)

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def stop(self) -> None:
        """Stop listening, and let every page go that waits."""
        self._is_stopped.set()
        self._wake()
        if self._thread.is_alive():
            self._thread.join()

    @property
    def said(self) -> SaidLast:
        """What the scale said last."""
        with self._lock:
            return self._kept.said

    async def news(self, known: int, within_s: float) -> SaidLast:
        """What the scale said last, as soon as that has another number than ``known``, at the latest after a time."""
        loop = asyncio.get_running_loop()
        waiting = (loop, loop.create_future())
        with self._lock:
            if self._kept.said.number != known or self._is_stopped.is_set():
                return self._kept.said
            self._waiting.add(waiting)
        try:
            with suppress(TimeoutError):
                await asyncio.wait_for(waiting[1], within_s)
        finally:
            with self._lock:
                self._waiting.discard(waiting)
        return self.said

    def _wake(self) -> None:
        with self._lock:
            waiting, self._waiting = self._waiting, set()
        for loop, future in waiting:
            with suppress(RuntimeError):  # its loop is closed, so nobody waits there any more
                loop.call_soon_threadsafe(_done, future)

    def _change(self, change: Callable[[], None]) -> None:
        """Change what was said, and wake who waits where that is news."""
        with self._lock:
            before = self._kept.said.number
            change()
            is_news = self._kept.said.number != before
        if is_news:
            self._wake()

    def _listen(self) -> None:
        try:
            while not self._is_stopped.is_set():
                self._listen_once()
                self._is_stopped.wait(self._retry_s)
        finally:
            if not self._is_stopped.is_set():
                self._trouble(ENDED)

    def _listen_once(self) -> None:
        """Open the port and read on until it is gone."""
        try:
            port = self._open_port(self.port, self._settings)
        except (PortFault, InputError) as fault:
            self._trouble(_sentence(str(fault)))
            return
        self._trouble("")
        try:
            self._read(port)
        except OSError:  # pyserial's own fault is one
            self._trouble(PULLED_OUT)
        finally:
            _close(port)

    def _read(self, port: Serial) -> None:
        cutter = LineCutter(time.monotonic())
        while not self._is_stopped.is_set():
            self._ask(port)
            data = port.read(1)
            data += port.read(port.in_waiting) if data else b""
            at = time.monotonic()
            for line in cutter.feed(data, at) if data else cutter.pause(at):
                self._take(line, at)

    def _take(self, line: CutLine, at: float) -> None:
        self._change(lambda: self._kept.take(line, at))

    def _trouble(self, words: str) -> None:
        self._change(lambda: self._kept.trouble(words))

    def _ask(self, port: Serial) -> None:
        now = time.monotonic()
        with self._lock:
            is_due = bool(self._asked and self._waiting) and now - self._asked_at >= self._ask_s
        if is_due:
            self._asked_at = now
            port.write(self._asked)


def _sentence(words: str) -> str:
    """What is wrong with a port, as pages say it."""
    return f"{begun(words)}{'' if words.endswith('.') else '.'}"


def _done(future: asyncio.Future[None]) -> None:
    if not future.done():
        future.set_result(None)


def _close(port: Serial) -> None:
    with suppress(OSError):  # it is gone already
        port.close()
