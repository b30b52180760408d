"""The addresses of this machine in its networks, asked of the system alone: nothing is sent."""

from __future__ import annotations

import ipaddress
import socket
import struct
import sys
from collections.abc import Iterator
from contextlib import closing, suppress
from typing import Final

_ASKS_ADDRESS: Final = {"linux": 0x8915, "darwin": 0xC0206921}
"""What the system is asked with for the address of an interface (SIOCGIFADDR), by platform."""
_ELSEWHERE: Final = ("192.0.2.1", "192.168.255.254", "172.31.255.254", "10.255.255.254")
"""Addresses to which a way is looked up; a datagram socket that is only connected sends nothing. The first is for
documentation (RFC 5737), the others end the private ranges (RFC 1918)."""


def own_addresses() -> list[str]:
    """The addresses under which other devices reach this machine, the one towards the internet first.

    Addresses of the machine to itself, and those that it gave itself for want of a network, are left out.
    """
    found: dict[str, None] = {}
    for text in (*_on_the_way(), *_of_interfaces(), *_of_name()):
        address = ipaddress.ip_address(text)
        if not (address.is_loopback or address.is_link_local or address.is_unspecified):
            found[text] = None
    return list(found)


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches what listens there. Raises OSError for a name that nobody knows."""
    return all(ipaddress.ip_address(one).is_loopback for one in addresses_of(host))


def addresses_of(host: str) -> list[str]:
    """The bare addresses that a host stands for. Raises OSError for a name that nobody knows."""
    found = (info[4][0] for info in socket.getaddrinfo(host, None, type=socket.SOCK_STREAM))
    return list(dict.fromkeys(str(one).partition("%")[0] for one in found))


def is_every_network(host: str) -> bool:
    """Whether a host stands for every address of this machine."""
    with suppress(ValueError):
        return ipaddress.ip_address(host).is_unspecified
    return False


def _on_the_way() -> Iterator[str]:
    for there in _ELSEWHERE:
        with suppress(OSError), closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as asking:
            asking.connect((there, 9))
            yield str(asking.getsockname()[0])


def _of_interfaces() -> Iterator[str]:
    asks = _ASKS_ADDRESS.get(sys.platform)
    if asks is None:
        return
    import fcntl

    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as asking:
        for _, name in socket.if_nameindex():
            with suppress(OSError):
                answer = fcntl.ioctl(asking, asks, struct.pack("256s", name.encode()[:15]))
                yield socket.inet_ntoa(answer[20:24])


def _of_name() -> Iterator[str]:
    with suppress(OSError):
        for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET, socket.SOCK_STREAM):
            yield str(info[4][0])
