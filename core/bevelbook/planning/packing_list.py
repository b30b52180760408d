"""What to pack: the team's own list, and what the plan takes along."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from bevelbook.display.format import wrapped


class ThingToPack(NamedTuple):
    """Something to pack. ``is_of_plan`` where it follows from the plan and does not stand on the list; ``cautions`` in
    words."""

    words: str
    is_of_plan: bool = False
    cautions: tuple[str, ...] = ()


class PackedTogether(NamedTuple):
    """Things under one heading."""

    title: str
    things: tuple[ThingToPack, ...]

    def lines(self) -> Iterator[str]:
        """The heading and its things, each with a box to tick."""
        yield self.title
        for thing in self.things:
            yield from wrapped(f"[ ] {thing.words}", "  ")
            for caution in thing.cautions:
                yield from wrapped(caution, "      ")
