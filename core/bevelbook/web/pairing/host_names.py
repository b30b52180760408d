"""Under which names this machine may be asked: a foreign page must not reach the book by a name that points here."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterable
from typing import NamedTuple
from urllib.parse import urlsplit


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


def host_names(given: Iterable[str], *, is_network: bool) -> HostNames:
    """The names given, and in a network those that this machine has there."""
    own = socket.gethostname().split(".")[0].lower() if is_network else ""
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
