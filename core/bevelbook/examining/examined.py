"""A plugin's file, or an installed plugin, examined: all its flaws, each with line and remedy."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bevelbook.declare.errors import DatabaseError, Place, UnknownNameError
from bevelbook.examining.flaw import Flaw, most_serious_first
from bevelbook.examining.in_child import looked_at
from bevelbook.examining.target import Target, target_of
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import installed


def examined(target: Path | str) -> tuple[Flaw, ...]:
    """All that is wrong with a plugin, the serious flaws first; nothing where all is well.

    ``target`` is a file, the name of an installed plugin (its entry point), or a module. Its code runs in a process of
    its own, which is stopped where it takes too long. Raises UnknownNameError where there is no such plugin,
    DatabaseError where there is no such file.
    """
    (flaws,) = all_examined([target])
    return flaws


def all_examined(targets: Sequence[Path | str]) -> list[tuple[Flaw, ...]]:
    """The same for several, by one process as long as none of them ends it."""
    looked = looked_at([found_target(one) for one in targets])
    return [most_serious_first(one.flaws) for one in looked]


def found_target(target: Path | str) -> Target:
    """The plugin that a person names. Raises UnknownNameError or DatabaseError."""
    text = str(target)
    if isinstance(target, Path) or text.endswith(".py"):
        file = Path(text)
        if not file.is_file():
            raise DatabaseError("there is no such file", code="no_file", place=Place(text))
        return target_of(Origin(file.stem, str(file.absolute())))
    point = next((one for one in installed() if text in (one.name, one.value)), None)
    if point is not None:
        return target_of(Origin(point.name, point.value, point.dist))
    found = target_of(Origin(text.rpartition(".")[2], text))
    if not found.files:
        raise UnknownNameError(
            "plugin", text, [one.name for one in installed()], by_command="A file is named with its .py."
        )
    return found
