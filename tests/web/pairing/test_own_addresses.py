"""The addresses of this machine: looked up without sending anything."""

from __future__ import annotations

import ipaddress
import socket
from typing import Any

import pytest

from bevelbook.web.pairing.own_addresses import is_every_network, is_loopback, own_addresses


def test_addresses_are_those_that_others_reach_and_nothing_is_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    class Quiet(socket.socket):
        def send(self, *_: object) -> int:
            raise AssertionError("something was sent")

        sendto = sendall = sendmsg = send  # type: ignore[assignment]

    monkeypatch.setattr(socket, "socket", Quiet)
    found = own_addresses()
    assert len(set(found)) == len(found)
    for text in found:
        address = ipaddress.ip_address(text)
        assert not (address.is_loopback or address.is_link_local or address.is_unspecified)


@pytest.mark.parametrize(
    ("host", "loopback", "every"),
    [("127.0.0.1", True, False), ("127.3.2.1", True, False), ("::1", True, False), ("0.0.0.0", False, True)],
)
def test_what_opens_to_a_network(host: str, loopback: bool, every: bool) -> None:
    assert is_loopback(host) is loopback
    assert is_every_network(host) is every


def test_a_name_is_loopback_only_if_all_its_addresses_are(monkeypatch: pytest.MonkeyPatch) -> None:
    found: list[str] = ["127.0.0.1"]

    def addresses(*_: object, **__: object) -> list[Any]:
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (one, 0)) for one in found]

    monkeypatch.setattr(socket, "getaddrinfo", addresses)
    assert is_loopback("bench.test")
    found.append("192.0.2.7")
    assert not is_loopback("bench.test")
