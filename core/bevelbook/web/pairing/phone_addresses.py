"""Under which addresses the paired phones know the book, and whether they would find it there.

A browser binds what it keeps, the cookie of its pairing and entries that wait, to the address: scheme, name and port.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from shlex import quote
from typing import NamedTuple
from urllib.parse import urlsplit

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.web.pairing.host_names import HostNames, as_address
from bevelbook.web.pairing.own_addresses import addresses_of, is_every_network
from bevelbook.web.pairing.pairings_file import Phone

LOCALHOST = "localhost"


class ListeningAt(NamedTuple):
    """Where a server is about to listen: host and port as wanted, the names of this machine, its addresses in its
    networks, and whether only this machine reaches it."""

    host: str
    port: int
    names: HostNames
    own: Sequence[str]
    is_network: bool

    def answers(self, address: str) -> bool:
        """Whether a browser that goes to an address (``http://192.0.2.7:8002``) finds the server there."""
        name, port = _name_and_port(address)
        bare = as_address(name)
        if port != self.port:
            return False
        if _is_loopback(name):
            return not self.is_network or is_every_network(self.host)
        if bare is None:
            return self.is_network and self.names.fits(name, None)
        return str(bare) in (self.own if is_every_network(self.host) else addresses_of(self.host))


def refuse_other_address(phones: Iterable[Phone], there: ListeningAt, database: str) -> None:
    """Raise InputError where phones know another address than the one at which a server is about to listen."""
    lost = not_found(phones, there)
    if not lost:
        return
    named = ", ".join(f"{phone.name} ({phone.person}) at {phone.address}" for phone in lost)
    noun = counted(len(lost), "paired phone")
    raise InputError(
        f"{noun} would not find {database} there: {named}. Entries that may wait on {_them(lost)} can be handed over "
        f"at the old address alone",
        code="other_address",
        remedy=f"{_as_before(lost, there)} To go on here at once: 'bevelbook enter --new-address', beside the options "
        f"that you gave. Then nothing on {_them(lost)} is lost, but it waits until the book is at the old address "
        "again; each phone is paired once more for the new one, and a page that is still open on it can show what "
        "waits as text. A phone that is gone for good: 'bevelbook enter --end PHONE'. With a name, "
        "'bevelbook enter --host 0.0.0.0 --allow-network --name laptop.local', the address stays the same in another "
        "network.",
    )


def not_found(phones: Iterable[Phone], there: ListeningAt) -> list[Phone]:
    """The phones whose address would not be answered, but for those that were left at their old one before."""
    return [phone for phone in phones if phone.address and not phone.is_left and not there.answers(phone.address)]


def _them(phones: Sequence[Phone]) -> str:
    return "it" if len(phones) == 1 else "them"


def _as_before(phones: Sequence[Phone], there: ListeningAt) -> str:
    """How the server is started so that the first of the phones finds it, or why that cannot be now."""
    name, port = _name_and_port(phones[0].address or "")
    bare = as_address(name)
    if _is_loopback(name):
        return f"As before: 'bevelbook enter --port {port}'."
    if bare is None:
        return f"As before: 'bevelbook enter --host 0.0.0.0 --allow-network --port {port} --name {quote(name)}'."
    if str(bare) in there.own:
        return f"As before: 'bevelbook enter --host 0.0.0.0 --allow-network --port {port}'."
    has = f"it has {', '.join(there.own)}" if there.own else "it has none in any network"
    return (
        f"This computer does not have the address {bare} now: {has}. In the network of then, such as the same "
        f"hotspot, it may have it again: 'bevelbook enter --host 0.0.0.0 --allow-network --port {port}'."
    )


def _is_loopback(name: str) -> bool:
    """Whether a machine calls itself by that name or address."""
    bare = as_address(name)
    return name == LOCALHOST or name.endswith(f".{LOCALHOST}") or (bare is not None and bare.is_loopback)


def _name_and_port(address: str) -> tuple[str, int | None]:
    """The name in lower case and the port of an address."""
    found = urlsplit(address)
    return (found.hostname or "").rstrip("."), found.port or {"http": 80, "https": 443}.get(found.scheme)
