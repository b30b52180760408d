"""The code of a plugin called in another process, for a program that may not be held up by it, such as a server.

What is bundled with the program runs in the program itself: its tests hold it to its limits, and a crossing costs more
than most of its calculations. Whoever changes the installed bundled modules changes the program.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any, Final, Protocol

from bevelbook.declare.errors import BevelbookError

if TYPE_CHECKING:
    from bevelbook.plugin.calculator import Formula
    from bevelbook.plugin.check import Finding
    from bevelbook.plugin.origin import Origin


class Elsewhere(Protocol):
    """Calls plugins in another process. Each raises PluginFault where that takes too long, or ends that process."""

    def called(self, formula: Formula[Any, Any], part: str, *given: Any) -> Any:
        """What one function of a calculator returns. Raises InputError too."""
        ...

    def worked_out(self, formula: Formula[Any, Any], bounds: Sequence[Any]) -> Sequence[Any | BevelbookError]:
        """For each of some inputs its result, or the fault that it ended with; all in one crossing."""
        ...

    def findings(self, origin: Origin, opened_as: str) -> tuple[list[Finding], list[str]]:
        """What the checks of a plugin find in a database, and why others were left out."""
        ...


class TimeLeft:
    """How long all calls elsewhere may still take together."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds


class Waited:
    """How long calls elsewhere took in all, in seconds."""

    seconds = 0.0


_WAITED: Final[ContextVar[Waited | None]] = ContextVar("waited", default=None)
_LEFT: Final[ContextVar[TimeLeft | None]] = ContextVar("left", default=None)


@contextmanager
def short_of_time(seconds: float) -> Iterator[None]:
    """Let all calls of plugins elsewhere take so long in all: others wait, as for a database that is written to."""
    token = _LEFT.set(TimeLeft(seconds))
    try:
        yield
    finally:
        _LEFT.reset(token)


def time_left() -> TimeLeft | None:
    """How long calls elsewhere may still take, for whoever makes one to count down; None where nobody waits."""
    return _LEFT.get()


@contextmanager
def waits_counted() -> Iterator[Waited]:
    """Have it counted how long calls elsewhere take, for a limit that they are not to use up."""
    waited = Waited()
    token = _WAITED.set(waited)
    try:
        yield waited
    finally:
        _WAITED.reset(token)


def count_wait(seconds: float) -> None:
    """Count a call elsewhere, where somebody asks for that."""
    waited = _WAITED.get()
    if waited is not None:
        waited.seconds += seconds
