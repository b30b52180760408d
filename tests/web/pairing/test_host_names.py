"""Names under which this machine is asked, and pages that a form may come from."""

from __future__ import annotations

import pytest

from bevelbook.web.pairing.host_names import host_names, same_place

HERE = "192.0.2.7"


@pytest.mark.parametrize(
    ("host", "fits"),
    [
        ("localhost", True),
        ("localhost:8002", True),
        ("demo.localhost", True),
        ("127.0.0.1:8002", True),
        ("[::1]:8002", True),
        ("bench.test:8002", True),
        ("BENCH.test.", True),
        ("192.0.2.7:8002", True),
        ("[::ffff:192.0.2.7]:8002", True),
        ("192.0.2.8:8002", False),
        ("other.example", False),
        ("bench.test.other.example", False),
        ("notlocalhost", False),
        ("localhost@other.example", False),
        ("other.example#localhost", False),
        ("localhost other.example", False),
        ("0.0.0.0", False),
        ("2130706433", False),
        ("", False),
        ("[", False),
    ],
)
def test_only_names_of_this_machine_and_the_address_that_was_asked_fit(host: str, fits: bool) -> None:
    names = host_names(["Bench.test"], is_network=False)
    assert names.fits(host, HERE) is fits


def test_in_a_network_the_machine_has_its_own_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: "Blue.home.example")
    assert host_names([], is_network=True).names == {"blue", "blue.local"}
    assert host_names([], is_network=False).names == frozenset()


@pytest.mark.parametrize(
    ("origin", "host", "same"),
    [
        ("http://bench.test:8002", "bench.test:8002", True),
        ("http://BENCH.test", "bench.test:80", True),
        ("https://bench.test", "bench.test:443", True),
        ("http://[::1]:8002", "[::1]:8002", True),
        ("http://bench.test:8003", "bench.test:8002", False),
        ("http://bench.test.other.example:8002", "bench.test:8002", False),
        ("file://bench.test", "bench.test", False),
        ("null", "null", False),
        ("", "", False),
        ("http://[", "[", False),
        ("http://bench.test:x", "bench.test:x", False),
    ],
)
def test_a_page_is_of_this_address_by_its_name_and_its_port(origin: str, host: str, same: bool) -> None:
    assert same_place(origin, host) is same
