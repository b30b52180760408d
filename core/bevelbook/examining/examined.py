"""A plugin's file, or an installed plugin, examined: all its flaws, each with line and remedy."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bevelbook.declare.errors import DatabaseError, Place, UnknownNameError
from bevelbook.examining.flaw import LACKING, Flaw, most_serious_first
from bevelbook.examining.in_child import looked_at
from bevelbook.examining.looking import Thorough
from bevelbook.examining.target import Target, target_of
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import OF_TESTS, installed


def examined(target: Path | str, *, database: Path | None = None) -> tuple[Flaw, ...]:
    """All that is wrong with a plugin, the serious flaws first; nothing where all is well.

    ``target`` is a file, the name of an installed plugin (its entry point), or a module. Its code runs in a process of
    its own, which is stopped where it takes too long. Its checks are asked about an empty database, and about
    ``database`` where that is given. Raises UnknownNameError for a name that no plugin has, DatabaseError for a file
    that is not there, and where no process can be started.
    """
    (flaws,) = all_examined([target], database=database)
    return flaws


def all_examined(targets: Sequence[Path | str], *, database: Path | None = None) -> list[tuple[Flaw, ...]]:
    """The same for several, by one process as long as none of them ends it.

    One that lacks a unit, or the calculator that it replaces, is examined once more beside the files of its folder and
    the installed plugins: they may have it.
    """
    found = [found_target(one) for one in targets]
    thorough = Thorough(all=True, database=None if database is None else str(database.absolute()))
    looked = looked_at(found, thorough=thorough)
    lacking = [place for place, one in enumerate(looked) if any(flaw.code == LACKING for flaw in one.flaws)]
    beside = {other for place in lacking for other in _beside(found[place])}
    if beside:
        again = looked_at([found[place] for place in lacking], sorted(beside), thorough)
        for place, one in zip(lacking, again, strict=True):
            looked[place] = one
    return [most_serious_first(one.flaws) for one in looked]


def _beside(target: Target) -> list[Target]:
    """The other plugins of the folder of a file that are sound, and those that are installed."""
    from bevelbook.examining.admit import admitted
    from bevelbook.plugin.admitting import NOTHING_LEFT_OUT, key_of

    files = sorted(Path(target.file).parent.glob("*.py")) if target.is_file else []
    origins = [Origin(file.stem, str(file)) for file in files if not file.name.startswith(OF_TESTS)]
    origins += [Origin(one.name, one.value, one.dist) for one in installed()]
    others = [one for one in origins if not one.is_bundled and target_of(one) != target]
    left_out = admitted(others) if others else {}
    return [target_of(one) for one in others if left_out.get(key_of(one), NOTHING_LEFT_OUT).whole is None]


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
