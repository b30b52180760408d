"""The photographs of a diff, a build, an opening or a bottle; one piece beside itself; thumbnails on other pages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest
from browser_team import Site, Team, make_team, site_over
from photographed import GREEN, photographed, picture
from web.entry.conftest import words

from bevelbook.plugin.registry import Registry
from bevelbook.web.pages import photos as page_of_photos


class Photographed(NamedTuple):
    """A team with photographs of two builds of one diff and of a bottle, and the pages over it."""

    team: Team
    site: Site
    photos: list[str]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Photographed]:
    team = make_team(tmp_path_factory.mktemp("photos") / "team.db")
    opening, fitting = team.ids["opening rear-a/1"], team.ids["seal rear-a/2"]
    kept = photographed(
        team.path,
        registry,
        ({"opening": opening, "taken_on": "2026-04-02", "piece": "outdrive", "side": "lid side"}, picture()),
        ({"opening": opening, "taken_on": "2026-04-02", "piece": "side gear"}, picture((50, 30))),
        ({"build": "rear-a/2", "taken_on": "2026-04-20", "piece": "outdrive", "side": "lid side"}, picture((64, 96))),
        ({"seal_fitting": fitting, "taken_on": "2026-04-21", "piece": "seal", "side": "case side"}, picture((40, 20))),
        *(
            ({"build": "rear-b/2", "taken_on": f"2026-04-{day}", "piece": "case"}, picture((40 + day, 20), GREEN))
            for day in range(10, 18)
        ),
        ({"bottle": team.ids["own"], "taken_on": "2026-04-22", "piece": "label"}, picture((20, 40))),
    )
    with site_over(team.path, registry) as site:
        yield Photographed(team, site, kept)


def shown(page: str) -> list[str]:
    """The photographs whose thumbnails are on a page, in their order."""
    return re.findall(r'<li><a href="/team/-/photo/([^"]+)"><img', page)


def test_a_diff_has_the_photographs_of_all_its_builds_the_newest_first(served: Photographed) -> None:
    page = served.site.page("/team/-/photos?diff=rear-a")
    first, second, third, fourth = served.photos[:4]
    assert shown(page) == [fourth, third, second, first] or shown(page) == [fourth, third, first, second]
    assert "Outdrive, lid side: rear-a/2, rear-a/1" in words(page)
    assert "Of rear-a" in words(page)


@pytest.mark.parametrize(
    ("asked", "which"),
    [
        ("build=rear-a/1", {0, 1}),
        ("build=rear-a/2", {2, 3}),
        ("opening=OPENING", {0, 1}),
        ("seal_fitting=FITTING", {3}),
        ("bottle=BOTTLE", {12}),
        ("diff=front-a", set()),
    ],
)
def test_one_record_has_its_own_photographs(served: Photographed, asked: str, which: set[int]) -> None:
    ids = served.team.ids
    asked = asked.replace("OPENING", ids["opening rear-a/1"]).replace("FITTING", ids["seal rear-a/2"])
    page = served.site.page(f"/team/-/photos?{asked.replace('BOTTLE', ids['own'])}")
    assert set(shown(page)) == {served.photos[place] for place in which}
    assert ("None was taken yet" in page) is (not which)


def test_one_piece_is_beside_itself_over_the_builds_of_its_diff(served: Photographed) -> None:
    page = served.site.page("/team/-/photos?diff=rear-a&piece=outdrive&side=lid+side")
    assert shown(page) == [served.photos[2], served.photos[0]]
    assert re.search(
        r"Outdrive, lid side, of rear-a .*rear-a/2 Outdrive, lid side, 20 Apr 2026 rear-a/1 when", words(page)
    )
    assert page.count('loading="lazy"') == 2
    assert "-small.jpg 48w, " in page, "the thumbnail of a small picture is as small"
    assert 'width="64" height="96"' in page
    assert "There is no photograph of that" in served.site.page("/team/-/photos?diff=rear-a&piece=screw")


def test_the_pages_of_a_build_and_its_diff_show_the_newest_and_lead_to_the_rest(served: Photographed) -> None:
    for address, of in (("diff/rear-b", "diff=rear-b"), ("build/rear-b~2F2", "build=")):
        page = served.site.page(f"/team/-/{address}")
        assert shown(page) == list(reversed(served.photos[6:12])), "the newest six of eight"
        assert "All 8 photographs" in words(page)
        assert f'href="/team/-/photos?{of}' in page
        thumbnail = page.partition(f"/-/photo/{served.photos[11]}")[2].partition("</li>")[0]
        assert 'alt="Photograph: case, rear-b/2, 17 Apr 2026" width="57" height="20" loading="lazy"' in thumbnail
        assert words(thumbnail.partition(">")[2]).endswith("Case rear-b/2, 17 Apr 2026")
        assert "base64" not in page
    for address in ("diff/rear-a", "build/rear-a~2F1", "build/rear-a~2F2"):
        page = served.site.page(f"/team/-/{address}")
        assert "Outdrive, lid side: rear-a/2, rear-a/1 beside each other" in words(page)
        assert "All " not in words(page)
    assert "Photographs" not in words(served.site.page("/team/-/diff/front-a"))


def test_the_rows_of_an_opening_a_seal_and_a_bottle_show_theirs(served: Photographed) -> None:
    ids = served.team.ids
    for address, which in (
        (f"openings/{ids['opening rear-a/1']}", {0, 1}),
        (f"seal_fittings/{ids['seal rear-a/2']}", {3}),
        (f"bottles/{ids['own']}", {12}),
    ):
        assert set(shown(served.site.page(f"/team/{address}"))) == {served.photos[place] for place in which}, address


def test_a_list_that_is_cut_says_so(served: Photographed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_of_photos, "MOST", 3)
    page = served.site.page("/team/-/photos?diff=rear-b")
    assert len(shown(page)) == 3
    assert "The newest 3 of 8 photographs are shown; the table has all." in words(page)


def test_a_record_that_is_not_there_is_not_found_and_without_one_the_page_says_where_to_look(
    served: Photographed,
) -> None:
    answer = served.site.get("/team/-/photos?diff=rear-aa")
    assert answer.status_code == 404
    assert "Did you mean" in words(answer.text)
    assert 'href="/team/photos"' in served.site.page("/team/-/photos")
