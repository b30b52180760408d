"""What a label says: a name in large letters, and lines below it."""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

LabelKind = Literal["bag", "bottle", "tin"]


class Words(NamedTuple):
    """A line of text, broken where it is too long. ``part`` is what a person calls it."""

    part: str
    text: str

    @property
    def shown(self) -> str:
        return self.text


class ToWrite(NamedTuple):
    """A line to write on: words with a ruled blank after each, as wide as there is room; ``shares`` are how wide the
    blanks are against each other."""

    part: str
    words: tuple[str, ...]
    shares: tuple[float, ...]
    last: str = ""

    @property
    def shown(self) -> str:
        return " ".join((*(f"{one} ____" for one in self.words), self.last)).strip()


class Boxes(NamedTuple):
    """Words, and boxes after them to cross out or to tick; with ``names`` a word is beside each box."""

    part: str
    text: str
    boxes: int
    names: tuple[str, ...] = ()

    @property
    def shown(self) -> str:
        boxes = " ".join(f"[ ] {name}" for name in self.names) if self.names else " ".join(["[ ]"] * self.boxes)
        return f"{self.text} {boxes}".strip()


LabelRow = Words | ToWrite | Boxes


class PaperLabel(NamedTuple):
    """One label. ``asked_as`` is the name that finds its record: in its code, and where somebody types it.

    ``rows`` stand in the order in which they are printed; ``least`` are the parts that are left out first.
    """

    kind: LabelKind
    name: str
    asked_as: str
    rows: tuple[LabelRow, ...]
    least: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The label for programs."""
        return {
            "kind": self.kind,
            "name": self.name,
            "asked_as": self.asked_as,
            "lines": [row.shown for row in self.rows],
        }
