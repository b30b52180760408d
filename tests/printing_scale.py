"""A scale that prints, played by a pseudo-terminal; and one that is listened to.

All lines are invented, in the forms that such printers commonly use.
"""

from __future__ import annotations

import asyncio
import os
import pty
import select
import tty
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

from bevelbook.scale_port.last_reading import SaidLast
from bevelbook.scale_port.line_settings import LineSettings
from bevelbook.scale_port.listening import ScaleListening

SETTINGS = LineSettings(9600)
SECONDS = 10.0
"""Longest wait for what has to come at once."""


class PrintingScale:
    """A scale at the port ``path``, which keeps its name when it is pulled out and plugged in again."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.plug_in()

    def plug_in(self) -> None:
        """The port is there."""
        self._scale, self._port = pty.openpty()
        tty.setraw(self._port)
        self.path.symlink_to(os.ttyname(self._port))

    def pull_out(self) -> None:
        """The port goes, in the middle of whatever it does."""
        self.path.unlink()
        os.close(self._scale)
        os.close(self._port)

    def prints(self, *lines: str | bytes) -> None:
        """Lines, each ended by CR and LF where it is text."""
        for line in lines:
            os.write(self._scale, line if isinstance(line, bytes) else f"{line}\r\n".encode("ascii"))

    def asked(self) -> bytes:
        """What was sent to it; waits for it."""
        ready, _, _ = select.select([self._scale], [], [], SECONDS)
        return os.read(self._scale, 100) if ready else b""


def wait_for(listening: ScaleListening, holds: Callable[[SaidLast], bool]) -> SaidLast:
    """What the scale said last, as soon as it is so."""

    async def wait() -> SaidLast:
        said = listening.said
        while not holds(said):
            said = await listening.news(said.number, SECONDS)
        return said

    async def bounded() -> SaidLast:
        return await asyncio.wait_for(wait(), SECONDS)

    with ThreadPoolExecutor(1) as other:  # a browser's driver has a loop of its own in this thread
        return other.submit(lambda: asyncio.run(bounded())).result()


@contextmanager
def listened_to(scale: PrintingScale, asked: bytes = b"", **more: float) -> Iterator[ScaleListening]:
    """That scale, listened to since its port was opened; its first line is whole."""
    listening = ScaleListening(str(scale.path), SETTINGS, asked, **more)
    listening.start()
    try:
        wait_for(listening, lambda said: not said.trouble)
        scale.prints("")
        yield listening
    finally:
        listening.stop()
