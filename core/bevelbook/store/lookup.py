"""Finding a record by the name people use: its label, its id, or (for a last build) its diff."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Mapping
from typing import Final

from bevelbook.declare.errors import DatabaseError, InputError, UnknownNameError
from bevelbook.facts.builds import last_build_sql
from bevelbook.reading import read_text
from bevelbook.reading.labels import plain_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.record_names import Candidate, candidates, is_named_by_label, listed, name_of, near
from bevelbook.store.schema import quoted

_BELONGS_TO: Final = {"builds": "diff", "runs": "run_on"}
_NUMBERED: Final = re.compile(r"(.*)/([0-9]+)(?: of .*)?", re.DOTALL)
"""A label that was made by counting, also where it shows who wrote it."""
MOST_LISTED: Final = 8
"""Names that an error lists at most."""
_STRAYS: Final = {
    "builds": "SELECT b.label FROM builds b JOIN diffs d ON d.id = b.diff "
    "WHERE substr(b.label, 1, length(d.label) + 1) <> d.label || '/' AND instr(b.label, '/')",
    "runs": "SELECT label FROM runs WHERE substr(label, 1, length(run_on) + 1) <> run_on || '/' AND instr(label, '/')",
}
_GIVEN_BEFORE: Final = (
    "SELECT DISTINCT json_extract(content, '$.label') FROM history "
    "WHERE table_name = ? AND substr(row_id, 15, 1) <> '8' AND iif(json_valid(content), "
    "instr(coalesce(json_extract(content, '$.label'), ''), '/'), 0)"
)
"""Labels that records had before, without those of notes: the same row of a sheet is the same record again."""


def find_id(connection: sqlite3.Connection, kind: Kind, name: str) -> str:
    """The id of one record. Raises UnknownNameError (near misses named) or InputError if several have the name."""
    known = connection.execute(f"SELECT id FROM {kind.table} WHERE id = ?", (name,)).fetchone()
    if known:
        return str(known["id"])
    if not is_named_by_label(kind):
        return _without_label(connection, kind, name)
    assert kind.label is not None
    label = quoted(kind.label)
    name = read_text(name) or name
    found = connection.execute(
        f"SELECT id, {label} AS label FROM {kind.table} WHERE {label} = ? COLLATE NOCASE", (name,)
    ).fetchall()
    found = [row for row in found if row["label"] == name] or found
    if not found and kind.name == "build":
        found = connection.execute(
            f"SELECT b.id FROM diffs d JOIN builds b ON b.id = {last_build_sql('d.id')} "
            "WHERE lower(d.label) = lower(?)",
            (name,),
        ).fetchall()
    found = found or _by_plain_label(connection, kind, name)
    if len(found) > 1:
        raise InputError(
            f"{len(found)} {kind.table.replace('_', ' ')} have that name",
            code="ambiguous_name",
            found=name,
            remedy="Name one by its id: " + ", ".join(str(row["id"]) for row in found[:5]) + ".",
        )
    if not found:
        known_labels = [
            row[0] for row in connection.execute(f"SELECT DISTINCT {label} FROM {kind.table} LIMIT 5000") if row[0]
        ]
        raise UnknownNameError(
            kind.name,
            name,
            known_labels,
            by_command=f"Make it first with '{kind.command()}'.",
        )
    return str(found[0]["id"])


def labels_of(connection: sqlite3.Connection, kind: Kind) -> list[str]:
    """The names of all records of a kind, the oldest first."""
    label = quoted(kind.label or "id")
    found = connection.execute(
        f"SELECT {label} FROM {kind.table} WHERE typeof({label}) = 'text' ORDER BY created_at, id"
    )
    return [row[0] for row in found]


def _by_plain_label(connection: sqlite3.Connection, kind: Kind, name: str) -> list[sqlite3.Row]:
    """The records whose name differs only in marks that nobody sees, or in quotes around it.

    Of a build also the last one of such a diff.
    """
    plain = plain_label(name)
    if kind.name == "build":
        diffs = [row["id"] for row in _by_plain_label(connection, BY_NAME["diff"], name)]
        last = f"SELECT b.id FROM diffs d JOIN builds b ON b.id = {last_build_sql('d.id')} WHERE d.id = ?"
        builds = [row for diff in diffs for row in connection.execute(last, (diff,))]
        if builds:
            return builds
    found = connection.execute(f"SELECT id, {quoted(kind.label or 'id')} AS label FROM {kind.table}").fetchall()
    return [row for row in found if isinstance(row["label"], str) and plain_label(row["label"]) == plain]


def label_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str:
    """The name of a record, as people type it; its id if there is no such record."""
    return name_of(connection, kind, row_id) or row_id


def _without_label(connection: sqlite3.Connection, kind: Kind, name: str) -> str:
    noun = kind.name.replace("_", " ")
    found = candidates(connection, kind, name)
    if not found and kind.name == "bottle":
        found = _bottles_by_lot(connection, name)
    if len(found) > 1:
        raise InputError(
            f"that may be {len(found)} {kind.table.replace('_', ' ')}",
            code="ambiguous_name",
            found=name,
            remedy=f"Name {listed(found[:MOST_LISTED])}.",
        )
    if found:
        return found[0].row_id
    known = list(near(connection, kind, name))
    named = f"Did you mean {listed(known[:MOST_LISTED])}? " if known else ""
    raise UnknownNameError(
        noun,
        name,
        [],
        by_command=f"{named}Make {'another' if known else 'it first'} with '{kind.command()}'.",
    )


def _bottles_by_lot(connection: sqlite3.Connection, lot: str) -> list[Candidate]:
    rows = connection.execute("SELECT id FROM bottles WHERE lot = ? COLLATE NOCASE", (read_text(lot) or lot,))
    return [Candidate(row[0], label_of(connection, BY_NAME["bottle"], row[0]), ()) for row in rows.fetchall()]


def check_has_diff(connection: sqlite3.Connection, build_id: str) -> None:
    """Raise DatabaseError where another program removed the diff of a build."""
    row = connection.execute(
        "SELECT b.label, b.diff FROM builds b LEFT JOIN diffs d ON d.id = b.diff WHERE b.id = ? AND d.id IS NULL",
        (build_id,),
    ).fetchone()
    if row is not None:
        label = row[0] or build_id
        raise DatabaseError(
            f"the diff of {label} is gone: another program removed it",
            code="diff_gone",
            found=row[1],
            remedy="The table history has what it was. Write it again with 'bevelbook record diff label=NAME', then "
            f"'bevelbook record build {label} diff=NAME'.",
        )


def next_build_label(connection: sqlite3.Connection, diff_id: str) -> str:
    """The label for the next build of a diff: ``rear-a/4``; never one that a build has or had."""
    diff = label_of(connection, BY_NAME["diff"], diff_id)
    return f"{diff}/{last_number(connection, 'builds', diff_id, diff, strays(connection, 'builds')) + 1}"


def next_run_label(connection: sqlite3.Connection, day: str) -> str:
    """The label for the next run of a day: ``2026-05-03/2``; never one that a run has or had."""
    return f"{day}/{last_number(connection, 'runs', day, day, strays(connection, 'runs')) + 1}"


def last_number(connection: sqlite3.Connection, table: str, value: str, name: str, stray: Mapping[str, int]) -> int:
    """The largest number after the last slash in the labels of a diff's builds, or of a day's runs; 0 without any.

    ``value`` is the diff's id, or the day; ``name`` is what its labels begin with, and ``stray`` comes from
    :func:`strays`.
    """
    labels = connection.execute(f"SELECT label FROM {table} WHERE {_BELONGS_TO[table]} = ?", (value,))
    return max([stray.get(name, 0), *(_parted(row[0])[1] for row in labels)])


def strays(connection: sqlite3.Connection, table: str) -> dict[str, int]:
    """The largest numbers of labels that do not begin with the name of their diff or day, by what they begin with.

    Such a label belongs to a build that was moved to another diff, to a renamed diff, or was chosen by a person. Beside
    them the labels that records made by hand had, so that a label is not given again after a removal.
    """
    found: dict[str, int] = {}
    for row in (*connection.execute(_STRAYS[table]), *connection.execute(_GIVEN_BEFORE, (table,))):
        name, number = _parted(row[0])
        found[name] = max(number, found.get(name, 0))
    return found


def _parted(label: str) -> tuple[str, int]:
    found = _NUMBERED.fullmatch(label)
    return (found[1], int(found[2])) if found else (label.rpartition("/")[0], 0)
