"""The steps from an empty file to the current schema: numbered, and only ever added to.

A step is a file, ``steps/NNNN.sql``: its first line gives the reason. Its statements are frozen and never depend on the
declarations; a test compares the result of all steps with them. All steps that a database lacks run in one
transaction: if killed on the way, it is as it was before. Triggers and views carry no data: they are updated to the
current declarations whenever a database is opened for writing.
"""

from __future__ import annotations

import re
import sqlite3
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.renew import FACTS_VERSION, renew_all
from bevelbook.facts.views import view_sql
from bevelbook.records import Kind
from bevelbook.store.about_table import accepted_changes, facts_version, note_facts_version
from bevelbook.store.as_written import apply_joins
from bevelbook.store.calculation_views import ensure_views_of_kept
from bevelbook.store.entry_of_before import LAST_STEP_WITHOUT_ENTRIES, name_entry_of_before
from bevelbook.store.events_of_texts import LAST_STEP_WITH_TEXTS, make_events_of_texts
from bevelbook.store.history import accept_changes_by_others, unreadable
from bevelbook.store.invented_mark import mark_invented
from bevelbook.store.keeping import is_keeping_view
from bevelbook.store.last_step import LAST_STEP, STEPS
from bevelbook.store.made_by_others import (
    SchemaPart,
    indexes_to_make_again,
    listed_parts,
    looks_like_ours,
    refuse_other_tables,
    schema_parts,
    stays,
    tables_to_make_again,
)
from bevelbook.store.numbers_taken_out import LAST_STEP_WITHOUT_BOUNDS, take_out_impossible
from bevelbook.store.rebuild import rebuild_sql, translated
from bevelbook.store.results_now_facts import LAST_STEP_THAT_KEPT_THEM, drop_results_that_are_facts
from bevelbook.store.schema import (
    ALL_KINDS,
    FILE_TABLES,
    ONE_WITH,
    REPLACING,
    WRITING,
    columns_of,
    index_sql,
    quoted,
    schema_sql,
    search_fill_sql,
    search_sql,
    search_table,
    table_sql,
)
from bevelbook.store.triggers import trigger_sql
from bevelbook.store.turn import begin_writing
from bevelbook.store.two_of_a_name import LAST_STEP_WITHOUT_JOINS, keep_older_ones_apart

if TYPE_CHECKING:
    from sqlite_utils import Database

_WHY: Final = "-- "
_LIST: Final = "_sqlite_migrations"
"""The list of steps that ran, as sqlite-utils keeps it."""
_OUR_TABLES: Final = frozenset(
    {
        *(kind.table for kind in ALL_KINDS),
        *FILE_TABLES,
        *("history", "writing", "replacing", "entries", "about", "as_written", "one_with", "also_called"),
    }
)
_FORMER_VIEWS: Final = frozenset({"build_counts"})
"""Views of earlier versions that no longer exist."""


class SchemaStep(NamedTuple):
    """One step with its frozen statements."""

    number: int
    why: str
    statements: tuple[str, ...]


class Came(NamedTuple):
    """The result of an upgrade: ``dropped``, the number of kept results that the facts now answer, and ``unread``, the
    table and id of records with text that is not JSON, kept as text in the history; ``taken_out``, the same with the
    numbers that no diff can have, which the history keeps too; ``acting``, the parts of other programs that could have
    acted by themselves, in words."""

    dropped: int = 0
    unread: tuple[str, ...] = ()
    taken_out: tuple[str, ...] = ()
    acting: tuple[str, ...] = ()


def step_text(step: SchemaStep) -> str:
    """A step as it is written down."""
    return f"{_WHY}{step.why}\n" + "\n".join(f"{statement};\n" for statement in step.statements)


def read_step(number: int) -> SchemaStep:
    """The step of that number. Raises OSError or ValueError for a file that cannot be read or does not say why."""
    first, _, text = (STEPS / f"{number:04d}.sql").read_text(encoding="utf-8").partition("\n")
    if not first.startswith(_WHY) or not first.removeprefix(_WHY).strip():
        raise ValueError(f"{number:04d}.sql does not say in its first line, after {_WHY.strip()}, why it is there")
    statements = tuple(statement.strip() for statement in text.split(";\n") if statement.strip())
    return SchemaStep(number, first.removeprefix(_WHY).strip(), statements)


def frozen_steps() -> tuple[SchemaStep, ...]:
    """All steps, in order."""
    return tuple(read_step(number) for number in range(1, LAST_STEP + 1))


def create(connection: sqlite3.Connection, kinds: Sequence[Kind] = ALL_KINDS) -> None:
    """Make the schema from these declarations in an empty database, as if every step had run."""
    with _in_one_go(connection):
        for statement in schema_sql(kinds):
            connection.execute(statement)
        _apply(connection, [(number, lambda _db: None) for number in range(1, LAST_STEP + 1)])
        renew_triggers_and_views(connection, kinds)
        note_facts_version(connection, FACTS_VERSION)


def create_at_step(connection: sqlite3.Connection, number: int, steps: Sequence[SchemaStep] | None = None) -> None:
    """Make the schema of an older step in an empty database, by the frozen steps up to it: tables and indexes, without
    triggers and views. ``migrate`` brings it to the last step."""
    with _in_one_go(connection):
        _apply(connection, [(step.number, _runner(step)) for step in steps or frozen_steps() if step.number <= number])


def migrate(
    connection: sqlite3.Connection,
    *,
    steps: Sequence[SchemaStep] | None = None,
    kinds: Sequence[Kind] = ALL_KINDS,
    is_invented: bool = False,
) -> Came:
    """Bring a database to the last step; returns what happened to its kept results and text that is not JSON.

    ``is_invented`` makes it say that everything in it is invented. Raises DatabaseError if its rows do not fit; then
    nothing is changed.
    """
    came = Came()
    with _in_one_go(connection):
        before = connection.execute("PRAGMA user_version").fetchone()[0]
        _refuse_columns_of_others(
            connection, [step for step in (steps or frozen_steps()) if step.number > before], kinds
        )
        broken = _broken_references(connection)
        kept, acting = _drop_triggers_and_views(connection)
        if 0 < before <= LAST_STEP_WITHOUT_BOUNDS:
            came = Came(taken_out=take_out_impossible(connection, _OUR_TABLES))
        _apply(connection, [(step.number, _runner(step)) for step in (steps or frozen_steps())])
        if before <= LAST_STEP_WITHOUT_ENTRIES and steps is None:
            name_entry_of_before(connection)
        if before <= LAST_STEP_WITH_TEXTS:
            make_events_of_texts(connection)
        renew_triggers_and_views(connection, kinds)
        for sql in kept:
            connection.execute(sql)
        _check_references(connection, broken)
        _check_searches(connection, kinds)
        if before <= LAST_STEP_WITHOUT_JOINS:
            keep_older_ones_apart(connection)
            accept_changes_by_others(connection, accepted_changes(connection))
        _renew_facts(connection)
        if before <= LAST_STEP_THAT_KEPT_THEM:
            unread = tuple(f"{one.table} {one.row_id}" for one in unreadable(connection))
            came = came._replace(dropped=drop_results_that_are_facts(connection), unread=unread)
        came = came._replace(acting=acting)
        if is_invented:
            mark_invented(connection)
        if kinds is ALL_KINDS and steps is None:
            refuse_other_tables(schema_parts(connection))
        if kinds is ALL_KINDS and steps is None:
            ensure_views_of_kept(connection, only_kept=True)
    return came


def drop_triggers_and_views(connection: sqlite3.Connection) -> None:
    """Drop every trigger and view, of a database that is only to be read from."""
    _drop_triggers_and_views(connection)


def rebuild(
    connection: sqlite3.Connection,
    kind: Kind,
    *,
    for_old_rows: Mapping[str, str] | None = None,
    words: Mapping[str, Mapping[str, str]] | None = None,
    kinds: Sequence[Kind] = ALL_KINDS,
) -> None:
    """Rebuild one table as declared, with all its rows, in its own transaction.

    ``for_old_rows`` gives SQL for new columns, ``words`` the words of a column to be replaced. Raises DatabaseError if
    a row does not fit; then nothing is changed.
    """
    held = [row[1] for row in connection.execute(f"PRAGMA table_info({quoted(kind.table)})")]
    lost = [name for name in held if name not in columns_of(kind)]
    if lost:
        raise DatabaseError(
            f"the values of {', '.join(lost)} would be lost",
            code="step_refused",
            found=kind.table,
            remedy="Keep the column. Nothing was changed.",
        )
    values = {name: translated(name, (words or {}).get(name, {})) for name in columns_of(kind) if name in held}
    values |= for_old_rows or {}
    with _in_one_go(connection):
        broken = _broken_references(connection)
        kept, _ = _drop_triggers_and_views(connection)
        statements = rebuild_sql(table_sql(kind, kinds), values, index_sql(kind), rowids=not kind.fact)
        _run(connection, statements, f"the new {kind.table}")
        renew_triggers_and_views(connection, kinds)
        for sql in kept:
            connection.execute(sql)
        _check_references(connection, broken)
        _check_searches(connection, kinds)


def renew_triggers_and_views(connection: sqlite3.Connection, kinds: Sequence[Kind] = ALL_KINDS) -> list[str]:
    """Keep exactly the declared triggers and views; those of calculators are handled elsewhere. Returns what was taken
    out of other programs' triggers, in words: one that could act on what is written here never runs.

    Triggers go before views: a view takes its own with it.
    """
    wanted = _wanted(tuple(kinds))
    taken_out = []
    for (sort, name), part in sorted(_held(connection, schema_parts(connection), wanted).items()):
        if wanted.get((sort, name)) != part.sql:
            connection.execute(f"DROP {sort.upper()} {quoted(name)}")
            if sort == "trigger" and (sort, name) not in wanted and not looks_like_ours(part):
                taken_out.append(part.in_words())
    held = _held(connection, schema_parts(connection), wanted)
    for key, sql in wanted.items():
        if key not in held:
            connection.execute(sql)
    return taken_out


def declared_triggers_and_views() -> Mapping[tuple[str, str], str]:
    """The text of each declared trigger and view, by sort and name."""
    return _wanted(ALL_KINDS)


def held_triggers_and_views(connection: sqlite3.Connection) -> Mapping[tuple[str, str], str | None]:
    """Those of a database that are declared, could act on a table of this tool, or have a name that it needs. Raises
    DatabaseError for a list of parts that was edited by hand."""
    held = _held(connection, schema_parts(connection), _wanted(ALL_KINDS))
    return {key: part.sql for key, part in held.items()}


_FOUND_AS_MADE: Final[deque[list[tuple[str, str, str, str | None]]]] = deque(maxlen=4)
"""The last lists of parts that a process looked through and found in order. To look through one takes as long as all
else that opening a file does in Python, and a process that opens many files finds the same list in all; an import makes
triggers again and so changes its order."""


def renew_where_other(connection: sqlite3.Connection) -> list[str]:
    """Update triggers, views, indexes and facts to the current definitions, if any differ, in one transaction. Returns
    what was taken out of what other programs put there, in words.

    Tables without data of their own, such as facts and the search, are made again if another program removed or changed
    them. Raises DatabaseError for a table of records that is made otherwise than by this tool.
    """
    listed = listed_parts(connection)
    if listed in _FOUND_AS_MADE and facts_version(connection) == FACTS_VERSION:
        return []
    parts = schema_parts(connection)
    refuse_other_tables(parts)
    wanted = _wanted(ALL_KINDS)
    is_schema_other = {key: part.sql for key, part in _held(connection, parts, wanted).items()} != wanted
    again, indexes = tables_to_make_again(parts), indexes_to_make_again(parts)
    missing = _missing({part.name for part in parts if part.sort == "table"} - set(again))
    if not (is_schema_other or missing or indexes):
        if listed not in _FOUND_AS_MADE:
            _FOUND_AS_MADE.append(listed)
        if facts_version(connection) == FACTS_VERSION:
            return []
    taken_out: list[str] = []
    named = {part.name: part for part in parts}
    begin_writing(connection)
    try:
        for table in again:
            connection.execute(f"DROP TABLE {quoted(table)}")
        for statement in missing:
            connection.execute(statement)
        for name, sql in indexes:
            connection.execute(f"DROP INDEX IF EXISTS {quoted(name)}")
            if sql is None:
                taken_out.append(named[name].in_words())
            else:
                connection.execute(sql)
        if is_schema_other or again:
            taken_out += renew_triggers_and_views(connection)
        if missing:
            _renew_facts(connection)
        renew_facts_where_other(connection)
        connection.execute("COMMIT")
    except BaseException:
        connection.rollback()
        raise
    return taken_out


def renew_facts_where_other(connection: sqlite3.Connection) -> None:
    """Work out all facts again if their definitions changed, or another program changed what they depend on.

    Runs inside the caller's transaction.
    """
    if facts_version(connection) != FACTS_VERSION:
        _renew_facts(connection)


def _missing(held: Set[str]) -> list[str]:
    """The statements for tables without data of their own that are not among those held."""
    statements = []
    for kind in ALL_KINDS:
        if kind.fact and kind.table not in held:
            statements += [table_sql(kind), *index_sql(kind)]
        if kind.searched and search_table(kind) not in held:
            statements += [search_sql(kind), search_fill_sql(kind)]
    for table, made in (("writing", WRITING), ("replacing", (REPLACING,)), ("one_with", (ONE_WITH,))):
        if table not in held:
            statements += made
    return statements


def _renew_facts(connection: sqlite3.Connection) -> None:
    apply_joins(connection)
    renew_all(connection)
    note_facts_version(connection, FACTS_VERSION)


@cache
def _wanted(kinds: tuple[Kind, ...]) -> dict[tuple[str, str], str]:
    made = {}
    for sql in (*trigger_sql(kinds), *view_sql()):
        _, sort, name, _ = sql.split(maxsplit=3)
        made[sort.lower(), name] = sql
    return made


def _held(
    connection: sqlite3.Connection, parts: Sequence[SchemaPart], wanted: Mapping[tuple[str, str], str]
) -> dict[tuple[str, str], SchemaPart]:
    """The database's triggers and views that belong to this tool, whatever has a name that is needed, and triggers that
    could act on what is written here."""
    return {
        (part.sort, part.name): part
        for part in parts
        if part.sort in ("trigger", "view")
        and ((part.sort, part.name) in wanted or _is_ours(part) or not _is_harmless(part, parts, connection))
    }


def _is_harmless(part: SchemaPart, parts: Sequence[SchemaPart], connection: sqlite3.Connection) -> bool:
    return part.sort == "view" or stays(part, parts, connection)


def _is_ours(part: SchemaPart) -> bool:
    """Whether a trigger is on one of the tool's tables, or a view has one of its names in whatever case; others are
    another program's."""
    if part.sort == "trigger":
        return part.table in _OUR_TABLES or is_keeping_view(part.table)
    name = part.name.casefold()
    return name in _FORMER_VIEWS or ("view", name) in _wanted(ALL_KINDS)


def _drop_triggers_and_views(connection: sqlite3.Connection) -> tuple[list[str], tuple[str, ...]]:
    """Drop them all: altering a table fails if a view names it. Returns the statements that recreate those of other
    programs, and the triggers of theirs that are not made again since they could act here, in words."""
    parts = schema_parts(connection)
    found = [part for part in parts if part.sort in ("trigger", "view")]
    others = [part for part in found if not _is_ours(part) and _is_harmless(part, parts, connection)]
    taken_out = tuple(
        part.in_words() for part in found if part.sort == "trigger" and part not in others and not looks_like_ours(part)
    )
    for part in sorted(found, key=lambda one: one.sort != "trigger"):  # a view takes its own with it
        connection.execute(f"DROP {part.sort.upper()} {quoted(part.name)}")
    return [part.sql or "" for part in sorted(others, key=lambda one: one.sort != "view")], taken_out


def _apply(connection: sqlite3.Connection, steps: Sequence[tuple[int, Callable[[Database], None]]]) -> None:
    """Run the missing steps, and note that they ran."""
    from sqlite_utils import Database, Migrations

    listed = Migrations("bevelbook")
    for number, run in steps:
        listed(name=f"{number:04d}")(_named(run, f"{number:04d}"))
    listed.apply(Database(connection, execute_plugins=False))
    connection.execute(f"PRAGMA user_version = {max(number for number, _ in steps)}")


def steps_not_listed(connection: sqlite3.Connection) -> Iterator[str]:
    """Where the list of steps that ran is not all of them, which would have a later version run one again, in words."""
    held = {row[0] for row in connection.execute(f"SELECT name FROM main.{_LIST} WHERE migration_set = 'bevelbook'")}
    wanted = {f"{number:04d}" for number in range(1, LAST_STEP + 1)}
    for name in sorted(wanted - held):
        yield f"the list of steps that ran does not have step {name}: a later version would run it again"
    for name in sorted(map(str, held - wanted)):
        yield f"the list of steps that ran has a step {name}, which this version does not have"


def _named(run: Callable[[Database], None], name: str) -> Any:
    def step(db: Database) -> None:
        run(db)

    step.__name__ = name
    return step


def _runner(step: SchemaStep) -> Callable[[Database], None]:
    return lambda db: _run(db.conn, step.statements, f"what step {step.number} makes of its table")


def _run(connection: sqlite3.Connection, statements: Sequence[str], what: str) -> None:
    """Run statements; a row that does not fit raises an error in plain words."""
    for statement in statements:
        try:
            connection.execute(statement)
        except sqlite3.DatabaseError as fault:
            if not isinstance(fault, sqlite3.IntegrityError) and "JSON" not in str(fault):
                raise
            table, row_id = _row_that_does_not_fit(connection, statement)
            row = f"the row {row_id!r}" if row_id else "a row"
            raise DatabaseError(
                f"{row} of {table} does not fit {what}",
                code="step_refused",
                place=Place(column=table),
                found=str(fault),
                remedy="Correct that row with the version that wrote it, or take it out with a SQLite shell and keep "
                "it elsewhere; then try again. Nothing was changed.",
            ) from fault


_COPYING: Final = late_pattern(r"INSERT INTO (\w+)_new \(.* FROM \1 ORDER BY rowid", re.DOTALL)


def _row_that_does_not_fit(connection: sqlite3.Connection, statement: str) -> tuple[str, str | None]:
    """The table that a statement fills, and the id of the first row that is refused, if that can be found."""
    copying = _COPYING.fullmatch(statement)
    if copying is None:
        return statement.split(" (")[0].split()[-1], None
    table = copying[1]
    one = f"{statement.removesuffix(' ORDER BY rowid')} WHERE rowid = ?"
    for rowid, row_id in connection.execute(f"SELECT rowid, id FROM {table} ORDER BY rowid").fetchall():
        try:
            connection.execute(one, (rowid,))
        except sqlite3.DatabaseError:
            return table, str(row_id)
    return table, None


@contextmanager
def _in_one_go(connection: sqlite3.Connection) -> Iterator[None]:
    """One transaction with foreign keys off: SQLite ignores that setting inside a transaction."""
    connection.execute("PRAGMA foreign_keys = OFF")
    try:
        begin_writing(connection)
        try:
            yield
            connection.execute("COMMIT")
        except BaseException:
            connection.rollback()
            raise
    finally:
        connection.execute("PRAGMA foreign_keys = ON")


def _broken_references(connection: sqlite3.Connection) -> set[tuple[object, ...]]:
    return set(map(tuple, connection.execute("PRAGMA foreign_key_check")))


def _refuse_columns_of_others(
    connection: sqlite3.Connection, steps: Sequence[SchemaStep], kinds: Sequence[Kind]
) -> None:
    """Raise DatabaseError if another program added a column that the coming steps would drop."""
    said = "\n".join(statement for step in steps for statement in step.statements)
    words = frozenset(re.findall(r"\w+", said))
    for kind in kinds:
        if f"INSERT INTO {kind.table}_new " not in said:
            continue
        held = [row[1] for row in connection.execute(f"PRAGMA table_info({quoted(kind.table)})")]
        added = [name for name in held if name not in words and not re.search(rf"\b{re.escape(name)}\b", said)]
        if added:
            raise DatabaseError(
                f"table {kind.table} has a column that another program added, and the upgrade would lose it",
                code="step_refused",
                found=", ".join(added),
                remedy="Move it into a table of its own, then try again. Nothing was changed.",
            )


def _check_references(connection: sqlite3.Connection, before: set[tuple[object, ...]]) -> None:
    """Raise DatabaseError if rows lost the record they refer to."""
    new = {(row[0], row[1], row[2]) for row in _broken_references(connection)} - {row[:3] for row in before}
    if new:
        table, rowid, target = min(new, key=str)
        raise DatabaseError(
            f"{len(new)} rows would refer to missing records",
            code="step_refused",
            found=f"{table} {rowid}, which refers to {target}",
            remedy="Nothing was changed.",
        )


def _check_searches(connection: sqlite3.Connection, kinds: Sequence[Kind]) -> None:
    """Check every full-text index against its table, and refill one that another program left wrong."""
    for kind in kinds:
        if not kind.searched:
            continue
        index = search_table(kind)
        check = f"INSERT INTO {index} ({index}, rank) VALUES ('integrity-check', 1)"
        try:
            connection.execute(check)
        except sqlite3.DatabaseError:
            connection.execute(f"INSERT INTO {index} ({index}) VALUES ('rebuild')")
            connection.execute(check)
