"""What a calculator gives to a screen of the bench: how long to wait, and the passes over the screws of a lid.

A calculator declares this itself, so that the bench need not know any by name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import isfinite
from typing import Final, Generic, Literal, NamedTuple, TypeVar, get_args

from bevelbook.plugin.guard import Unfit, empty_or_text_taken, safe_repr, text_taken
from bevelbook.plugin.returned_values import picture_taken

G = TypeVar("G")
F = TypeVar("F")

HowToWait = Literal["stand", "pump"]
WAYS_TO_WAIT: Final[tuple[HowToWait, ...]] = get_args(HowToWait)


class BenchWait(NamedTuple):
    """A way to let bubbles leave the oil: standing open or pumped down, how in words, and the time it takes at most.

    ``at_most_s`` is in seconds, over 0.
    """

    how: HowToWait
    words: str
    at_most_s: float


class BenchPass(NamedTuple):
    """One pass over the screws: what to do, its torque or angle with the unit (empty where it goes by feel), the order
    of the screws, and a drawing of them (SVG) with the turn of each in this pass."""

    words: str
    figure: str
    order: str
    picture: str


class OnBench(NamedTuple, Generic[G, F]):
    """How a calculator helps at the bench, in a step of the procedure that names it.

    asks           names of the inputs that the screen asks for, such as what a gauge shows
    waits          ways to wait, the slowest first, from what went in and what came out
    passes         the passes over the screws, one a screen
    """

    asks: tuple[str, ...] = ()
    waits: Callable[[G, F], Iterable[BenchWait]] | None = None
    passes: Callable[[G, F], Iterable[BenchPass]] | None = None


def waits_taken(waits: object) -> tuple[BenchWait, ...]:
    """Ways to wait as they are declared. Raises Unfit."""
    return tuple(map(_wait_taken, _listed(waits, "ways to wait")))


def passes_taken(passes: object) -> tuple[BenchPass, ...]:
    """Passes as they are declared. Raises Unfit."""
    return tuple(map(_pass_taken, _listed(passes, "passes")))


def _listed(values: object, wanted: str) -> Iterable[object]:
    if not isinstance(values, Iterable):
        raise Unfit(f"{safe_repr(values)} where {wanted} are wanted")
    return values


def _wait_taken(wait: object) -> BenchWait:
    if not isinstance(wait, BenchWait):
        raise Unfit(f"{safe_repr(wait)} where a BenchWait is wanted")
    if wait.how not in WAYS_TO_WAIT:
        raise Unfit(f"a wait of the kind {safe_repr(wait.how)}, which is none of {', '.join(WAYS_TO_WAIT)}")
    seconds = wait.at_most_s
    if isinstance(seconds, bool) or not isinstance(seconds, int | float) or not isfinite(seconds) or seconds <= 0:
        raise Unfit(f"a wait of {safe_repr(seconds)} s, which has to be over 0")
    return BenchWait("pump" if wait.how == "pump" else "stand", text_taken(wait.words), float(seconds))


def _pass_taken(one: object) -> BenchPass:
    if not isinstance(one, BenchPass):
        raise Unfit(f"{safe_repr(one)} where a BenchPass is wanted")
    return BenchPass(
        text_taken(one.words),
        empty_or_text_taken(one.figure),
        empty_or_text_taken(one.order),
        picture_taken(one.picture),
    )
