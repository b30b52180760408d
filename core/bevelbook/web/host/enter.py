"""Serve one database with entry: its pages, and forms for phones that are paired."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.card.procedure import Procedure
from bevelbook.planning.packing_list import PackingList
from bevelbook.plugin.registry import Registry
from bevelbook.scale_port.listening import ScaleListening
from bevelbook.store.book_mark import mark_of
from bevelbook.store.opening import open_for_writing
from bevelbook.store.sqlite_errors import in_words
from bevelbook.web.host.addresses import page_address
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.found_at import FoundAt, found_at, names_of, opens_to_network, server_address
from bevelbook.web.host.page import ENTER
from bevelbook.web.host.serve import ENTERS_AT, datasette_for, listen, next_port_words
from bevelbook.web.host.serve import answer_until_stopped as answer_until_any_stop
from bevelbook.web.pairing.codes import PairingCodes
from bevelbook.web.pairing.host_names import OwnNames, as_address, host_names
from bevelbook.web.pairing.own_addresses import addresses_of, is_every_network, own_addresses
from bevelbook.web.pairing.pairings_file import PairingsFile
from bevelbook.web.pairing.phone_addresses import LeftBehind, ListeningAt, left_behind, refuse_other_address
from bevelbook.web.pairing.who_may_write import WhoMayWrite

FOR_THIS_COMPUTER: Final = "bevelbook enter"
FOR_NETWORKS: Final = "bevelbook enter --host 0.0.0.0 --allow-network"
_OTHER_PORT: Final = (
    "Another program uses the port, perhaps 'bevelbook enter' in another window: stop it there. The paired phones know "
    "this port; at another one they do not find the book."
)


class Entered(NamedTuple):
    """A server with entry that listens and does not answer yet."""

    datasette: Any
    found: FoundAt
    phones: PairingsFile
    codes: PairingCodes
    left: tuple[LeftBehind, ...] = ()
    """Addresses that phones know, which are left from now on."""

    @property
    def listening(self) -> socket.socket:
        """The socket at which it listens."""
        return self.found.listening

    @property
    def addresses(self) -> tuple[str, ...]:
        """Where a browser finds it now, each without a path: ``http://192.0.2.7:8002``; the first is to be shown."""
        return self.found.addresses

    @property
    def pages(self) -> str:
        """The path of the first page."""
        return str(self.datasette.urls.instance())

    @property
    def pair_page(self) -> str:
        """The path of the page that pairs."""
        return page_address(self.datasette, state_of(self.datasette).names(self.datasette)[0], f"{ENTER}/pair")

    @property
    def pair_link(self) -> str:
        """The address that pairs a phone; its code is behind #, which no browser sends."""
        return f"{self.addresses[0]}{self.pair_page}#{self.codes.code}"

    @property
    def pair_link_here(self) -> str:
        """The same for a browser of this computer, which may not find its own name."""
        return f"{self.found.by_this_computer or self.found.by_number[0]}{self.pair_page}#{self.codes.code}"


def enter(
    path: Path,
    registry: Registry,
    *,
    folder: Path,
    host: str,
    port: int,
    names: OwnNames | None = None,
    allow_sql: bool = True,
    procedure: Procedure | None = None,
    packing: PackingList | None = None,
    tell: Callable[[str], None] | None = None,
    may_be_new: bool = False,
    asked: str = "enter",
    scale: ScaleListening | None = None,
) -> Entered:
    """Listen, with the pairings that are kept in ``folder``; ``names`` are those that a person gave for this machine,
    ``procedure`` a team's own steps of the bench, ``packing`` its own list of what to pack, ``scale`` one that speaks:
    it is listened to until the server stops.

    ``tell`` is called with a line where the database is brought to this version. ``may_be_new`` is whether the address
    may be another than the paired phones know, and ``asked`` the command as it was typed. Raises DatabaseError, or
    InputError where the address cannot be had, or is one at which phones would not find the book.
    """
    with closing(open_for_writing(path, tell=tell)) as connection, in_words(path):
        mark = mark_of(connection)
    is_network = opens_to_network(host, FOR_THIS_COMPUTER, FOR_NETWORKS)
    own = names_of(path, names, is_network=is_network)
    codes = PairingCodes()
    phones = PairingsFile(folder, mark)
    named = own.answered if as_address(host) else (*own.answered, host)
    entry = WhoMayWrite(phones, codes, host_names(named, is_network=is_network))
    there = ListeningAt(host, port, entry.names, own_addresses(), is_network)
    if not may_be_new:
        refuse_other_address(phones.all(), there, path.name, f"bevelbook {asked} --new-address")
    datasette = datasette_for(path, registry, allow_sql=allow_sql, entry=entry, procedure=procedure)
    state_of(datasette).packing = packing
    state_of(datasette).scale = scale
    state_of(datasette).is_for_this_computer = not is_network
    state_of(datasette).settings = folder
    asyncio.run(datasette.invoke_startup())
    listening = listen(host, port, lambda: _OTHER_PORT if phones.all() else next_port_words(host, port, asked))
    at_port = listening.getsockname()[1]
    state_of(datasette).port = at_port
    if is_network:
        state_of(datasette).entry = entry._replace(addresses=lambda: _typed_addresses(host, listening))
    left = left_behind(phones.all(), there._replace(port=at_port))
    phones.leave((one.phone, one.known) for one in left)
    found = found_at(listening, host, own, is_network=is_network)
    return Entered(datasette, found, phones, codes, tuple(left))


def _typed_addresses(host: str, listening: socket.socket) -> list[str]:
    """Where another laptop reaches it, as it is typed there: bare addresses with the port."""
    found = own_addresses() if is_every_network(host) else addresses_of(host)
    return [server_address(one, listening).removeprefix("http://") for one in found]


def opened_to_networks_by(datasette: Any) -> str:
    """The command that starts this server again at its own port, which the phones know, open to other devices."""
    port = state_of(datasette).port
    if port is None or port == ENTERS_AT:
        return FOR_NETWORKS
    return f"bevelbook enter --host 0.0.0.0 --allow-network --port {port}"


def answer_until_stopped(entered: Entered) -> None:
    """Answer until a person stops it, and listen to the scale for as long."""
    state = state_of(entered.datasette)
    if state.scale is not None:
        state.when_stopping.append(state.scale.stop)
        state.scale.start()
    answer_until_any_stop(entered.datasette, entered.found)
