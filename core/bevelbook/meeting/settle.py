"""Settling a clash: a version that follows all that stand side by side, so that one holds everywhere."""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from bevelbook.declare.errors import InputError
from bevelbook.store import entries
from bevelbook.store.clashes import ClashFound, Which, WithOthers, both_hold, clashes_of, with_others
from bevelbook.store.heads import Content, derived_columns
from bevelbook.store.ids import now_utc
from bevelbook.store.lookup import label_of
from bevelbook.store.record_names import with_kind
from bevelbook.store.schema import quoted
from bevelbook.store.versions import after
from bevelbook.taking_back.removal import removal_of, remove

BOTH: Final = "both"
_NOTHING: Final = "Nothing was changed."


def settle(connection: sqlite3.Connection, found: ClashFound, which: Which, *, by: str | None) -> None:
    """Have a version of a clashing record hold, by its number, alone or with what the others changed, or all changes,
    inside the caller's transaction, whose entry it is.

    Raises InputError where the clash is another one by now, where there is no such version, where both cannot hold, and
    where a removal is to hold of a record that others need.
    """
    now = next(iter(clashes_of(connection, [(found.kind.table, found.row_id)])), None)
    if now is None or [one.version for one in now.heads] != [one.version for one in found.heads]:
        raise _refused(
            connection, found, "is not as it was when it was looked at", "clash_changed", "Look at it again first."
        )
    if which == BOTH:
        _write(connection, found, _both(connection, found), by)
        return
    number = which.number if isinstance(which, WithOthers) else int(which)
    if not 1 <= number <= len(found.heads):
        raise _refused(
            connection, found, f"has no version {number}", "no_such_version", f"Name one from 1 to {len(found.heads)}."
        )
    head = found.heads[number - 1]
    if isinstance(which, WithOthers):
        content = with_others(found, number)
        if content is None:
            what = f"has nothing that the others changed beside version {number}"
            raise _refused(connection, found, what, "no_such_version", "Choose one by its number.")
        _write(connection, found, content, by)
    elif head.content is None:
        _remove(connection, found, by)
    else:
        _write(connection, found, head.content, by)


def _both(connection: sqlite3.Connection, found: ClashFound) -> Content:
    content = both_hold(found)
    if content is None:
        raise _refused(
            connection,
            found,
            "cannot keep both: they changed the same, or one of them removed it",
            "clash_not_both",
            "Choose one of them by its number.",
        )
    return content


def _write(connection: sqlite3.Connection, found: ClashFound, content: Content, by: str | None) -> None:
    kind, entry = found.kind, entries.current(connection)
    if not kind.own:
        what = "was removed, and is shown because something needs it"
        raise _refused(connection, found, what, "record_in_use", "Remove or move what needs it.")
    aside = derived_columns(kind, content)
    row: dict[str, Any] = {name: content.get(name) for name in kind.columns if name not in aside}
    row |= {name: content.get(name) for name in ("entered", "note_file", "note_line")}
    row |= {"updated_at": now_utc(), "updated_by": by, "version": entry}
    row["parents"] = after(*(one.version for one in found.heads))
    sets = ", ".join(f"{quoted(name)} = ?" for name in row)
    connection.execute(f"UPDATE main.{kind.table} SET {sets} WHERE id = ?", (*row.values(), found.row_id))
    _replace_others(connection, found, entry)


def _remove(connection: sqlite3.Connection, found: ClashFound, by: str | None) -> None:
    """Remove the record with what is part of it, as a person does."""
    kind, entry = found.kind, entries.current(connection)
    remove(connection, removal_of(connection, kind, found.row_id), by)
    connection.execute(
        "UPDATE main.history SET parents = ? WHERE table_name = ? AND row_id = ? AND version = ? AND content IS NULL",
        (after(*(one.version for one in found.heads)), kind.table, found.row_id, entry),
    )
    _replace_others(connection, found, entry)


def _replace_others(connection: sqlite3.Connection, found: ClashFound, entry: str | None) -> None:
    """Note of the versions beside the shown one which entry followed them."""
    for head in found.heads[1:]:
        if not head.is_removal:
            connection.execute(
                "UPDATE main.history SET replaced_in = ?1, replaced_at = (SELECT max(replaced_at) FROM main.history "
                "WHERE table_name = ?2 AND row_id = ?3 AND replaced_in = ?1) WHERE table_name = ?2 AND row_id = ?3 "
                "AND version = ?4 AND replaced_at IS NULL",
                (entry, found.kind.table, found.row_id, head.version),
            )


def _refused(connection: sqlite3.Connection, found: ClashFound, what: str, code: str, remedy: str) -> InputError:
    name = with_kind(found.kind, label_of(connection, found.kind, found.row_id))
    return InputError(f"{name} {what}", code=code, remedy=f"{remedy} {_NOTHING}")
