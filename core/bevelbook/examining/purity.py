"""What a function does beside working something out: writing, another process, the network, clock, chance, printing.

Writing, processes and the network are seen by Python's audit events, and refused meanwhile, so that trying a plugin
does no harm; clock, chance and printing by the functions of Python that are called. Both name the line of the plugin
that led to it. What an import of a library does is not counted. ``install`` cannot be undone: a process of its own
calls it.
"""

from __future__ import annotations

import os
import random
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from types import FrameType
from typing import Any, Final, NamedTuple

from bevelbook.examining.parts import BETWEEN

_WRITING_FLAGS: Final = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_WRITES: Final = frozenset(
    f"os.{name}"
    for name in ("chmod", "chown", "link", "mkdir", "remove", "rename", "rmdir", "setxattr", "symlink", "truncate")
) | {"tempfile.mkstemp", "tempfile.mkdtemp"}
_PROCESSES: Final = frozenset(
    ("os.exec", "os.fork", "os.forkpty", "os.kill", "os.killpg", "os.posix_spawn", "os.spawn", "os.startfile")
) | {"os.system", "pty.spawn", "subprocess.Popen"}
_NETWORK: Final = frozenset(("socket", "urllib", "http", "ftplib", "imaplib", "poplib", "smtplib"))
_CLOCKS: Final = frozenset(
    f"{name}{unit}" for name in ("time", "monotonic", "perf_counter", "process_time") for unit in ("", "_ns")
)
_NOW_WITHOUT: Final = {"localtime": 1, "gmtime": 1, "ctime": 1, "asctime": 1, "strftime": 2}
"""Functions of ``time`` that take the present moment where they are called with fewer arguments."""
_BY_NAME: Final = {
    "urandom": "chance",
    "generate_time_safe": "clock",
    "start_new_thread": "thread",
    "start_joinable_thread": "thread",
}
_DAYS: Final = frozenset(("now", "utcnow", "today"))
_CHANCES: Final = frozenset(("random", "getrandbits"))
_IMPORTING: Final = "<frozen importlib"
_IN_MEMORY: Final = ":memory:"


class ImpureCall(NamedTuple):
    """Something that a plugin did beside working something out: what, with which of Python's functions, and where."""

    code: str
    by: str
    file: str
    line: int


class RefusedHere(PermissionError):
    """Raised in a plugin that is being tried, where it would write, start a process or use the network."""


class Watch:
    """Watches the code of one plugin while it is called.

    ``is_own`` says whether a file is one of the plugin's; ``begun`` gets each part that is called next,
    and :data:`~bevelbook.examining.parts.BETWEEN` after it.
    """

    def __init__(self, is_own: Callable[[str], bool], begun: Callable[[str], None]) -> None:
        self.is_own = is_own
        self._begun = begun
        self.seen: list[ImpureCall] = []

    @contextmanager
    def during(self, part: str) -> Iterator[None]:
        """Watch what is called meanwhile."""
        global _watching
        self._begun(part)
        before, _watching = _watching, self
        sys.setprofile(self._called)
        try:
            yield
        finally:
            sys.setprofile(None)
            _watching = before
            self._begun(BETWEEN)

    def audited(self, event: str, given: tuple[Any, ...]) -> None:
        """Note and refuse what writes, or reaches out of the process. Raises RefusedHere."""
        code = _code_of(event, given)
        if code is None:
            return
        where = self._where(sys._getframe(2))
        if where is None:
            return
        self._note(code, event, where)
        raise RefusedHere(f"{event} while a plugin is being tried")

    def asked_for_now(self, by: str) -> None:
        """Note a call that takes the present moment."""
        where = self._where(sys._getframe(2))
        if where is not None:
            self._note("clock", by, where)

    def _called(self, frame: FrameType, event: str, called: Any) -> None:
        if event != "c_call":
            return
        name = called.__name__
        code = None
        if name in _CLOCKS:
            code = "clock" if called.__self__ is time else None
        elif name in _DAYS:
            owner = called.__self__
            code = "clock" if isinstance(owner, type) and issubclass(owner, date) else None
        elif name in _CHANCES:
            code = "chance" if called.__self__ is random._inst else None
        elif name == "seed":
            is_unseeded = frame.f_code.co_filename == random.__file__ and frame.f_locals.get("a", 1) is None
            code = "chance" if is_unseeded else None
        elif name in _BY_NAME:
            code = _BY_NAME[name]
        elif name == "print" or (name == "write" and called.__self__ is sys.stdout):
            code = "prints"
        if code is not None and (where := self._where(frame)) is not None:
            self._note(code, name, where)

    def _note(self, code: str, by: str, where: tuple[str, int]) -> None:
        if not any((one.code, one.file, one.line) == (code, *where) for one in self.seen):
            self.seen.append(ImpureCall(code, by, *where))

    def _where(self, frame: FrameType | None) -> tuple[str, int] | None:
        """The line of the plugin that led here; None where none did, or where a library was being imported."""
        while frame is not None:
            file = frame.f_code.co_filename
            if self.is_own(file):
                return file, frame.f_lineno
            if file.startswith(_IMPORTING):
                return None
            frame = frame.f_back
        return None


def install() -> None:
    """Have Python say what goes on from now on, for as long as this process runs."""
    sys.addaudithook(_audited)
    for name, arguments in _NOW_WITHOUT.items():
        setattr(time, name, _watched(name, getattr(time, name), arguments))


def _watched(name: str, function: Callable[..., Any], arguments: int) -> Callable[..., Any]:
    """The same function of ``time``, which says so where it takes the present moment."""

    def called(*given: Any) -> Any:
        if len(given) < arguments and _watching is not None:
            _watching.asked_for_now(name)
        return function(*given)

    return called


_watching: Watch | None = None


def _audited(event: str, given: tuple[Any, ...]) -> None:
    if _watching is not None:
        _watching.audited(event, given)


def _code_of(event: str, given: tuple[Any, ...]) -> str | None:
    """What an audit event means for a function that should work something out and nothing else; None: nothing."""
    if event == "open":
        return "writes" if given[2] & _WRITING_FLAGS and given[0] != os.devnull else None
    if event in _WRITES or event.startswith("shutil."):
        return "writes"
    if event == "sqlite3.connect":
        return None if given[0] == _IN_MEMORY else "database"
    if event in _PROCESSES:
        return "process"
    return "network" if event.partition(".")[0] in _NETWORK else None
