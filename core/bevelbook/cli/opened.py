"""What ``serve`` and ``enter`` say alike: under which names, at which addresses and for whom a book is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click

from bevelbook.cli import print_drawing, print_text
from bevelbook.declare.in_command import asked_again

if TYPE_CHECKING:
    from collections.abc import Callable

    from bevelbook.web.host.found_at import FoundAt
    from bevelbook.web.pairing.host_names import OwnNames

NETWORK: Final = "0.0.0.0"
"""What stands for every network of this computer."""


def name_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--name``, in ``names``."""
    return click.option(
        "--name",
        "names",
        multiple=True,
        metavar="NAME",
        help="With a network: the name under which phones find this computer, as NAME.local; without it the "
        "database's. One with a dot, such as bench.lan, is answered where your router has it. Repeatable.",
    )(command)


def qr_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--qr``, in ``as_qr``."""
    return click.option("--qr", "as_qr", is_flag=True, help="Show the address as a code for a phone to scan.")(command)


def sql_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--no-sql`` and ``--allow-sql``, in ``no_sql`` and ``allow_sql``."""
    command = click.option(
        "--allow-sql", is_flag=True, help="With a network: take SQL queries from visitors there too."
    )(command)
    return click.option("--no-sql", is_flag=True, help="Take no SQL queries from visitors; all pages still work.")(
        command
    )


def names_given(names: tuple[str, ...]) -> OwnNames:
    """The names of ``--name``. Raises UsageError for what is none."""
    from bevelbook.web.pairing.host_names import own_names

    try:
        return own_names(names)
    except ValueError as fault:
        raise click.UsageError(
            f"--name takes a name alone, such as team or bench.lan, of letters a to z, digits and hyphens, not "
            f"{fault.args[0]!r}."
        ) from fault


def takes_sql(no_sql: bool, allow_sql: bool, host: str) -> bool:
    """Whether visitors may ask in SQL: on this computer alone unless it is refused, in a network only where allowed."""
    from bevelbook.web.pairing.own_addresses import is_loopback

    if no_sql and allow_sql:
        raise click.UsageError("--allow-sql and --no-sql exclude each other.")
    if allow_sql or no_sql:
        return allow_sql
    try:
        return is_loopback(host)
    except OSError:  # which is said where it is listened there
        return False


def say_where(found: FoundAt, first: str, pages: str, opens: str) -> None:
    """The first address in a sentence (``first``, with a gap for it), then each other way to type it. ``opens`` is the
    command that would open it to phones."""
    by_number = found.by_number
    own = found.by_this_computer
    print_text(first.format(f"{(*found.by_name, *by_number, own)[0]}{pages}"))
    others = [f"  {address}{pages}" for address in by_number[0 if found.by_name else 1 :]]
    if found.by_name and others:
        print_text("Some phones cannot find such a name. There, type:")
    elif others:
        print_text("Or in another network of this computer:")
    for address in (*(f"  {one}{pages}" for one in found.by_name[1:]), *others):
        print_text(address)
    if found.is_network and own:
        print_text(f"On this computer itself: {own}{pages}")
    if found.is_network and not by_number:
        print_text("This computer is in no network now. Join one, or open a hotspot; then start it again to see where.")
    _say_names(found, opens)
    if not found.is_network:
        print_text(f"Only this computer reaches it. For phones:\n  {opens}")


def say_to_whom(found: FoundAt, who_writes: str, takes_sql: bool, allowing: str) -> None:
    """What is open, and to whom; ``allowing`` is the command that takes SQL of visitors too."""
    from bevelbook.web.pairing.own_addresses import is_every_network

    where = "networks of this computer" if is_every_network(found.host) else f"network of {found.host}"
    print_text(
        f"Every device in the {where} can read all of it: records, names, photographs, kept files, and what stood "
        f"there before it was changed or removed. {who_writes} 'bevelbook help protects' has more."
    )
    if takes_sql:
        print_text("Visitors may ask in SQL there: a heavy question holds up all others.")
    else:
        print_text(f"SQL from visitors is off there. To take it:\n  {allowing}")


def say_code(link: str | None) -> None:
    """The address as a code on the terminal; else why there is none."""
    from bevelbook.web.pairing.qr import INSTALL, can_draw, drawn

    if link is None:
        print_text("A phone cannot reach it here, so no code to scan is shown.")
    elif can_draw():
        print_text(f"To scan: {link}")
        print_drawing(drawn(link))
    else:
        print_text(f"For a code to scan: {INSTALL}")


def _say_names(found: FoundAt, opens: str) -> None:
    """What is to be known of names that are not said in the network."""
    from bevelbook.web.pairing.announcing import INSTALL, can_announce

    wanted = found.names.announced
    if found.announcement is not None:
        for line in found.announcement.lines():
            print_text(line)
        if found.announcement.taken:
            other = asked_again(opens.removeprefix("bevelbook "), "--name", "OTHER")
            print_text(f"Another name:\n  {other}")
    elif wanted and not found.is_network:
        print_text(f"Phones find {' and '.join(wanted)} only where the book is open to them.")
    elif wanted and not can_announce():
        print_text(f"To have phones find {' and '.join(wanted)}: {INSTALL}")
