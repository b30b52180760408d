"""``bevelbook demo``."""

from __future__ import annotations

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.session import Session


@click.command("demo")
@click.option("--serve", "serve_it", is_flag=True, help="Go on to browse it.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_context
def command(ctx: click.Context, serve_it: bool, as_json: bool) -> None:
    """See it all on invented data: notes brought in, calculators run, the shelf, one fill target worked out.

    Makes the database that --db names, if there is none. A database that holds anything else is refused; a second run
    changes nothing.
    """
    from bevelbook.demo.make import demo

    session = ctx.find_object(Session)
    assert session is not None
    shown = demo(session.path, session.registry, session.by, asked=session.asked, tell=session.notice)
    if as_json:
        print_json({"invented": True} | shown.as_dict() | session.noticed())
    else:
        print_text("\n".join(shown.lines()))
        say_if_invented(True)
    if serve_it:
        from bevelbook.cli.serve import command as serve

        ctx.invoke(serve)
