"""What a command says where a record is there already: nothing was added, how to change it, how to add another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bevelbook.cli import print_json, print_text
from bevelbook.declare.in_command import command_of

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.entering.record import PreparedRecord

ANOTHER = "--another"


def repeated(connection: sqlite3.Connection, entry: PreparedRecord, by: str | None, *, another: bool) -> str | None:
    """The id of the record that the same command wrote a moment ago; None if this one is to be written.

    Raises EqualNameError, with the command that changes the record of that name. ``another`` writes it all the same.
    """
    from bevelbook.entering.equal_names import EqualNameError, refuse_equal_name
    from bevelbook.entering.written_already import written_already
    from bevelbook.store.ids import now_utc

    row_id = None if another else written_already(connection, entry, by, now_utc())
    if row_id is not None:
        return row_id
    try:
        refuse_equal_name(connection, entry.kind, entry.values, entry.row_id, another=another)
    except EqualNameError as fault:
        words = ["record", fault.kind.name.replace("_", "-"), fault.name, "FIELD=VALUE"]
        fault.remedy = f"To change that one: '{command_of(*words)}'. "
        fault.remedy += f"To add another one: {ANOTHER}." if fault.another_may_be else "Nothing was changed."
        raise
    return None


def say_repeated(connection: sqlite3.Connection, entry: PreparedRecord, row_id: str, as_json: bool) -> None:
    """Say which record the same command wrote before."""
    from bevelbook.entering.equal_names import may_be_another
    from bevelbook.entering.shown_values import shown_values
    from bevelbook.notes.placed_again import PlacedAgain
    from bevelbook.reports.what_changed import News
    from bevelbook.store.lookup import label_of
    from bevelbook.store.record_names import with_kind

    label = label_of(connection, entry.kind, row_id)
    if as_json:
        print_json(
            {
                "record": entry.kind.name,
                "id": row_id,
                "label": label,
                "done": "already written",
                "values": shown_values(connection, entry.kind, row_id),
                "carried_over": {},
                "taken": {},
                "places": [],
                "car_changes": [],
                "builds_made": [],
                **PlacedAgain().as_dict(),
                "findings": [],
                "kept": [],
                "plugin_faults": [],
                **News((), ()).as_dict(),
            }
        )
        return
    print_text(f"Already written: {with_kind(entry.kind, label)}, by the same command a moment ago. Nothing was added.")
    if may_be_another(entry.kind):
        print_text(f"  {ANOTHER} writes it once more.")
