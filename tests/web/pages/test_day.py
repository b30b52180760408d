"""The page of a day."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator

import pytest
from browser_team import Site, Team, make_team, site_over

from bevelbook.plugin.registry import Registry


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
    assert "kept and changed" in oils
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
