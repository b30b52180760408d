"""The name that a machine says in its network, looked up by another; both on the loopback of this one alone."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator

import pytest
from zeroconf import AddressResolverIPv4, ServiceInfo, Zeroconf  # type: ignore[attr-defined]

from bevelbook.web.pairing import announcing
from bevelbook.web.pairing.announcing import SERVICE, Announcement, TakenName

LOOPBACK = "127.0.0.1"
NAME = f"bevelbook-test-{os.getpid()}.local"
"""Tests may run in two processes of this machine at once."""
ASKING_MS = 400
"""Enough on a loopback; a resolver waits up to 120 ms before it asks, and an answer as long."""
SAID_JUST_NOW_MS = 3000
"""What was said to all in the last second is not said again before (RFC 6762)."""


def other_machine() -> Zeroconf:
    try:
        return Zeroconf(interfaces=[LOOPBACK])
    except OSError as fault:
        pytest.skip(f"no multicast on the loopback here: {fault}")


@pytest.fixture
def phone() -> Iterator[Zeroconf]:
    with other_machine() as made:
        yield made


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(announcing, "_ASKING_MS", ASKING_MS)


def found_by(machine: Zeroconf, name: str) -> list[str]:
    asked = AddressResolverIPv4(f"{name}.")
    asked.request(machine, ASKING_MS)
    return list(asked.parsed_addresses())


def test_a_phone_finds_the_name_until_it_is_taken_back(phone: Zeroconf) -> None:
    announcement = Announcement([NAME], 8001, lambda: [LOOPBACK])
    announcement.start()
    try:
        assert (announcement.live, announcement.taken, announcement.lines()) == ((NAME,), (), [])
        assert found_by(phone, NAME) == [LOOPBACK]
    finally:
        announcement.stop()
    announcement.stop()
    assert announcement.live == ()
    with other_machine() as later:
        assert found_by(later, NAME) == []


def test_a_name_of_another_machine_is_left_to_it(phone: Zeroconf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(announcing, "_ASKING_MS", SAID_JUST_NOW_MS)
    taken = ServiceInfo(
        SERVICE, f"another.{SERVICE}", port=80, addresses=[socket.inet_aton("192.0.2.9")], server=f"{NAME}."
    )
    phone.register_service(taken, cooperating_responders=True)
    lines: list[str] = []
    addresses = [LOOPBACK]
    announcement = Announcement([NAME], 8001, lambda: list(addresses), lines.append)
    announcement.start()
    try:
        assert announcement.live == ()
        assert announcement.taken == (TakenName(NAME, "192.0.2.9"),)
        assert announcement.lines() == [
            f"Another machine of this network is {NAME} already (192.0.2.9), so this book goes without that name."
        ]
        addresses.clear()
        announcement.look_again()
        assert (announcement.live, announcement.taken, lines) == ((), (), [])
        addresses.append(LOOPBACK)
        announcement.look_again()
        assert announcement.live == ()
        assert lines == announcement.lines()
    finally:
        announcement.stop()


def test_where_nothing_can_be_announced_the_reason_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(interfaces: list[str]) -> None:
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr("zeroconf.Zeroconf", fails)
    announcement = Announcement([NAME], 8001, lambda: [LOOPBACK])
    announcement.start()
    try:
        assert announcement.live == ()
        assert announcement.lines() == ["No name can be announced in this network: Network is unreachable."]
    finally:
        announcement.stop()
