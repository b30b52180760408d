"""``bevelbook serve``."""

from __future__ import annotations

import click

from bevelbook.cli.session import Session
from bevelbook.cli.whole_number import WholeNumber


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on; 0.0.0.0 is every network.")
@click.option("--port", default=8001, show_default=True, type=WholeNumber(0, 65535), help="Port; 0 takes a free one.")
@click.option("--no-sql", is_flag=True, help="Take no SQL queries from visitors; all pages still work.")
@click.option("--open", "open_browser", is_flag=True, help="Open the database in the browser.")
@click.pass_obj
def command(session: Session, host: str, port: int, no_sql: bool, open_browser: bool) -> None:
    """Browse the database, read-only, from this machine unless --host says otherwise.

    Stop it with Ctrl+C. Phones in the same network reach it with --host 0.0.0.0 and this machine's address.
    """
    from bevelbook.web.host.serve import serve

    serve(session.path, session.registry, host=host, port=port, allow_sql=not no_sql, open_browser=open_browser)
