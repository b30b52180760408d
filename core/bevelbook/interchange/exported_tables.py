"""The tables of an export and their columns, from the declarations alone.

Every table of records is there but those that follow from the others, and beside them the past, other labels, and which
files and pictures are in the folder.
"""

from __future__ import annotations

from functools import cache
from typing import Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.facts.sql import SQL_TYPE
from bevelbook.interchange.csv_cells import CellType
from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.store.column_words import TECHNICAL
from bevelbook.store.schema import columns_of

HISTORY: Final = "history"
ALSO_CALLED: Final = "also_called"
NOTE_BYTES: Final = "note_bytes"
PICTURE_BYTES: Final = "picture_bytes"
_WHOLE: Final = frozenset({"note_line", "byte_count", "thumbnail_byte_count"})
_NEEDED: Final = frozenset({"id", "version", "created_at", "updated_at"})
_CELL_TYPES: Final[dict[str, CellType]] = {"REAL": "REAL", "INTEGER": "INTEGER"}


class ExportColumn(NamedTuple):
    """A column of a file: its type, what it holds, whether it is never empty, the table that its values are ids of, and
    the field that it was declared as, if it was."""

    name: str
    cell_type: CellType
    about: str
    required: bool = False
    target: str | None = None
    field: Field | None = None


class ExportTable(NamedTuple):
    """A table of an export, one file. ``key`` are the columns that tell its rows apart, in whose order they stand; of
    the past there are none. ``kind`` is the kind of record that it holds, if it is one."""

    name: str
    title: str
    about: str
    columns: tuple[ExportColumn, ...]
    key: tuple[str, ...]
    kind: Kind | None = None

    @property
    def path(self) -> str:
        """The name of its file in the folder."""
        return f"{self.name}.csv"

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    @property
    def types(self) -> tuple[CellType, ...]:
        return tuple(column.cell_type for column in self.columns)


@cache
def exported_tables() -> tuple[ExportTable, ...]:
    """Every table of an export, in order."""
    records = tuple(_of_kind(kind) for kind in KINDS if not kind.derived)
    return (*records, _history(), _also_called(), _note_bytes(), _picture_bytes())


def _of_kind(kind: Kind) -> ExportTable:
    declared = {field.name: field for field in kind.fields}
    columns = tuple(
        _declared(declared[name]) if name in declared else _technical(name, kind.own) for name in columns_of(kind)
    )
    return ExportTable(kind.table, kind.title, kind.about, columns, ("id",), kind)


def _declared(field: Field) -> ExportColumn:
    target = BY_NAME[field.target].table if field.kind == "reference" and field.target else None
    cell_type = _CELL_TYPES.get(SQL_TYPE.get(field.kind, "TEXT"), "TEXT")
    return ExportColumn(field.name, cell_type, field.about, field.required, target, field)


def _technical(name: str, own: bool) -> ExportColumn:
    target = BY_NAME["note_file"].table if own and name == "note_file" else None
    return _plain(name, TECHNICAL[name], name in _NEEDED, target)


def _plain(name: str, about: str, required: bool = False, target: str | None = None) -> ExportColumn:
    return ExportColumn(name, "INTEGER" if name in _WHOLE else "TEXT", about, required, target)


def _history() -> ExportTable:
    return ExportTable(
        HISTORY,
        "What was before",
        "Past versions of records, those of one record after each other, the older ones first",
        (
            _plain("table_name", "Table of the record", True),
            _plain("row_id", "Id of the record", True),
            _plain("version", "Version of the record; 'not versioned' for a row that has none", True),
            _plain("parents", "Versions before it, as JSON; empty in a first version"),
            _plain(
                "content", "The record as it was, as JSON without id, version and parents; empty where it was removed"
            ),
            _plain("replaced_in", "The entry that replaced it; empty if another program did, or if none did"),
            _plain("replaced_at", "When it was replaced (UTC)"),
        ),
        (),
    )


def _also_called() -> ExportTable:
    columns = (
        _plain("table_name", "Table of the record", True),
        _plain("row_id", "Id of the record", True),
        _plain("label", "Another label under which it is found", True),
    )
    return ExportTable(
        ALSO_CALLED,
        "Other labels",
        "Labels that the same build or run from notes got in other places",
        columns,
        ("table_name", "row_id", "label"),
    )


def _note_bytes() -> ExportTable:
    columns = (
        _plain("sha256", "Hash of the file, which is its name in the folder files", True),
        _plain("byte_count", "Its size in bytes", True),
    )
    return ExportTable(
        NOTE_BYTES, "Kept files", "The imported files themselves, in the folder files", columns, ("sha256",)
    )


def _picture_bytes() -> ExportTable:
    columns = (
        _plain("sha256", "Hash of the picture, which is the name of its file in the folder pictures", True),
        _plain("byte_count", "Its size in bytes", True),
        _plain("thumbnail_sha256", "Hash of the small picture beside it", True),
        _plain("thumbnail_byte_count", "Size of the small picture in bytes", True),
    )
    return ExportTable(
        PICTURE_BYTES,
        "Picture files",
        "The pictures of photographs themselves, each large and small, in the folder pictures",
        columns,
        ("sha256",),
    )
