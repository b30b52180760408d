"""Whether phones would find the book where it is about to listen. Addresses are of the blocks for documentation (RFC
5737) and of the loopback (RFC 1122, 3.2.1.3)."""

from __future__ import annotations

import re

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.web.pairing.host_names import HostNames
from bevelbook.web.pairing.pairings_file import KnownAddress, Phone
from bevelbook.web.pairing.phone_addresses import (
    ListeningAt,
    left_behind,
    not_found,
    refuse_other_address,
    seen_in_words,
)

NETWORK = ListeningAt("0.0.0.0", 8002, HostNames(frozenset({"bench.test", "laptop.local"})), ["192.0.2.7"], True)
ALONE = ListeningAt("127.0.0.1", 8002, HostNames(), ["192.0.2.7"], False)


AT = "2026-05-03T10:00:00+00:00"


def phone(*addresses: str, name: str = "blue phone") -> Phone:
    return Phone("1", name, "ana", AT, AT, tuple(KnownAddress(one, AT) for one in addresses))


def left(phone: Phone) -> Phone:
    return phone._replace(addresses=tuple(one._replace(is_left=True) for one in phone.addresses))


@pytest.mark.parametrize(
    ("there", "address", "is_answered"),
    [
        (NETWORK, "http://192.0.2.7:8002", True),
        (NETWORK, "http://192.0.2.7:8123", False),
        (NETWORK, "http://198.51.100.4:8002", False),
        (NETWORK, "http://laptop.local:8002", True),
        (NETWORK, "http://LAPTOP.local:8002", True),
        (NETWORK, "http://other.local:8002", False),
        (NETWORK, "http://127.0.0.1:8002", True),
        (NETWORK, "http://localhost:8002", True),
        (NETWORK._replace(port=80), "http://bench.test", True),
        (NETWORK._replace(host="192.0.2.7"), "http://192.0.2.7:8002", True),
        (NETWORK._replace(host="192.0.2.7"), "http://127.0.0.1:8002", False),
        (NETWORK._replace(port=0), "http://192.0.2.7:8002", False),
        (ALONE, "http://127.0.0.1:8002", True),
        (ALONE, "http://[::1]:8002", True),
        (ALONE, "http://192.0.2.7:8002", False),
        (ALONE, "http://laptop.local:8002", False),
    ],
)
def test_an_address_is_answered_by_its_name_and_its_port(there: ListeningAt, address: str, is_answered: bool) -> None:
    assert there.answers(KnownAddress(address, AT)) is is_answered


def test_phones_without_an_address_or_left_at_their_old_one_are_no_reason_to_refuse() -> None:
    phones = [phone(), left(phone("http://198.51.100.4:8002"))]
    assert not_found(phones, NETWORK) == []
    assert left_behind(phones, NETWORK) == []


def test_a_name_leads_a_browser_of_this_computer_to_a_book_that_is_for_it_alone() -> None:
    known = KnownAddress("http://bench.test:8002", AT, is_here=True)
    named = ALONE._replace(names=HostNames(frozenset({"bench.test"})))
    assert named.answers(known)
    assert not named.answers(known._replace(is_here=False)), "a phone in the network does not find it"
    assert not ALONE.answers(known)
    _, ways = refusal([phone()._replace(addresses=(known,))], ALONE)
    assert ways["As before, at http://bench.test:8002"] == "bevelbook enter --port 8002 --name bench.test"


def test_of_many_phones_three_are_named() -> None:
    phones = [phone(f"http://198.51.100.{number}:8002", name=f"phone {number}") for number in range(1, 15)]
    said, ways = refusal(phones, NETWORK)
    assert "14 paired phones would not find team.db there: phone 1 (ana) at" in said
    assert "11 other phones: 'bevelbook enter --phones'." in said
    assert "phone 4" not in said
    assert len([words for words in ways if words.startswith("As before")]) == 3


def test_any_address_at_which_a_phone_was_seen_in_the_last_weeks_is_no_new_one() -> None:
    """It was looked at once at another port: what was noted before waits where it was, and the book may go back."""
    both = phone("http://bench.test:8732", "http://bench.test:8731")
    for port, other in ((8731, 8732), (8732, 8731)):
        there = NETWORK._replace(port=port)
        refuse_other_address([both], there, "team.db", "bevelbook enter --new-address")
        assert [(one.known.address, one.is_known_here) for one in left_behind([both], there)] == [
            (f"http://bench.test:{other}", True)
        ]
    assert not_found([both], NETWORK) == [both]
    newest, before = both.addresses
    assert not_found([both._replace(addresses=(newest, before._replace(is_left=True)))], NETWORK), "one is not left"


def refusal(phones: list[Phone], there: ListeningAt) -> tuple[str, dict[str, str]]:
    """What is said, and each command to copy by what it is for."""
    with pytest.raises(InputError) as refused:
        refuse_other_address(phones, there, "team.db", "bevelbook enter --port 9 --new-address")
    assert refused.value.code == "other_address"
    return str(refused.value), dict(refused.value.commands)


def test_a_refusal_names_each_address_with_its_day_and_each_way_on() -> None:
    phones = [
        phone("http://192.0.2.7:8002", "http://bench.test:8731"),
        phone("http://laptop.local:8002", "http://127.0.0.1:8004", name="grey phone"),
    ]
    said, ways = refusal(phones, ALONE)
    at = seen_in_words(AT)
    assert re.fullmatch(r"[2-4] May 2026 \d\d:\d\d", at)
    assert (
        f"2 paired phones would not find team.db there: blue phone (ana) at http://192.0.2.7:8002, last on {at}, "
        f"before at http://bench.test:8731, last on {at}; grey phone (ana) at http://laptop.local:8002, last on {at}"
        in said
    )
    assert "can be handed over only where they were noted" in said
    network = "bevelbook enter --host 0.0.0.0 --allow-network"
    assert ways == {
        "As before, at http://192.0.2.7:8002": f"{network} --port 8002",
        "As before, at http://bench.test:8731": f"{network} --port 8731 --name bench.test",
        "As before, at http://laptop.local:8002": f"{network} --port 8002 --name laptop.local",
        "As before, at http://127.0.0.1:8004": "bevelbook enter --port 8004",
        "Here all the same; what waits on them waits until the book is at the old address again": (
            "bevelbook enter --port 9 --new-address"
        ),
        "Without a phone that is gone for good, and what waits on it": "bevelbook enter --end PHONE",
        "By a name, so that the address stays the same in another network from now on": (
            f"{network} --port 8002 --name laptop.local --new-address"
        ),
    }


def test_a_laptop_in_another_network_says_that_it_has_another_address_now() -> None:
    """What a racer reads in the pits when the hotspot gave another address."""
    said, _ = refusal([phone("http://198.51.100.4:8002")], NETWORK)
    assert "This computer does not have the address 198.51.100.4 now: it has 192.0.2.7." in said
    assert "Nothing on it is lost" in said
    by_name, ways = refusal([phone("http://other.local:8002")], NETWORK)
    assert "does not have the address" not in by_name
    assert "--allow-network --port 8002 --name other.local" in ways["As before, at http://other.local:8002"]
