"""Under which names this machine may be asked: a foreign page must not reach the book by a name that points here."""

from __future__ import annotations

import ipaddress
import re
import socket
import unicodedata
from collections.abc import Iterable
from typing import Final, NamedTuple
from urllib.parse import urlsplit

from bevelbook.declare.late_pattern import late_pattern

LOCAL: Final = ".local"
"""How the names end that the machines of a network say themselves (RFC 6762)."""
ENTER_PORT: Final = 8002
"""The port that ``enter`` takes unless another is asked for."""
_LONGEST_LABEL: Final = 63
_LABEL: Final = late_pattern(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?")
"""One step of a host name (RFC 1123)."""


class HostNames(NamedTuple):
    """The names, in lower case, besides those of this machine to itself (localhost) and its bare addresses."""

    names: frozenset[str] = frozenset()

    def fits(self, host: str, listening: str | None) -> bool:
        """Whether a Host header names this machine; ``listening`` is its own address that the request came to.

        A bare address is right where the request came to it: a browser that shows it went there by itself.
        """
        name = name_in(host)
        if not name:
            return False
        address = as_address(name)
        if address is None:
            return name == "localhost" or name.endswith(".localhost") or name in self.names
        return address.is_loopback or address == as_address(listening or "")


class OwnNames(NamedTuple):
    """The names under which other devices look for this machine: ``announced`` those that it says in the network itself
    (``team.local``), ``further`` those that somebody else makes known there, such as a router (``bench.test``);
    ``asked`` is whether a person gave them."""

    announced: tuple[str, ...] = ()
    further: tuple[str, ...] = ()
    asked: bool = False

    @property
    def answered(self) -> tuple[str, ...]:
        """All names that are answered: an announced one without its ending too, as a router may have it."""
        return (*self.announced, *(name.removesuffix(LOCAL) for name in self.announced), *self.further)


def own_names(given: Iterable[str]) -> OwnNames:
    """The names that a person gave. Raises ValueError, with the name, where one is none.

    >>> own_names(["team", "Laptop.local", "bench.test"])
    OwnNames(announced=('team.local', 'laptop.local'), further=('bench.test',), asked=True)
    """
    announced: dict[str, None] = {}
    further: dict[str, None] = {}
    for name in given:
        lower = name.lower()
        if name_in(lower) != lower or as_address(lower) or not all(map(_LABEL.fullmatch, lower.split("."))):
            raise ValueError(name)
        label = lower.removesuffix(LOCAL)
        if "." in label:
            further[lower] = None
        else:
            announced[f"{label}{LOCAL}"] = None
    return OwnNames(tuple(announced), tuple(further), asked=bool(announced or further))


def fit_for_host(text: str) -> str:
    """A name for the network made of any text; ``bevelbook`` where nothing of it can be used.

    >>> fit_for_host("Our Team 2026"), fit_for_host("Größe_1"), fit_for_host("队")
    ('our-team-2026', 'grosse-1', 'bevelbook')
    """
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss")).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST_LABEL].strip("-") or "bevelbook"


def address_for_labels(database: str) -> str:
    """Where phones find a book by its own name, for the codes of labels: where ``enter`` is as a rule.

    >>> address_for_labels("Our Team 2026")
    'http://our-team-2026.local:8002'
    """
    return f"http://{fit_for_host(database)}{LOCAL}:{ENTER_PORT}"


def own_host_name() -> str:
    """What this machine calls itself, in lower case and without what follows a dot."""
    return socket.gethostname().split(".")[0].lower()


def host_names(given: Iterable[str], *, is_network: bool) -> HostNames:
    """The names given, and in a network those that this machine has there."""
    own = own_host_name() if is_network else ""
    named = {name.strip().lower().rstrip(".") for name in given}
    return HostNames(frozenset(named | ({own, f"{own}.local"} if own else set())))


def name_in(host: str) -> str:
    """The name in a Host header, in lower case and without the port; empty where it cannot be read.

    >>> name_in("Bench.test:8002"), name_in("[::1]:8002"), name_in("a b")
    ('bench.test', '::1', '')
    """
    if any(character.isspace() or character in "/@?#\\" for character in host):
        return ""
    try:
        return (urlsplit(f"//{host}").hostname or "").rstrip(".")
    except ValueError:
        return ""


def same_place(origin: str, host: str) -> bool:
    """Whether an Origin header is of this address: the same name and the same port.

    >>> same_place("http://bench.test:8002", "bench.test:8002"), same_place("http://bench.test", "bench.test:8002")
    (True, False)
    >>> same_place("http://bench.test", "bench.test:80"), same_place("null", "bench.test")
    (True, False)
    """
    try:
        given = urlsplit(origin)
        here = urlsplit(f"{given.scheme}://{host}")
        default = {"http": 80, "https": 443}[given.scheme]
        return bool(given.hostname) and (given.hostname, given.port or default) == (here.hostname, here.port or default)
    except (ValueError, KeyError):
        return False


def as_address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """The bare address that a name is; one of the old kind written as one of the new counts as the old one."""
    try:
        found = ipaddress.ip_address(name.partition("%")[0])
    except ValueError:
        return None
    return getattr(found, "ipv4_mapped", None) or found
