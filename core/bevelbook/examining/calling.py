"""The calls that an examination makes: whatever a plugin does in one becomes flaws, and nothing else comes out."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Any, Final, TypeVar

from bevelbook.declare.errors import BevelbookError, Place, PluginFault
from bevelbook.examining.flaw import Flaw
from bevelbook.examining.purity import ImpureCall, Watch
from bevelbook.plugin import guard
from bevelbook.plugin.guard import CodeOwner, one_line

T = TypeVar("T")

_WORDS: Final = {
    "writes": ("writes to a file ({})", "Return the numbers alone: what is kept, and where, is the program's."),
    "database": (
        "opens a database ({})",
        "Take what it needs as inputs: same_as= has one taken from a record. A check gets a reader.",
    ),
    "process": ("starts another program ({})", "Work it out in Python, or take the number as an input."),
    "network": (
        "uses the network ({})",
        "Take what it needs as an input, or bring it as a file with the plugin: at the track there is no network.",
    ),
    "clock": (
        "reads the clock ({})",
        "Take the day or the time as an input: the same inputs have to give the same result next year.",
    ),
    "chance": (
        "draws random numbers ({})",
        "Leave them out, or draw from random.Random(1), which always draws the same.",
    ),
    "thread": ("starts a thread ({})", "Work it out in one go: what is left running is ended."),
    "prints": (
        "prints ({})",
        "Return what is to be said: in reasons, findings or the working. What it prints is seen by nobody.",
    ),
}
_HERE: Final = str(Path(__file__).parent)
_SERIOUS: Final = frozenset(("writes", "database", "process", "network"))


class Calls:
    """Calls parts of a plugin, and gathers what is wrong with them.

    ``watch`` tells what they do beside working something out; without one, that is not looked at.
    """

    def __init__(self, owner: CodeOwner, calculator: str | None, watch: Watch | None = None) -> None:
        self._owner = owner
        self._calculator = calculator
        self._watch = watch
        self.flaws: list[Flaw] = []

    def make(self, part: str, function: Callable[[], T]) -> T | BevelbookError:
        """What a call gives, or the fault that it ended with. What it did beside that becomes flaws."""
        watching: AbstractContextManager[None] = nullcontext() if self._watch is None else self._watch.during(part)
        known = 0 if self._watch is None else len(self._watch.seen)
        try:
            with watching:
                found: T = guard.call(self._owner, part, function, taken=_same, may_refuse=True)
                return found
        except BevelbookError as fault:
            return fault
        finally:
            if self._watch is not None:
                self.flaws += [self.flaw_of(one, part) for one in self._watch.seen[known:]]

    def needs(self, part: str, function: Callable[[], T], declared: Place, code: str, remedy: str) -> T | None:
        """What a call gives that has to go well; None where it does not, which is a serious flaw."""
        before = len(self.flaws)
        found = self.make(part, function)
        if not isinstance(found, BevelbookError):
            return found
        if not any(one.is_serious for one in self.flaws[before:]):
            self.flaws.append(self.of_fault(found, declared, code, remedy))
        return None

    def of_fault(self, fault: BevelbookError, declared: Place, code: str, remedy: str, start: str = "") -> Flaw:
        """The serious flaw that a fault is."""
        how = fault.how if isinstance(fault, PluginFault) else one_line(fault)
        return self.flaw(code, f"{start}{how}", remedy, self.place_of(fault, declared), is_serious=True)

    def place_of(self, fault: BevelbookError, declared: Place) -> Place:
        """The plugin's line that a fault comes from: the innermost that ran, else the function that gave a wrong value,
        else where it is ``declared``."""
        if not isinstance(fault, PluginFault):
            return declared
        step, own = None if fault.__cause__ is None else fault.__cause__.__traceback__, None
        while step is not None:
            file = step.tb_frame.f_code.co_filename
            if self._watch is not None and self._watch.is_own(file):
                own = Place(file, step.tb_lineno)
            step = step.tb_next
        if own is not None:
            return own
        is_elsewhere = fault.place.file is None or fault.place.file.startswith(_HERE)
        return declared if is_elsewhere else fault.place

    def flaw(self, code: str, what: str, remedy: str, place: Place, *, is_serious: bool = False) -> Flaw:
        """A flaw of what is being examined."""
        whose = f"calculator {self._calculator}: " if self._calculator else ""
        return Flaw(code, f"{whose}{what}", remedy, place.file, place.line, is_serious, self._calculator)

    def add(self, code: str, what: str, remedy: str, place: Place, *, is_serious: bool = False) -> None:
        """Note a flaw."""
        self.flaws.append(self.flaw(code, what, remedy, place, is_serious=is_serious))

    def flaw_of(self, seen: ImpureCall, part: str) -> Flaw:
        """The flaw that something done beside the work is."""
        what, remedy = _WORDS[seen.code]
        place = Place(seen.file, seen.line)
        return self.flaw(seen.code, f"{part} {what.format(seen.by)}", remedy, place, is_serious=seen.code in _SERIOUS)


def _same(value: Any) -> Any:
    return value
