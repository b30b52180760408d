"""The typed views of kept results. ``calc_x`` has every kept row of a calculator, of every version; ``calc_x_latest``
the one row of each record that counts; ``calc_x_rows`` and ``calc_x_rows_latest`` the rows of its listing.

A view has the columns of today's declaration first, then those that only kept rows have: of an output that was renamed
or removed since, or of a version that a mate's plugin has and ours does not. So nothing kept is out of sight, and a
view does not change with who wrote last: an older plugin leaves a view alone that has its columns too.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field, fields_of
from bevelbook.facts.sql import SQL_TYPE
from bevelbook.kept_json import object_in
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.declared import is_name_of_calculator
from bevelbook.store.schema import literal, quoted

OF_EACH: Final = ("calculation", "subject_table", "subject_id", "verdict")
"""The columns that a view of results begins with."""
OF_EACH_ROW: Final = (*OF_EACH[:-1], "place")
"""The same for a view of the rows of a listing."""
BEHIND: Final = ("version", "calculated_at", "calculated_by", "fingerprint")
BEHIND_ROWS: Final = ("version", "calculated_at")
_SAMPLED: Final = 12
"""So many of the first rows, and as many of the last, show what the rows of one version hold."""
_KINDS: Final = {float: "quantity", int: "whole"}
_LATEST: Final = "latest_calculations"
_NEXT_VERSION: Final = "SELECT min(version) FROM main.calculations WHERE version > ?"
_FIRST: Final = (
    "SELECT fingerprint FROM main.calculations WHERE version = ? AND calculator = ? ORDER BY fingerprint LIMIT 1"
)
_NEXT: Final = (
    "SELECT fingerprint FROM main.calculations WHERE version = ? AND calculator = ? AND fingerprint > ? "
    "ORDER BY fingerprint LIMIT 1"
)


class ResultViews(NamedTuple):
    """The names of a calculator's views."""

    every: str
    latest: str
    rows: str
    rows_latest: str


class KeptUnder(NamedTuple):
    """What kept rows have in common: the version of their calculator, and its fingerprint where it was kept."""

    version: int
    fingerprint: str | None


class _ResultColumn(NamedTuple):
    """A value of kept rows: where it is, its key there, and the kind of its field; no kind where none is known."""

    side: str
    key: str
    kind: str | None

    @property
    def sql(self) -> str:
        """The value with the type of its field: other tools see it, and a comparison goes by it.

        What should be a number and is none (another program may have written it) is empty, not 0.
        """
        path = literal(f"$.{self.key}")
        value = f"json_extract({self.side}, {path})"
        if self.kind is None:
            return value
        if self.kind in SQL_TYPE:
            value = f"iif(json_type({self.side}, {path}) IN ('integer', 'real'), {value}, NULL)"
        return f"CAST({value} AS {SQL_TYPE.get(self.kind, 'TEXT')})"


class _ColumnsHeld(NamedTuple):
    """The columns of one declaration, or of some kept rows."""

    outputs: tuple[_ResultColumn, ...]
    inputs: tuple[_ResultColumn, ...]
    listed: tuple[_ResultColumn, ...]
    has_listing: bool

    @property
    def keys(self) -> set[tuple[str, str]]:
        return {(one.side, one.key) for one in (*self.outputs, *self.inputs, *self.listed)}

    def has_all_of(self, other: _ColumnsHeld) -> bool:
        """Whether it has each column of the other one, and a listing where that has one."""
        return other.keys <= self.keys and (self.has_listing or not other.has_listing)


_NOTHING: Final = _ColumnsHeld((), (), (), has_listing=False)


class _ResultView(NamedTuple):
    """One view: how its SQL begins and ends, and its columns with their names."""

    begins: str
    columns: Mapping[str, _ResultColumn]
    ends: str

    @property
    def sql(self) -> str:
        columns = "".join(f"{column.sql} AS {quoted(name)}, " for name, column in self.columns.items())
        return f"{self.begins}{columns}{self.ends}"

    def is_in(self, sql: str) -> bool:
        """Whether a view of that SQL has all these columns too, in any order."""
        if not (sql.startswith(self.begins) and sql.endswith(self.ends)):
            return False
        return all(f"{column.sql}{' AS ' if column.kind else ''}" in sql for column in self.columns.values())


def view_names(calculator: str) -> ResultViews:
    """The names of a calculator's views, by the calculator's name."""
    stem = f"calc_{calculator.replace('-', '_')}"
    return ResultViews(stem, f"{stem}_latest", f"{stem}_rows", f"{stem}_rows_latest")


def key_of_view(view: str, columns: Sequence[str]) -> tuple[str, ...]:
    """The columns in which no two rows of a calculator's view are equal; empty for another view.

    >>> key_of_view("calc_blend", ("calculation", "verdict")), key_of_view("shelf", ("diff",))
    (('calculation',), ())
    """
    if not view.startswith("calc_") or "calculation" not in columns:
        return ()
    return ("calculation", "place") if "place" in columns else ("calculation",)


def view_columns(calculator: Calculator[Any, Any]) -> list[tuple[str, str, Field]]:
    """The declared columns of a calculator's view: name, JSON source (``found`` or ``given``) and field."""
    fields = {("found", field.name): field for field in calculator.outputs}
    fields |= {("given", field.name): field for field in calculator.inputs}
    named = _named(_declared(calculator))
    return [(name, column.side, fields[column.side, column.key]) for name, column in named.items()]


def row_columns(calculator: Calculator[Any, Any]) -> list[tuple[str, Field]]:
    """The declared columns of the view of its listing's rows: name and field; none without a listing."""
    listing = calculator.listing_out
    fields = {field.name: field for field in fields_of(listing.item if listing else None)}
    return [(name, fields[column.key]) for name, column in _named_of_rows(_declared(calculator)).items()]


def ensure_views(connection: sqlite3.Connection, calculator: Calculator[Any, Any]) -> None:
    """Make the views of a calculator, again if they lack a column or are of an older declaration."""
    _ensure(connection, calculator.name, calculator)


def ensure_views_of_kept(
    connection: sqlite3.Connection, calculators: Iterable[Calculator[Any, Any]] = (), *, only_kept: bool = False
) -> None:
    """Make the views of these calculators, and of those that nobody has here and whose rows are kept; of those alone
    that have rows with ``only_kept``."""
    kept = calculators_kept(connection)
    known = {one.name: one for one in calculators}
    for name in sorted(kept if only_kept else {*kept, *known}):
        _ensure(connection, name, known.get(name))


def kept_under(connection: sqlite3.Connection, calculator: str) -> list[KeptUnder]:
    """The versions and fingerprints of a calculator's kept rows, in order: a look into an index for each, however many
    rows there are."""
    cursor = connection.cursor()
    cursor.row_factory = None
    found: list[KeptUnder] = []
    version = 0
    while (version := cursor.execute(_NEXT_VERSION, (version,)).fetchone()[0]) is not None:
        row = cursor.execute(_FIRST, (version, calculator)).fetchone()
        while row is not None:
            found.append(KeptUnder(version, row[0]))
            row = cursor.execute(_NEXT, (version, calculator, row[0] or "")).fetchone()
    return found


def calculators_kept(connection: sqlite3.Connection) -> list[str]:
    """The names of the calculators that have kept rows; a name that no calculator can have is passed over."""
    cursor = connection.cursor()
    cursor.row_factory = None
    found: list[str] = []
    asked = "SELECT min(calculator) FROM main.calculations WHERE calculator > ?"
    while (name := cursor.execute(asked, (found[-1] if found else "",)).fetchone()[0]) is not None:
        found.append(name)
    return [name for name in found if is_name_of_calculator(name)]


def _ensure(connection: sqlite3.Connection, name: str, calculator: Calculator[Any, Any] | None) -> None:
    held = [(one.version, _kept_columns(connection, name, one)) for one in kept_under(connection, name)]
    version, declared = (calculator.version, _declared(calculator)) if calculator else (0, _NOTHING)
    has_others = any(of >= version and not declared.has_all_of(one) for of, one in held)
    in_order = [one for _, one in sorted([(version, declared), *held], key=_by_version)]
    cursor = connection.cursor()
    cursor.row_factory = None
    names = view_names(name)
    there = dict(
        cursor.execute(
            "SELECT name, sql FROM main.sqlite_master WHERE type = 'view' AND name IN (?, ?, ?, ?)", names
        ).fetchall()
    )
    for view, wanted in _views(name, names, in_order).items():
        sql = there.get(view)
        if sql is not None and (sql == wanted.sql or (has_others and wanted.is_in(sql))):
            continue
        if sql is not None:
            connection.execute(f"DROP VIEW {quoted(view)}")
        connection.execute(wanted.sql)


def _by_version(one: tuple[int, _ColumnsHeld]) -> int:
    """The newest first; of one version in the order given, what is declared before what is kept."""
    return -one[0]


def _views(calculator: str, names: ResultViews, held: Sequence[_ColumnsHeld]) -> dict[str, _ResultView]:
    behind = ", ".join(BEHIND)
    found = {
        names.every: _ResultView(
            f"CREATE VIEW {quoted(names.every)} AS SELECT id AS calculation, subject_table, subject_id, verdict, ",
            _named(*held),
            f"{behind} FROM calculations WHERE calculator = {literal(calculator)}",
        ),
        names.latest: _latest_of(names.every, names.latest, calculator),
    }
    if any(one.has_listing for one in held):
        first = "c.id AS calculation, c.subject_table, c.subject_id, CAST(entry.key + 1 AS INTEGER) AS place"
        behind = ", ".join(f"c.{one}" for one in BEHIND_ROWS)
        found[names.rows] = _ResultView(
            f"CREATE VIEW {quoted(names.rows)} AS SELECT {first}, ",
            _named_of_rows(*held),
            f"{behind} FROM calculations c, json_each(c.rows) entry WHERE c.calculator = {literal(calculator)}",
        )
        found[names.rows_latest] = _latest_of(names.rows, names.rows_latest, calculator)
    return found


def _latest_of(every: str, latest: str, calculator: str) -> _ResultView:
    """The rows that count of a view of all: SQLite reads the text of each view whenever a database is opened."""
    return _ResultView(
        f"CREATE VIEW {quoted(latest)} AS SELECT v.* FROM {_LATEST} l CROSS JOIN {quoted(every)} v "
        f"ON v.calculation = l.id WHERE l.calculator = {literal(calculator)}",
        {},
        "",
    )


def _named(*held: _ColumnsHeld) -> dict[str, _ResultColumn]:
    """The columns of results with their names: outputs, then inputs, of the first, then what only the others have."""
    return _with_names((column for one in held for column in (*one.outputs, *one.inputs)), {*OF_EACH, *BEHIND})


def _named_of_rows(*held: _ColumnsHeld) -> dict[str, _ResultColumn]:
    """The same for the rows of a listing."""
    return _with_names((column for one in held for column in one.listed), {*OF_EACH_ROW, *BEHIND_ROWS})


def _with_names(columns: Iterable[_ResultColumn], taken: Collection[str]) -> dict[str, _ResultColumn]:
    """Each value once, under its own name; one whose name is taken says where it is from: ``given_oil_mass_g``."""
    found: dict[str, _ResultColumn] = {}
    seen: set[tuple[str, str]] = set()
    used = {one.casefold() for one in taken}
    for column in columns:
        if (column.side, column.key) in seen:
            continue
        seen.add((column.side, column.key))
        name = column.key
        while name.casefold() in used:
            name = f"{column.side.removeprefix('entry.')}_{name}"
        used.add(name.casefold())
        found[name] = column
    return found


def _declared(calculator: Calculator[Any, Any]) -> _ColumnsHeld:
    listing = calculator.listing_out
    return _ColumnsHeld(
        tuple(_ResultColumn("found", field.name, field.kind) for field in calculator.outputs),
        tuple(_ResultColumn("given", field.name, field.kind) for field in calculator.inputs if field.kind != "listing"),
        tuple(
            _ResultColumn("entry.value", field.name, field.kind)
            for field in fields_of(listing.item if listing else None)
        ),
        listing is not None,
    )


def _kept_columns(connection: sqlite3.Connection, calculator: str, under: KeptUnder) -> _ColumnsHeld:
    """The columns that kept rows of one version and fingerprint have, as some of them show."""
    cursor = connection.cursor()
    cursor.row_factory = None
    asked = (
        "SELECT rowid, found, given, rows FROM main.calculations "
        "WHERE calculator = ? AND version = ? AND fingerprint IS ? ORDER BY rowid"
    )
    sampled = {
        row[0]: row[1:]
        for order in ("", " DESC")
        for row in cursor.execute(f"{asked}{order} LIMIT {_SAMPLED}", (calculator, *under))
    }
    found = [sampled[one] for one in sorted(sampled)]
    listings = [_items_in(rows) for _, _, rows in found if rows is not None]
    return _ColumnsHeld(
        tuple(_columns_in("found", (object_in(one) or {} for one, _, _ in found))),
        tuple(_columns_in("given", (object_in(one) or {} for _, one, _ in found))),
        tuple(_columns_in("entry.value", (item for items in listings for item in items))),
        bool(listings),
    )


def _items_in(rows: str) -> list[dict[str, Any]]:
    try:
        items = json.loads(rows)
    except ValueError:
        return []
    return [one for one in items if isinstance(one, dict)] if isinstance(items, list) else []


def _columns_in(side: str, objects: Iterable[Mapping[str, Any]]) -> Iterator[_ResultColumn]:
    """The keys of some objects in the order in which they are met, each with the kind that its values have. What is no
    name of a field, or a list, has no column."""
    kinds: dict[str, set[type[Any]]] = {}
    for one in objects:
        for key, value in one.items():
            kinds.setdefault(key, set()).add(type(value))
    for key, seen in kinds.items():
        some = seen - {type(None)}
        if not key.isidentifier() or some & {list, dict}:
            continue
        kind = "text" if some - set(_KINDS) else "quantity" if float in some else "whole" if some else None
        yield _ResultColumn(side, key, kind)
