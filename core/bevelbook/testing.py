"""For the tests of a plugin: ``from bevelbook.testing import check_plugin``.

The same look as ``bevelbook plugin check``: worked examples run, everything that it offers tried, in a process of its
own, so that nothing that a plugin does there reaches the tests.
"""

from __future__ import annotations

from pathlib import Path
from types import ModuleType


def check_plugin(file_or_module: str | Path | ModuleType, *, remarks_too: bool = False) -> None:
    """Fail a test where something is wrong with a plugin, with each flaw's file, line and remedy.

    ``file_or_module`` is the plugin's file, its module, or the name of an installed plugin. Serious flaws fail the
    test, since they leave the plugin or a calculator of it out; ``remarks_too`` has all others fail it as well.
    Takes about a second. Raises AssertionError, UnknownNameError for a name that no plugin has, and DatabaseError for
    a file that is not there.

    >>> from bevelbook_plugins import blend
    >>> check_plugin(blend, remarks_too=True)
    """
    from bevelbook.examining.examined import examined

    asked = file_or_module
    if isinstance(asked, ModuleType):
        asked = Path(asked.__file__) if asked.__spec__ is None and asked.__file__ else asked.__name__
    flaws = examined(asked)
    if any(flaw.is_serious or remarks_too for flaw in flaws):
        raise AssertionError("\n".join(f"{'' if flaw.is_serious else 'a remark: '}{flaw}" for flaw in flaws))
