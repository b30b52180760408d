"""``/q/NAME``, where the code on a label leads. All constructed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from browser_team import Site, Team, close, make_team, site_over
from entered import entered_site

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.host.serve import datasette_for


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    made = make_team(tmp_path_factory.mktemp("q") / "team.db")
    with closing(open_for_writing(made.path)) as writing, transaction(writing, made.path):
        writer = Writer(writing, "ana")
        made.ids["Öl"] = writer.insert(BY_NAME["fluid"], {"label": "Öl #7"})
        made.ids["one"] = writer.insert(BY_NAME["fluid"], {"label": "Twin"})
        made.ids["other"] = writer.insert(BY_NAME["seal"], {"label": "twin"})
    return made


@pytest.fixture(scope="module")
def site(team: Team) -> Iterator[Site]:
    from bevelbook.plugin.registry import load

    with site_over(team.path, load()) as opened:
        yield opened


@pytest.mark.parametrize(
    ("typed", "key", "page"),
    [
        ("REAR-A", "rear-a", "/team/-/diff/{}"),
        ("REAR-A/2", "rear-a", "/team/-/diff/{}"),
        ("rear-a/1", "rear-a/1", "/team/-/build/{}"),
        ("7,000%20SECOND", "own", "/team/bottles/{}"),
        ("SECOND", "own", "/team/bottles/{}"),
        ("10,000", "ten", None),
        ("SHAFT%20RING%205%20X%202", "ring", "/team/seals/{}"),
        ("%C3%B6l%20%237", "Öl", "/team/-/fluid/{}"),
    ],
)
def test_a_name_leads_to_its_page_in_any_case(site: Site, team: Team, typed: str, key: str, page: str | None) -> None:
    """A build that is in its diff leads to the diff, whose page it is at the track; an older one to its own page."""
    for address in (f"/q/{typed}", f"/team/-/q/{typed}"):
        answer = site.get(address, follow_redirects=False)
        if page is None:
            assert answer.status_code == 200, "the oil and its bottle without a lot have one name"
            continue
        assert (answer.status_code, answer.headers["location"]) == (302, page.format(team.ids[key])), answer.text[:900]


def test_of_several_things_of_a_name_one_is_chosen(site: Site, team: Team) -> None:
    page = site.page("/q/TWIN")
    assert f'<a href="/team/-/fluid/{team.ids["one"]}">fluid Twin</a>' in page
    assert f'<a href="/team/seals/{team.ids["other"]}">kind of seal twin</a>' in page


def test_an_unknown_name_is_said_with_a_search(site: Site) -> None:
    answer = site.get("/q/rear-z%2F9%3Cb%3E")
    assert answer.status_code == 404
    assert "Nothing here is called that" in answer.text
    assert 'value="rear-z/9&lt;b&gt;"' in answer.text
    assert "<b>" not in answer.text.replace("<b>bold</b>", "")
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_a_scanned_bag_lands_on_the_page_of_the_diff_with_its_buttons(
    team: Team, registry: Registry, tmp_path: Path
) -> None:
    with entered_site(team, registry, tmp_path) as site:
        answer = site.get("/q/REAR-A/2", follow_redirects=True)
    assert answer.status_code == 200
    assert "/team/-/enter/weigh?build=rear-a" in answer.text
    assert "/team/-/enter/bench?diff=rear-a" in answer.text


def test_of_several_books_the_one_that_knows_the_name_is_opened_else_one_is_chosen(
    team: Team, registry: Registry, tmp_path: Path
) -> None:
    other = make_team(tmp_path / "other.db").path
    from datasette.app import Datasette

    datasette = Datasette([str(team.path), str(other)])
    try:
        site = Site(datasette)
        assert site.get("/q/TWIN").text.count(" in team") == 2
        only = site.get("/q/%C3%96L%20%237", follow_redirects=False)
        assert only.headers["location"] == f"/team/-/fluid/{team.ids['Öl']}"
        both = site.page("/q/REAR-A/1")
        assert " in team" in both
        assert " in other" in both
        unknown = site.get("/q/nothing")
        assert unknown.status_code == 404
        assert 'href="/other/-/search?q=nothing"' in unknown.text
    finally:
        close(datasette)


def test_a_database_called_q_keeps_its_addresses(registry: Registry, tmp_path: Path) -> None:
    path = make_team(tmp_path / "q.db").path
    datasette = datasette_for(path, registry)
    try:
        site = Site(datasette)
        assert "rear-a/1" in site.page("/q/builds")
        assert site.get("/q/-/q/rear-a", follow_redirects=False).status_code == 302
    finally:
        close(datasette)
