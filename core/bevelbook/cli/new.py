"""``bevelbook new``."""

from __future__ import annotations

import click

from bevelbook.cli import print_text, say_if_invented
from bevelbook.cli.files import FROM_DASH, FileToRead, ReadFrom, on_disk
from bevelbook.cli.session import Session


@click.command("new")
@click.option(
    "--migrate", is_flag=True, help="Bring an older database up to this version; a backup copy is made first."
)
@click.option(
    "--from",
    "source",
    metavar="EXPORT|-",
    type=FileToRead(),
    help=f"Start with all that an export or an edition holds: a folder or a zip; or a copy of another database. "
    f"{FROM_DASH}",
)
@click.pass_obj
def command(session: Session, migrate: bool, source: ReadFrom | None) -> None:
    """Start a database under the name that --db gives: empty, or from an export.

    \b
    bevelbook --db team.db new
    bevelbook --db team.db new --from season
    """
    from bevelbook.store.book_mark import mark_of
    from bevelbook.store.opening import new_database

    if migrate and source is not None:
        raise click.UsageError("--migrate is for the database itself, --from for a new one: not both.")
    if migrate:
        session.open_for_writing().close()
        print_text(f"{session.path} is up to date.")
        return
    if source is not None:
        _from(session, source)
        return
    new_database(session.path, begin=mark_of).close()
    next_words = "Bring notes in with 'bevelbook import FILE', or add records with 'bevelbook record'."
    print_text(f"Made {session.path}. {next_words}")


def _from(session: Session, source: ReadFrom) -> None:
    from bevelbook.interchange.export_words import held_in_words
    from bevelbook.meeting.new_from import new_from

    with on_disk(source) as path:
        held, invented = new_from(session.path, path, session.registry, tell=session.notice)
    print_text(f"Made {session.path} with what {source} holds: {held_in_words(held)}.")
    say_if_invented(invented)
