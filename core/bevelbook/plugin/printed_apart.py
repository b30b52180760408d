"""What plugins print goes to standard error, so that standard output holds what the program itself prints: JSON stays
JSON, and CSV stays CSV.

The command line puts an :class:`OwnOutput` in the place of ``sys.stdout``. Before the first plugin that is not bundled
is imported, the program takes a copy of standard output for itself, and standard output as the system knows it, number
1, leads to standard error from then on: so does what is written there past Python, by a child process or by a library
in C. What Python writes while a plugin's code runs, or in a thread that the program did not start with, goes there too.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, Final, TextIO

_STANDARD_OUTPUT: Final = 1
_STANDARD_ERROR: Final = 2


class OwnOutput:
    """Stands for ``sys.stdout``: the program's own stream, and standard error while the code of a plugin runs."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream
        self.depth = 0
        """How many calls of plugins are under way in the thread of the program."""
        self._thread = threading.get_ident()

    def __getattr__(self, name: str) -> Any:
        is_apart = self.depth or (_is_watched and not self.is_here)
        return getattr(sys.stderr if is_apart else self.stream, name)

    def take_place_again(self) -> None:
        """Stand for ``sys.stdout`` again, where a plugin put something else there and left it."""
        if not self.depth and _own is self and sys.stdout is not self:
            sys.stdout = self

    @property
    def is_here(self) -> bool:
        """Whether this is the thread of the program."""
        return threading.get_ident() == self._thread


_own: OwnOutput | None = None
"""Set while a command runs."""
_is_watched: bool = False
"""Whether a plugin that is not bundled may be loaded: until then nobody prints but the program."""


@contextmanager
def own_output() -> Iterator[None]:
    """Keep what plugins print out of standard output meanwhile. Also a decorator."""
    global _own, _is_watched
    before = sys.stdout
    if before is None or _own is not None:
        yield
        return
    _own, _is_watched = OwnOutput(before), False
    sys.stdout = _own
    try:
        yield
    finally:
        own, _own, _is_watched = _own, None, False
        sys.stdout = before
        if own.stream is not before:
            with suppress(OSError, ValueError):
                own.stream.close()


def stream_from_elsewhere() -> TextIO | None:
    """What the program itself prints on in another thread than its own; None where ``sys.stdout`` will do."""
    return None if _own is None or _own.is_here else _own.stream


def keep_apart() -> None:
    """From now on code that is not the program's may run: called before the first of it is imported."""
    global _own, _is_watched
    if _own is None or _is_watched:
        return
    _is_watched = True
    apart = _copied(_own.stream)
    if apart is not None:
        _own = OwnOutput(apart)  # another object, since who wraps sys.stdout remembers for which one
        sys.stdout = _own


def own_output_here() -> OwnOutput | None:
    """What stands for standard output, for whoever calls a plugin from this thread to count that; None where nobody
    else can print, or this is another thread."""
    return _own if _is_watched and _own is not None and _own.is_here else None


def _copied(stream: TextIO) -> TextIO | None:
    """A stream to what standard output is now, which itself leads to standard error from then on; None where the stream
    is something else, as in a test or a notebook."""
    try:
        if stream.fileno() != _STANDARD_OUTPUT:
            return None
        stream.flush()
        copy = os.dup(_STANDARD_OUTPUT)
    except (OSError, ValueError, AttributeError):
        return None
    try:
        os.dup2(_STANDARD_ERROR, _STANDARD_OUTPUT)
    except OSError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), _STANDARD_OUTPUT)
    made = open(copy, "w", encoding=stream.encoding, errors=stream.errors)  # noqa: PTH123, SIM115
    if isinstance(stream, type(made)):
        made.reconfigure(line_buffering=stream.line_buffering, write_through=stream.write_through)
    return made
