"""``bevelbook export --table NAME``: one table or view alone, and the list of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from itertools import groupby
from pathlib import Path
from typing import IO, TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, say_beside, say_if_invented
from bevelbook.cli.files import DASH, StandardOutput, WriteTo, say_written
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.in_command import command_of

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.cli.session import Session
    from bevelbook.interchange.one_table import OneTable


def export_table(
    session: Session, name: str, files: Mapping[str, WriteTo], *, with_names: bool, replace: bool, as_json: bool
) -> int:
    """Write one table, view or listing into files, each by the name of its form (csv, ndjson, parquet); the exit code:
    1 where a check failed, so that its findings are not among those of the listing."""
    from bevelbook.interchange.one_table import table_called
    from bevelbook.interchange.table_files import write_table
    from bevelbook.store.invented_mark import INVENTED_WORDS

    if not files:
        raise InputError(
            "in which form?",
            code="no_form",
            place=Place(column="--table"),
            found=name,
            remedy=f"Say it with a file, or - for standard output: 'bevelbook export --table {name} --csv FILE'.",
        )
    to_output = [form for form, file in files.items() if isinstance(file, StandardOutput)]
    if as_json and to_output:
        raise click.UsageError("Standard output is the table or the JSON about it: leave one of them out.")
    with session.reading() as connection:
        table = table_called(_tables(connection, session), name)
        if with_names:
            table = table.with_names()
        table = table.filled(connection)
        with _opened(table.name, files, replace=replace) as opened:
            count = write_table(connection, table, opened, invented=session.invented)
    remarks = table.made.remarks if table.made is not None else ()
    code = 0 if table.made is None or table.made.is_whole else 1
    sizes = {form: file.stat().st_size for form, file in files.items() if isinstance(file, Path)}
    if as_json:
        print_json(
            {"invented": session.invented, "table": table.name, "rows": count, "columns": len(table.columns)}
            | {"files": {form: {"file": str(files[form]), "bytes": size} for form, size in sizes.items()}}
            | ({"remarks": list(remarks)} if remarks else {})
            | session.noticed()
        )
        return code
    rows = f"{counted(count, 'row')}, {counted(len(table.columns), 'column')}"
    for form, size in sizes.items():
        say_written(f"Wrote {files[form]}: {rows}, {size / 1000:.1f} kB.", *files.values())
    if to_output:
        say_beside(f"bevelbook: {table.name}: {rows}.")
    if not table.is_there:
        say_written(f"No result of that calculator was kept yet, so {table.name} has no rows.", *files.values())
    if session.invented:
        say_written(f"\n{INVENTED_WORDS}", *files.values())
    for remark in remarks:
        say_beside(f"bevelbook: {remark}")
    return code


def list_tables(session: Session, as_json: bool) -> int:
    """Print the tables and views that can be written out alone; the exit code."""
    from bevelbook.display.table import table_lines

    if session.path.exists():
        with session.reading() as connection:
            tables = _tables(connection, session)
    else:
        tables = _tables(None, session)
    if as_json:
        print_json(
            {
                "invented": session.invented,
                "tables": [
                    {"name": one.name, "title": one.title, "about": one.about, "group": one.group, "columns": one.names}
                    for one in tables.values()
                ],
            }
            | session.noticed()
        )
        return 0
    for group, found in groupby(tables.values(), key=lambda one: one.group):
        print_text(f"{group}:")
        for line in table_lines([(one.name, one.about) for one in found], indent="  "):
            print_text(line)
    print_text("'bevelbook help tables NAME' has the columns of one.")
    say_if_invented(session.invented)
    return 0


def _tables(connection: sqlite3.Connection | None, session: Session) -> dict[str, OneTable]:
    """Every table, view and listing by name."""
    from bevelbook.interchange.listings import listings
    from bevelbook.interchange.one_table import tables_to_write

    return tables_to_write(connection, session.registry) | {one.name: one for one in listings(session.registry)}


def _typed(files: Mapping[str, WriteTo]) -> Iterator[str]:
    for form, file in files.items():
        yield from (f"--{form}", str(file) if isinstance(file, Path) else DASH)


@contextmanager
def _opened(table: str, files: Mapping[str, WriteTo], *, replace: bool) -> Iterator[dict[str, IO[bytes]]]:
    from bevelbook.interchange.table_files import FORMS
    from bevelbook.interchange.written_aside import written_aside

    try:
        with ExitStack() as ends:
            yield {
                form: ends.enter_context(written_aside(file, replace=replace))
                if isinstance(file, Path)
                else file.open(is_text=FORMS[form].is_text)
                for form, file in files.items()
            }
    except InputError as fault:
        if fault.code == "file_exists":
            words = ["export", "--table", table, *_typed(files), "--replace"]
            fault.remedy = f"Choose another name, or replace it: '{command_of(*words)}'."
        raise
