"""Who may write and from where: addresses of entry do not exist where nothing can be written, and need a phone else."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from browser_team import Site, content_of, make_team, site_over
from entered import EnteredSite, entered_site

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.entry_gate import MOST_BYTES, NOT_PAIRED, NOT_STORED, STALE_FORM
from bevelbook.web.host.private_datasette import CSRF_REFUSALS

NOWHERE = "/team/-/enter/no-such-page"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[EnteredSite]:
    folder = tmp_path_factory.mktemp("gate")
    with entered_site(make_team(folder / "team.db"), registry, folder / "settings") as made:
        yield made


@pytest.mark.parametrize("path", ["/team/-/enter/pair", NOWHERE])
def test_where_nothing_can_be_written_there_is_no_address_of_entry(
    tmp_path: Path, registry: Registry, site: EnteredSite, path: str
) -> None:
    with site_over(make_team(tmp_path / "team.db").path, registry) as served:
        for one in (served, Other(served.datasette)):
            assert one.get(path).status_code == 404
        answer = EnteredSite(served.datasette, site.team, site.entry, site.phone).post(path, {"mass": "14,26"})
        assert answer.status_code == 404
        assert answer.headers["cache-control"] == "no-store"


class Other(Site):
    """As another device asks: with a cookie of another program of this machine."""

    def get(self, path: str, **more: object) -> object:
        return super().get(path, cookies={"other": "1"}, **more)


@pytest.mark.parametrize("path", [NOWHERE, "/team/-/enter"])
def test_a_form_of_a_device_that_is_not_paired_is_refused_at_every_address(site: EnteredSite, path: str) -> None:
    before = content_of(site.team.path)
    other = site.paired_with(None)
    for cookies in ({}, other.cookies, {**other.cookies, site.entry.phones.cookie: "forged"}):
        answer = other.post(path, {"mass": "14,26"}, cookies=cookies)
        assert answer.status_code == 403
        assert NOT_STORED in answer.text
    assert content_of(site.team.path) == before


def test_a_page_of_entry_shows_another_device_the_way_to_pair(site: EnteredSite) -> None:
    answer = site.paired_with(None).get("/team/-/enter/idea")
    assert answer.status_code == 403
    assert NOT_PAIRED in answer.text
    assert 'href="/team/-/enter/pair"' in answer.text


OTHERS = {
    "/": "PUT",
    "/team": "POST",
    "/team/builds": "DELETE",
    "/team/-/home": "POST",
    "/-/logout": "POST",
    "/-/messages": "POST",
    "/team/-/query": "POST",
    "/team/-/enter/pair": "PUT",
}


@pytest.mark.parametrize("path", OTHERS)
def test_no_other_address_and_no_other_method_sends_anything(site: EnteredSite, path: str) -> None:
    async def ask() -> int:
        await site.datasette.invoke_startup()
        given = {"csrftoken": site.token}
        answer = await site.datasette.client.request(OTHERS[path], path, cookies=site.cookies, data=given)
        return int(answer.status_code)

    assert asyncio.run(ask()) == 405


def test_a_form_needs_its_token(site: EnteredSite) -> None:
    """Datasette 1.0 has no token any more, and goes by what the browser says of where a form comes from."""
    for form in ({"csrftoken": ""}, {"csrftoken": "x"}, {"csrftoken": site.datasette.sign("other", "csrftoken")}):
        answer = site.post(NOWHERE, form)
        assert (answer.status_code, STALE_FORM in answer.text) == ((403, True) if CSRF_REFUSALS else (404, False))
    answer = site.post(NOWHERE, {"csrftoken": ""}, headers={"Authorization": "Bearer x"})
    assert answer.status_code == (403 if CSRF_REFUSALS else 404)
    assert site.post(NOWHERE, {}).status_code == 404
    for said, status in {"cross-site": 403, "same-site": 403, "same-origin": 404, "none": 404}.items():
        assert site.post(NOWHERE, {}, headers={"Sec-Fetch-Site": said}).status_code == status


def test_a_token_that_is_no_token_is_refused_as_any_other(site: EnteredSite) -> None:
    """Datasette 0.65 compares ASCII alone."""
    for form, headers in (({"csrftoken": "\u2603"}, {}), ({}, {"X-CSRFToken": b"\xe9"})):
        status = 403 if CSRF_REFUSALS and form else 404
        assert site.post(NOWHERE, form, headers=headers).status_code == status


def test_a_form_to_log_out_is_read_like_any_other(site: EnteredSite, tmp_path: Path, registry: Registry) -> None:
    """It is Datasette's, and there where nobody writes."""
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    with site_over(make_team(tmp_path / "team.db", "short").path, registry) as served:
        other = EnteredSite(served.datasette, site.team, site.entry, None)
        assert other.post("/-/logout", data=None, content=b"a=\xff", headers=kind).status_code == 400
        assert other.post("/-/logout", data=None, files={"file": b"x"}).status_code == 415
        assert other.post("/-/logout", data=None, content=b"{}", headers={"Content-Type": "x"}).status_code == 415


def test_a_form_of_a_page_elsewhere_is_refused(site: EnteredSite) -> None:
    for origin, status in {"http://localhost:80": 404, "http://localhost:8080": 403, "null": 403}.items():
        assert site.post(NOWHERE, {}, headers={"Origin": origin}).status_code == status


def test_only_its_own_names_are_answered(site: EnteredSite) -> None:
    for host, status in {"bench.test:8002": 200, "other.example": 421, "192.0.2.7:8002": 421}.items():
        assert site.get("/team/-/calculators", headers={"Host": host}).status_code == status


def test_a_form_that_is_too_long_or_of_another_kind_is_refused_in_words(site: EnteredSite) -> None:
    long = site.post(NOWHERE, {"note": "x" * MOST_BYTES})
    assert (long.status_code, "a million" in long.text) == (413, True)
    assert site.post(NOWHERE, data=None, json={"mass": 1}).status_code == 415
    assert site.post(NOWHERE, data=None, files={"file": b"x"}).status_code == 415
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    assert site.post(NOWHERE, data=None, content=b"note=\xff", headers=kind).status_code == 400


def test_a_cookie_that_is_not_text_counts_as_none(site: EnteredSite) -> None:
    for path in ("/team/-/calculators", "/team/-/enter/pair"):
        assert site.get(path, cookies={}, headers={"Cookie": b"a=\xff"}).status_code == 200
    assert site.post(NOWHERE, {}, cookies={}, headers={"Cookie": b"a=\xff"}).status_code == 403


def test_a_page_of_entry_is_in_no_frame_of_another_page(site: EnteredSite) -> None:
    answer = site.get("/team/-/enter/pair")
    assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]


def test_an_answer_of_entry_is_kept_by_no_browser(site: EnteredSite) -> None:
    assert site.get(NOWHERE).headers["cache-control"] == "no-store"


def test_an_ended_pairing_is_refused_at_once(site: EnteredSite) -> None:
    phone = site.entry.phones.add("old phone", "ana").phone
    old = site.paired_with(phone)
    assert old.post(NOWHERE).status_code == 404
    site.entry.phones.end(phone)
    assert old.post(NOWHERE).status_code == 403


def test_a_file_of_phones_that_cannot_be_read_stops_writing_and_not_reading(site: EnteredSite) -> None:
    path = site.entry.phones.path
    held = path.read_bytes()
    try:
        path.write_bytes(b"not a database at all, but as long as the head of one needs to be. " * 40)
        assert site.get("/team/-/home").status_code == 200
        answer = site.post(NOWHERE)
        assert answer.status_code == 500
        assert "the file with the paired phones cannot be used" in unescape(answer.text)
        assert str(path.parent) not in answer.text
        form = {"key": "x", "was.note": "y", "rear_temp_c": "55", "note": "typed <b>words</b>"}
        typed = site.post(NOWHERE, form)
        assert typed.status_code == 500
        assert "What you typed, to copy: rear temp c: 55; note: typed <b>words</b>" in unescape(typed.text)
        assert "<b>words" not in typed.text
    finally:
        path.write_bytes(held)
    assert site.post(NOWHERE).status_code == 404


def test_datasette_itself_stays_closed_to_writing(site: EnteredSite) -> None:
    from bevelbook.declare.errors import DatabaseError

    asyncio.run(site.datasette.invoke_startup())  # a server has it behind it before it listens
    with pytest.raises(DatabaseError, match="read-only"):
        asyncio.run(site.datasette.databases["team"].execute_write("DELETE FROM builds"))


def test_what_is_said_of_the_database_says_who_writes(site: EnteredSite) -> None:
    text = site.get("/-/metadata.json").text
    assert "Written by paired phones alone." in text
    assert "Read-only." not in text


def test_a_page_waits_a_second_at_most_for_the_file_of_phones(
    site: EnteredSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    waits: list[float] = []
    connect = sqlite3.connect

    def noting(*given: Any, **more: Any) -> sqlite3.Connection:
        waits.extend([more["timeout"]] if "phones.db" in str(given[0]) else [])
        return connect(*given, **more)

    with closing(sqlite3.connect(site.entry.phones.path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        monkeypatch.setattr("bevelbook.web.pairing.pairings_file.sqlite3.connect", noting)
        assert site.get("/team/-/home").status_code == 200
    assert waits and max(waits) <= 1.0
