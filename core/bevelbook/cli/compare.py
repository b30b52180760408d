"""``bevelbook compare A B``."""

from __future__ import annotations

import click

from bevelbook.cli import print_json
from bevelbook.cli.session import Session


@click.command("compare")
@click.argument("a")
@click.argument("b")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, a: str, b: str, as_json: bool) -> None:
    """Show two builds side by side: only what differs, with the change from A to B.

    A and B are builds such as rear-a/2 and rear-a/3; the name of a diff stands for its last build.
    """
    from bevelbook.tasks.compare import compare

    with session.reading() as connection:
        comparison = compare(connection, a, b, session.registry)
    if as_json:
        print_json(comparison.as_dict())
    else:
        click.echo("\n".join(comparison.lines()))
