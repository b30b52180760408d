"""Any table, view or results of a calculator alone: its columns with all that is declared about them, and its rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any, Final, Literal, NamedTuple

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.declare.fields import Field
from bevelbook.declare.known_units import unit_said_by
from bevelbook.facts.sql import SQL_TYPE
from bevelbook.facts.views import VIEWS, View
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.reading.units import ucum_of
from bevelbook.records import BY_NAME, FACTS, KINDS, Kind, Order
from bevelbook.store.calculation_views import (
    BEHIND,
    BEHIND_ROWS,
    OF_EACH,
    OF_EACH_ROW,
    key_of_view,
    row_columns,
    view_columns,
    view_names,
)
from bevelbook.store.column_words import (
    SHARED,
    TECHNICAL,
    columns_of_view_in_words,
    field_anywhere,
    types_of_declared_view,
    types_of_view,
)
from bevelbook.store.schema import columns_of, quoted

BLOCK_ROWS: Final = 10_000
"""Rows that are held in memory at a time."""
ColumnType = Literal["text", "number", "whole", "date"]
_TYPE_OF_KIND: Final[dict[str, ColumnType]] = {"quantity": "number", "whole": "whole", "date": "date"}
_TYPE_OF_SQL: Final[dict[str, ColumnType]] = {"REAL": "number", "INT": "whole", "INTEGER": "whole"}
_WHOLE_TECHNICAL: Final = frozenset({"note_line"})
_LATEST: Final = Order("calculated_at", newest_first=True)
_ABOUT_RESULT: Final = {
    **SHARED,
    "subject_table": "Table of what it was computed for",
    "subject_id": "What it was computed for",
    "verdict": "ok, caution, stop or unclear",
    "version": "Version of the calculator",
    "calculated_at": "When",
    "calculated_by": "Who",
    "fingerprint": "What its calculator declared and found for its worked examples then; alike for all of one version",
}


class ColumnToWrite(NamedTuple):
    """One column: its type, and what is declared about it. ``references`` is the table whose ids it holds, and
    ``name_of`` the reference whose name for people it is."""

    name: str
    type: ColumnType
    title: str
    about: str
    unit: str | None = None
    choices: tuple[str, ...] = ()
    references: str | None = None
    name_of: str | None = None

    @property
    def ucum(self) -> str | None:
        """The code of its unit in the Unified Code for Units of Measure; None where it has no unit."""
        return ucum_of(self.unit)


class MadeRows(NamedTuple):
    """The rows of a listing, what is to be said beside it, and whether it has all that it should."""

    rows: Sequence[tuple[object, ...]]
    remarks: tuple[str, ...] = ()
    is_whole: bool = True


class OneTable(NamedTuple):
    """A table, view or listing that can be written out alone. ``is_there`` is False for results of which none was kept
    yet. The rows of a listing are not in the database: ``make`` makes them, and ``made`` are those that it made."""

    name: str
    title: str
    about: str
    group: str
    columns: tuple[ColumnToWrite, ...]
    key: tuple[str, ...]
    shown_by: Order | None = None
    kind: Kind | None = None
    is_there: bool = True
    make: Callable[[sqlite3.Connection], MadeRows] | None = None
    made: MadeRows | None = None

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)

    @property
    def order(self) -> tuple[Order, ...]:
        """The order of its rows, which ends in its key: no two rows may change places."""
        first = () if self.shown_by is None else (self.shown_by,)
        return (*first, *(Order(name) for name in self.key if not first or name != first[0].column))

    def with_names(self) -> OneTable:
        """The same with the name for people behind each reference: ``venue_name`` behind ``venue``.

        Raises InputError for a view or listing, which has the names that it needs.
        """
        if self.kind is None:
            raise InputError(
                f"names go beside the references of a table of records, and {self.name} is not one",
                code="names_of_a_view",
                remedy="Leave them out: a view or listing has its names where it needs them.",
            )
        fields = {field.name: field for field in self.kind.fields}
        columns = []
        for column in self.columns:
            columns.append(column)
            field = fields.get(column.name)
            target = BY_NAME.get(field.target or "") if field is not None else None
            if target is not None and target.label is not None:
                label = target.field(target.label)
                columns.append(
                    ColumnToWrite(
                        f"{column.name}_{target.label}",
                        _type_of(label),
                        f"{column.title}: {label.words}",
                        f"{column.about}: {label.about}",
                        references=column.references,
                        name_of=column.name,
                    )
                )
        return self._replace(columns=tuple(columns))

    def filled(self, connection: sqlite3.Connection) -> OneTable:
        """The same; a listing with its rows."""
        return self if self.make is None else self._replace(made=self.make(connection))

    def sql(self) -> str:
        """The query of all its rows in order. A number that is infinite, as only another program can write one, is
        empty: no form of the data but SQLite's holds it alike."""
        selected = ", ".join(f"{_selected(column)} AS {quoted(column.name)}" for column in self.columns)
        order = ", ".join(f"t.{quoted(one.column)}{' DESC' if one.newest_first else ''}" for one in self.order)
        return f"SELECT {selected} FROM {quoted(self.name)} t ORDER BY {order}"

    def rows(self, connection: sqlite3.Connection) -> Iterator[list[tuple[object, ...]]]:
        """All its rows in order, a block at a time. Raises sqlite3.Error."""
        if self.make is not None:
            found = (self.made or self.make(connection)).rows
            for start in range(0, len(found), BLOCK_ROWS):
                yield [*found[start : start + BLOCK_ROWS]]
            return
        if not self.is_there:
            return
        cursor = connection.cursor()
        cursor.row_factory = None
        cursor.execute(self.sql())
        while block := cursor.fetchmany(BLOCK_ROWS):
            yield block


def _selected(column: ColumnToWrite) -> str:
    if column.name_of is not None:
        table = column.references
        label = column.name.removeprefix(f"{column.name_of}_")
        return f"(SELECT n.{quoted(label)} FROM {table} n WHERE n.id = t.{quoted(column.name_of)})"
    name = f"t.{quoted(column.name)}"
    return f"nullif(nullif({name}, 9e999), -9e999)" if column.type == "number" else name


def tables_to_write(connection: sqlite3.Connection | None, registry: Registry) -> dict[str, OneTable]:
    """Every table and view that can be written out alone, by name; with a connection also the results in it of
    calculators that are not loaded."""
    there = None if connection is None else _views_of_results(connection)
    found = [*map(_of_kind, (*KINDS, *FACTS)), *map(_of_view, VIEWS)]
    for offered in registry.with_rows():
        found += _of_calculator(offered.calculator, there)
    known = {one.name: one for one in found}
    if connection is not None and there:
        known |= {name: _of_unknown(connection, name) for name in there if name not in known}
        known |= {name: _as_in_file(connection, known[name]) for name in there}
    return known


def table_called(tables: Mapping[str, OneTable], name: str) -> OneTable:
    """A table by its name, or a kind of record by its name in the singular.

    Raises UnknownNameError with similar names and how to list them.
    """
    folded = name.strip().lower().replace("-", "_").replace(" ", "_")
    found = tables.get(folded) or (tables.get(BY_NAME[folded].table) if folded in BY_NAME else None)
    if found is None:
        raise UnknownNameError(
            "table",
            name,
            [*tables, *(kind.name for kind in KINDS)],
            by_command="'bevelbook export --list' lists the tables and views.",
            noun="table or view",
        )
    return found


@cache
def _of_kind(kind: Kind) -> OneTable:
    fields = {field.name: field for field in kind.fields}
    columns = tuple(_of_field(name, fields[name]) if name in fields else _technical(name) for name in columns_of(kind))
    key = kind.columns[0] if kind.fact else "id"
    group = "Facts, which follow from the records" if kind.fact else "Records" if kind.own else "Kept by the tool"
    return OneTable(kind.table, kind.title, kind.about, group, columns, (key,), kind.shown_by, kind)


def _of_view(view: View) -> OneTable:
    words = columns_of_view_in_words(view)
    columns = tuple(
        _of_view_column(name, type_, words[name], view.fields.get(name) or field_anywhere(name))
        for name, type_ in types_of_declared_view(view.name).items()
    )
    return OneTable(view.name, view.title, view.about, "Views", columns, view.key, view.order)


def _of_calculator(calculator: Calculator[Any, Any], there: Iterable[str] | None) -> Iterator[OneTable]:
    views = view_names(calculator.name)
    title = f"Results: {calculator.title}"
    group = "Kept results of the calculators"
    columns = (
        *map(_of_result, OF_EACH),
        *(_of_field(column, field, is_plain=True) for column, _, field in view_columns(calculator)),
        *map(_of_result, BEHIND),
    )
    purpose = calculator.purpose
    for name, called, about in (
        (views.every, title, f"All kept results: {purpose}"),
        (views.latest, f"{title}, latest", f"The latest of each record: {purpose}"),
    ):
        is_there = there is None or name in there
        yield OneTable(name, called, about, group, columns, ("calculation",), _LATEST, is_there=is_there)
    if calculator.listing_out:
        columns = (
            *map(_of_result, OF_EACH_ROW),
            *(_of_field(column, field, is_plain=True) for column, field in row_columns(calculator)),
            *map(_of_result, BEHIND_ROWS),
        )
        listed = calculator.listing_out.about
        for name, called, about in (
            (views.rows, f"{title}, rows", f"Row by row, of all kept results: {listed}"),
            (views.rows_latest, f"{title}, rows of the latest", f"Row by row, of the latest of each record: {listed}"),
        ):
            is_there = there is None or name in there
            yield OneTable(name, called, about, group, columns, ("calculation", "place"), is_there=is_there)


def _of_unknown(connection: sqlite3.Connection, name: str) -> OneTable:
    """The view of results in the file whose calculator is not loaded: its columns as they are."""
    columns = tuple(
        _of_result(column) if column in _ABOUT_RESULT else _of_view_column(column, type_, column, None)
        for column, type_ in types_of_view(connection, name).items()
    )
    names = [column.name for column in columns]
    key = key_of_view(name, names) or tuple(names)
    return OneTable(
        name,
        f"Results: {name.removeprefix('calc_').replace('_', '-')}",
        "Kept results of a calculator that is not loaded",
        "Kept results of the calculators",
        columns,
        key,
        _LATEST if _LATEST.column in names else None,
    )


def _as_in_file(connection: sqlite3.Connection, table: OneTable) -> OneTable:
    """A table of results with the columns that its view in the file has: another version of its calculator may have
    made it."""
    types = types_of_view(connection, table.name)
    if tuple(types) == table.names:
        return table
    declared = {column.name: column for column in table.columns}
    columns = tuple(
        declared.get(name) or _of_view_column(name, type_, name.replace("_", " "), None)
        for name, type_ in types.items()
    )
    return table._replace(columns=columns)


def _views_of_results(connection: sqlite3.Connection) -> tuple[str, ...]:
    found = connection.execute(
        "SELECT name FROM main.sqlite_master WHERE type = 'view' AND name GLOB 'calc_*' ORDER BY name"
    )
    return tuple(row[0] for row in found.fetchall())


def _of_field(name: str, field: Field, *, is_plain: bool = False) -> ColumnToWrite:
    """The column of a field. The values of a result are plain: what was chosen once may be a word of an older list."""
    target = BY_NAME.get(field.target or "")
    return ColumnToWrite(
        name,
        "text" if is_plain and field.kind not in SQL_TYPE else _type_of(field),
        _capital(field.words),
        field.about,
        field.unit if field.is_number else None,
        () if is_plain else field.choices,
        None if target is None or is_plain else target.table,
    )


def _technical(name: str) -> ColumnToWrite:
    references = "note_files" if name == "note_file" else None
    return ColumnToWrite(
        name,
        "whole" if name in _WHOLE_TECHNICAL else "text",
        _capital(name.replace("_", " ")),
        TECHNICAL[name],
        references=references,
    )


def _of_result(name: str) -> ColumnToWrite:
    type_: ColumnType = "whole" if name in ("version", "place") else "text"
    return ColumnToWrite(name, type_, _capital(name.replace("_", " ")), _ABOUT_RESULT[name])


def _of_view_column(name: str, sql_type: str, words: str, field: Field | None) -> ColumnToWrite:
    """A column of a view: the type is the one of its SQL, which is empty for a text that is worked out."""
    type_ = _TYPE_OF_SQL.get(sql_type, "text")
    unit = None
    if type_ == "number":
        unit = field.unit if field is not None and field.is_number else unit_said_by(name)
    elif type_ == "text" and field is not None and field.kind == "date":
        type_ = "date"
    about = words.removesuffix(f" [{unit}]") if unit else words
    return ColumnToWrite(name, type_, _capital(field.words if field else name.replace("_", " ")), about, unit)


def _type_of(field: Field) -> ColumnType:
    return _TYPE_OF_KIND.get(field.kind, "text")


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
