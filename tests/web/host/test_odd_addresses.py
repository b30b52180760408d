"""Whatever is asked, at whatever address and by whatever method, is answered: what cannot be read with 400 or 404, a
method that nothing answers with 405, never as a fault of the server."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from itertools import islice

import pytest
from browser_team import Site, Team, make_team, site_over
from odd_addresses import Asked, answered, drawn, is_named, pages, routes

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.limits_of_sqlite import MOST_CELLS, MOST_ROWS_OF_PAGE

KNOWN = (
    Asked("TRACE", "/-/databases"),
    Asked("PROPFIND", "/-/logout"),
    Asked("Ödd", "/-/allow-debug"),
    Asked("POST", "/team/-/calls"),
    Asked("DELETE", "/"),
    Asked("GET", "/-/static/" + "9" * 3_000),
    Asked("GET", "/-/static/a%00b"),
    Asked("GET", "/-/static-plugins/bevelbook/" + "a" * 3_000),
    Asked("GET", "/-/patterns?_size=" + "9" * 5_000),
    Asked("GET", "/team/builds?_size=" + "9" * 5_000),
)


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("odd") / "team.db", "a note")


@pytest.fixture(scope="module")
def site(team: Team, registry: Registry) -> Iterator[Site]:
    with site_over(team.path, registry) as made:
        yield made


@pytest.mark.filterwarnings("ignore:coroutine '(TableView|\\w*Facet).* was never awaited:RuntimeWarning")
def test_no_address_and_no_method_is_a_fault_of_the_server(site: Site, team: Team, registry: Registry) -> None:
    async def ask() -> list[tuple[int, Asked, str]]:
        await site.datasette.invoke_startup()
        named = [*team.ids.values(), *team.ids]
        more = drawn(pages(routes(site.datasette)), list(registry.calculators), named, seed=7)
        found = []
        for asked in (*KNOWN, *islice(more, 60)):
            status, text, _ = await answered(site.datasette, asked)
            found.append((status, asked, text))
        return found

    answers = asyncio.run(ask())
    assert [(status, asked) for status, asked, _ in answers if status >= 500] == []
    read = [(asked, text) for status, asked, text in answers if status == 400 and asked.method != "HEAD"]
    assert [asked for asked, text in read if "=" in asked.path and not is_named(asked, text)] == []
    refused = [(status, "are answered here" in text) for status, _, text in answers[:5]]
    assert refused == [(405, True)] * 5


def test_a_page_has_no_more_cells_than_can_be_read(site: Site) -> None:
    """What is left out is said; JSON gives more at a time."""
    assert f"_size={MOST_ROWS_OF_PAGE}" in site.page("/team/builds?_size=max&_sort=label")
    numbers = "with recursive n(x) as (select 1 union all select x + 1 from n where x < 900) select "
    sql = numbers + ", ".join(f"x as c{place}" for place in range(100)) + " from n"
    page = site.get("/team", params={"sql": sql}).text
    assert page.count("<td") == MOST_CELLS
    assert f"Rows 1 to {MOST_CELLS // 100}; there are more" in page
    assert len(site.get("/team.json", params={"sql": sql, "_shape": "array"}).json()) == 900


def test_rows_that_hold_too_much_together_are_refused_in_words(site: Site) -> None:
    numbers = "with recursive n(x) as (select 1 union all select x + 1 from n where x < 100) "
    sql = numbers + "select hex(zeroblob(90000)) from n"
    answer = site.get("/team.json", params={"sql": sql})
    assert answer.status_code == 400
    assert "hold more than this server gives at a time" in answer.text
