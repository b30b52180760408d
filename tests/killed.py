"""An act in a process of its own that ends without warning at a moment: before a step, or after some time.

A step is what changes a file: one that is opened for writing, renamed, linked or removed, and what SQLite is asked for
at the beginning and the end of a transaction. The process is a fork of this one, so that nothing is imported again.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sqlite3
import sys
import time
import traceback
import warnings
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from typing import Any, Final, NamedTuple

import click

_OPENED_TO_WRITE: Final = os.O_WRONLY | os.O_RDWR | os.O_CREAT
_CHANGES: Final = frozenset(
    {
        *("os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink", "os.mkdir", "os.truncate", "os.chmod"),
        *("os.utime", "shutil.rmtree", "shutil.copymode", "sqlite3.connect"),
    }
)
_STATEMENTS: Final = ("BEGIN", "COMMIT", "ROLLBACK", "VACUUM", "PRAGMA wal_checkpoint", "PRAGMA journal_mode")
_FAULT: Final = 99


class Moment(NamedTuple):
    """When a process ends: before the step of that number, or so long after it (after the beginning, without one).

    With ``raises`` it does not end: the step fails with that, once.
    """

    step: int | None = None
    after_s: float | None = None
    raises: BaseException | None = None


class Ended(NamedTuple):
    """How a process ended: its exit code, negative for a signal; how long it took; its steps, each with its time since
    the beginning; what it printed."""

    code: int
    took_s: float
    steps: tuple[tuple[str, float], ...]
    said: str

    @property
    def is_killed(self) -> bool:
        return self.code == -signal.SIGKILL


NEVER: Final = Moment()


def load_all() -> None:
    """Import everything that a command may need, so that no process does that by itself; and load the plugins."""
    import bevelbook
    from bevelbook.plugin.registry import load

    for one in walk_packages(bevelbook.__path__, "bevelbook."):
        if not one.name.startswith("bevelbook.web.host.datasette_templates"):
            import_module(one.name)
    load()


def forked(
    act: Callable[[Callable[[], None]], object], said: Path, moment: Moment = NEVER, *, says_when: bool = False
) -> Ended:
    """Run a function in a fork, with what it prints in a file, and kill it at a moment.

    The function is given another to call when what is tried begins, where it ``says_when``; else it begins at once.
    What it returns, or ends with by SystemExit, is the exit code; what it leaves running ends with it.
    """
    steps = said.with_suffix(".steps")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of threads, which the fork does without
        pid = os.fork()
    if pid == 0:
        code = _FAULT
        try:
            os.setsid()
            said.write_bytes(b"")
            for number in (0, 1, 2):
                os.dup2(os.open(said if number else os.devnull, os.O_RDWR | os.O_APPEND), number)
            sys.stdout, sys.stderr = (os.fdopen(number, "w", encoding="utf-8", closefd=False) for number in (1, 2))
            watch = _Watch(moment, steps)
            if not says_when:
                watch.begin()
            try:
                code = int(str(act(watch.begin) or 0))
            except SystemExit as ended:
                code = int(str(ended.code or 0))
            watch.end()
        except BaseException:
            traceback.print_exc()
        finally:
            for stream in (sys.stdout, sys.stderr):
                stream.flush()
            os._exit(code)
    began = time.monotonic()
    code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    took_s = time.monotonic() - began
    _end_group(pid)
    listed: tuple[tuple[str, float], ...] = ()
    if steps.exists():
        words = (line.rpartition(" ") for line in steps.read_text(encoding="utf-8").splitlines())
        listed = tuple((name, float(at)) for name, _, at in words)
        steps.unlink()
    return Ended(code, took_s, listed, said.read_text(encoding="utf-8", errors="replace"))


def _end_group(pid: int) -> None:
    with suppress(ProcessLookupError):
        os.killpg(pid, signal.SIGKILL)


class _Watch:
    """Counts the steps of this process from the beginning on, and ends it at its moment."""

    def __init__(self, moment: Moment, steps: Path) -> None:
        self._moment, self._file = moment, steps
        self._steps: list[tuple[str, float]] | None = None
        self._began = time.monotonic()
        sys.addaudithook(self._audited)
        connect, counted = sqlite3.connect, _counted(self._step)

        def connected(*given: Any, **more: Any) -> sqlite3.Connection:
            return connect(*given, **{"factory": counted, **more})

        echo = click.echo

        def echoed(*given: Any, **more: Any) -> None:
            self._step("print")
            echo(*given, **more)

        sqlite3.connect, click.echo = connected, echoed  # type: ignore[assignment]

    def begin(self) -> None:
        """From here on steps count, and time."""
        self._steps, self._began = [], time.monotonic()
        if self._moment.step is None and self._moment.after_s is not None:
            kill_after(self._moment.after_s)

    def end(self) -> None:
        """Write down the steps."""
        found, self._steps = self._steps or [], None
        found.append(("the end", time.monotonic() - self._began))
        self._file.write_text("".join(f"{name} {at}\n" for name, at in found), encoding="utf-8")

    def _audited(self, event: str, given: tuple[Any, ...]) -> None:
        is_change = event in _CHANGES or (event == "open" and bool((given[2] or 0) & _OPENED_TO_WRITE))
        if is_change and self._steps is not None and os.devnull not in map(str, given):
            self._step(event)

    def _step(self, name: str) -> None:
        if self._steps is None:
            return
        if self._moment.step == len(self._steps):
            if self._moment.raises is not None:
                self._steps.append((name, time.monotonic() - self._began))
                raise self._moment.raises
            if self._moment.after_s is None:
                os.kill(os.getpid(), signal.SIGKILL)
            else:
                kill_after(self._moment.after_s)
        self._steps.append((name, time.monotonic() - self._began))


def _counted(step: Callable[[str], None]) -> type[sqlite3.Connection]:
    """A connection that says where a transaction begins and ends."""

    class CountedConnection(sqlite3.Connection):
        def execute(self, sql: str, *given: Any) -> sqlite3.Cursor:
            word = next((one for one in _STATEMENTS if sql.startswith(one)), None)
            if word is None:
                return super().execute(sql, *given)
            step(f"before {word}")
            found = super().execute(sql, *given)
            step(f"after {word}")
            return found

        def commit(self) -> None:
            step("before COMMIT")
            super().commit()
            step("after COMMIT")

        def close(self) -> None:
            step("before close")
            super().close()

    return CountedConnection


class _SignalEvent(ctypes.Structure):
    _fields_ = (
        ("value", ctypes.c_void_p),
        ("signo", ctypes.c_int),
        ("notify", ctypes.c_int),
        ("rest", ctypes.c_int * 12),
    )


class _Times(ctypes.Structure):
    _fields_ = (("every_s", ctypes.c_long), ("every_ns", ctypes.c_long), ("s", ctypes.c_long), ("ns", ctypes.c_long))


def kill_after(seconds: float) -> None:
    """Have the system kill this process after some time, whatever it does then (Linux alone)."""
    system = ctypes.CDLL(None, use_errno=True)
    timer = ctypes.c_void_p()
    event = _SignalEvent(None, signal.SIGKILL, 0)
    ns = max(1, round(seconds * 1e9))
    times = _Times(0, 0, *divmod(ns, 1_000_000_000))
    if system.timer_create(time.CLOCK_MONOTONIC, ctypes.byref(event), ctypes.byref(timer)) or system.timer_settime(
        timer, 0, ctypes.byref(times), None
    ):
        raise OSError(ctypes.get_errno(), "no timer")
