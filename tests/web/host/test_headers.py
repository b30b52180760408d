"""What goes out with every answer, whatever it is: no frame, no guessing, nothing said elsewhere, no search engine."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser_team import Site, close, make_team, site_over
from datasette.app import Datasette
from entered import EnteredSite, entered_site

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.policy import POLICY, POLICY_ELSEWHERE
from bevelbook.web.host.private_datasette import CSRF_REFUSALS
from bevelbook.web.pairing.host_names import HostNames

OURS = {
    "/": 200,
    "/team": 200,
    "/team/builds": 200,
    "/team/builds.json": 200,
    "/team/builds.csv": 200,
    "/team/-/home": 200,
    "/team/-/nothing": 404,
    "/team/nothing": 404,
    "/team/-/diff/none": 404,
    "/team/-/calc/none.json": 404,
    "/team/builds.json?_where=1=1": 403,
    "/team/builds?_sort=none": 400,
    "/-/static-plugins/bevelbook/bevelbook.css": 200,
}
ELSEWHERE = {
    "/team/builds/": 302,
    "/nothing": 404,
    "/nothing/at/all.json": 404,
    "/favicon.ico": 200,
    "/robots.txt": 200,
    "/-/static/app.css": 200,
    "/-/static/none.css": 404,
    "/-/settings": 200,
    "/-/plugins": 200,
    "/-/versions": 200,
    "/-/actor.json": 200,
    "/-/threads.json": 200,
    "/-/logout": 302,
    "/-/permissions": 403,
    "/-/databases.json": 200,
    "/-/openapi.json": 200,
}
"""Of Datasette's own, and of nobody's."""
EVERYWHERE = {
    "x-frame-options": "DENY",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "x-robots-tag": "noindex, nofollow",
}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Site]:
    path = make_team(tmp_path_factory.mktemp("headers") / "team.db", note="short").path
    with site_over(path, registry, allow_sql=False) as made:
        yield made


@pytest.mark.parametrize("path", [*OURS, *ELSEWHERE])
def test_every_answer_has_the_headers(site: Site, path: str) -> None:
    answer = site.get(path, follow_redirects=False)
    assert answer.status_code == (OURS | ELSEWHERE)[path]
    assert {name: answer.headers.get(name) for name in EVERYWHERE} == EVERYWHERE
    assert answer.headers.get_list("content-security-policy") in ([POLICY], [POLICY_ELSEWHERE])
    if path in OURS:
        assert answer.headers["content-security-policy"] == POLICY
    assert str(Path(site.datasette.databases["team"].path).parent) not in answer.text
    assert site.datasette._secret not in answer.text


def test_what_the_gate_refuses_has_them_too(tmp_path: Path, registry: Registry) -> None:
    with entered_site(make_team(tmp_path / "team.db", note="short"), registry, tmp_path / "settings") as entered:
        refused = [
            entered.get("/team/-/home", headers={"host": "elsewhere.test"}),
            entered.get("/nowhere", headers={"host": "elsewhere.test"}),
            EnteredSite(entered.datasette, entered.team, entered.entry, None).post("/team/-/enter/idea", {"text": "x"}),
            *([entered.post("/team/-/enter/idea", {"text": "x", "csrftoken": "stale"})] if CSRF_REFUSALS else []),
        ]
        assert [answer.status_code for answer in refused] == [421, 421, 403, 403][: len(refused)]
        for answer in refused:
            assert {name: answer.headers.get(name) for name in EVERYWHERE} == EVERYWHERE
            assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]


def test_only_own_names_and_addresses_are_answered_where_they_are_known(site: Site) -> None:
    state = state_of(site.datasette)
    assert site.get("/team/-/home", headers={"host": "elsewhere.test"}).status_code == 200, "nobody said which are own"
    state.own_names = HostNames(frozenset({"team.local"}))
    try:
        for host, status in (
            ("team.local:8001", 200),
            ("TEAM.local", 200),
            ("localhost:8001", 200),
            ("127.0.0.1:8001", 200),
            ("[::1]:8001", 200),
            ("elsewhere.test", 421),
            ("team.local.elsewhere.test", 421),
            ("192.0.2.9:8001", 421),
            ("", 421),
        ):
            for path in ("/team/-/home", "/-/static/app.css", "/robots.txt", "/team/builds.json"):
                assert site.get(path, headers={"host": host}).status_code == status, (host, path)
        refused = site.get("/", headers={"host": "elsewhere.test"})
        assert "bevelbook serve ... --name NAME" in refused.text
        assert site.get("/team/builds.json", headers={"host": "elsewhere.test"}).json()["status"] == 421
    finally:
        state.own_names = None


def test_search_engines_stay_out_unless_they_are_let_in(site: Site, tmp_path: Path) -> None:
    assert site.get("/robots.txt").text == "User-agent: *\nDisallow: /\n"
    assert '<meta name="robots" content="noindex, nofollow">' in site.get("/team/-/home").text
    path = make_team(tmp_path / "team.db", note="short").path
    datasette = Datasette([str(path)], metadata={"plugins": {"bevelbook": {"index": True}}})
    if datasette.plugin_config("bevelbook") is None:
        datasette = Datasette([str(path)], config={"plugins": {"bevelbook": {"index": True}}})
    try:
        found = Site(datasette)
        assert found.get("/robots.txt").text == "User-agent: *\nDisallow:\n"
        home = found.get("/team/-/home")
        assert "robots" not in home.text
        assert "x-robots-tag" not in home.headers
        assert home.headers["x-frame-options"] == "DENY"
    finally:
        close(datasette)


@pytest.mark.parametrize(
    "path",
    [
        "/team?sql=select+1",
        "/team.json?sql=select+1",
        "/team.csv?sql=select+1",
        "/team.json?sql=select+1&_shape=array",
        "/team/-/query?sql=select+1",
        "/team/-/query.json?sql=select+1",
        "/team/builds?_where=1=1",
        "/team/builds.json?_where=1=1",
        "/team/builds.csv?_where=1=1",
        "/_memory.json?sql=select+1",
        "/_internal.json?sql=select+1",
    ],
)
def test_no_address_answers_sql_of_a_visitor_where_it_is_off(site: Site, path: str) -> None:
    assert site.get(path).status_code in (403, 404)


def test_no_page_offers_sql_where_it_is_off(site: Site) -> None:
    for path in ("/", "/team", "/team/builds", "/team/shelf"):
        page = site.page(path)
        assert "sql=" not in page
        assert "/-/query" not in page


def test_the_file_itself_is_not_given_away(tmp_path: Path, registry: Registry, monkeypatch: Any) -> None:
    """Datasette offers a file that nobody can write to for download, with all that is in it."""
    path = make_team(tmp_path / "team.db", note="short").path
    monkeypatch.setattr("bevelbook.web.host.readonly.folder_is_writable", lambda path: False)
    with site_over(path, registry) as locked:
        locked.page("/team")
        assert not locked.datasette.databases["team"].is_mutable
        assert locked.get("/team.db").status_code == 403
