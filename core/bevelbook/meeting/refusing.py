"""What is said when something that a stranger sent is refused: in which table and record, what is wrong, what to do."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from bevelbook.declare.errors import DatabaseError, Place, shown

ASK_AGAIN: Final = (
    "Nothing was changed. Ask whoever sent it to run bevelbook's check on their own database, to put right what it "
    "names, and to send it again."
)
DAMAGED: Final = "Nothing was changed. It may have been cut or damaged on its way: ask for it to be sent again."


def words_of(table: str) -> str:
    """A table's name for people.

    >>> words_of("run_diffs")
    'run diffs'
    """
    return table.replace("_", " ")


class OddRow(DatabaseError):
    """The fault of one record. ``held`` is the table that it lies in, and its id or whatever else tells it from others
    there; ``column`` the one that is wrong, where one is."""

    held: tuple[str, object]
    column: str | None = None


def refuse_row(
    path: Path,
    table: str,
    row: object,
    what: str,
    *,
    found: object = None,
    called: object = None,
    held: tuple[str, object] | None = None,
    column: str | None = None,
) -> OddRow:
    """The fault of one record: ``row`` is its id, or whatever else tells it from others, ``called`` its name; it lies
    in the table ``held`` where that is another one."""
    named = f"{shown(called)} (id {shown(str(row))})" if isinstance(called, str) else shown(str(row))
    odd = OddRow(
        f"the record {named} of {words_of(table)} {what}",
        code="other_row",
        place=Place(path.name, column=table),
        found=None if found is None else str(found),
        remedy=ASK_AGAIN,
    )
    odd.held, odd.column = held or (table, row), column
    return odd


def refuse_table(path: Path, table: str, what: str, *, found: str | None = None) -> DatabaseError:
    """The fault of a table that is not as this tool made it."""
    return DatabaseError(
        f"the table {shown(table)} {what}",
        code="other_schema",
        place=Place(path.name),
        found=found,
        remedy="Nothing was changed. Another program changed how this database is made, and nothing of that is run "
        "here: ask whoever sent it for an export of it, or for an earlier copy.",
    )


def refuse_damaged(path: Path, what: str = "the file is damaged", *, found: str | None = None) -> DatabaseError:
    """The fault of a file that cannot be read whole."""
    return DatabaseError(what, code="other_damaged", place=Place(path.name), found=found, remedy=DAMAGED)


def refuse_too_big(path: Path, what: str, *, wanted: str) -> DatabaseError:
    """The fault of something larger, or slower to read, than anything a team has."""
    return DatabaseError(
        what,
        code="other_too_big",
        place=Place(path.name),
        wanted=wanted,
        remedy="Nothing was changed. Look whether it is the right file.",
    )
