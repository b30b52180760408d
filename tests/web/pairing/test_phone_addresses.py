"""Whether phones would find the book where it is about to listen. Addresses are of the blocks for documentation (RFC
5737) and of the loopback (RFC 1122, 3.2.1.3)."""

from __future__ import annotations

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.web.pairing.host_names import HostNames
from bevelbook.web.pairing.pairings_file import Phone
from bevelbook.web.pairing.phone_addresses import ListeningAt, not_found, refuse_other_address

NETWORK = ListeningAt("0.0.0.0", 8002, HostNames(frozenset({"bench.test", "laptop.local"})), ["192.0.2.7"], True)
ALONE = ListeningAt("127.0.0.1", 8002, HostNames(), ["192.0.2.7"], False)


def phone(address: str | None, name: str = "blue phone") -> Phone:
    return Phone("1", name, "ana", "2026-05-03T10:00:00+00:00", "2026-05-03T10:00:00+00:00", address)


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
    assert there.answers(address) is is_answered


def test_phones_without_an_address_or_left_at_their_old_one_are_no_reason_to_refuse() -> None:
    assert not_found([phone(None), phone("http://198.51.100.4:8002")._replace(is_left=True)], NETWORK) == []


def test_a_refusal_names_the_phones_what_may_be_lost_and_each_way_on() -> None:
    phones = [phone("http://192.0.2.7:8002"), phone("http://laptop.local:8002", "grey phone")]
    with pytest.raises(InputError) as refused:
        refuse_other_address(phones, ALONE, "team.db")
    said = str(refused.value)
    assert refused.value.code == "other_address"
    assert (
        "2 paired phones would not find team.db there: blue phone (ana) at http://192.0.2.7:8002, "
        "grey phone (ana) at http://laptop.local:8002" in said
    )
    assert "can be handed over at the old address alone" in said
    assert "As before: 'bevelbook enter --host 0.0.0.0 --allow-network --port 8002'" in said
    assert "'bevelbook enter --new-address'" in said
    assert "'bevelbook enter --end PHONE'" in said


def test_a_laptop_in_another_network_says_that_it_has_another_address_now() -> None:
    """What a racer reads in the pits when the hotspot gave another address."""
    with pytest.raises(InputError) as refused:
        refuse_other_address([phone("http://198.51.100.4:8002")], NETWORK, "team.db")
    said = str(refused.value)
    assert "This computer does not have the address 198.51.100.4 now: it has 192.0.2.7." in said
    assert "nothing on it is lost" in said
    with pytest.raises(InputError) as by_name:
        refuse_other_address([phone("http://other.local:8002")], NETWORK, "team.db")
    assert "--allow-network --port 8002 --name other.local'" in str(by_name.value)
