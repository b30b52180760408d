"""What is in each kit that is bought as one, as the team wrote it down."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from bevelbook.reading.labels import folded_label

if TYPE_CHECKING:
    import sqlite3


class PartOfKit(NamedTuple):
    """A part in stock, by id and label, and how many of it a kit has."""

    stock_part: str
    label: str
    pieces: int


class Kit(NamedTuple):
    """A kit and its parts, by their names."""

    name: str
    parts: tuple[PartOfKit, ...]

    def words(self, kits: int = 1) -> str:
        """What so many of it are: ``gaskets 2, shaft rings 8``."""
        return ", ".join(f"{one.label} {kits * one.pieces}" for one in self.parts)


def kits_of_team(connection: sqlite3.Connection) -> list[Kit]:
    """All kits, by name. Names that people take for one are one kit; a part that is in it twice counts as it was
    written down last."""
    names: dict[str, str] = {}
    parts: dict[str, dict[str, PartOfKit]] = {}
    for kit, *part in connection.execute(
        "SELECT k.kit, k.stock_part, t.label, k.pieces FROM kit_parts k JOIN stock_parts t ON t.id = k.stock_part "
        "ORDER BY k.created_at, k.id"
    ):
        folded, one = folded_label(kit), PartOfKit(*part)
        names.setdefault(folded, kit)
        parts.setdefault(folded, {})[folded_label(one.label)] = one
    return [
        Kit(names[folded], tuple(parts[folded][label] for label in sorted(parts[folded]))) for folded in sorted(parts)
    ]
