"""Finding a record by the name people use: its label, its id, or (for a last build) its diff."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from bevelbook.declare.errors import DatabaseError, InputError, UnknownNameError
from bevelbook.declare.in_command import in_command
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.builds import last_build_sql
from bevelbook.reading import read_text
from bevelbook.reading.labels import DOTS_STAND, folded_label, is_only_dots, plain_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.joins import JOINED_KINDS, TOLD_APART_KINDS
from bevelbook.records.stock import ONE_BY_NAME
from bevelbook.store.ids import is_content_id_sql
from bevelbook.store.one_with import stands_for_it
from bevelbook.store.record_names import Candidate, candidates, is_named_by_label, listed, name_of, near
from bevelbook.store.schema import quoted
from bevelbook.store.told_apart import of_one_name, of_one_thing_each, one_of_two, parted_by

_BELONGS_TO: Final = {"builds": "diff", "runs": "run_on"}
_SUGGESTED_FROM: Final = 5_000
"""Names among which near misses are looked for."""
_NUMBERED: Final = late_pattern(r"(.*)/([0-9]+)(?: of .*)?", re.DOTALL)
"""A label that was made by counting, also where it shows who wrote it."""
_DAY: Final = late_pattern(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_LONGEST_IN_COMMAND: Final = 60
"""Letters of a name that is not there in a command that makes it."""
_DOTS_LEFT: Final = f"In a command that is printed {DOTS_STAND}."
_OF: Final = " of "
"""Stands in a name before who wrote the record, where others have the name too."""
MOST_LISTED: Final = 8
"""Names that an error lists at most."""
_STRAYS: Final = {
    "builds": "SELECT b.label FROM builds b JOIN diffs d ON d.id = b.diff "
    "WHERE substr(b.label, 1, length(d.label) + 1) <> d.label || '/' AND instr(b.label, '/')",
    "runs": "SELECT label FROM runs WHERE substr(label, 1, length(run_on) + 1) <> run_on || '/' AND instr(label, '/')",
}
_GIVEN_BEFORE: Final = (
    "SELECT DISTINCT json_extract(content, '$.label') FROM history "
    f"WHERE table_name = ? AND NOT {is_content_id_sql('row_id')} AND iif(json_valid(content), "
    "instr(coalesce(json_extract(content, '$.label'), ''), '/'), 0)"
)
"""Labels that records had before, without those of notes: the same row of a sheet is the same record again."""


class WhichOneError(InputError):
    """Several records have a name: ``names`` are what to type for each of them."""

    def __init__(self, what: str, name: str, names: Sequence[str], remedy: str) -> None:
        self.names = tuple(names)
        super().__init__(what, code="ambiguous_name", found=name, remedy=remedy)


def find_id(connection: sqlite3.Connection, kind: Kind, name: str, *, itself: bool = False) -> str:
    """The id of one record: where another stands for it, of that one, unless the record ``itself`` is wanted.

    Raises UnknownNameError (near misses named) or InputError if several have the name: it says how to type each.
    """
    known = connection.execute(f"SELECT id FROM {kind.table} WHERE id = ?", (name,)).fetchone()
    if known:
        return str(known["id"]) if itself else stands_for_it(connection, kind, str(known["id"]))
    if not is_named_by_label(kind):
        return _without_label(connection, kind, name)
    name = read_text(name) or name
    found = _of_that_name(connection, kind, name) or _by_whose(connection, kind, name)
    if not itself:
        found = _standing(connection, kind, found)
    if len(found) > 1 and kind.name in ONE_BY_NAME:
        return min(found)
    if len(found) > 1:
        raise _which(connection, kind, name, found)
    if not found:
        raise _unknown(connection, kind, name)
    return found[0]


def ids_called(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    """The ids of all records of a kind with a label that a name means, whatever the case of its letters; without those
    for which others stand. Empty where there is none."""
    name = read_text(name) or name
    found = _of_that_name(connection, kind, name) or _by_whose(connection, kind, name)
    return _standing(connection, kind, found or _in_other_case(connection, kind, name))


def _in_other_case(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    """The records whose name has letters beyond ASCII, of which SQLite does not know the case."""
    if name.isascii():
        return []
    label, wanted = quoted(kind.label or "id"), folded_label(name)
    found = connection.execute(
        f"SELECT id, {label} AS label FROM {kind.table} WHERE {label} GLOB '*[^ -~]*' ORDER BY id"
    )
    return [str(row["id"]) for row in found if folded_label(row["label"]) == wanted]


def of_one_thing(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    """The ids of all records of a name that are one thing; first the one that stands for them, where it has that name.

    Raises UnknownNameError (near misses named), or InputError if the name is that of several things.
    """
    if connection.execute(f"SELECT 1 FROM {kind.table} WHERE id = ?", (name,)).fetchone():
        return [name]
    name = read_text(name) or name
    found = _of_that_name(connection, kind, name) or _by_whose(connection, kind, name)
    standing = _standing(connection, kind, found)
    if len(standing) > 1:
        raise _which(connection, kind, name, standing)
    if not found:
        raise _unknown(connection, kind, name)
    return sorted(found, key=lambda row_id: (row_id not in standing, row_id))


def _of_that_name(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    found = _by_label(connection, kind, name) or _by_plain_label(connection, kind, name)
    return found or _once_of_that_name(connection, kind, name)


def _once_of_that_name(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    """The records that would have that name if no others had it, or that had it in another place."""
    if kind.name not in TOLD_APART_KINDS:
        return []
    return [one.row_id for one in of_one_name(connection, kind, name)] or _also_called(connection, kind, name)


def _by_whose(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    """The records that a name with ``of`` and who wrote it means, also where that is not needed, or not any more."""
    for at in range(len(parts := name.split(_OF)) - 1, 0, -1):
        label, whose = _OF.join(parts[:at]), _OF.join(parts[at:]).casefold()
        found = _ever_called(connection, kind, label)
        ways = parted_by(connection, kind, found)
        meant = [row_id for row_id in found if whose in map(str.casefold, ways.get(row_id, ()))]
        if meant:
            return meant
    return _last_builds(connection, _by_whose(connection, BY_NAME["diff"], name)) if kind.name == "build" else []


def _ever_called(connection: sqlite3.Connection, kind: Kind, label: str) -> list[str]:
    """The records that have a name or had it; of a build not the last one of a diff of that name."""
    found = _labelled(connection, kind, label) or _labelled_alike(connection, kind, label)
    if kind.name in TOLD_APART_KINDS:
        found += [one.row_id for one in of_one_name(connection, kind, label)]
        found += _also_called(connection, kind, label)
    return list(dict.fromkeys(found))


def _standing(connection: sqlite3.Connection, kind: Kind, row_ids: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(stands_for_it(connection, kind, row_id) for row_id in row_ids))


def _unknown(connection: sqlite3.Connection, kind: Kind, name: str) -> UnknownNameError:
    if is_only_dots(name):
        return UnknownNameError(kind.name, name, [], by_command=_DOTS_LEFT, noun=kind.name.replace("_", " "))
    known_of_it = _known_by_name(kind, plain_label(name))
    made = f"Make it first with '{kind.command(known_of_it)}'."
    if kind.name == "build" and not _is_of_a_diff(connection, name):
        of_diff = {"label": known_of_it["diff"]} if known_of_it else {}
        made += f" If its diff is new too, make that before it: '{BY_NAME['diff'].command(of_diff)}'."
    label, of, _ = name.rpartition(_OF)
    had = _ever_called(connection, kind, label) if of and kind.name in TOLD_APART_KINDS else []
    if had:
        now = " or ".join(label_of(connection, kind, row_id) for row_id in had[:MOST_LISTED])
        made = f"{label} is a name of {now}."
    known = labels_of(connection, kind)[-_SUGGESTED_FROM:]
    return UnknownNameError(kind.name, name, known, by_command=made, noun=kind.name.replace("_", " "))


def _known_by_name(kind: Kind, name: str) -> dict[str, str]:
    """What a name says of a record that is not there, by field: its label; of a build its diff, of a run its day.
    Nothing where the name is too odd or too long to be meant."""
    if not name.isprintable() or len(name) > _LONGEST_IN_COMMAND:
        return {}
    if kind.table not in _BELONGS_TO:
        return {kind.label: name} if kind.label else {}
    before = _parted(name)[0] or name
    is_day = _DAY.fullmatch(before) is not None
    return {_BELONGS_TO[kind.table]: before} if is_day == (kind.name == "run") else {}


def _is_of_a_diff(connection: sqlite3.Connection, name: str) -> bool:
    """Whether the name of a build is that of a diff here, alone or before a stroke and a number."""
    diff = BY_NAME["diff"]
    return any(_labelled_alike(connection, diff, one) for one in (name, name.rpartition("/")[0]) if one)


def _by_label(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    """The records of that label; of a build also the last one of such a diff."""
    found = _labelled(connection, kind, name)
    if found or kind.name != "build":
        return found
    return _last_builds(connection, _labelled(connection, BY_NAME["diff"], name))


def _labelled(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    label = quoted(kind.label or "id")
    found = connection.execute(
        f"SELECT id, {label} AS label FROM {kind.table} WHERE {label} = ? COLLATE NOCASE", (name,)
    ).fetchall()
    return [str(row["id"]) for row in [row for row in found if row["label"] == name] or found]


def _last_builds(connection: sqlite3.Connection, diffs: Iterable[str]) -> list[str]:
    standing = dict.fromkeys(stands_for_it(connection, BY_NAME["diff"], diff) for diff in diffs)
    last = f"SELECT b.id FROM diffs d JOIN builds b ON b.id = {last_build_sql('d.id')} WHERE d.id = ?"
    return [str(row["id"]) for diff in standing for row in connection.execute(last, (diff,))]


def _also_called(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    """The records that had this label in another place: a label that notes get by counting is not the same there."""
    found = connection.execute(
        f"SELECT DISTINCT row_id FROM also_called WHERE table_name = ? AND label = ? COLLATE NOCASE "
        f"AND row_id IN (SELECT id FROM {kind.table}) ORDER BY 1",
        (kind.table, name),
    )
    return [str(row[0]) for row in found]


def _which(connection: sqlite3.Connection, kind: Kind, name: str, found: Sequence[str]) -> WhichOneError:
    """The error that asks which one is meant: what to type for each, who wrote it, and when."""
    more = f" There are {len(found) - MOST_LISTED} more." if len(found) > MOST_LISTED else ""
    if kind.name in TOLD_APART_KINDS:
        those = sorted(one_of_two(connection, kind, row_id) for row_id in found[:MOST_LISTED])
    else:
        those = sorted(of_one_thing_each(connection, kind, found[:MOST_LISTED]))
    if kind.name in JOINED_KINDS:
        renamed = f"bevelbook record {kind.name} {in_command(those[0].shown)} {kind.label}=NAME"
        more += f" '{renamed}' gives that one a name of its own."
    return WhichOneError(
        f"{len(found)} {kind.table.replace('_', ' ')} have that name",
        name,
        [one.shown for one in those],
        f"Name one: {' or '.join(one.words for one in those)}.{more}",
    )


def labels_of(connection: sqlite3.Connection, kind: Kind) -> list[str]:
    """The names of all records of a kind, the oldest first, but for those for which others stand."""
    label = quoted(kind.label or "id")
    found = connection.execute(
        f"SELECT {label} FROM {kind.table} WHERE typeof({label}) = 'text' "
        f"AND id NOT IN (SELECT id FROM one_with WHERE kind = ?) ORDER BY created_at, id",
        (kind.name,),
    )
    return [row[0] for row in found]


def _by_plain_label(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    """The records whose name differs only in marks that nobody sees, or in quotes around it; of what may be one thing
    under several ids also in blanks and case.

    Of a build also the last one of such a diff.
    """
    if kind.name == "build":
        builds = _last_builds(connection, _by_plain_label(connection, BY_NAME["diff"], name))
        if builds:
            return builds
    return _labelled_alike(connection, kind, name)


def _labelled_alike(connection: sqlite3.Connection, kind: Kind, name: str) -> list[str]:
    folded = folded_label if kind.name in JOINED_KINDS else plain_label
    wanted = folded(name)
    found = connection.execute(f"SELECT id, {quoted(kind.label or 'id')} AS label FROM {kind.table} ORDER BY id")
    return [str(row["id"]) for row in found if isinstance(row["label"], str) and folded(row["label"]) == wanted]


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
    if is_only_dots(name):
        raise UnknownNameError(noun, name, [], by_command=_DOTS_LEFT)
    known = list(near(connection, kind, name))
    named = f"Did you mean {listed(known[:MOST_LISTED])}? " if known else ""
    made = f"Make {'another' if known else 'it first'} with '{kind.command()}'."
    if kind.name == "join":
        made = "Say it with 'bevelbook join KIND A B'."
    raise UnknownNameError(
        noun,
        name,
        [],
        by_command=f"{named}{made}",
    )


def _bottles_by_lot(connection: sqlite3.Connection, lot: str) -> list[Candidate]:
    lot, kind = read_text(lot) or lot, BY_NAME["bottle"]
    rows = connection.execute("SELECT id FROM bottles WHERE lot = ? COLLATE NOCASE", (lot,)).fetchall()
    found = dict.fromkeys((*(row[0] for row in rows), *(one.row_id for one in of_one_name(connection, kind, lot))))
    return [Candidate(row_id, label_of(connection, kind, row_id), ()) for row_id in found]


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
            f"'bevelbook record build {in_command(label)} diff=NAME'.",
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
