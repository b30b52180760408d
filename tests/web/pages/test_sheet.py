"""The run sheets as pages: each kind leads to the others, and a car has its own."""

from __future__ import annotations

import html
from collections.abc import Iterator

import pytest
from browser_team import Site, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Site]:
    path = make_team(tmp_path_factory.mktemp("sheets") / "team.db").path
    connection = open_for_writing(path)
    with transaction(connection, path):
        writer = Writer(connection, "ana")
        writer.insert(BY_NAME["car"], {"name": "<b>quince</b>"})
    connection.close()
    with site_over(path, registry) as made:
        yield made


def test_each_kind_leads_to_the_others(site: Site) -> None:
    page = site.page("/team/-/sheet")
    assert "Prints on 1 sheet of A4 or Letter, across." in page
    assert 'href="/team/-/sheet?fields=all"' in page
    assert page.count('<th scope="row">') == 6
    full = site.page("/team/-/sheet?fields=all")
    assert 'href="/team/-/sheet"' in full
    assert "What was decided after it" in full


def test_a_car_has_its_sheet_by_name_and_another_name_is_not_found(site: Site) -> None:
    page = site.page("/team/-/sheet?car=%3Cb%3Equince%3C%2Fb%3E")
    assert 'Run sheet <span class="car">&lt;b&gt;quince&lt;/b&gt;</span>' in page
    answer = site.get("/team/-/sheet?car=quinz")
    assert answer.status_code == 404
    assert "There is no car named" in html.unescape(answer.text)


def test_the_card_and_the_first_page_lead_to_it(site: Site) -> None:
    for page in ("/team/-/home", "/team/-/card/rear-a~2F2"):
        assert 'href="/team/-/sheet"' in site.page(page)


@pytest.mark.parametrize("sheet", ["sheet", "sheet?fields=all"])
def test_a_table_wider_than_a_phone_says_so_on_the_screen_alone(site: Site, sheet: str) -> None:
    page = site.page(f"/team/-/{sheet}")
    words = '<p class="goes-on no-paper quiet">This table goes on to the right.</p>'
    assert page.count(words) == page.count('class="scroll"') > 0
