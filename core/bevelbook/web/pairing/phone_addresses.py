"""Under which addresses the paired phones know the book, and whether they would find it there.

A browser binds what it keeps, the cookie of its pairing and entries that wait, to the address: scheme, name and port.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple
from urllib.parse import urlsplit

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.declare.in_command import in_command
from bevelbook.display.clock import local_time
from bevelbook.display.days import day_in_words
from bevelbook.web.pairing.host_names import HostNames, as_address
from bevelbook.web.pairing.own_addresses import addresses_of, is_every_network
from bevelbook.web.pairing.pairings_file import KnownAddress, Phone

LOCALHOST = "localhost"
_NAMED: Final = 3
"""Phones that a refusal names."""
_WAYS: Final = 6
"""Addresses of these for which it says how to start there."""


class ListeningAt(NamedTuple):
    """Where a server is about to listen: host and port as wanted, the names of this machine, its addresses in its
    networks, and whether only this machine reaches it."""

    host: str
    port: int
    names: HostNames
    own: Sequence[str]
    is_network: bool

    def answers(self, known: KnownAddress) -> bool:
        """Whether a browser that goes to an address (``http://192.0.2.7:8002``) finds the server there. A name may
        lead a browser of this computer to it where no other device is let in."""
        name, port = _name_and_port(known.address)
        bare = as_address(name)
        if port != self.port:
            return False
        if _is_loopback(name):
            return not self.is_network or is_every_network(self.host)
        if bare is None:
            return (self.is_network or known.is_here) and self.names.fits(name, None)
        return str(bare) in (self.own if is_every_network(self.host) else addresses_of(self.host))


class OtherAddressError(InputError):
    """Phones know other addresses than the one at which a server is about to listen; ``commands`` are the ways on."""

    def __init__(self, lost: Sequence[Phone], there: ListeningAt, database: str, asked: str) -> None:
        them = "it" if len(lost) == 1 else "them"
        by_name = (
            f"bevelbook enter --host 0.0.0.0 --allow-network --port {there.port} --name laptop.local --new-address"
            if there.port
            else "bevelbook enter --host 0.0.0.0 --allow-network --name laptop.local --new-address"
        )
        super().__init__(
            f"{counted(len(lost), 'paired phone')} would not find {database} there: "
            f"{'; '.join(_some(lost))}. Entries that may wait on {them} can be handed over "
            "only where they were noted",
            code="other_address",
            remedy=f"Nothing on {them} is lost. {_without_its_address(lost, there)}Choose one way to go on:",
        )
        self.commands = (
            *list(dict.fromkeys(_as_before(known) for phone in lost[:_NAMED] for known in phone.addresses))[:_WAYS],
            (f"Here all the same; what waits on {them} waits until the book is at the old address again", asked),
            ("Without a phone that is gone for good, and what waits on it", "bevelbook enter --end PHONE"),
            (
                "By a name, so that the address stays the same in another network from now on",
                by_name,
            ),
        )


def refuse_other_address(phones: Iterable[Phone], there: ListeningAt, database: str, asked: str) -> None:
    """Raise OtherAddressError where phones know other addresses than the one at which a server is about to listen.
    ``asked`` is the command that listens there all the same."""
    lost = not_found(phones, there)
    if lost:
        raise OtherAddressError(lost, there, database, asked)


def not_found(phones: Iterable[Phone], there: ListeningAt) -> list[Phone]:
    """The phones none of whose addresses would be answered, but for those that were left at all of them before."""
    return [
        phone
        for phone in phones
        if not all(known.is_left for known in phone.addresses)
        and not any(there.answers(known) for known in phone.addresses)
    ]


class LeftBehind(NamedTuple):
    """An address of a phone that is not answered; ``is_known_here`` is whether another one of the phone's is."""

    phone: Phone
    known: KnownAddress
    is_known_here: bool


def left_behind(phones: Iterable[Phone], there: ListeningAt) -> list[LeftBehind]:
    """The addresses of phones that are not answered, but for those that were left before."""
    return [
        LeftBehind(phone, known, any(there.answers(one) for one in phone.addresses))
        for phone in phones
        for known in phone.addresses
        if not known.is_left and not there.answers(known)
    ]


def known_in_words(phone: Phone) -> str:
    """A phone with its addresses: ``blue phone (ana) at http://192.0.2.7:8002, last on 3 May 2026 14:05``."""
    known = ", before at ".join(f"{one.address}, last on {seen_in_words(one.seen_at)}" for one in phone.addresses)
    return f"{phone.name} ({phone.person}) at {known}"


def seen_in_words(seen_at: str) -> str:
    """When a phone was seen, by the clock on the wall."""
    at = local_time(seen_at)
    return f"{day_in_words(at.date().isoformat())} {at:%H:%M}" if at else seen_at


def _some(phones: Sequence[Phone]) -> list[str]:
    """The first of the phones in words, and how many more there are."""
    more = counted(len(phones) - _NAMED, "other phone")
    return [known_in_words(one) for one in phones[:_NAMED]] + [f"{more}: 'bevelbook enter --phones'"] * (
        len(phones) > _NAMED
    )


def _as_before(known: KnownAddress) -> tuple[str, str]:
    """How the server is started so that a phone finds it at an address."""
    name, port = _name_and_port(known.address)
    words = f"As before, at {known.address}"
    if _is_loopback(name):
        return words, f"bevelbook enter --port {port}"
    if known.is_here and not as_address(name):
        return words, f"bevelbook enter --port {port} --name {in_command(name)}"
    if as_address(name):
        return words, f"bevelbook enter --host 0.0.0.0 --allow-network --port {port}"
    return words, f"bevelbook enter --host 0.0.0.0 --allow-network --port {port} --name {in_command(name)}"


def _without_its_address(phones: Sequence[Phone], there: ListeningAt) -> str:
    """What is said where this computer does not have an address of phones now; empty where it has them all."""
    bare = (as_address(_name_and_port(known.address)[0]) for phone in phones for known in phone.addresses)
    gone = list(dict.fromkeys(str(one) for one in bare if one and not one.is_loopback and str(one) not in there.own))
    if not gone:
        return ""
    has = f"it has {', '.join(there.own)}" if there.own else "it has none in any network"
    again = "In the network of then, such as the same hotspot, it may have it again."
    return f"This computer does not have the address {' or '.join(gone)} now: {has}. {again} "


def _is_loopback(name: str) -> bool:
    """Whether a machine calls itself by that name or address."""
    bare = as_address(name)
    return name == LOCALHOST or name.endswith(f".{LOCALHOST}") or (bare is not None and bare.is_loopback)


def _name_and_port(address: str) -> tuple[str, int | None]:
    """The name in lower case and the port of an address."""
    found = urlsplit(address)
    return (found.hostname or "").rstrip("."), found.port or {"http": 80, "https": 443}.get(found.scheme)
