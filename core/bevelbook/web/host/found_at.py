"""Where a server that listens is found: under which names, at which addresses, and by whom."""

from __future__ import annotations

import socket
from collections.abc import Callable
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.web.pairing.announcing import Announcement, can_announce
from bevelbook.web.pairing.host_names import LOCAL, OwnNames, as_address, fit_for_host, own_host_name
from bevelbook.web.pairing.own_addresses import addresses_of, is_every_network, is_loopback, own_addresses

LOOPBACK: Final = "127.0.0.1"
"""The address of this machine to itself."""


class FoundAt(NamedTuple):
    """A socket that listens, and how a browser gets to it.

    A laptop that is carried into another network has other addresses there; each question gives those of now.
    """

    listening: socket.socket
    host: str
    names: OwnNames
    is_network: bool
    announcement: Announcement | None = None

    @property
    def port(self) -> int:
        """The port at which it listens."""
        return int(self.listening.getsockname()[1])

    @property
    def by_name(self) -> tuple[str, ...]:
        """Where a browser finds it by name, each without a path: ``http://team.local:8001``."""
        if self.announcement is not None:
            announced = self.announcement.live
        else:  # a machine may have the system say its own name
            announced = tuple(name for name in self.names.announced if self.is_network and name == _own_local())
        return tuple(server_address(name, self.listening) for name in (*announced, *self.names.further))

    @property
    def by_number(self) -> tuple[str, ...]:
        """Where other devices find it whatever names they know: ``http://192.0.2.7:8001``; empty in no network."""
        if not self.is_network:
            return ()
        found = own_addresses() if is_every_network(self.host) else [self.host]
        return tuple(server_address(one, self.listening) for one in dict.fromkeys(found))

    @property
    def by_this_computer(self) -> str | None:
        """Where this computer itself finds it too; None where it is not let in by itself."""
        if not self.is_network:
            return server_address(self.host, self.listening)
        return server_address(LOOPBACK, self.listening) if is_every_network(self.host) else None

    @property
    def addresses(self) -> tuple[str, ...]:
        """All of them; the first is the one to show."""
        own = self.by_this_computer
        return (*self.by_name, *self.by_number, *([own] if own else []))

    @property
    def to_scan(self) -> str | None:
        """What a phone can scan: numbers, which every phone of this network finds; None where none gets here."""
        return next(iter((*self.by_number, *self.by_name)), None) if self.is_network else None

    def end(self) -> None:
        """Take the name back from the network."""
        if self.announcement is not None:
            self.announcement.stop()


def names_of(path: Path, given: OwnNames | None, *, is_network: bool) -> OwnNames:
    """The names that a person gave; else, in a network, that of the database, where it can be announced."""
    if given is not None and given.asked:
        return given
    if not (is_network and can_announce()):
        return OwnNames()
    return OwnNames((f"{fit_for_host(path.stem)}{LOCAL}",))


def found_at(listening: socket.socket, host: str, names: OwnNames, *, is_network: bool) -> FoundAt:
    """Where that socket is found; in a network its names are said from now on, where that can be."""
    found = FoundAt(listening, host, names, is_network)
    if not (is_network and names.announced and can_announce()):
        return found
    announcement = Announcement(names.announced, found.port, _addresses_of(host))
    announcement.start()
    return found._replace(announcement=announcement)


def server_address(host: str, listening: socket.socket) -> str:
    """Where a server is found under a name or address of its machine: ``http://127.0.0.1:8001``."""
    return f"http://{f'[{host}]' if ':' in host else host}:{listening.getsockname()[1]}"


def opens_to_network(host: str, for_this_computer: str, for_every_network: str) -> bool:
    """Whether other devices reach what listens there. Raises InputError for a name that nobody knows, with the commands
    that would do."""
    try:
        return not is_loopback(host)
    except OSError as fault:
        raise InputError(
            "there is no such address on this computer",
            code="address_taken",
            found=host,
            remedy=f"'{for_this_computer}' is for this computer alone, '{for_every_network}' for every network.",
        ) from fault


def _addresses_of(host: str) -> Callable[[], list[str]]:
    """Where a name is said: the addresses of now in every network, or those of the host."""

    def addresses() -> list[str]:
        found = own_addresses() if is_every_network(host) else addresses_of(host)
        return [one for one in found if getattr(as_address(one), "version", 0) == 4]

    return addresses


def _own_local() -> str:
    return f"{own_host_name()}{LOCAL}"
