"""The page of a day."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from browser_team import Site, Team, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.store.invented_mark import INVENTED_WORDS, mark_invented
from bevelbook.store.opening import open_for_writing, transaction


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("day") / "team.db")


@pytest.fixture(scope="module")
def site(team: Team, registry: Registry) -> Iterator[Site]:
    with site_over(team.path, registry) as made:
        yield made


def words_of(page: str) -> str:
    """The words between the tags of the content, on one line."""
    content = re.sub(r"<style>.*?</style>", " ", page, flags=re.DOTALL).partition("<main")[2]
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", f"<main{content}")).split())


def test_a_day_shows_where_its_oils_by_place_and_its_runs_in_order(site: Site, team: Team) -> None:
    page = site.page("/team/-/day/2026-03-11")
    words = words_of(page)
    assert words.startswith(
        "11 Mar 2026 Tannery Hall , Brickfield , ana, 12 runs high grip, low grip, track 20.0 to 41.0"
    )
    oils, _, runs = words.partition("Runs in their order")
    assert "rear: second 7k" not in oils
    assert "rear: 7,000 (6,150 cSt)" in oils
    assert "kept and changed (" in oils
    assert [int(one) for one in re.findall(r"Run (\d)", runs)] == [1, 2, 3, 4]
    assert "15.61 s best five" in runs
    assert "“steady, <b>bold</b> exit”" in runs
    assert "<b>bold" not in page
    assert f'href="/team/-/run/{team.ids["run 1"]}"' in page
    assert 'href="/team/-/day/2026-04-10"' in page


def test_an_unknown_day_is_not_found_and_leads_to_the_days_near_it(site: Site) -> None:
    for asked, said in (("2026-03-12", "No run was noted for 12 Mar 2026."), ("11.3.", "ends like 2026-05-03")):
        answer = site.get(f"/team/-/day/{asked}")
        assert answer.status_code == 404, asked
        assert said in words_of(answer.text), asked
        assert "/team/-/day/2026-" in answer.text, asked


class Elements(HTMLParser):
    """The elements and attributes of a page, and the text in its style sheets."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.attributes: set[str] = set()
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, Any]]) -> None:
        self.names.add(tag)
        self.attributes.update(name for name, _ in attrs)


def test_a_day_is_saved_as_one_file_that_asks_for_nothing_and_holds_no_address(site: Site, team: Team) -> None:
    """Two of the day's four runs have notes that try to be markup."""
    answer = site.get("/team/-/day/2026-03-11.html")
    assert answer.headers["content-disposition"] == 'attachment; filename="bevelbook-2026-03-11.html"'
    found = Elements(answer.text)
    assert not found.attributes & {"src", "href", "srcset", "action", "data", "xlink:href", "onerror", "onload"}
    assert not found.names & {"script", "link", "img", "a", "iframe", "object", "form", "input", "base"}
    assert "svg" in found.names
    assert "url(http" not in answer.text.replace(" ", "")
    assert "@import" not in answer.text
    words = words_of(answer.text)
    assert re.search(r"A read-only copy, made \d{4}-\d\d-\d\d \d\d:\d\d from the database team", words)
    assert "The figures, 4 rows" in words
    assert "“<script>document.title" in words
    assert site.get("/team/-/day/2026-03-12.html").status_code == 404


def test_a_day_leads_to_its_file_and_says_where_too_few_laps_were_timed_to_draw(site: Site) -> None:
    assert 'href="/team/-/day/2026-04-12.html"' in site.page("/team/-/day/2026-04-12")
    assert "1 run with a lap time and a place in the day: too few to draw." in words_of(
        site.page("/team/-/day/2026-04-12")
    )


def test_the_file_of_an_invented_season_says_so(tmp_path: Path, registry: Registry) -> None:
    made = make_team(tmp_path / "made.db")
    connection = open_for_writing(made.path)
    with transaction(connection, made.path):
        mark_invented(connection)
    connection.close()
    with site_over(made.path, registry) as over:
        text = over.get("/made/-/day/2026-03-11.html").text
    assert INVENTED_WORDS in text
