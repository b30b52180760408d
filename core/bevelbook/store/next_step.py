"""Write the next step: from the last step's schema to the current declarations.

Run it after changing a declaration:  python -m bevelbook.store.next_step [--write]

    --for-old-rows builds.lid_gap_mm=0.2    the value of a newly required field in rows without one (SQL)
    --word seals.material.TPU=other         what a removed word becomes
    --rename builds.like=copied_from        a column under another name

It prints the statements, or with --write "why it is there" puts them into ``steps/NNNN.sql``.
"""

from __future__ import annotations

import argparse
import sqlite3
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from typing import NamedTuple

from bevelbook.declare.errors import InputError, near_misses
from bevelbook.records import Kind
from bevelbook.store.last_step import LAST_STEP, STEPS
from bevelbook.store.migrate import SchemaStep, frozen_steps, step_text
from bevelbook.store.rebuild import rebuild_sql, translated
from bevelbook.store.schema import (
    ALL_KINDS,
    columns_of,
    index_sql,
    schema_sql,
    search_fill_sql,
    search_sql,
    search_table,
    table_sql,
)
from bevelbook.store.step_trial import stepped, try_for_old_rows, try_step
from bevelbook.store.structure import TableStructure, structure


class StepOptions(NamedTuple):
    """What the declarations do not say about a change, by table and column."""

    for_old_rows: Mapping[tuple[str, str], str] = {}
    words: Mapping[tuple[str, str], Mapping[str, str]] = {}
    renamed: Mapping[tuple[str, str], str] = {}
    """The new name of a column by its old one."""


def next_statements(
    kinds: Sequence[Kind] = ALL_KINDS, *, steps: Sequence[SchemaStep] | None = None, said: StepOptions | None = None
) -> list[str]:
    """The statements that lead from the last step's schema to these declarations; none if they are equal.

    Raises InputError if existing rows would not fit: a required field without a value for them, a removed column or
    word; and if the last step, or the new one, cannot run.
    """
    steps = steps or frozen_steps()
    _check_searched(kinds)
    with closing(stepped(steps)) as connection:
        before = structure(connection)
    after = _declared(kinds)
    said = said or StepOptions()
    _check_said(before, after, said)
    _try_for_old_rows(steps, before, kinds, said)
    statements = list(_statements(before, after, kinds, said))
    if statements:
        try_step(steps, statements, after)
    return statements


def _check_searched(kinds: Sequence[Kind]) -> None:
    for kind in kinds:
        for name in kind.searched:
            if name not in columns_of(kind):
                raise _refused(
                    f"searched of the {kind.name.replace('_', ' ')} names {name!r}, and {kind.table} has no such",
                    near_misses(name, kind.columns) or "Use its current name there, or take it out of searched.",
                )


def _try_for_old_rows(
    steps: Sequence[SchemaStep], before: Mapping[str, TableStructure], kinds: Sequence[Kind], said: StepOptions
) -> None:
    by_table = {kind.table: kind for kind in kinds}
    for (table, column), expression in said.for_old_rows.items():
        if table in before and table in by_table:
            try_for_old_rows(steps, before, table, _column_lines(by_table[table], kinds)[column], expression)


def _column_lines(kind: Kind, kinds: Sequence[Kind]) -> dict[str, str]:
    """The lines of the table's declaration by the names of its columns."""
    lines = table_sql(kind, kinds).splitlines()[1:-1]
    return {_name_of(line): line.strip().removesuffix(",") for line in lines}


def _check_said(before: Mapping[str, TableStructure], after: Mapping[str, TableStructure], said: StepOptions) -> None:
    """Raise InputError for options about an unknown table, column or word, and for options that are not needed."""
    for table, column in said.for_old_rows:
        option = f"--for-old-rows {table}.{column}"
        new = _named(after, table, option).column(_one_of(column, _columns(after[table]), option))
        renamed = {now: old for (where, old), now in said.renamed.items() if where == table}
        old = before[table].column(renamed.get(column, column)) if table in before else None
        if old is not None and (old.required or new is None or not new.required):
            raise _refused(f"{option}: the rows that are there have it already", "Leave that option out.")
    for (table, column), now in said.renamed.items():
        option = f"--rename {table}.{column}"
        _one_of(column, _columns(_named(before, table, option)), option)
        _one_of(now, _columns(_named(after, table, option)), f"{option}={now}")
        if after[table].column(column) is not None:
            raise _refused(f"{option}: that column is still declared", "Leave that option out.")
        if before[table].column(now) is not None:
            raise _refused(f"{option}={now}: there is a column of that name already", "Leave that option out.")
    for (table, column), words in said.words.items():
        option = f"--word {table}.{column}"
        _one_of(column, _columns(_named(after, table, option)), option)
        old_name = next((b for (where, b), now in said.renamed.items() if (where, now) == (table, column)), column)
        _one_of(old_name, _columns(_named(before, table, option)), option)
        for word, becomes in words.items():
            _one_of(word, before[table].words_of(old_name), f"{option}.{word}")
            new_words = after[table].words_of(column)
            if new_words:
                _one_of(becomes, new_words, f"{option}.{word}={becomes}")
            if word in new_words:
                raise _refused(f"{option}.{word}: that word is still declared", "Leave that option out.")


def _named(tables: Mapping[str, TableStructure], table: str, option: str) -> TableStructure:
    return tables[_one_of(table, tables, option)]


def _columns(table: TableStructure) -> list[str]:
    return [column.name for column in table.columns]


def _one_of(name: str, known: Iterable[str], option: str) -> str:
    """The name itself. Raises InputError with similar ones if it is unknown."""
    known = list(known)
    if name not in known:
        remedy = near_misses(name, known) or (f"There are {', '.join(known)}." if known else "There are none.")
        raise _refused(f"{option}: there is no {name!r}", remedy)
    return name


def _declared(kinds: Sequence[Kind]) -> dict[str, TableStructure]:
    connection = sqlite3.connect(":memory:", isolation_level=None)
    try:
        for statement in schema_sql(kinds):
            connection.execute(statement)
        return structure(connection)
    finally:
        connection.close()


def _statements(
    before: Mapping[str, TableStructure], after: Mapping[str, TableStructure], kinds: Sequence[Kind], said: StepOptions
) -> Iterator[str]:
    by_table = {kind.table: kind for kind in kinds}
    statement_of = {_name_in(sql): sql for sql in schema_sql(kinds) if sql.startswith("CREATE TABLE")}
    searches = {search_table(kind) for kind in kinds if kind.searched}
    for name in before:
        if name not in after and name not in searches:
            raise _refused(f"the table {name} is gone, and databases hold rows of it", "Keep its declaration.")
    for name in after:
        if name not in before and name not in searches:
            yield statement_of[name]
            if name in by_table:
                yield from index_sql(by_table[name])
    for name, table in after.items():
        old = before.get(name)
        if name in searches or old is None or old == table:
            continue
        kind = by_table.get(name)
        if kind is None and table._replace(indexes=old.indexes) == old and {*old.indexes} < {*table.indexes}:
            added = [name for name, index in table.indexes if (name, index) not in old.indexes]
            yield from (sql for sql in schema_sql(kinds) if sql.startswith("CREATE INDEX") and sql.split()[2] in added)
            continue
        if kind is None:
            raise _refused(
                f"the table {name} is not a record's, and its declaration changed", "Write the step by hand."
            )
        if kind.derived:
            yield from (f"DROP TABLE {name}", statement_of[name], *index_sql(kind))
            continue
        yield from _changed(old, table, kind, kinds, said)
    for kind in kinds:
        if kind.searched and before.get(search_table(kind)) != after[search_table(kind)]:
            if search_table(kind) in before:
                yield f"DROP TABLE {search_table(kind)}"
            yield search_sql(kind)
            yield search_fill_sql(kind)


def _changed(
    old: TableStructure, new: TableStructure, kind: Kind, kinds: Sequence[Kind], said: StepOptions
) -> Iterator[str]:
    """From one table to the other: by adding columns if that is enough, else by making it again."""
    added = _only_added(old, new)
    if added is not None:
        lines = _column_lines(kind, kinds)
        for name in added:
            yield f"ALTER TABLE {kind.table} ADD COLUMN {lines[name]}"
        yield from _changed_indexes(old, new, kind)
        return
    if old._replace(indexes=()) == new._replace(indexes=()):
        yield from _changed_indexes(old, new, kind)
        return
    yield from rebuild_sql(
        table_sql(kind, kinds), _values(old, new, kind, said), index_sql(kind), rowids=not new.without_rowid
    )


def _only_added(old: TableStructure, new: TableStructure) -> list[str] | None:
    """The columns that were added at the end, if nothing else changed and none of them is required."""
    count = len(old.columns)
    added = [column.name for column in new.columns[count:]]
    theirs = frozenset().union(*(new.checks_of(name) for name in added))
    as_before = (
        added
        and new.columns[:count] == old.columns
        and not any(column.required for column in new.columns[count:])
        and new.checks - theirs == old.checks
        and frozenset(one for one in new.references if one.column not in added) == old.references
        and (old.strict, old.without_rowid) == (new.strict, new.without_rowid)
    )
    return added if as_before else None


def _changed_indexes(old: TableStructure, new: TableStructure, kind: Kind) -> Iterator[str]:
    before, after = dict(old.indexes), dict(new.indexes)
    for name in before:
        if before[name] != after.get(name):
            yield f"DROP INDEX {name}"
    for sql in index_sql(kind):
        name = sql.split()[2]
        if before.get(name) != after[name]:
            yield sql


def _values(old: TableStructure, new: TableStructure, kind: Kind, said: StepOptions) -> dict[str, str]:
    """What each column is filled with. Raises InputError if that is unknown, or if anything would be lost."""
    table = kind.table
    old_name = {now: before for (where, before), now in said.renamed.items() if where == table}
    held = {column.name for column in old.columns}
    values = {}
    for column in new.columns:
        before = old_name.get(column.name, column.name)
        if before in held:
            words = said.words.get((table, column.name), {})
            _check_words(old.words_of(before), new.words_of(column.name), words, f"{table}.{column.name}")
            held_value = translated(before, words)
            for_old_rows = said.for_old_rows.get((table, column.name))
            values[column.name] = held_value if for_old_rows is None else f"coalesce({held_value}, {for_old_rows})"
            was = old.column(before)
            if for_old_rows is None and column.required and was is not None and not was.required:
                raise _refused(
                    f"{table}.{column.name} is required now, and rows that are there may have none",
                    f"Say what it is in those: --for-old-rows {table}.{column.name}=SQL, or leave it optional.",
                )
        elif (table, column.name) in said.for_old_rows:
            values[column.name] = said.for_old_rows[table, column.name]
        elif column.required and column.default is None:
            raise _refused(
                f"{table}.{column.name} is required, and rows that are there have none",
                f"Say what it is in them: --for-old-rows {table}.{column.name}=SQL, or declare it optional.",
            )
    gone = held - {old_name.get(column.name, column.name) for column in new.columns}
    if gone:
        raise _refused(
            f"{table}.{min(gone)} is gone, and databases hold values of it",
            f"Keep it, or say its new name: --rename {table}.{min(gone)}=NAME.",
        )
    return values


def _check_words(old: tuple[str, ...], new: tuple[str, ...], words: Mapping[str, str], column: str) -> None:
    if not new:
        return
    for word in old:
        if words.get(word, word) not in new:
            raise _refused(
                f"the word {word!r} of {column} is gone, and rows may hold it",
                f"Keep it, or say what it becomes: --word {column}.{word}=WORD.",
            )


def _name_in(create: str) -> str:
    return create.split(maxsplit=3)[2]


def _name_of(line: str) -> str:
    return line.split()[0].strip('"')


def _refused(message: str, remedy: str) -> InputError:
    return InputError(message, code="schema_refused", remedy=remedy)


def _pair(text: str, parts: int) -> tuple[list[str], str]:
    name, sign, value = text.partition("=")
    names = name.split(".", parts - 1)
    if not sign or len(names) != parts:
        raise _refused(f"{text!r} is not {'.'.join(['NAME'] * parts)}=VALUE", "See --help.")
    return names, value


def _said(given: argparse.Namespace) -> StepOptions:
    for_old_rows, renamed = {}, {}
    words: dict[tuple[str, str], dict[str, str]] = {}
    for text in given.for_old_rows:
        (table, column), value = _pair(text, 2)
        _check_said_once((table, column) in for_old_rows, f"--for-old-rows {table}.{column}")
        for_old_rows[table, column] = value
    for text in given.rename:
        (table, column), value = _pair(text, 2)
        _check_said_once((table, column) in renamed, f"--rename {table}.{column}")
        renamed[table, column] = value
    for text in given.word:
        (table, column, word), value = _pair(text, 3)
        becomes = words.setdefault((table, column), {})
        _check_said_once(word in becomes, f"--word {table}.{column}.{word}")
        becomes[word] = value
    return StepOptions(for_old_rows, words, renamed)


def _check_said_once(is_there: bool, option: str) -> None:
    if is_there:
        raise _refused(f"{option} is given twice", "Give it once.")


def _steps_written() -> tuple[SchemaStep, ...]:
    try:
        return frozen_steps()
    except (OSError, ValueError) as fault:
        raise _refused(
            f"a step cannot be read: {fault}", "Steps are numbered from 1 without a gap, and each says why it is there."
        ) from fault


def main(words: Sequence[str] | None = None) -> int:
    """Print or write the next step; returns 2 if it is refused."""
    parser = argparse.ArgumentParser(
        prog="python -m bevelbook.store.next_step",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--for-old-rows", action="append", default=[], metavar="TABLE.COLUMN=SQL")
    parser.add_argument("--word", action="append", default=[], metavar="TABLE.COLUMN.WORD=WORD")
    parser.add_argument("--rename", action="append", default=[], metavar="TABLE.COLUMN=NAME")
    parser.add_argument("--write", metavar="WHY", help="put it into steps/NNNN.sql, with why it is there")
    given = parser.parse_args(words)
    try:
        statements = next_statements(steps=_steps_written(), said=_said(given))
    except InputError as fault:
        print(fault, file=sys.stderr)
        return 2
    if not statements:
        print("The declarations are what the last step made: no step is needed.")
    elif given.write:
        path = STEPS / f"{LAST_STEP + 1:04d}.sql"
        path.write_text(step_text(SchemaStep(LAST_STEP + 1, given.write, tuple(statements))), encoding="utf-8")
        print(f"Wrote {path.name}. Read it, then run tests/store/.")
    else:
        print("\n".join(f"{statement};\n" for statement in statements), end="")
    return 0


if __name__ == "__main__":
    sys.exit(main())
