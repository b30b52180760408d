"""Pairing a phone, known again by its own code, given to another person, ended."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from browser_team import close
from entered import EnteredSite

from bevelbook.declare.errors import InputError
from bevelbook.plugin.registry import Registry
from bevelbook.web.host.serve import datasette_for
from bevelbook.web.pairing.codes import PairingCodes
from bevelbook.web.pairing.pairings_file import PairingsFile
from bevelbook.web.pairing.who_may_write import WhoMayWrite
from bevelbook.web.pairing.wrong_codes import WRONG_A_MINUTE, WRONG_IN_ALL, WRONG_OF_ONE

PAIR = "/team/-/enter/pair"
PHONE = "/team/-/enter/phone"
IDEA = "/team/-/enter/idea"


@pytest.fixture
def stranger(paired_site: EnteredSite) -> EnteredSite:
    """A device that is not paired yet, at the same site."""
    return paired_site.paired_with(None)


def own_code(page: str) -> str:
    """The code that the page after pairing has for its script."""
    found = re.search(r'data-code="([^"]+)"', page)
    assert found is not None
    return found[1]


def test_a_code_pairs_one_phone_which_then_writes_as_the_person_chosen(stranger: EnteredSite) -> None:
    codes = stranger.entry.codes
    said: list[str] = []
    codes.announce = said.append
    first = codes.shown
    assert "Who holds it" in stranger.page(PAIR)
    answer = stranger.post(PAIR, {"code": first, "person": "ana", "phone": "blue phone"})
    assert answer.status_code == 200
    cookie = next(value for value in answer.headers.get_list("set-cookie") if "bevelbook_phone" in value)
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    assert "Path=/;" in cookie
    assert "Secure" not in cookie
    assert answer.headers["cache-control"] == "no-store"
    assert said == ["Paired: blue phone, held by ana."]
    assert codes.shown != first
    stranger.send(IDEA, {"text": "a longer wheelbase"})
    assert stranger.rows("SELECT updated_by FROM ideas WHERE text = 'a longer wheelbase'") == [("ana",)]
    assert stranger.rows("SELECT made_by FROM entries ORDER BY rowid DESC LIMIT 1") == [("ana",)]
    other = stranger.paired_with(None)
    assert other.post(PAIR, {"code": first, "person": "ana"}).status_code == 403
    assert other.post(IDEA, {"text": "x"}).status_code == 403


def test_a_page_that_is_only_opened_uses_no_code_up(stranger: EnteredSite) -> None:
    code = stranger.entry.codes.code
    for address, status in ((PAIR, 200), (f"{PAIR}?code={code}&person=ana", 400), (f"{PAIR}?own_code=x", 400)):
        assert stranger.get(address).status_code == status
    assert stranger.entry.codes.code == code
    assert len(stranger.entry.phones.all()) == 1


def test_a_wrong_code_keeps_what_was_typed_and_is_said_beside_its_field(stranger: EnteredSite) -> None:
    answer = stranger.post(PAIR, {"code": "1234", "person": "ana", "phone": "<b>blue</b>"})
    assert answer.status_code == 403
    assert "This is not the code" in answer.text
    assert 'value="1234"' in answer.text
    assert 'value="ana" checked' in answer.text
    assert "&lt;b&gt;blue&lt;/b&gt;" in answer.text
    assert len(stranger.entry.phones.all()) == 1


def test_without_a_usable_name_the_code_is_not_used_up(stranger: EnteredSite) -> None:
    code = stranger.entry.codes.shown
    for form in (
        {},
        {"person": "nobody"},
        {"new_person": "x" * 61},
        {"new_person": "a\u202eb"},
        {"person": "ana", "phone": "a\0"},
    ):
        assert stranger.post(PAIR, {"code": code, **form}).status_code == 400
    assert stranger.entry.codes.shown == code


def test_a_new_name_is_recorded_as_a_person_and_a_known_one_is_found_whatever_its_capitals(
    stranger: EnteredSite,
) -> None:
    assert stranger.post(PAIR, {"code": stranger.entry.codes.shown, "new_person": "  bo  li "}).status_code == 200
    assert stranger.rows("SELECT name, updated_by FROM people WHERE name LIKE 'bo%'") == [("bo li", "bo li")]
    other = stranger.paired_with(None)
    assert other.post(PAIR, {"code": other.entry.codes.shown, "new_person": "ANA"}).status_code == 200
    assert [phone.person for phone in other.entry.phones.all()] == ["ana", "bo li", "ana"]
    assert [phone.name for phone in other.entry.phones.all()][1:] == ["phone 1", "phone 2"]
    assert other.rows("SELECT count(*) FROM people") == [(2,)]


def test_five_wrong_codes_in_a_minute_make_their_device_wait(stranger: EnteredSite) -> None:
    now = [100.0]
    codes = PairingCodes(clock=lambda: now[0])
    site = stranger.served_with(stranger.entry._replace(codes=codes))
    for _ in range(WRONG_OF_ONE - 1):
        assert site.post(PAIR, {"code": "1", "person": "ana"}).status_code == 403
    assert site.post(PAIR, {"own_code": "of nobody"}).status_code == 403
    for form in ({"code": codes.shown, "person": "ana"}, {"own_code": "x"}):
        answer = site.post(PAIR, form)
        assert answer.status_code == 429
        assert "from this device within a minute" in unescape(answer.text)
        assert "Try again in 60 seconds" in unescape(answer.text)
    codes.check(codes.shown, "192.0.2.7")
    now[0] += 60
    assert site.post(PAIR, {"code": codes.shown, "person": "ana"}).status_code == 200


def test_a_phone_that_is_known_waits_for_no_other_device(stranger: EnteredSite) -> None:
    page = stranger.post(PAIR, {"code": stranger.entry.codes.shown, "person": "ana"}).text
    codes = stranger.entry.codes
    for number in range(WRONG_A_MINUTE):
        codes.count_wrong(f"192.0.2.{number}")
    there = stranger.paired_with(None)
    assert there.post(PAIR, {"own_code": "of nobody"}).status_code == 429
    assert there.post(PAIR, {"own_code": own_code(page)}).status_code == 303


def test_ten_wrong_codes_from_many_devices_make_every_code_wait() -> None:
    now = [0.0]
    codes = PairingCodes(clock=lambda: now[0])
    for number in range(WRONG_A_MINUTE):
        codes.check(codes.shown, "192.0.2.200")
        codes.count_wrong(f"192.0.2.{number}")
        now[0] += 1
    with pytest.raises(InputError, match="10 wrong codes came within a minute, so every code waits"):
        codes.check(codes.shown, "192.0.2.200")
    now[0] = 60.0
    codes.check(codes.shown, "192.0.2.200")


def test_after_twenty_wrong_codes_there_is_another() -> None:
    now = [0.0]
    said: list[str] = []
    codes = PairingCodes(said.append, clock=lambda: now[0])
    first = codes.code
    for number in range(WRONG_IN_ALL):
        now[0] += 61
        codes.count_wrong(f"192.0.2.{number}")
    assert codes.code != first
    assert said == ["20 wrong codes were tried, so the code is another now."]


def test_a_phone_is_known_again_by_its_own_code_under_a_new_address(stranger: EnteredSite) -> None:
    page = stranger.post(PAIR, {"code": stranger.entry.codes.shown, "person": "ana", "phone": "blue phone"}).text
    there = stranger.paired_with(None)
    answer = there.post(PAIR, {"own_code": own_code(page)}, headers={"Host": "bench.test:9000"})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"
    assert there.post(IDEA, {"text": "from there"}).status_code == 303
    assert len(there.entry.phones.all()) == 2
    held = there.entry.phones.path.read_bytes()
    assert own_code(page).encode() not in held


def test_an_ended_phone_is_not_known_again(stranger: EnteredSite) -> None:
    page = stranger.post(PAIR, {"code": stranger.entry.codes.shown, "person": "ana"}).text
    ended = stranger.post(PHONE, {"end": "yes"})
    assert "cannot write any more" in ended.text
    assert stranger.post(IDEA, {"text": "x"}).status_code == 403
    there = stranger.paired_with(None)
    answer = there.post(PAIR, {"own_code": own_code(page)})
    assert answer.status_code == 403
    assert "data-forget" in answer.text
    assert "data-first-look" not in answer.text


def test_a_phone_changes_hands_in_one_tap(paired_site: EnteredSite) -> None:
    other = paired_site.paired_with(None)
    other.post(PAIR, {"code": other.entry.codes.shown, "new_person": "bo"})
    assert 'name="person" value="bo"' in paired_site.page(PHONE)
    assert "writes as bo" in paired_site.send(PHONE, {"person": "bo"})
    paired_site.send(IDEA, {"text": "of bo"})
    assert paired_site.rows("SELECT updated_by FROM ideas WHERE text = 'of bo'") == [("bo",)]
    assert paired_site.post(PHONE, {"person": "nobody"}).status_code == 400
    assert "writes as bo" in paired_site.page(PHONE)


def test_a_restart_ends_no_pairing(paired_site: EnteredSite, registry: Registry) -> None:
    phones = PairingsFile(paired_site.entry.phones.path.parent, paired_site.entry.phones.book)
    entry = WhoMayWrite(phones, PairingCodes())
    datasette = datasette_for(paired_site.team.path, registry, entry=entry)
    try:
        again = EnteredSite(datasette, paired_site.team, entry, None)
        again.cookies = dict(paired_site.cookies)
        assert again.post(IDEA, {"text": "after a restart"}).status_code == 303
    finally:
        close(datasette)


def test_a_phone_notes_when_it_was_last_seen(paired_site: EnteredSite) -> None:
    phones = paired_site.entry.phones
    phone = phones.add("old phone", "ana", now=datetime.now(UTC) - timedelta(days=3)).phone
    paired_site.paired_with(phone).get("/team/-/calculators")
    found = phones.find(phone.id)
    assert found is not None
    assert found.seen_at > phone.seen_at == found.paired_at
