"""A photograph with its picture, inside the transaction of the caller, who saves it like any other record."""

from __future__ import annotations

import sqlite3

from bevelbook.entering.record import PreparedRecord
from bevelbook.pictures.prepare import PreparedPicture
from bevelbook.store.pictures import keep_picture


def with_picture(connection: sqlite3.Connection, entry: PreparedRecord, picture: PreparedPicture) -> PreparedRecord:
    """The record that was read with its picture, which is kept, once by its content; with what is to be said of it."""
    field = entry.kind.from_file
    if field is None:
        return entry
    values = {**entry.values, field: keep_picture(connection, picture)}
    return entry._replace(values=values, remarks=(*entry.remarks, *picture.remarks))
