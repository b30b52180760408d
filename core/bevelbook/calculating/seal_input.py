"""A seal as an input: for a build or a diff it is the one in the place asked about, fitted there or usual there."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from bevelbook.calculating.binding import Value
from bevelbook.declare.errors import InputError
from bevelbook.facts.seals_found import seals_found
from bevelbook.plugin.calculator import Formula
from bevelbook.reading import BY_HAND, read
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.schema import quoted

PLACE: Final = "seal_fittings.place"
FOUND_AT_OPENING: Final = "openings.seals"
_SEAL: Final = "seals"
_FITTING: Final = "seal_fittings"


def place_asked(formula: Formula[Any, Any], texts: Mapping[str, str | list[str]]) -> str | None:
    """The place of a seal that a person gave for a formula; None without one, or where it cannot be read."""
    field = next((one for one in formula.inputs if one.same_as == PLACE), None)
    text = texts.get(field.name) if field else None
    if field is None or not isinstance(text, str) or not text.strip():
        return None
    try:
        return str(read(field, text, BY_HAND))
    except InputError:
        return None


def known_of_seal(
    connection: sqlite3.Connection, kind: Kind, row_id: str, columns: Sequence[str], place: str
) -> dict[str, Value]:
    """What the records say of the seal in a place of a build, or of a diff's last build, for columns of
    :data:`~bevelbook.calculating.binding`; nothing for another kind of record."""
    build, diff = _build_and_diff(connection, kind, row_id)
    if diff is None:
        return {}
    fitting = _row(
        connection, "SELECT * FROM seal_fittings WHERE build = ? AND place = ? ORDER BY id DESC LIMIT 1", build, place
    )
    found: dict[str, Value] = {}
    seal, whose = _kind_of_seal(connection, fitting, diff, place)
    if seal is not None:
        found |= _values(_SEAL, seal, columns, f"the seal {seal['label']}, {whose}")
    opened = _row(connection, "SELECT 1 FROM build_facts WHERE build = ? AND opened_on IS NOT NULL", build)
    if fitting is not None and opened is None:
        found |= _values(_FITTING, fitting, columns, "the seal as it was fitted")
    seen = seals_found(connection, build, place) if build is not None else None
    if seen is not None and FOUND_AT_OPENING in columns:
        found[FOUND_AT_OPENING] = Value(seen.state, seen.words, names_record=True)
    return found


def _build_and_diff(connection: sqlite3.Connection, kind: Kind, row_id: str) -> tuple[str | None, str | None]:
    if kind.name == "build":
        row = _row(connection, "SELECT diff FROM builds WHERE id = ?", row_id)
        return row_id, row["diff"] if row else None
    if kind.name == "diff":
        row = _row(connection, "SELECT current_build FROM diff_facts WHERE diff = ?", row_id)
        return row["current_build"] if row else None, row_id
    return None, None


def _kind_of_seal(
    connection: sqlite3.Connection, fitting: sqlite3.Row | None, diff: str, place: str
) -> tuple[sqlite3.Row | None, str]:
    """The kind of seal that was fitted, else the one that usually sits there, and which of the two."""
    seal, whose = (fitting["seal"], "fitted there") if fitting is not None else (None, "")
    if seal is None:
        column, whose = ("joint_seal" if place == "joint" else "shaft_seal"), "usual there"
        row = _row(connection, f"SELECT {quoted(column)} AS seal FROM diffs WHERE id = ?", diff)
        seal = row["seal"] if row else None
    return _row(connection, "SELECT * FROM seals WHERE id = ?", seal), whose


def _values(table: str, row: sqlite3.Row, columns: Sequence[str], origin: str) -> dict[str, Value]:
    names = {column: column.partition(".")[2] for column in columns if column.partition(".")[0] == table}
    fields = BY_NAME[{_SEAL: "seal", _FITTING: "seal_fitting"}[table]].columns
    return {
        column: Value(row[name], origin)
        for column, name in names.items()
        if name in fields and column != PLACE and row[name] is not None
    }


def _row(connection: sqlite3.Connection, sql: str, *given: str | None) -> sqlite3.Row | None:
    row: sqlite3.Row | None = connection.execute(sql, given).fetchone()
    return row
