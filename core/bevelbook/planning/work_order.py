"""In what order to work: first what may need a part that is not there, then what runs first, then the rest."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from bevelbook.display.format import wrapped
from bevelbook.planning.plain_data import plain_data


class WorkStep(NamedTuple):
    """A diff in the order of work: its place from 1, what to do with it, and why it stands there."""

    place: int
    diff: str
    label: str
    where: str
    what: str
    why_here: str
    done: str = ""

    @property
    def words(self) -> str:
        """The step in one line."""
        return f"{self.label} ({self.where}): {self.what}; {self.why_here}"

    def lines(self) -> Iterator[str]:
        """The step for people, numbered."""
        yield from wrapped(f"{self.place}. {self.words}{f'; {self.done}' if self.done else ''}", "  ")

    def as_dict(self) -> dict[str, Any]:
        """The step for programs."""
        return {**plain_data(self), "words": self.words}
