"""A command on a terminal of its own: what it prints, with answers typed whenever it waits for one."""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from time import monotonic
from typing import NamedTuple

COMMAND = "from bevelbook.cli import main; main()"
SECONDS = 60.0
"""After which a command that says nothing is ended."""
STOP = "\x03"
"""Ctrl-C."""


class Played(NamedTuple):
    """How a command on a terminal ended, and everything that was on the screen."""

    code: int
    screen: str


def play(folder: Path, words: Sequence[str], answers: Sequence[str]) -> Played:
    """Run bevelbook in a folder; each answer is typed with Enter when a line waits for one. Too few answers end it."""
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(folder)
        os.environ.update(COLUMNS="80", PYTHONWARNINGS="error")
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # a process started in the background inherits that it is ignored
        os.execv(sys.executable, [sys.executable, "-c", COMMAND, *words])
    screen, left, answer = b"", list(answers), ""
    ends = monotonic() + SECONDS
    while monotonic() < ends:
        if not select.select([terminal], [], [], 1.0)[0]:
            if answer == STOP:  # it came after the prompt and before the line was read, and waits to be seen
                os.write(terminal, STOP.encode())
            continue
        try:
            more = os.read(terminal, 65536)
        except OSError:
            break
        if not more:
            break
        screen += more
        ends = monotonic() + SECONDS
        if screen.endswith(b": ") and not screen.endswith(b"Error: "):
            answer = left.pop(0) if left else STOP
            os.write(terminal, answer.encode() if answer == STOP else f"{answer}\n".encode())
    else:
        os.kill(child, signal.SIGKILL)
    os.close(terminal)
    _, status = os.waitpid(child, 0)
    return Played(os.waitstatus_to_exitcode(status), screen.decode().replace("\r\n", "\n"))
