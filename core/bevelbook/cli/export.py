"""``bevelbook export``: all into a folder, what is new since a day into a zip, or one table alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_json
from bevelbook.cli.files import TO_DASH, FileToWrite, StandardOutput, WriteTo, say_written
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError
from bevelbook.declare.in_command import command_of

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.interchange.write_export import WrittenExport


ZIP: Final = ".zip"


@click.command("export")
@click.argument("target", metavar="[FOLDER|-]", required=False, type=FileToWrite())
@click.option("--since", metavar="DATE", help=f"Only what was touched since that day, into FILE.zip to send; {TO_DASH}")
@click.option("--with-files", is_flag=True, help="With --since: the pictures of photographs and kept files too.")
@click.option("--table", metavar="NAME", help="Write one table, view or listing alone; --list lists them.")
@click.option("--csv", type=FileToWrite(), help=f"With --table: as CSV, by the same rules; {TO_DASH}")
@click.option("--ndjson", type=FileToWrite(), help=f"With --table: as JSON, an object a line; {TO_DASH}")
@click.option("--parquet", type=FileToWrite(), help=f"With --table: as Parquet, with types and units; {TO_DASH}")
@click.option("--names", is_flag=True, help="With --table: the name of each record that it refers to beside its id.")
@click.option("--replace", is_flag=True, help="Write over a file that is there.")
@click.option("--rescue", "is_rescue", is_flag=True, help="Read a damaged file: what can be read, into a new folder.")
@click.option("--list", "only_list", is_flag=True, help="List what can be written alone.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    /,
    target: WriteTo | None,
    since: str | None,
    with_files: bool,
    table: str | None,
    names: bool,
    replace: bool,
    is_rescue: bool,
    only_list: bool,
    as_json: bool,
    **files: WriteTo | None,
) -> int:
    """Write all that the database holds into a folder of open files: CSV, JSON and pictures.

    \b
    bevelbook export season
    bevelbook export season.zip
    bevelbook export --since 2026-05-01 weekend.zip
    bevelbook export --table build_sheet --csv builds.csv
    bevelbook export --table runs --names --csv -
    bevelbook export --rescue saved

    Nothing is left out: the past of every record, taken-back entries, rejected rows, kept files, photographs. The same
    content gives the same bytes. A team mate takes it with 'bevelbook merge FOLDER'; any other program reads the CSV
    files, which datapackage.json describes ('bevelbook help package'). An earlier export there is replaced. A name that
    ends in .zip is one file with the folder in it, and with - that goes to standard output.

    With --since it writes one file that goes into a chat: what entries since that day touched, each record with its
    whole past, and whatever these refer to, so that 'bevelbook merge FILE.zip' takes it in anywhere. Pictures and kept
    files stay here unless --with-files sends them along.

    With --rescue it reads a damaged file row by row, writes what it finds as an export with a list of what is missing,
    and ends with 1 where anything is. The file itself is only read.

    With --table it writes one table alone, for a spreadsheet or another program. A table of records has ids where it
    refers to others; a view such as build_sheet, what_worked or shelf has their names, and so has what
    other commands list: findings, entries_in_words and runs_without_call.
    """
    given = {form: file for form, file in files.items() if file is not None}
    if only_list:
        from bevelbook.cli.export_table import list_tables

        return list_tables(session, as_json)
    if is_rescue:
        from bevelbook.cli.export_rescue import export_rescue

        if not isinstance(target, Path) or since or table or given or names or replace or with_files:
            raise click.UsageError("--rescue takes one new folder: 'bevelbook export --rescue FOLDER'.")
        return export_rescue(session, target, as_json)
    if since is not None:
        from bevelbook.cli.export_since import export_since

        if target is None or table is not None or given or names:
            raise click.UsageError("--since takes one file to write: 'bevelbook export --since DATE FILE.zip'.")
        return export_since(session, target, since, with_files=with_files, replace=replace, as_json=as_json)
    if with_files:
        raise click.UsageError("--with-files goes with --since: an export of everything has its files.")
    if table is not None:
        from bevelbook.cli.export_table import export_table

        if target is not None:
            raise click.UsageError("Name a folder for all of it, or --table for one table: not both.")
        return export_table(session, table, given, with_names=names, replace=replace, as_json=as_json)
    if given or names:
        raise click.UsageError(f"--{next(iter(given), 'names')} goes with --table: say which one.")
    if target is None:
        raise click.UsageError("Name a folder, or a table with --table.")
    return _export_all(session, target, replace=replace, as_json=as_json)


def _export_all(session: Session, target: WriteTo, *, replace: bool, as_json: bool) -> int:
    from bevelbook.interchange.write_export import write_export
    from bevelbook.store.invented_mark import INVENTED_WORDS

    if as_json and isinstance(target, StandardOutput):
        raise click.UsageError("Standard output is the zip or the JSON about it: leave one of them out.")
    with session.reading() as connection:
        if isinstance(target, Path) and (target.is_dir() or target.suffix.lower() != ZIP):
            if replace:
                raise click.UsageError("--replace is for a file: an earlier export in a folder is replaced anyway.")
            written = write_export(connection, session.path, target)
        else:
            written = _zipped(connection, session.path, target, replace=replace)
        people = connection.execute("SELECT count(*) FROM main.people").fetchone()[0]
    if as_json:
        print_json(_as_dict(written, target))
        return 0
    for line in _lines(written, target, people):
        say_written(line, target)
    if written.invented:
        say_written(f"\n{INVENTED_WORDS}", target)
    return 0


def _zipped(connection: sqlite3.Connection, path: Path, target: WriteTo, *, replace: bool) -> WrittenExport:
    """All of it as one file."""
    from bevelbook.interchange.written_aside import written_aside
    from bevelbook.interchange.zipped import write_whole_zip

    if isinstance(target, StandardOutput):
        stream = target.open(is_text=False)
        written = write_whole_zip(connection, path, stream)
        stream.flush()
        return written
    try:
        with written_aside(target, replace=replace) as file:
            return write_whole_zip(connection, path, file)
    except InputError as fault:
        if fault.code == "file_exists":
            command = command_of("export", str(target), "--replace")
            fault.remedy = f"Choose another name, or replace it: '{command}'."
        raise


def _lines(written: WrittenExport, target: WriteTo, people: int) -> list[str]:
    """What was written, and what to mind, for people."""
    from bevelbook.interchange.export_words import held_in_words, size_in_words

    lines = [f"Wrote {target}, {size_in_words(written.byte_count)}: {held_in_words(written.rows)}."]
    if written.missing:
        lines.append(_missing_in_words(written.missing))
    if people:
        lines.append("It holds the names of people and what they noted: mind whom you give it to.")
    return lines


def _missing_in_words(missing: tuple[str, ...]) -> str:
    many = len(missing) > 1
    return (
        f"Left out: {len(missing)} file{'s' if many else ''} or picture{'s' if many else ''} that "
        f"{'are' if many else 'is'} not in this database or no longer what was kept; 'bevelbook check' says more."
    )


def _as_dict(written: WrittenExport, target: WriteTo) -> dict[str, object]:
    return {
        "folder": str(target),
        "bytes": written.byte_count,
        "rows": dict(written.rows),
        "missing": list(written.missing),
        "invented": written.invented,
    }
