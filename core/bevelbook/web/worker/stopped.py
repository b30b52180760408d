"""An answer of a process that calculates, read: a fault that came of it, and one of another form than ours."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from bevelbook.declare.errors import PluginFault
from bevelbook.plugin.guard import CodeOwner
from bevelbook.plugin.odd_inputs import looking_at_inputs
from bevelbook.web.worker.crossing import Held, Misfit, fault_from

_CHANGED: Final = "its file was changed since this server was started"
_UNREADABLE: Final = "its process sent something else than an answer"
_START_AGAIN: Final = "Start the server again."


class CalculatorStopped(PluginFault):
    """A calculation that ended its process, or was ended with it."""


def stopped(owner: CodeOwner, how: str, remedy: str | None = None, given: object = None) -> CalculatorStopped:
    """The fault that says how code of that owner was stopped; without a ``remedy`` it is whose fault it is, with those
    of the inputs ``given`` that are far off named first."""
    fault = owner.fault(how)
    remedy = remedy or looking_at_inputs(fault.remedy or "", given)
    return CalculatorStopped(fault.what, how=how, plugin=fault.plugin, package=fault.package, remedy=remedy)


def read_answer(owner: CodeOwner, answer: Held) -> Held:
    """An answer that holds what was asked for. Raises InputError or PluginFault for any other."""
    if answer.get("is_too_long"):
        raise stopped(owner, "its answer is too long to be shown")
    if answer.get("is_misfit"):
        raise stopped(owner, _CHANGED, _START_AGAIN)
    if "fault" in answer:
        with reading_answer_of(owner):
            fault_there = fault_from(answer["fault"])
        raise fault_there
    return answer


@contextmanager
def reading_answer_of(owner: CodeOwner) -> Iterator[None]:
    """Raise CalculatorStopped for an answer of another form than ours: a plugin can write what it likes there."""
    try:
        yield
    except Misfit:
        raise stopped(owner, _CHANGED, _START_AGAIN) from None
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        raise stopped(owner, _UNREADABLE) from fault
