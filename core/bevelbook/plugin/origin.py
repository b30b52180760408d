"""Where a plugin came from."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from importlib.metadata import Distribution

    from bevelbook.plugin.entry_points_here import InstalledPackage

_PROGRAM: Final = "bevelbook"
_BUNDLED: Final = "bevelbook_plugins."


@cache
def _name_and_version(distribution: Distribution | InstalledPackage) -> tuple[str, str]:
    """Kept, since each look-up reads and parses the package's whole metadata file."""
    return distribution.name, distribution.version


class Origin(NamedTuple):
    """Where a plugin came from: its name, and the package or the file that it is in."""

    plugin: str
    file: str
    distribution: Distribution | InstalledPackage | None = None

    @property
    def is_bundled(self) -> bool:
        """Whether it came with the program, from its own package and the folder of bundled plugins."""
        return self.file.startswith(_BUNDLED) and self.distribution is not None and self.package == _PROGRAM

    @property
    def package(self) -> str:
        return _name_and_version(self.distribution)[0] if self.distribution else self.file

    @property
    def version(self) -> str:
        return _name_and_version(self.distribution)[1] if self.distribution else ""

    @property
    def in_words(self) -> str:
        """The plugin with its package and version, without any path: ``plugin seals (some-package 1.2)``."""
        return str(self) if self.distribution else f"plugin {self.plugin}"

    def __str__(self) -> str:
        package = f"{self.package} {self.version}".strip()
        return f"plugin {self.plugin} ({package})"
