"""A plugin that is to be examined, by where it is: found without running any of it."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from importlib.machinery import ModuleSpec
from itertools import islice
from pathlib import Path
from typing import Any, Final, NamedTuple, Self

from bevelbook.plugin.origin import Origin

MOST_FILES: Final = 400
"""The files of a package that are looked at, those beside the module first."""

_MOST_SOUGHT: Final = 4_000


class Target(NamedTuple):
    """One plugin: its name, and its file or the module of its entry point. Plain, so that it crosses to a process.

    ``package`` is the folder of the package that its module is in; empty for a file of its own.
    """

    plugin: str
    file: str
    is_file: bool
    version: str = ""
    files: tuple[str, ...] = ()
    package: str = ""

    @classmethod
    def from_held(cls, held: Mapping[str, Any]) -> Self:
        """The target again from what crossed as JSON."""
        return cls(**{**held, "files": tuple(held["files"])})

    def is_own(self, file: str) -> bool:
        """Whether a file belongs to the plugin."""
        return file in self.files or bool(self.package and file.startswith(self.package))


def target_of(origin: Origin) -> Target:
    """The plugin that came from there. Its files are looked up, and none of them is run."""
    if origin.distribution is None and origin.file.endswith(".py"):
        file = str(Path(origin.file).absolute())
        return Target(origin.plugin, file, True, files=(file,))
    files, package = _files_of(origin.file.partition(":")[0])
    return Target(origin.plugin, origin.file, False, origin.version, files, package)


def _files_of(module: str) -> tuple[tuple[str, ...], str]:
    """The files of a module and of the package that it is in, itself first, and the folder of that package."""
    specs = _specs(module)
    if not specs or specs[-1].origin is None or not specs[-1].has_location:
        return (), ""
    own = Path(specs[-1].origin)
    folders = [Path(one) for one in specs[0].submodule_search_locations or ()]
    there = islice((path for folder in folders for path in folder.rglob("*.py")), _MOST_SOUGHT)
    others = sorted(path for path in there if path != own)
    others.sort(key=lambda path: (path.parent != own.parent, path))
    package = f"{folders[0]}{os.sep}" if folders else ""
    return tuple(str(path) for path in (own, *others[: MOST_FILES - 1])), package


def _specs(module: str) -> Sequence[ModuleSpec]:
    """Where a module and the packages around it lie, the outermost first; nothing where it is not found.

    ``importlib.util.find_spec`` would import the packages.
    """
    specs: list[ModuleSpec] = []
    places: Sequence[str] | None = None
    parts = module.split(".")
    for number in range(1, len(parts) + 1):
        spec = _spec(".".join(parts[:number]), places)
        if spec is None:
            return ()
        specs.append(spec)
        places = spec.submodule_search_locations
        if places is None and number < len(parts):
            return ()
    return specs


def _spec(name: str, places: Sequence[str] | None) -> ModuleSpec | None:
    for finder in sys.meta_path:
        find = getattr(finder, "find_spec", None)
        spec = None if find is None else find(name, places)
        if isinstance(spec, ModuleSpec):
            return spec
    return None
