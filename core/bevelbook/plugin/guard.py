"""The only place that calls the code of plugins.

Whatever goes wrong there becomes a :class:`PluginFault`, which names the plugin, the part that failed, where, and what
to do: an exception of any kind, ``sys.exit``, or a value that is not as declared. Only a keyboard interrupt passes
through. What it prints goes to standard error (:mod:`bevelbook.plugin.printed_apart`).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from types import CodeType
from typing import Any, Final, NamedTuple, TypeVar

from bevelbook.declare.errors import BevelbookError, InputError, Place, PluginFault, shown, with_article
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.printed_apart import own_output_here

T = TypeVar("T")

LONGEST: Final = 160
_CALLING: Final = tuple(str(Path(__file__).parents[1] / one / "_").removesuffix("_") for one in ("plugin", "web"))
"""The folders of core between a call and the code of a plugin."""
_IN_MEMORY: Final = late_pattern(r" at 0x[0-9a-fA-F]+")
_NOT_GIVEN: Final = late_pattern(r"([\w.<>]+)\(\) missing \d+ required [\w -]*arguments?: (.+)$")
"""What Python says of a call without something that it needs."""
_MOST_NAMED: Final = 4
_QUOTED: Final = late_pattern(r"'(\w+)'")
_BETWEEN: Final = {"pluggy", "importlib"}
"""The packages between a call of a hook or an import and the plugin's code."""


class CodeOwner(NamedTuple):
    """The owner of the called code: its name, the plugin that offers it if known, and whether it is part of core."""

    name: str
    origin: Origin | None = None
    is_core: bool = False

    def fault(self, how: str, place: Place | None = None) -> PluginFault:
        """The fault that says ``how`` it failed."""
        name = " of ".join(one for one in (self.name, self.origin.in_words if self.origin else "") if one)
        remedy = "This is a fault of the plugin; tell its author."
        if self.is_core or (self.origin is not None and self.origin.is_bundled):
            remedy = "This is a fault of the program; tell us."
        return PluginFault(
            f"{name} failed",
            how=how,
            plugin=self.origin.plugin if self.origin else None,
            package=self.origin.package if self.origin else None,
            place=place,
            remedy=remedy,
        )


class Unfit(Exception):
    """Raised by a function that checks what a plugin returned: the words complete ``compute gave ...``."""


class NotFinite(Unfit):
    """A number that is infinite or NaN."""


def call(
    owner: CodeOwner,
    part: str,
    function: Callable[..., object],
    *given: Any,
    taken: Callable[[Any], T],
    may_refuse: bool = False,
    declared: object = None,
) -> T:
    """The result of ``taken`` for what a plugin's function returns, including iterating over it.

    ``part`` names the function in the fault. ``taken`` raises :class:`Unfit` for a value that does not fit. If the
    function ``may_refuse`` its inputs, its own InputError passes through. Raises PluginFault for everything else
    that goes wrong; ``may_be_inputs`` is set where far-off inputs can cause it as well as a mistake: failed arithmetic,
    a number that is not finite. Where a fault has no line of its own, it is that of the function, or of ``declared``.
    """
    own_output = own_output_here()
    process = os.getpid()
    if own_output is not None:
        own_output.depth += 1
    try:
        return taken(function(*given))
    except PluginFault:
        raise
    except Unfit as unfit:
        fault = owner.fault(f"{part} gave {unfit}", _declared_at(declared or function))
        if isinstance(unfit, NotFinite):
            fault.code = PluginFault.NOT_FINITE
            fault.may_be_inputs = True
        raise fault from unfit
    except InputError as refused:
        if may_refuse:
            raise
        raise owner.fault(f"{part} raised {one_line(refused)}", _raised_at(refused, declared or function)) from refused
    except BaseException as failed:
        if type(failed) is KeyboardInterrupt:
            raise
        fault = owner.fault(f"{part} raised {one_line(failed)}", _raised_at(failed, declared or function))
        fault.may_be_inputs = may_refuse and isinstance(failed, (ArithmeticError, ValueError))
        raise fault from failed
    finally:
        if os.getpid() != process:
            os._exit(0)  # a second one of us, which the plugin made: it would go on to print and keep it all again
        if own_output is not None:
            own_output.depth -= 1
            own_output.take_place_again()


def one_line(fault: BaseException) -> str:
    """An exception in one line that can be printed: its kind and its text; a BevelbookError by its text alone."""
    if isinstance(fault, BevelbookError):
        return _printable(_text_of(fault).removesuffix("."))
    text = _printable(_missing_said(fault) or _text_of(fault))
    return f"{type(fault).__name__}: {text}" if text else type(fault).__name__


def _missing_said(fault: BaseException) -> str:
    """What a call was not given and how to give it, where that is what Python refused; else nothing."""
    found = _NOT_GIVEN.match(_text_of(fault)) if isinstance(fault, TypeError) else None
    if found is None:
        return ""
    called = found[1].removesuffix(".__init__").removesuffix(".__new__").rpartition(".")[2]
    typed = [f"{name}=..." for name in _QUOTED.findall(found[2])]
    more = [f"{len(typed) - _MOST_NAMED} more"] if len(typed) > _MOST_NAMED else []
    return f"{called} is called without {' and '.join((*typed[:_MOST_NAMED], *more))}: write that between its brackets"


def safe_repr(value: object) -> str:
    """A value as a programmer writes it, cut when long, whatever its ``repr`` does; without its place in memory, which
    is another each time.

    >>> safe_repr("oil!"), safe_repr(object())
    ("'oil!'", '<object object>')
    """
    try:
        text = _IN_MEMORY.sub("", repr(value))
    except Exception as fault:
        text = f"{with_article(type(value).__name__)} that cannot be shown ({type(fault).__name__})"
    return text if len(text) <= 60 else text[:60] + "…"


def fault_of_text(value: object) -> str | None:
    """Why an object is not a text that can be shown to a person, or None.

    >>> fault_of_text(3), fault_of_text(" "), fault_of_text("oil")
    ('3 where words are wanted', 'empty words', None)
    """
    if not isinstance(value, str):
        return f"{safe_repr(value)} where words are wanted"
    text = plain_text(value)
    if not text.strip():
        return "empty words"
    try:
        text.encode()
    except UnicodeEncodeError:
        return f"{text!a:.60}, which cannot be written as UTF-8"
    return None


def plain_text(value: str) -> str:
    """The bare characters of a text: a plugin's own subclass may do anything when printed."""
    return value if type(value) is str else str.__str__(value)


def text_taken(value: object) -> str:
    """The returned words as plain text. Raises Unfit for anything else."""
    reason = fault_of_text(value)
    if reason is not None or not isinstance(value, str):
        raise Unfit(reason)
    return plain_text(value)


def texts_taken(values: object) -> tuple[str, ...]:
    """Lines of words from what a function returned, empty ones included. Raises Unfit for anything else."""
    if isinstance(values, (str, bytes)) or not isinstance(values, Iterable):
        raise Unfit(f"{safe_repr(values)} where lines of words are wanted")
    return tuple(empty_or_text_taken(value) for value in values)


def empty_or_text_taken(value: object) -> str:
    """The same for words that may be empty."""
    return "" if isinstance(value, str) and not plain_text(value) else text_taken(value)


def _text_of(fault: BaseException) -> str:
    try:
        return " ".join(str(fault).split())
    except Exception:
        return "a text that cannot be shown"


def _printable(text: str) -> str:
    return shown(text, LONGEST)[1:-1]


def _raised_at(fault: BaseException, function: object) -> Place | None:
    """The line of the plugin's file where it went wrong, from the traceback."""
    frames = [one for one in frames_of(fault) if not _is_ours(one[0])]
    if not frames:
        return _declared_at(function)
    plugin_file = frames[0][0]
    line = next(number for file, number in reversed(frames) if file == plugin_file)
    return Place(plugin_file, line)


def frames_of(fault: BaseException) -> Iterator[tuple[str, int]]:
    """The file and line of each call on the way to a fault, the outermost first."""
    step = fault.__traceback__
    while step is not None:
        yield step.tb_frame.f_code.co_filename, step.tb_lineno
        step = step.tb_next


def _is_ours(file: str) -> bool:
    return file.startswith((*_CALLING, "<")) or not _BETWEEN.isdisjoint(Path(file).parts)


def _declared_at(function: object) -> Place | None:
    """Where a function of a plugin is defined, if known."""
    code = getattr(getattr(function, "func", function), "__code__", None)
    if not isinstance(code, CodeType) or _is_ours(code.co_filename):
        return None
    return Place(code.co_filename, code.co_firstlineno)
