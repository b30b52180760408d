"""What is wrong with a plugin, where in its author's file, and what to write instead."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any, Final, NamedTuple, Self

LEFT_OUT: Final = "left_out"
"""The code of what the registry itself leaves out as it loads a plugin."""


LACKING: Final = "lacking"
"""The same where another plugin may have what this one lacks: a unit, or the calculator that it replaces."""

TOO_SLOW: Final = "too_slow"
"""The code of what was stopped since it took too long."""
_LEAVES_OUT: Final = frozenset(("ends", TOO_SLOW, "memory", "writes", "database", "process", "network"))
"""What a plugin may not do where it is imported, or asked for what it offers."""


class Flaw(NamedTuple):
    """One thing that its author should mend.

    ``code`` is stable and meant for programs. ``what`` is a sentence without a full stop, ``remedy`` whole sentences.
    ``file`` and ``line`` are where it is declared or where it went wrong. A serious flaw leaves the calculator out; one
    that is serious and about no single calculator leaves the plugin out. The others are remarks.
    """

    code: str
    what: str
    remedy: str
    file: str | None = None
    line: int | None = None
    is_serious: bool = False
    calculator: str | None = None

    def __str__(self) -> str:
        return f"{self.where}: {self.sentence} {self.remedy}" if self.where else f"{self.sentence} {self.remedy}"

    @property
    def sentence(self) -> str:
        """What is wrong, with one stop behind it.

        >>> Flaw("no_hook", "there is no such hook. Did you mean bevelbook_units?", "Mend it.").sentence
        'there is no such hook. Did you mean bevelbook_units?'
        """
        return self.what if self.what.endswith((".", "?", "!")) else f"{self.what}."

    @property
    def where(self) -> str:
        """The file, and the line where it is known; empty where neither is."""
        return ", line ".join(f"{one}" for one in (self.file, self.line) if one is not None)

    @property
    def leaves_plugin_out(self) -> bool:
        """Whether the plugin may not even be imported."""
        return self.calculator is None and self.code in _LEAVES_OUT

    def in_words(self) -> str:
        """The same for a list of what was left out: the bare name of the file, never the folder."""
        bare = self._replace(file=None if self.file is None else PurePath(self.file).name)
        return (
            f"{self.what.rstrip('.')} ({bare.where}). {self.remedy}" if bare.where else f"{self.sentence} {self.remedy}"
        )

    def as_dict(self) -> dict[str, Any]:
        """For programs, and to be kept."""
        return self._asdict()

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> Self:
        """The flaw again from :meth:`as_dict`.

        >>> flaw = Flaw("silent", "it says nothing", "Say it.", "a.py", 3)
        >>> Flaw.from_dict(flaw.as_dict()) == flaw, str(flaw)
        (True, 'a.py, line 3: it says nothing. Say it.')
        """
        return cls(**kept)


def most_serious_first(flaws: list[Flaw]) -> tuple[Flaw, ...]:
    """Each flaw once, the serious ones first, then as they stand in the file."""
    once = dict.fromkeys(flaws)
    return tuple(sorted(once, key=lambda one: (not one.is_serious, one.file or "", one.line or 0)))
