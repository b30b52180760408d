"""``bevelbook new``."""

from __future__ import annotations

import click

from bevelbook.cli import print_text
from bevelbook.cli.copied_commands import with_database
from bevelbook.cli.session import Session


@click.command("new")
@click.option(
    "--migrate", is_flag=True, help="Bring an older database up to this version; a backup copy is made first."
)
@click.pass_obj
def command(session: Session, migrate: bool) -> None:
    """Start an empty database under the name that --db gives."""
    from bevelbook.store.opening import new_database

    if migrate:
        session.open_for_writing().close()
        print_text(f"{session.path} is up to date.")
        return
    new_database(session.path).close()
    next_words = "Bring notes in with 'bevelbook import FILE', or add records with 'bevelbook record'."
    print_text(f"Made {session.path}. {with_database(next_words)}")
