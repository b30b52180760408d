"""``bevelbook export FOLDER``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.session import Session

if TYPE_CHECKING:
    from bevelbook.interchange.write_export import WrittenExport


@click.command("export")
@click.argument("target", metavar="FOLDER", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, target: Path, as_json: bool) -> int:
    """Write all that the database holds into a folder of open files: CSV, JSON and pictures.

    \b
    bevelbook export season

    Nothing is left out: the past of every record, taken-back entries, rejected rows, kept files, photographs. The same
    content gives the same bytes. A team mate takes it with 'bevelbook merge FOLDER'; any other program reads the CSV
    files, which datapackage.json describes. An earlier export there is replaced.
    """
    from bevelbook.interchange.write_export import write_export

    with session.reading() as connection:
        written = write_export(connection, session.path, target)
        people = connection.execute("SELECT count(*) FROM main.people").fetchone()[0]
    if as_json:
        print_json(_as_dict(written))
        return 0
    for line in _lines(written, people):
        print_text(line)
    say_if_invented(written.invented)
    return 0


def _lines(written: WrittenExport, people: int) -> list[str]:
    """What was written, and what to mind, for people."""
    from bevelbook.interchange.export_words import held_in_words, size_in_words

    lines = [f"Wrote {written.folder}, {size_in_words(written.byte_count)}: {held_in_words(written.rows)}."]
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


def _as_dict(written: WrittenExport) -> dict[str, object]:
    return {
        "folder": str(written.folder),
        "bytes": written.byte_count,
        "rows": dict(written.rows),
        "missing": list(written.missing),
        "invented": written.invented,
    }
