"""A photograph stored with its picture, inside the caller's transaction."""

from __future__ import annotations

import sqlite3

from bevelbook.entering.record import PreparedRecord
from bevelbook.pictures.prepare import PreparedPicture
from bevelbook.plugin.registry import Registry
from bevelbook.saving.record import SavedRecord, WantedRecord, read_wanted, save
from bevelbook.store.pictures import keep_picture


def with_picture(connection: sqlite3.Connection, entry: PreparedRecord, picture: PreparedPicture) -> PreparedRecord:
    """The record that was read with its picture, which is kept, once by its content; with what is to be said of it."""
    field = entry.kind.from_file
    if field is None:
        return entry
    values = {**entry.values, field: keep_picture(connection, picture)}
    return entry._replace(values=values, remarks=(*entry.remarks, *picture.remarks))


def save_photograph(
    connection: sqlite3.Connection,
    registry: Registry,
    wanted: WantedRecord,
    picture: PreparedPicture,
    by: str | None,
    *,
    is_of_today: bool = False,
) -> SavedRecord:
    """Store a photograph: what is typed of it, and the picture that was prepared before the transaction.

    Raises InputError or UnknownNameError with the field's name as place.
    """
    entry = read_wanted(connection, wanted, by, is_of_today=is_of_today)
    return save(connection, registry, with_picture(connection, entry, picture), by)
