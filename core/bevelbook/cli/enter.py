"""``bevelbook enter``."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import closing
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import opened, print_drawing, print_json, print_text
from bevelbook.cli.files import FROM_DASH, FileToRead, ReadFrom
from bevelbook.cli.session import Session
from bevelbook.cli.whole_number import WholeNumber
from bevelbook.declare.in_command import asked_again
from bevelbook.display.clock import local_time
from bevelbook.scale_port.line_settings import USUAL
from bevelbook.web.pairing.host_names import ENTER_PORT

if TYPE_CHECKING:
    from bevelbook.scale_port.listening import ScaleListening
    from bevelbook.web.host.enter import Entered
    from bevelbook.web.pairing.pairings_file import PairingsFile, Phone

LOOPBACK: Final = "127.0.0.1"


@click.command("enter")
@click.option("--host", default=LOOPBACK, show_default=True, help="Address to listen on; 0.0.0.0 is every network.")
@click.option("--allow-network", is_flag=True, help="Yes, let other devices in: needed with such a --host.")
@click.option(
    "--port", default=ENTER_PORT, show_default=True, type=WholeNumber(0, 65535), help="Port; 0 takes a free one."
)
@opened.name_option
@opened.qr_option
@click.option(
    "--procedure",
    type=FileToRead(),
    help=f"The team's own steps of the bench, in the form of the bundled procedure; {FROM_DASH}",
)
@click.option(
    "--packing",
    type=FileToRead(),
    help=f"The team's own list of what to pack, in the form of the bundled one; {FROM_DASH}",
)
@click.option(
    "--new-address",
    "may_be_new",
    is_flag=True,
    help="Yes, at an address that paired phones do not know: what waits on them stays where they know it.",
)
@click.option(
    "--scale", metavar="PORT", help="A scale that speaks: the port it prints to, such as /dev/ttyUSB0 or COM3."
)
@click.option(
    "--scale-line",
    metavar="SETTING",
    default=USUAL,
    show_default=True,
    help="How that port is set: baud, bits, parity (N, E, O), stop bits.",
)
@click.option(
    "--scale-ask",
    metavar="TEXT",
    help="Sent to a scale that prints only when asked, once a second while a page waits for it.",
)
@opened.sql_options
@click.option("--open", "open_browser", is_flag=True, help="Open the page that pairs, with the code, in the browser.")
@click.option("--phones", "list_phones", is_flag=True, help="List the paired phones instead.")
@click.option("--end", "ended", metavar="PHONE", help="End the pairing of a phone instead, also while it runs.")
@click.option("--json", "as_json", is_flag=True, help="With --phones or --end: print data for programs.")
@click.pass_obj
def command(
    session: Session,
    host: str,
    allow_network: bool,
    port: int,
    names: tuple[str, ...],
    as_qr: bool,
    procedure: ReadFrom | None,
    packing: ReadFrom | None,
    may_be_new: bool,
    scale: str | None,
    scale_line: str,
    scale_ask: str | None,
    no_sql: bool,
    allow_sql: bool,
    open_browser: bool,
    list_phones: bool,
    ended: str | None,
    as_json: bool,
) -> None:
    """Browse the database and write into it, from this computer or from phones that are paired.

    It prints a code that pairs one phone; a pairing lasts until it is ended, here or on the phone. Phones in the same
    network reach it with --host 0.0.0.0 --allow-network: then every device there can read the pages, and only paired
    ones write. Plain http is not private. What a phone stores is an entry of the person who holds it, and can be taken
    back. Entries that wait on a phone without the laptop are handed over at the same address alone: start it the same
    way each day. Stop it with Ctrl+C; a laptop that sleeps closes the book.
    """
    if list_phones or ended is not None:
        _pairings(session, ended, as_json)
        return
    if as_json:
        raise click.UsageError("--json goes with --phones or --end.")
    from bevelbook.card.procedure import read_procedure
    from bevelbook.planning.packing_list import read_packing_list

    given = opened.names_given(names)
    takes_sql = opened.takes_sql(no_sql, allow_sql, host)
    from bevelbook.web.host.enter import answer_until_stopped, enter
    from bevelbook.web.pairing.settings_folder import settings_folder

    _refuse_network_unless_allowed(host, allow_network)
    listening = _scale(scale, scale_line, scale_ask)
    entered = enter(
        session.path,
        session.registry,
        folder=settings_folder(),
        host=host,
        port=port,
        names=given,
        allow_sql=takes_sql,
        procedure=read_procedure(procedure) if procedure else None,
        packing=read_packing_list(packing) if packing else None,
        tell=session.notice,
        may_be_new=may_be_new,
        asked=session.asked,
        scale=listening,
    )
    for line in entered.phones.notices:
        session.notice(line)
    _say_where(session, entered, takes_sql)
    if listening is not None:
        print_text(f"The scale at {listening.port} is listened to; its readings appear beside the fields for a mass.")
    _say_code(entered, as_qr)

    def say_new_code(why: str) -> None:
        print_text(f"\n{why}")
        _say_code(entered, as_qr)

    entered.codes.announce = say_new_code
    if entered.found.announcement is not None:
        entered.found.announcement.tell = print_text
    if open_browser:
        import webbrowser

        webbrowser.open(entered.pair_link_here)
    answer_until_stopped(entered)
    print_text("Stopped.")


def _scale(port: str | None, setting: str, asked: str | None) -> ScaleListening | None:
    """The scale that speaks, where one is named: its port was open once. Raises InputError."""
    from bevelbook.scale_port.line_settings import asking_bytes, line_settings

    if port is None:
        if asked is not None:
            raise click.UsageError("--scale-ask goes with --scale.")
        return None
    from bevelbook.scale_port.listening import ScaleListening
    from bevelbook.scale_port.serial_ports import check_port

    settings = line_settings(setting)
    check_port(port, settings)
    return ScaleListening(port, settings, asking_bytes(asked) if asked else b"")


def _refuse_network_unless_allowed(host: str, allow_network: bool) -> None:
    from bevelbook.declare.errors import InputError
    from bevelbook.web.host.enter import FOR_NETWORKS, FOR_THIS_COMPUTER
    from bevelbook.web.host.found_at import opens_to_network

    if opens_to_network(host, FOR_THIS_COMPUTER, FOR_NETWORKS) and not allow_network:
        raise InputError(
            "every device in that network could read the pages, and plain http is not private",
            code="network_not_allowed",
            found=f"--host {host}",
            remedy="Add --allow-network if that is right; only paired phones write. Without --host only this computer "
            "reaches it.",
        )


def _say_where(session: Session, entered: Entered, takes_sql: bool) -> None:
    from bevelbook.web.pairing.phone_addresses import seen_in_words

    found = entered.found
    opens = asked_again(session.asked, "--host", opened.NETWORK, "--allow-network")
    opened.say_where(found, f"{session.path.name} can be read and written at {{}}", entered.pages, opens)
    if found.is_network:
        opened.say_to_whom(
            found,
            "Only paired phones write. Plain http is not private: whoever is in the network can read along, and with a "
            "phone's cookie write in its name. Use a network of your own, such as a phone's hotspot.",
            takes_sql,
            asked_again(session.asked, "--allow-sql"),
        )
    print_text(
        "What waits on a phone is handed over only at the address where its page was opened: start the book the same "
        "way each time."
    )
    for phone, known, is_known_here in entered.left:
        to_here = (
            ""
            if is_known_here
            else " From a page that is open on it, “The laptop has a new address” brings it here and it is known; "
            "without one it is paired once more."
        )
        print_text(
            f"Left at an old address: {phone.name} ({phone.person}), at {known.address}, last on "
            f"{seen_in_words(known.seen_at)}. What waits on it there stays there until the book is at that address "
            f"again.{to_here}"
        )
    print_text("A laptop that sleeps closes the book: keep it awake. Ctrl+C stops it.")


def _say_code(entered: Entered, as_qr: bool) -> None:
    """The code of the next phone, and its picture where a terminal can show one or it is asked for."""
    from bevelbook.web.pairing.qr import INSTALL, can_draw, drawn

    print_text(f"The next phone pairs at {entered.addresses[0]}{entered.pair_page} with the code {entered.codes.shown}")
    if entered.found.by_name and entered.found.by_number:
        print_text(
            f"Only a phone that does not find that name pairs at {entered.found.by_number[0]}{entered.pair_page}: in "
            "another network this computer has other numbers, and what waits on the phone waits for these."
        )
    if not (as_qr or sys.stdout.isatty()):
        return
    if can_draw():
        print_drawing(drawn(entered.pair_link))
    else:
        print_text(f"For a code to scan: {INSTALL}")


def _pairings(session: Session, ended: str | None, as_json: bool) -> None:
    phones = _pairings_file(session)
    left = [] if phones is None else phones.all()
    if ended is not None:
        from bevelbook.declare.errors import UnknownNameError

        if phones is None:
            raise UnknownNameError("phone", ended, [])
        phone = phones.named(ended)
        phones.end(phone)
        if as_json:
            print_json({"ended": phone.as_dict()})
        else:
            print_text(f"Ended: {phone.name} ({phone.person}) cannot write any more.")
        return
    if as_json:
        print_json({"phones": [phone.as_dict() for phone in left]})
    elif not left:
        print_text(f"No phone is paired with {session.path.name}.")
    for phone in () if as_json else left:
        print_text("\n".join(_lines_of(phone)))


def _lines_of(phone: Phone) -> Iterator[str]:
    """The phone, and each address at which it was seen in the last weeks: what waits on it may wait at any of them."""
    yield f"{phone.name}: {phone.person}, paired {_at(phone.paired_at)}, last seen {_at(phone.seen_at)} (id {phone.id})"
    for known in phone.addresses:
        yield f"  at {known.address}, last {_at(known.seen_at)}{', where the book is no more' if known.is_left else ''}"


def _at(instant: str) -> str:
    at = local_time(instant)
    return f"{at:%Y-%m-%d %H:%M}" if at else f"at a time that cannot be read, “{instant}”"


def _pairings_file(session: Session) -> PairingsFile | None:
    """The pairings with this database; None where none can be."""
    from bevelbook.store.book_mark import known_mark
    from bevelbook.store.opened_to_read import open_for_reading
    from bevelbook.store.sqlite_errors import in_words
    from bevelbook.web.pairing.pairings_file import PairingsFile
    from bevelbook.web.pairing.settings_folder import settings_folder

    with closing(open_for_reading(session.path)) as connection, in_words(session.path):
        mark = known_mark(connection)
    return None if mark is None else PairingsFile(settings_folder(), mark)
