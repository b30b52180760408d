"""The switch "Sun" is in the header of every page: ours, Datasette's, and those of faults."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_team import Site, make_team, site_over

from bevelbook.plugin.registry import Registry

SCRIPT = '<script src="/-/static-plugins/bevelbook/sun.js"></script>'
BUTTON = '<button type="button" id="sun" class="sun-switch" aria-pressed="false">Sun: black on white</button>'


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Site]:
    folder: Path = tmp_path_factory.mktemp("sun")
    with site_over(make_team(folder / "team.db").path, registry) as made:
        yield made


@pytest.mark.parametrize(
    "path",
    ["/", "/team", "/team/builds", "/team?sql=select+1", "/team/-/home", "/team/-/compare", "/team/-/nothing", "/none"],
)
def test_it_is_in_the_header_and_its_script_runs_before_anything_is_drawn(site: Site, path: str) -> None:
    page = str(site.get(path, follow_redirects=True).text)
    head, _, body = page.partition("<body")
    assert head.count(SCRIPT) == 1, path
    assert body.partition("</header>")[0].count(BUTTON) == 1, path


def test_its_script_is_a_file_of_this_server_under_the_policy(site: Site) -> None:
    answer = site.get("/-/static-plugins/bevelbook/sun.js")
    assert answer.status_code == 200
    assert "javascript" in answer.headers["content-type"]
    assert "script-src 'self'" in answer.headers["content-security-policy"]


def test_the_type_in_charts_is_heavier_too_and_takes_no_more_room(site: Site) -> None:
    css = site.get("/-/static-plugins/bevelbook/bevelbook.css").text
    rule = css.partition(".sun .drawing text {")[2].partition("}")[0]
    assert "stroke: #000" in rule
    assert "stroke-width: .4px" in rule
    assert "font" not in rule
