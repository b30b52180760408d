"""The picture of ``bevelbook record photo``: read from a file, and written into one again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_json, print_text
from bevelbook.cli.files import ReadFrom, StandardOutput, WriteTo, bytes_in
from bevelbook.declare.errors import DatabaseError, InputError, Place

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from bevelbook.cli.session import Session
    from bevelbook.pictures.prepare import PreparedPicture
    from bevelbook.records import Kind

FILE: Final = "--file"
SAVE_AS: Final = "--save-as"


def picture_from(kind: Kind, file: ReadFrom | None, *, is_new: bool) -> PreparedPicture | None:
    """The picture in a file, ready to be kept; None where none was named and none is needed.

    Raises InputError for a file that cannot be used, for a new photograph without one, and for another kind of record.
    """
    if file is None:
        if kind.from_file is None or not is_new:
            return None
        raise InputError(
            "a photograph needs the file of its picture",
            code="no_picture_sent",
            remedy="Name it: 'bevelbook record photo --file FILE build=... piece=outdrive'. Nothing was stored.",
        )
    _refuse_other_kind(kind, FILE)
    from bevelbook.pictures.prepare import prepared_picture, refuse_too_big

    try:
        if isinstance(file, Path):
            refuse_too_big(file.stat().st_size)
        return prepared_picture(bytes_in(file))
    except OSError as fault:
        raise InputError(
            "the picture cannot be read",
            code="no_file",
            place=Place(file=str(file)),
            found=fault.strerror,
            remedy="Check the name. Nothing was stored.",
        ) from fault
    except InputError as fault:
        fault.place = Place(file=str(file))
        raise


def save_picture_as(session: Session, kind: Kind, words: Sequence[str], path: WriteTo, as_json: bool) -> int:
    """Write the picture of a photograph into a new file, or to standard output; returns the exit code.

    Where no photograph shows a picture any more, its own id names it.
    """
    _refuse_other_kind(kind, SAVE_AS)
    name, *others = words or ("",)
    if not name or others:
        raise InputError(
            "which photograph?",
            code="not_a_photograph",
            place=Place(column=SAVE_AS),
            remedy="Name it alone: 'bevelbook record photo NAME --save-as FILE'.",
        )
    if as_json and isinstance(path, StandardOutput):
        raise click.UsageError("Standard output is the picture or the JSON: leave one of them out.")
    with session.reading() as connection:
        picture, jpeg = _jpeg_of(connection, kind, name)
    if isinstance(path, StandardOutput):
        stream = path.open(is_text=False)
        stream.write(jpeg)
        stream.flush()
        return 0
    try:
        with path.open("xb") as file:
            file.write(jpeg)
    except FileExistsError as fault:
        raise InputError(
            "there is a file of that name already",
            code="file_exists",
            place=Place(file=str(path)),
            remedy="Choose another name. Nothing was written.",
        ) from fault
    except OSError as fault:
        raise DatabaseError(
            "the picture cannot be written there",
            code="not_writable",
            place=Place(file=str(path)),
            found=fault.strerror,
            remedy="Choose another place.",
        ) from fault
    if as_json:
        print_json({"picture": picture, "file": str(path), "bytes": len(jpeg), **session.noticed()})
    else:
        print_text(f"Wrote {path}, {len(jpeg) / 1e6:.2f} MB")
    return 0


def say_size(connection: sqlite3.Connection, row_id: str) -> str:
    """The size of the picture of a photograph, as a line below it: ``2000 x 1500 pixels, 0.38 MB``."""
    row = connection.execute(
        "SELECT p.width_px, p.height_px, p.byte_count FROM photos t JOIN pictures p ON p.id = t.picture WHERE t.id = ?",
        (row_id,),
    ).fetchone()
    return "" if row is None else f"{row[0]} x {row[1]} pixels, {row[2] / 1e6:.2f} MB"


def _jpeg_of(connection: sqlite3.Connection, kind: Kind, name: str) -> tuple[str, bytes]:
    from hashlib import sha256

    from bevelbook.store.files_elsewhere import files_elsewhere
    from bevelbook.store.lookup import find_id
    from bevelbook.store.pictures import picture_bytes

    picture = name
    if picture_bytes(connection, name) is None:
        row_id = find_id(connection, kind, name)
        picture = str(connection.execute("SELECT picture FROM photos WHERE id = ?", (row_id,)).fetchone()[0])
    jpeg = picture_bytes(connection, picture)
    if jpeg is None and picture in files_elsewhere(connection):
        raise DatabaseError(
            f"the picture of {name} did not come along with its record",
            code="file_not_here",
            remedy="It comes when a whole export, or the database, of the one who has it is merged: 'bevelbook check' "
            "says who. Nothing was written.",
        )
    if jpeg is None or sha256(jpeg).hexdigest() != picture:
        raise DatabaseError(
            f"the picture of {name} is {'gone' if jpeg is None else 'not what was kept'}: another program changed it",
            code="picture_damaged",
            remedy="Take it from a backup of the database, or take the photograph again. Nothing was written.",
        )
    return picture, jpeg


def _refuse_other_kind(kind: Kind, option: str) -> None:
    if kind.from_file is None:
        raise InputError(
            f"{kind.table.replace('_', ' ')} show no picture",
            code="not_a_photograph",
            place=Place(column=option),
            remedy="Only a photograph has one: 'bevelbook record photo --file FILE build=... piece=outdrive'.",
        )
