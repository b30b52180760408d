"""Which plugins are installed, by a look into the folders that Python imports from.

The standard library's own look takes longer to load than a calculation takes. Where only the bundled plugins are
installed, as almost everywhere, this one says so; everywhere else it says nothing, and the library is asked.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import PurePath
from typing import Final, NamedTuple

_PROGRAM: Final = "bevelbook"
_ENDS: Final = (".dist-info", ".egg-info", ".egg")
_FILE: Final = "entry_points.txt"
_OWN_FINDERS: Final = frozenset({"PathFinder", "BuiltinImporter", "FrozenImporter", "_DistutilsMetaFinder"})


class InstalledPackage(NamedTuple):
    """A package by its name and version."""

    name: str
    version: str


class BundledPlugin(NamedTuple):
    """A plugin that came with the program: what an entry point says of it."""

    name: str
    value: str
    dist: InstalledPackage

    def load(self) -> object:
        """Its module."""
        return import_module(self.value)


def bundled_alone(group: str) -> tuple[BundledPlugin, ...] | None:
    """The plugins of the group where all of them are the program's own; None where others are there too, or where it is
    not for certain."""
    if any(_provides_packages(finder) for finder in sys.meta_path):
        return None
    found: tuple[BundledPlugin, ...] | None = None
    heading = f"[{group}]"
    for package, text in _entry_points(sys.path):
        if heading not in text:
            continue
        name, _, version = package.removesuffix(".dist-info").partition("-")
        if found is not None or name != _PROGRAM or not package.endswith(".dist-info") or not version:
            return None
        found = tuple(BundledPlugin(*one, InstalledPackage(name, version)) for one in _in_group(text, heading))
    return found


def _provides_packages(finder: object) -> bool:
    """Whether something but Python itself knows of installed packages."""
    name = finder.__name__ if isinstance(finder, type) else type(finder).__name__
    return name not in _OWN_FINDERS and hasattr(finder, "find_distributions")


def _entry_points(folders: list[str]) -> Iterator[tuple[str, str]]:
    """The name of each package's folder, with the text of its entry points; of an archive that Python imports from, a
    text that says that it is not known."""
    for folder in dict.fromkeys(folders):
        try:
            names = os.listdir(folder or ".")  # noqa: PTH208
        except NotADirectoryError:
            if not _is_of_python(folder):
                yield folder, f"[{_PROGRAM}]"
            continue
        except OSError:
            continue
        for name in names:
            if name.endswith(_ENDS):
                inside = os.path.join(name, "EGG-INFO") if name.endswith(".egg") else name  # noqa: PTH118
                try:
                    with open(os.path.join(folder, inside, _FILE), encoding="utf-8") as file:  # noqa: PTH118, PTH123
                        yield name, file.read()
                except (OSError, UnicodeDecodeError):
                    continue


def _is_of_python(folder: str) -> bool:
    """Whether it is the archive in which Python would look for its own library."""
    return PurePath(folder).name.startswith("python") and folder.endswith(".zip")


def _in_group(text: str, heading: str) -> Iterator[tuple[str, str]]:
    is_inside = False
    for line in map(str.strip, text.splitlines()):
        if line.startswith("["):
            is_inside = line == heading
        elif is_inside and "=" in line and not line.startswith("#"):
            name, _, value = line.partition("=")
            yield name.strip(), value.strip()
