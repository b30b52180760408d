"""An address that cannot be read, or a method that nothing answers: the request is at fault, not the server."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import Any

import pytest
from browser_team import Site, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.odd_requests import METHOD
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE


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
    ],
)
def test_an_argument_that_cannot_be_read_is_named(site: Site, asked: str, named: str) -> None:
    answer = site.get(f"/team/{asked}")
    assert answer.status_code == 400
    assert named in answer.text


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "TRACE", "OTHER"])
def test_a_method_that_would_change_a_table_is_refused_as_such(site: Site, method: str) -> None:
    async def ask() -> Any:
        await site.datasette.invoke_startup()
        return await site.datasette.client.request(method, "/team/builds")

    answer = asyncio.run(ask())
    if HAS_SQL_PAGE and method != "POST":  # 1.0 reads the table, whatever the method
        assert answer.status_code == 200
        return
    assert answer.status_code == 405
    if method in ("TRACE", "OTHER"):
        assert METHOD in answer.text
        assert answer.headers["allow"] == "GET, HEAD"


def test_a_fault_of_the_server_stays_one(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where the address has arguments."""

    def fails(*_: object) -> None:
        raise KeyError("lost")

    monkeypatch.setattr("bevelbook.web.host.readonly.paging_of", fails)
    assert site.get("/team/shelf?_size=5").status_code == 500
