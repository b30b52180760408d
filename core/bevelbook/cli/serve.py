"""``bevelbook serve``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from bevelbook.cli import opened, print_text
from bevelbook.cli.session import Session
from bevelbook.cli.whole_number import WholeNumber
from bevelbook.declare.in_command import asked_again

if TYPE_CHECKING:
    from bevelbook.web.host.serve import Served


@click.command("serve")
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help=f"Address to listen on; {opened.NETWORK} is every network. 'bevelbook help protects' has who reads then.",
)
@click.option(
    "--port",
    default=8001,
    show_default=True,
    type=WholeNumber(0, 65535),
    help="Port, or where it is in use the next free one; 0 takes any.",
)
@opened.name_option
@opened.qr_option
@opened.sql_options
@click.option("--index", "may_be_indexed", is_flag=True, help="Let search engines take in its pages.")
@click.option("--open", "open_browser", is_flag=True, help="Open the database in the browser.")
@click.pass_obj
def command(
    session: Session,
    host: str,
    port: int,
    names: tuple[str, ...],
    as_qr: bool,
    no_sql: bool,
    allow_sql: bool,
    may_be_indexed: bool,
    open_browser: bool,
) -> None:
    """Browse the database, read-only, from this machine unless --host says otherwise.

    Phones in the same network reach it with --host 0.0.0.0: then every device there can read all of it, names too, and
    none can write. It answers under its own names and addresses alone, and shows what other commands change meanwhile.
    Ctrl+C stops it.
    """
    from bevelbook.web.host.serve import answer_until_stopped, serve

    given = opened.names_given(names)
    takes_sql = opened.takes_sql(no_sql, allow_sql, host)
    served = serve(
        session.path,
        session.registry,
        host=host,
        port=port,
        names=given,
        allow_sql=takes_sql,
        may_be_indexed=may_be_indexed,
        asked=session.asked,
    )
    _say_where(session, served, takes_sql)
    if as_qr:
        link = served.found.to_scan
        opened.say_code(f"{link}{served.pages}" if link else None)
    if served.found.announcement is not None:
        served.found.announcement.tell = print_text
    if open_browser:
        import webbrowser

        webbrowser.open(f"{served.found.by_this_computer or served.found.by_number[0]}{served.pages}")
    answer_until_stopped(served.datasette, served.found)
    print_text("Stopped.")


def _say_where(session: Session, served: Served, takes_sql: bool) -> None:
    found, wanted = served.found, served.wanted_port
    if wanted not in (0, found.port):
        print_text(
            f"Port {wanted} is in use, perhaps by 'bevelbook serve' in another window, so this one is at port "
            f"{found.port}. An address with {wanted} on a label or in a bookmark does not lead here."
        )
    first = f"The shelf of {session.path.name} is at {{}} (read-only). Ctrl+C stops it."
    opened.say_where(found, first, served.pages, asked_again(session.asked, "--host", opened.NETWORK))
    if served.copied_words:
        print_text(served.copied_words)
    if found.is_network:
        nobody = (
            "None of them can write. Plain http is not private: whoever is in the network can read along. Use a "
            "network of your own, such as a phone's hotspot."
        )
        opened.say_to_whom(found, nobody, takes_sql, asked_again(session.asked, "--allow-sql"))
