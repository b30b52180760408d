"""An address that cannot be read, or a method that nothing answers: the request is at fault, not the server."""

from __future__ import annotations

import asyncio
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import pytest
from browser_team import Site, make_team, site_over
from datasette.app import Datasette
from entered import entered_site

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.errors import TOO_LONG
from bevelbook.web.host.odd_requests import METHOD
from bevelbook.web.host.private_datasette import QueryInterrupted


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Site]:
    with site_over(make_team(tmp_path_factory.mktemp("odd") / "team.db").path, registry) as made:
        yield made


@pytest.mark.parametrize(
    ("asked", "named"),
    [
        ("builds?_sort=nope", "_sort=nope"),
        ("builds.json?_sort=nope", "_sort=nope"),
        ("builds.csv?_sort_desc=nope", "_sort_desc=nope"),
        ("shelf?_sort=nope", "_sort=nope"),
        ("builds?_sort=id&_sort_desc=label", "_sort=id and _sort_desc=label"),
        ("shelf?_next=x", "_next=x"),
        ("what_worked.json?_next=x", "_next=x"),
        ("builds?_through=x", "_through=x"),
        ("builds?_through={}", "_through={}"),
        ("builds?_through=1", "_through=1"),
        ("builds?_timelimit=x", "_timelimit=x"),
        ("builds.json?label__in=[x", "label__in=[x"),
        ("builds.csv?label__in=" + "a," * 1_000, "at most 1,000 values"),
        ("builds?_next=nix", "_next=nix"),
        ("builds?_ttl=soon", "_ttl=soon"),
        ("builds?_facet_size=-1", "_facet_size=-1"),
        ("builds?_facet_array=nix", "_facet_array=nix"),
        ("builds?_search_nix=a", "_search_nix=a"),
        ("builds?_size=1001", "_size=1001"),
        ("builds?nix=1", "nix=1"),
        ("builds?label__nix=1", "label__nix=1"),
        ("builds?built_on__date=2026-99-99", "built_on__date=2026-99-99"),
        ("builds?label=%00", "label=%00"),
        ("builds?label=%ff", "label=%ff"),
        ("builds?_sort=id&_sort=label", "_sort=id and _sort=label"),
        ("builds.csv?_shape=round", "_shape=round"),
        ("people.json?_where=nix(", "_where=nix("),
        ("-/home?nix=1", "nix=1"),
        ("-/worked?grip=low&grip=high", "grip=low and grip=high"),
        ("-/search?q=" + "a" * 201, "200 letters"),
        ("-/calc/fill-target?nix=1", "nix=1"),
        ("-/sheet?fields=some", "fields=some"),
    ],
)
def test_an_argument_that_cannot_be_read_is_named(site: Site, asked: str, named: str) -> None:
    answer = site.get(f"/team/{asked}")
    assert answer.status_code == 400
    assert named in answer.text


def test_a_file_of_a_whole_database_is_refused_in_words(site: Site) -> None:
    """Datasette 0.65 does not expect that it is asked for."""
    for given in ("", "?_ttl=5"):
        answer = site.get(f"/team.csv{given}")
        assert (answer.status_code, "names no rows" in answer.text) == (400, True), given


@pytest.mark.parametrize("size", ["_size=max", "%5Fsize=900", "_size=3"])
def test_every_letter_beside_the_size_of_a_page_is_kept(site: Site, size: str) -> None:
    for name in ("Größe", "队", "\U0001f6de"):
        assert site.get(f"/team/people?{size}&name={quote(name)}").status_code == 200
    assert site.get("/team/people", params={"name": "ana", "_size": "max", "note__not": "Größe"}).status_code == 200


def test_what_is_asked_in_sql_may_have_the_parameters_in_it_and_no_other(site: Site) -> None:
    given = {"sql": "select label from builds where label = :named", "_shape": "arrays"}
    assert site.get("/team.json", params={**given, "named": "rear-a/1"}).json()["rows"] == [["rear-a/1"]]
    refused = site.get("/team.json", params={**given, "other": "x"})
    assert (refused.status_code, "other=x" in refused.json()["error"]) == (400, True)


def test_pages_for_who_writes_programs_are_closed_and_those_beside_take_no_argument(site: Site) -> None:
    closed = ("messages", "allow-debug", "patterns")
    assert [site.get(f"/-/{name}").status_code for name in closed] == [404] * 3
    assert site.get("/-/versions.json").status_code == 200
    assert "nix=1" in site.page("/-/versions?nix=1", status=400)


READ_ALONE = (
    "/",
    "/team",
    "/team/builds",
    "/team/-/home",
    "/team/-/calc/oil-mass",
    "/q/rear-a",
    "/-/static/app.css",
    "/-/static-plugins/bevelbook/bevelbook.css",
    "/-/databases.json",
    "/robots.txt",
)
METHODS = ("POST", "PUT", "DELETE", "PATCH", "TRACE", "OPTIONS", "PROPFIND", "FOO")


def test_a_method_that_nothing_answers_is_refused_as_such(site: Site) -> None:
    async def ask() -> list[Any]:
        await site.datasette.invoke_startup()
        return [await site.datasette.client.request(method, path) for path in READ_ALONE for method in METHODS]

    for answer in asyncio.run(ask()):
        asked = (answer.request.method, answer.request.url.path)
        assert (answer.status_code, METHOD in answer.text) == (405, True), asked
        assert answer.headers["allow"] == "GET, HEAD", asked
        assert answer.headers["x-frame-options"] == "DENY", asked


def test_a_method_is_refused_beside_another_book_and_beside_any_other_file(tmp_path: Path) -> None:
    paths = ("/", "/second/builds", "/shop", "/shop/t", "/nix", "/-/versions", "/-/nix", "/-/messages", "/_memory")
    with closing(sqlite3.connect(tmp_path / "shop.db")) as connection:
        connection.execute("CREATE TABLE t (id INTEGER PRIMARY KEY)")
    for other in (make_team(tmp_path / "second.db").path, tmp_path / "shop.db"):

        async def ask(other: Path = other) -> list[Any]:
            datasette = Datasette([str(make_team(tmp_path / f"of-{other.stem}.db").path), str(other)])
            await datasette.invoke_startup()
            methods = [one for one in METHODS if one != "POST"]
            return [await datasette.client.request(method, path) for path in paths for method in methods]

        for answer in asyncio.run(ask()):
            asked = (other.stem, answer.request.method, answer.request.url.path)
            assert (answer.status_code, answer.headers["allow"][:9]) == (405, "GET, HEAD"), asked


def test_a_method_is_refused_where_nobody_has_a_page_too(site: Site) -> None:
    async def ask() -> list[Any]:
        await site.datasette.invoke_startup()
        return [await site.datasette.client.request(method, "/-/nix") for method in ("TRACE", "FOO")]

    assert [one.status_code for one in asyncio.run(ask())] == [405, 405]


def test_a_page_that_writes_takes_a_form_and_nothing_else_that_changes(tmp_path: Path, registry: Registry) -> None:
    with entered_site(make_team(tmp_path / "team.db", "short"), registry, tmp_path / "settings") as entered:

        async def ask(method: str, path: str) -> Any:
            return await entered.datasette.client.request(method, path, headers={"host": "bench.test"})

        for path, allowed in (
            ("/team/-/enter/idea", "GET, HEAD, POST"),
            ("/", "GET, HEAD"),
            ("/robots.txt", "GET, HEAD"),
        ):
            for method in ("PUT", "TRACE", "OPTIONS", "FOO"):
                answer = asyncio.run(ask(method, path))
                assert (answer.status_code, answer.headers["allow"]) == (405, allowed), (method, path)
        for target, status in (("http://evil.example/team", 421), ("http://bench.test/team", 200)):
            assert _answer_to(entered.datasette, target)[0] == status, target
        assert entered.post("/team/-/enter/idea", {"text": "try it"}).status_code != 405


@pytest.mark.parametrize("begun", ["/\\", "//", "/\\/\\", "///", "/\t/", "/%5C"])
def test_no_address_sends_a_browser_to_another_host(site: Site, begun: str) -> None:
    """By the URL Standard a backslash is a slash, and a tab is left out."""
    _, found = _answer_to(site.datasette, f"{begun}evil.example/")
    assert found[:1] in ("", "/")
    assert not re.match(r"[/\\\t]{2}", found)


@pytest.mark.parametrize(
    ("target", "status", "there"),
    [
        ("http://evil.example/", 200, ""),
        ("http://evil.example/team/", 302, "/team"),
        ("ftp://evil.example/", 302, "/ftp://evil.example"),
        ("http://localhost/team/", 302, "/team"),
        ("HTTP://localhost/team", 200, ""),
        ("http://localhost", 200, ""),
        ("*", 404, ""),
    ],
)
def test_a_whole_address_is_answered_by_its_path(site: Site, target: str, status: int, there: str) -> None:
    """RFC 9112, sections 3.2.2 and 3.3: a server takes it."""
    assert _answer_to(site.datasette, target) == (status, there)


def _answer_to(datasette: Any, target: str) -> tuple[int, str]:
    """The status of an answer, and where it sends a browser on to; the target is as a raw client may send it."""

    async def ask() -> tuple[int, str]:
        sent: list[Any] = []

        async def receive() -> Any:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Any) -> None:
            sent.append(message)

        raw = target.encode()
        scope = {"type": "http", "method": "GET", "path": unquote(target), "raw_path": raw, "query_string": b""}
        await datasette.app()({**scope, "headers": [(b"host", b"localhost")]}, receive, send)
        headers = {name.lower(): value.decode() for name, value in sent[0]["headers"]}
        return sent[0]["status"], headers.get(b"location", "")

    return asyncio.run(ask())


def test_what_is_asked_wrongly_prints_no_traceback(
    site: Site, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """In the terminal of whoever serves. Of a CSV file Datasette 0.65 does not expect a question that takes long."""

    async def interrupted(*_: object, **__: object) -> None:
        raise QueryInterrupted(sqlite3.OperationalError("interrupted"), "select 1", {})

    monkeypatch.setattr("bevelbook.web.host.visitors_sql.VisitorsProcesses.rows", interrupted)
    for ending in ("", "&_stream=on"):
        assert TOO_LONG in site.page(f"/team.csv?sql=select+1{ending}", status=400)
    assert "Traceback" not in "".join(capfd.readouterr())


def test_a_fault_of_the_server_stays_one(
    site: Site, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Also where the address has arguments. The log has it."""

    def fails(*_: object) -> None:
        raise KeyError("lost")

    monkeypatch.setattr("bevelbook.web.host.readonly.paging_of", fails)
    assert site.get("/team/shelf?_size=5").status_code == 500
    assert "KeyError" in capfd.readouterr().err
