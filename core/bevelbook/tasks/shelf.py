"""The shelf in words: each diff with its oil, what it has lost, and whether it is ready."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final

COLUMNS: Final = ("diff", "build", "where", "oil", "cSt", "lost", "runs", "feel", "word")
_RIGHT: Final = frozenset({"cSt", "runs"})


def shelf_rows(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    """The rows of the view ``shelf``."""
    cursor = connection.execute("SELECT * FROM shelf")
    names = [column[0] for column in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor]


def lost_in_words(loss_g: float | None, oil_mass_g: float | None) -> str:
    """Grams first, the share after.

    >>> lost_in_words(0.30, 1.86)
    '0.30 g of 1.86 g (16 %)'
    >>> lost_in_words(None, 1.86)
    'not weighed since'
    """
    if loss_g is None:
        return "not weighed since"
    if not oil_mass_g:
        return f"{loss_g:.2f} g"
    return f"{loss_g:.2f} g of {oil_mass_g:.2f} g ({loss_g / oil_mass_g:.0%})".replace("%)", " %)")


def shelf_lines(rows: list[dict[str, Any]]) -> Iterator[str]:
    """The shelf as a table for the terminal."""
    table = [COLUMNS, *map(_cells, rows)]
    widths = [max(len(row[place]) for row in table) for place in range(len(COLUMNS))]
    for row in table:
        cells = (
            cell.rjust(width) if name in _RIGHT else cell.ljust(width)
            for cell, width, name in zip(row, widths, COLUMNS, strict=True)
        )
        yield "  ".join(cells).rstrip()


def _cells(row: dict[str, Any]) -> tuple[str, ...]:
    viscosity = row["viscosity_cst"]
    return (
        row["label"],
        row["build_label"] or "",
        row["position"] or "",
        row["fluid"] or row["viscosity_from"] or "not said",
        "not known" if viscosity is None else f"{viscosity:,.0f}",
        lost_in_words(row["loss_g"], row["oil_mass_g"]),
        f"{row['runs']:g}",
        row["hand_feel"] or "",
        row["word"],
    )
