"""A weekend given to another laptop: looked at, fetched once with its code, and gone."""

from __future__ import annotations

import asyncio
import io
import re
import zipfile
from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
from browser_team import make_team
from entered import EnteredSite, entered_site
from web.entry.conftest import words

from bevelbook.declare.errors import InputError
from bevelbook.interchange.part_words import PartHolds
from bevelbook.plugin.registry import Registry
from bevelbook.web.entry.given_weekends import CODE_LASTS_S, GivenWeekends, given_weekends
from bevelbook.web.entry.other_laptop import WEEKEND_ADDRESS
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.pairing.wrong_codes import WRONG_IN_ALL, WRONG_OF_ONE, WrongCodes

GIVE = "/team/-/enter/give"
LONG_AGO = "2020-01-01"
HOLDS = PartHolds(LONG_AGO, (("run", 1),), 0, 0, 0, ("ana",), 0, 0, False)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[EnteredSite]:
    """A laptop that other devices reach; nothing that these tests do is stored in its book."""
    folder = tmp_path_factory.mktemp("give")
    with entered_site(make_team(folder / "team.db", "a note"), registry, folder / "settings") as made:
        entry = made.entry._replace(addresses=lambda: ("192.168.1.7:8002",))
        state_of(made.datasette).entry = entry
        yield made


@pytest.fixture(autouse=True)
def no_wrong_codes_before(site: EnteredSite, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tests of one laptop try wrong codes, and all of them together would have to wait."""
    monkeypatch.setattr(given_weekends(site.datasette), "_wrong", WrongCodes())


def looked_at(site: EnteredSite, since: str = LONG_AGO, with_files: str = "no") -> tuple[str, str]:
    """The page that says what would go, and its address."""
    answer = site.post(GIVE, {"since": since, "with_files": with_files})
    assert answer.status_code == 303, answer.text
    return answer.headers["location"], words(site.page(answer.headers["location"]))


def code_of(site: EnteredSite, address: str) -> str:
    page = site.send(address, {"show": "yes"})
    found = re.search(r"\b(\d{4}) (\d{4})\b", words(page))
    assert found is not None, words(page)
    return "".join(found.groups())


def fetch(site: EnteredSite, code: str, **more: Any) -> Any:
    """What another laptop gets: it has no cookie, and knows no name of the book."""
    form = {"code": code, "by": more.pop("by", "bo")}
    return site.post(WEEKEND_ADDRESS, form, **{"cookies": {}, "headers": {"accept": "application/zip"}, **more})


def test_what_would_go_is_said_then_fetched_once_with_the_code_and_gone(site: EnteredSite) -> None:
    assert "Give my weekend" in words(site.page("/team/-/enter/bench"))
    address, said = looked_at(site)
    assert "5 builds, 8 runs" in said
    assert "The names in it: ana" in said
    assert "plain http" in said
    code = code_of(site, address)
    waiting = words(site.page(address))
    assert "192.168.1.7:8002" in waiting
    assert "within 10 minutes" in waiting
    held = given_weekends(site.datasette).find(site.phone.id if site.phone else "", address.rpartition("/")[2])
    assert held is not None
    assert not isinstance(held.file.name, str), "without a name on disk it is gone however the laptop stops"
    answer = fetch(site, f"{code[:4]} {code[4:]}")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/zip")
    assert int(answer.headers["content-length"]) == len(answer.content)
    assert answer.headers["cache-control"] == "no-store"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        assert "runs.csv" in archive.namelist()
    assert held.file.closed
    assert fetch(site, code).status_code == 403, "once alone"
    after = words(site.page(address))
    assert "bo fetched it at" in after
    assert code not in after.replace(" ", "")


def test_the_address_answers_to_its_code_alone(site: EnteredSite) -> None:
    address, _ = looked_at(site)
    assert fetch(site, "").status_code == 403, "before the code is shown there is none"
    code = code_of(site, address)
    other = f"{(int(code) + 1) % 10**8:08d}"
    assert fetch(site, other).status_code == 403
    assert site.get(WEEKEND_ADDRESS).status_code == 404
    assert fetch(site, code, headers={"host": "elsewhere.example"}).status_code == 421
    assert fetch(site, code, headers={"origin": "http://elsewhere.example"}).status_code == 403
    pairing = state_of(site.datasette).entry
    assert pairing is not None
    assert fetch(site, pairing.codes.code).status_code == 403, "the code that pairs a phone is another"
    assert site.paired_with(None).get(address).status_code == 403
    assert fetch(site, code, by="<b>\u202e</b>" + "x" * 100).status_code == 200
    assert "somebody fetched it" in words(site.page(address))


def test_a_laptop_that_no_other_reaches_says_so_and_shows_no_code(site: EnteredSite) -> None:
    alone = state_of(site.datasette).entry
    assert alone is not None
    state_of(site.datasette).entry = alone._replace(addresses=lambda: ())
    _, said = looked_at(site)
    state_of(site.datasette).port = 9150
    _, at_other_port = looked_at(site)
    state_of(site.datasette).entry, state_of(site.datasette).port = alone, None
    opens = "bevelbook --db team.db enter --host 0.0.0.0 --allow-network"
    assert opens in said
    assert f"{opens} --port" not in said
    assert f"{opens} --port 9150" in at_other_port, "the phones know the book at its own port"
    assert "Show the code" not in said


def test_in_a_network_where_nobody_gathers_another_way_is_said(
    site: EnteredSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    """192.0.2.2 is an address for documentation (RFC 5737), and of no private network (RFC 1918)."""
    entry = state_of(site.datasette).entry
    assert entry is not None
    elsewhere = entry._replace(addresses=lambda: ("192.0.2.2:8812", "laptop.local:8812"))
    monkeypatch.setattr(state_of(site.datasette), "entry", elsewhere)
    address, said = looked_at(site)
    assert "its address here, 192.0.2.2:8812 or laptop.local:8812, is not of a private network" in said
    assert f"bevelbook --db team.db export --since {LONG_AGO} weekend.zip" in said
    assert "takes it in with bevelbook merge weekend.zip ." in said
    assert "Show the code" not in said
    both = entry._replace(addresses=lambda: ("192.0.2.2:8812", "10.0.0.7:8812"))
    monkeypatch.setattr(state_of(site.datasette), "entry", both)
    code_of(site, address)
    assert "10.0.0.7:8812" in words(site.page(address))
    assert "192.0.2.2" not in words(site.page(address)), "only those from which it can be fetched"


def test_what_reads_two_ways_is_asked_about_and_nothing_since_is_said(site: EnteredSite) -> None:
    answer = site.post(GIVE, {"since": "3/4/26", "with_files": "no"})
    assert answer.status_code == 400
    assert "2026-04-03 (day first) or 2026-03-04 (month first)" in unescape(words(answer.text))
    assert 'value="3/4/26"' in answer.text


def test_what_was_stopped_or_belongs_to_another_phone_is_not_there(site: EnteredSite) -> None:
    address, _ = looked_at(site)
    code = code_of(site, address)
    other = site.paired_with(site.entry.phones.add("red phone", "bo").phone)
    assert "What was looked at is gone" in words(other.page(address))
    assert "cannot be fetched any more" in words(site.send(address, {"stop": "yes"}))
    assert fetch(site, code).status_code == 403


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def given(weekends: GivenWeekends, phone: str = "one") -> Any:
    def write(file: Any) -> PartHolds:
        file.write(b"all of it")
        return HOLDS

    return asyncio.run(weekends.make(phone, write))


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def weekends(clock: Clock) -> Iterator[GivenWeekends]:
    made = GivenWeekends(clock)
    yield made
    made.close()


def test_a_code_stands_for_some_minutes(weekends: GivenWeekends, clock: Clock) -> None:
    one = given(weekends)
    clock.now += CODE_LASTS_S - 1
    weekends.show_code(one)
    code = one.code
    clock.now += CODE_LASTS_S
    with pytest.raises(InputError, match="no weekend waits here"):
        weekends.fetch(code, "bo", "10.0.0.2")
    assert (one.state, one.code, one.file.closed) == ("over", "", True)


def test_one_waits_of_a_phone_and_few_of_all(weekends: GivenWeekends) -> None:
    first, second = given(weekends), given(weekends)
    assert (first.state, second.state) == ("over", "looked at")
    others = [given(weekends, f"phone {number}") for number in range(4)]
    assert second.file.closed
    assert [one.state for one in others] == ["looked at"] * 4


@pytest.mark.parametrize(("devices", "most"), [(1, WRONG_OF_ONE), (WRONG_IN_ALL, WRONG_IN_ALL)])
def test_guessing_is_slow_and_ends_the_code(weekends: GivenWeekends, clock: Clock, devices: int, most: int) -> None:
    one = given(weekends)
    weekends.show_code(one)
    code = one.code
    wrong = f"{(int(code) + 1) % 10**8:08d}"
    for number in range(most):
        with pytest.raises(InputError, match="no weekend waits"):
            weekends.fetch(wrong, "bo", f"10.0.0.{number % devices}")
        clock.now += 7.0 if devices > 1 else 0.0
    if devices == 1:
        with pytest.raises(InputError, match="5 wrong codes came from this device"):
            weekends.fetch(code, "bo", "10.0.0.0")
        assert weekends.fetch(code, "bo", "10.0.0.9") is one, "another device does not wait"
    else:
        with pytest.raises(InputError, match="no weekend waits"):
            weekends.fetch(code, "bo", "10.0.0.99")
        assert one.state == "over"
