"""One family of errors: what was wrong, where, what was found, what was wanted, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple


class Place(NamedTuple):
    """Where a fault stands: any part may be unknown."""

    file: str | None = None
    line: int | None = None
    column: str | None = None

    def __str__(self) -> str:
        parts = [self.file or ""]
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.column:
            parts.append(self.column)
        return ", ".join(part for part in parts if part)


class BevelbookError(Exception):
    """A fault that a person can act on.

    ``code`` is stable and meant for programs; ``what`` is a short sentence without a full stop;
    ``remedy`` says what to do. ``exit_code`` is what the command line ends with.
    """

    exit_code = 2

    def __init__(
        self,
        what: str,
        *,
        code: str,
        place: Place | None = None,
        found: str | None = None,
        wanted: str | None = None,
        remedy: str | None = None,
    ) -> None:
        super().__init__(what)
        self.what = str(what)
        self.code = code
        self.place = place or Place()
        self.found = found
        self.wanted = wanted
        self.remedy = remedy

    def __str__(self) -> str:
        place = str(self.place)
        text = f"{place}: {self.what}" if place else self.what
        if self.found is not None:
            text += f", found {shown(self.found)}"
        if self.wanted:
            text += f", wanted {self.wanted}"
        text += "."
        if self.remedy:
            text += f" {self.remedy}"
        return text

    def as_dict(self) -> dict[str, object]:
        """The fault for ``--json``."""
        return {
            "error": self.what,
            "code": self.code,
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column,
            "found": self.found,
            "wanted": self.wanted,
            "remedy": self.remedy,
        }


class InputError(BevelbookError):
    """A value that cannot be taken: unreadable, out of its bounds, missing, or at odds with another one."""


class UnknownNameError(BevelbookError):
    """A name that is not in the list it should be in; near misses are named."""

    def __init__(self, kind: str, name: str, known: Iterable[str], *, where_listed: str = "") -> None:
        known = list(known)
        remedy = near_misses(name, known)
        if where_listed:
            remedy = f"{remedy} {where_listed}".strip()
        super().__init__(
            f"no {kind} is called {shown(name)}",
            code=f"unknown_{kind.replace(' ', '_')}",
            remedy=remedy or None,
        )


class DatabaseError(BevelbookError):
    """A file that cannot be used as a database of ours, or not now."""


class DeclarationError(BevelbookError):
    """A record, calculator, plugin or data set that is declared wrongly: a fault of its author."""

    exit_code = 3


class PluginFault(BevelbookError):
    """Code of a plugin, or of a formula of core, that did what its contract does not allow.

    ``what`` says whose code failed, ``how`` what it did; ``plugin`` and ``package`` name where it came from, None where
    it is of core itself. ``place`` is the line of the plugin's file, where that is known. ``may_be_inputs`` is set
    where far-off inputs may be the cause as well as a mistake of the plugin.
    """

    NOT_FINITE = "not_finite"
    """The code of a number that is infinite or none."""
    exit_code = 3
    may_be_inputs = False

    def __init__(
        self,
        what: str,
        *,
        how: str,
        plugin: str | None = None,
        package: str | None = None,
        place: Place | None = None,
        remedy: str | None = None,
    ) -> None:
        super().__init__(what, code="plugin_failed", place=place, remedy=remedy)
        self.how = how
        self.plugin = plugin
        self.package = package

    def __str__(self) -> str:
        place = str(self.place)
        return f"{place}: {self._told()}" if place else self._told()

    def in_words(self) -> str:
        """The fault for cards and pages: of the place only the file's bare name, never its folder."""
        from pathlib import PurePath

        if self.place.file is None:
            return self._told()
        return self._told(f" ({self.place._replace(file=PurePath(self.place.file).name)})")

    def as_dict(self) -> dict[str, object]:
        return {**super().as_dict(), "found": self.how, "plugin": self.plugin, "package": self.package}

    def _told(self, where: str = "") -> str:
        return f"{self.what}: {self.how}{where}. {self.remedy or ''}".strip()


def near_misses(name: str, known: Iterable[str]) -> str:
    """``Did you mean a or b?``, or nothing where no known name is near."""
    from difflib import get_close_matches

    by_lower = {one.lower(): one for one in known}
    near = [by_lower[one] for one in get_close_matches(name.lower(), by_lower, n=3, cutoff=0.6)]
    return f"Did you mean {' or '.join(near)}?" if near else ""


def shown(text: str, length: int = 60) -> str:
    """A user's text in quotes, control characters escaped, cut when long."""
    safe = text if len(text) <= length else text[:length] + "…"
    return '"' + "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in safe) + '"'
