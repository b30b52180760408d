"""The label of a parts tin: one kind of seal, with its size when new and where the team fits it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import Final

from bevelbook.facts.sql import Row, rows
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.labels.contents import LabelRow, PaperLabel, ToWrite, Words

_SEALS: Final = "SELECT * FROM seals WHERE id = ?"
_FITTED: Final = f"""
SELECT x.place, group_concat(DISTINCT d.label) AS diffs
FROM seal_fittings x JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff
WHERE x.seal = ? AND {stands_alone_sql("diff", "d.id")} GROUP BY x.place ORDER BY x.place
"""
_LEAST: Final = ("note", "groove", "second count", "where it goes", "material", "count")


def kinds_in_tins(connection: sqlite3.Connection) -> list[str]:
    """The ids of all kinds of seal."""
    return [str(row[0]) for row in connection.execute("SELECT id FROM seals ORDER BY label, id")]


def tin_labels(connection: sqlite3.Connection, seals: Iterable[str]) -> Iterator[PaperLabel]:
    """The label of the tin of each kind of seal, by their ids."""
    for seal in seals:
        for row in rows(connection, _SEALS, (seal,)):
            fitted = rows(connection, _FITTED, (seal,))
            yield PaperLabel("tin", row["label"], row["label"], tuple(_rows(row, fitted)), _LEAST)


def _rows(row: Row, fitted: list[Row]) -> Iterator[LabelRow]:
    yield Words("size", f"{row['form']}, {_size(row)}")
    hardness = f", {row['hardness']} Shore A" if row["hardness"] is not None else ""
    material = "material not known" if row["material"] in (None, "unknown") else row["material"]
    yield Words("material", f"{material}{hardness}")
    if row["groove_depth_mm"] is not None and row["groove_width_mm"] is not None:
        yield Words("groove", f"groove {row['groove_depth_mm']:g} mm deep, {row['groove_width_mm']:g} mm wide")
    places = "; ".join(f"{one['place']} of {', '.join(sorted(one['diffs'].split(',')))}" for one in fitted)
    yield Words("where it goes", places or "not fitted yet")
    if row["note"]:
        yield Words("note", row["note"])
    for part in ("count", "second count"):
        yield ToWrite(part, ("counted", "on"), (1.0, 1.2))


def _size(row: Row) -> str:
    """Inside diameter by section, as rings are sold; else the diameters that are known."""
    inside, section, outside = (row[f"{name}_mm"] for name in ("inside_diameter", "section", "outside_diameter"))
    if inside is not None and section is not None:
        return f"{inside:g} x {section:g} mm"
    known = [(inside, "inside"), (section, "section"), (outside, "outside")]
    return ", ".join(f"{value:g} mm {word}" for value, word in known if value is not None) or "size not noted"
