"""Limits of a process that calls plugins for another one: of the time that a call takes, and of memory."""

from __future__ import annotations

import faulthandler
from contextlib import suppress
from math import inf
from time import monotonic
from typing import Any, Final

_AGAIN_AFTER_S: Final = 0.2
_LEAST_S: Final = 0.05


class CallClock:
    """Ends this process once a call has taken its time, whatever the call does meanwhile; its lines are written to a
    file before. Loading a library starts that time again, within the whole that :meth:`begin_all` gives."""

    def __init__(self, lines_go_to: Any) -> None:
        self._lines_go_to = lines_go_to
        self._longest_s = 0.0
        self._ends = inf
        self._began = 0.0

    def begin_all(self, seconds: float, longest_s: float) -> None:
        """Begin a call of several that have so many seconds together."""
        self._ends = monotonic() + seconds
        self.begin(longest_s)

    def begin(self, longest_s: float) -> None:
        """Begin a call."""
        self._began, self._longest_s = monotonic(), longest_s
        left_s = max(_LEAST_S, min(longest_s, self._ends - self._began))
        faulthandler.dump_traceback_later(left_s, exit=True, file=self._lines_go_to)

    def end(self) -> None:
        """The call ended by itself."""
        self._longest_s = 0.0
        faulthandler.cancel_dump_traceback_later()

    def find_spec(self, name: str, path: object = None, target: object = None) -> None:
        """Asked by Python for each module that is not loaded yet; the others find it."""
        if self._longest_s and monotonic() - self._began > _AGAIN_AFTER_S:
            self.begin(self._longest_s)


def limit_memory(most_bytes: int, *, for_good: bool) -> None:
    """Have memory beyond that refused, where the platform can; ``for_good`` so that it cannot be raised again, as for
    a process of its own that draws."""
    try:
        import resource
    except ImportError:
        return
    with suppress(ValueError, OSError):
        most = most_bytes if for_good else resource.getrlimit(resource.RLIMIT_AS)[1]
        resource.setrlimit(resource.RLIMIT_AS, (most_bytes, most))
