"""How much a command says beside its result, and which database was named: of this process, until the next command."""

from __future__ import annotations

from typing import Final

from bevelbook.cli.copied_commands import name_database, name_person, name_plugins
from bevelbook.declare.errors import PluginFault

_QUIET: Final[list[bool]] = []
_TRACEBACKS: Final[list[bool]] = []


def begin_anew() -> None:
    """Have nothing hold any more that was asked for before."""
    name_database(None)
    name_plugins(None)
    name_person(None)
    be_quiet(False)
    show_tracebacks(False)


def be_quiet(is_asked: bool) -> None:
    """Say whether standard error gets errors alone."""
    _QUIET[:] = [True] if is_asked else []


def is_quiet() -> bool:
    """Whether it does."""
    return bool(_QUIET)


def show_tracebacks(is_asked: bool) -> None:
    """Say whether a fault of the program or of a plugin is shown with its traceback."""
    _TRACEBACKS[:] = [True] if is_asked else []
    if is_asked:
        from bevelbook.cli import print_traceback

        PluginFault.show_traceback = print_traceback
    else:
        PluginFault.show_traceback = None


def shows_tracebacks() -> bool:
    """Whether it is."""
    return bool(_TRACEBACKS)
