"""``bevelbook help``."""

from __future__ import annotations

import click

from bevelbook.cli import print_json, print_text
from bevelbook.cli.session import Session


@click.command("help")
@click.argument("topic", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, topic: tuple[str, ...], as_json: bool) -> None:
    """Print a page of the manual; without a TOPIC, the list of topics.

    A topic may be followed by a name: help calculators NAME, help tables NAME. The name alone does as well, and so does
    a code that an error has shown.
    """
    from bevelbook.manual.text import page_lines
    from bevelbook.manual.topics import page_of

    page = page_of("/".join(topic), session.registry)
    if as_json:
        print_json(page.as_dict())
        return
    print_text("\n".join(page_lines(page)), names_book=False)
