"""Where a server says that it is found: by name, by number, on this computer."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from bevelbook.web.host import found_at
from bevelbook.web.host.found_at import FoundAt, names_of
from bevelbook.web.pairing.announcing import Announcement
from bevelbook.web.pairing.host_names import OwnNames, own_names

OWN = ["192.0.2.7", "198.51.100.7"]


@pytest.fixture
def listening(monkeypatch: pytest.MonkeyPatch) -> Iterator[socket.socket]:
    monkeypatch.setattr(found_at, "own_addresses", lambda: OWN)
    monkeypatch.setattr(found_at, "own_host_name", lambda: "laptop")
    with closing(socket.create_server(("127.0.0.1", 0))) as made:
        yield made


def announced(*names: str) -> Announcement:
    made = Announcement(names, 1, list)
    made.live = names
    return made


def test_in_a_network_a_name_goes_first_and_numbers_stand_beside_it(listening: socket.socket) -> None:
    names = own_names(["team", "bench.test"])
    found = FoundAt(listening, "0.0.0.0", names, True, announced("team.local"))
    port = found.port
    assert found.addresses == tuple(
        f"http://{one}:{port}" for one in ("team.local", "bench.test", "192.0.2.7", "198.51.100.7", "127.0.0.1")
    )
    assert found.to_scan == f"http://192.0.2.7:{port}"
    one_address = found._replace(host="192.0.2.7")
    assert one_address.by_number == (f"http://192.0.2.7:{port}",)
    assert one_address.by_this_computer is None


def test_a_name_that_is_not_announced_is_not_shown(listening: socket.socket) -> None:
    taken = FoundAt(listening, "0.0.0.0", own_names(["team"]), True, announced())
    assert taken.by_name == ()
    without = taken._replace(announcement=None)
    assert without.by_name == ()
    own = without._replace(names=own_names(["Laptop"]))
    assert own.by_name == (f"http://laptop.local:{own.port}",), "the system may say its own name"


def test_on_this_computer_alone_nothing_can_be_scanned(listening: socket.socket) -> None:
    found = FoundAt(listening, "127.0.0.1", own_names(["team"]), False)
    assert found.addresses == (f"http://127.0.0.1:{found.port}",)
    assert found.to_scan is None


def test_without_a_name_the_databases_own_is_announced_in_a_network(monkeypatch: pytest.MonkeyPatch) -> None:
    path = Path("/somewhere/Our Team.db")
    assert names_of(path, None, is_network=True) == OwnNames(("our-team.local",))
    assert names_of(path, OwnNames(), is_network=True).answered == ("our-team.local", "our-team")
    assert names_of(path, None, is_network=False) == OwnNames()
    assert names_of(path, own_names(["bench.test"]), is_network=True).announced == ()
    monkeypatch.setattr(found_at, "can_announce", lambda: False)
    assert names_of(path, None, is_network=True) == OwnNames()
    assert names_of(path, own_names(["team"]), is_network=True).announced == ("team.local",)
