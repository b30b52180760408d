"""Our templates are on the pages of our databases and nowhere else, and other plugins' scripts work beside them."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_team import Site, Team, close, make_team
from jinja2 import Environment

from bevelbook.web.host import templates
from bevelbook.web.host.addresses import Owner, owner_of
from bevelbook.web.host.compiled_templates import CompiledTemplates
from bevelbook.web.host.policy import POLICY

FRAME = "Served by Datasette with the bevelbook plugin"
WEB = Path(templates.__file__).parent.parent
PLUGIN = """
from datasette import Response, hookimpl

@hookimpl
def extra_js_urls():
    return ["/-/static-plugins/drawing/drawing.js", "https://maps.example/map.js"]

@hookimpl
def extra_body_script(view_name):
    return "window.drawn = 1;" if view_name == "table" else ""

@hookimpl
def menu_links():
    return [{"href": "/-/drawings", "label": "All drawings"}]

@hookimpl
def register_output_renderer():
    return {"extension": "drawn", "render": lambda rows: Response.html("<script>1</script>")}

async def drawings():
    return Response.html("<script>1</script>")

@hookimpl
def register_routes():
    return [(r"^/-/drawings$", drawings), (r"^/(?P<database>[^/]+)/-/drawing$", drawings)]
"""


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("templates") / "team.db")


@pytest.fixture(scope="module")
def other(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database of another program whose name begins like ours."""
    path = tmp_path_factory.mktemp("other") / "team-x.db"
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE builds (id INTEGER PRIMARY KEY, note TEXT)")
        connection.execute("INSERT INTO builds VALUES (1, 'a house')")
    connection.close()
    return path


@pytest.fixture(scope="module")
def both(team: Team, other: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Ours and the other, with a plugin that draws."""
    from datasette.app import Datasette
    from datasette.plugins import pm

    folder = tmp_path_factory.mktemp("plugins")
    (folder / "drawing.py").write_text(PLUGIN, encoding="utf-8")
    before = set(pm.get_plugins())
    datasette = Datasette([str(team.path), str(other)], plugins_dir=str(folder))
    yield Site(datasette)
    for plugin in set(pm.get_plugins()) - before:
        pm.unregister(plugin)
    close(datasette)


def test_every_template_of_ours_is_in_our_frame() -> None:
    for path in [*(WEB / "templates").glob("*.html"), *templates.FOLDER.glob("*.html")]:
        for name in re.findall(r'{% extends "([^"]*)" %}', path.read_text(encoding="utf-8")):
            assert name == "bevelbook:base.html" or (WEB / "templates" / name).exists(), path.name


def test_another_database_and_other_plugins_keep_their_pages_and_have_no_policy(both: Site) -> None:
    for path in (
        "/team-x",
        "/team-x/builds",
        "/team-x/builds/1",
        "/team-x?sql=select+1",
        "/team-x/nothing",
        "/-/plugins",
        "/-/drawings",
        "/team/-/drawing",
        "/team/builds.drawn",
    ):
        answer = both.get(path)
        assert answer.status_code == (404 if path.endswith("nothing") else 200), path
        assert FRAME not in answer.text, path
        assert "content-security-policy" not in answer.headers, path


def test_pages_of_our_database_are_in_our_frame_and_have_the_policy(both: Site, team: Team) -> None:
    for path in ("/", "/team", "/team/builds", f"/team/builds/{team.ids['rear-a/2']}", "/team/shelf", "/team/-/home"):
        answer = both.get(path)
        assert FRAME in answer.text, path
        assert "default-src 'none'" in answer.headers["content-security-policy"], path
    gone = both.get("/team/-/nothing")
    assert gone.status_code == 404
    assert "There is no such page" in gone.text


def test_scripts_of_another_plugin_run_on_a_page_of_a_table_and_on_none_of_our_own(both: Site) -> None:
    table = both.get("/team/builds")
    rules = dict(rule.split(" ", 1) for rule in table.headers["content-security-policy"].split("; "))
    nonce = re.search(r'<script nonce="([^"]+)">window.drawn = 1;</script>', table.text)
    assert nonce
    assert rules["script-src"] == f"'self' 'unsafe-eval' 'nonce-{nonce[1]}' https://maps.example"
    assert 'src="/-/static-plugins/drawing/drawing.js"' in table.text
    assert nonce[1] not in both.get("/team/builds").text, "used once"
    for path in ("/", "/team/-/home", "/team/-/calculators"):
        own = both.get(path)
        assert own.headers["content-security-policy"] == POLICY, path
        assert "drawing.js" not in own.text, path


def test_links_of_other_plugins_are_on_pages_of_tables(both: Site) -> None:
    for path in ("/team", "/team/builds"):
        assert '<a href="/-/drawings">All drawings</a>' in both.page(path), path


def test_whose_an_address_is(both: Site) -> None:
    places = {
        "/": Owner.OURS,
        "/.json": Owner.OURS,
        "/team/-/": Owner.OURS,
        "/team/-/card/x": Owner.OURS,
        "/team/-/query": Owner.DATASETTE,
        "/team/-/drawing": Owner.ELSEWHERE,
        "/team": Owner.DATASETTE,
        "/team.db": Owner.DATASETTE,
        "/team/note_files/x/content.blob": Owner.DATASETTE,
        "/team/builds.drawn": Owner.ELSEWHERE,
        "/team-x/builds": Owner.ELSEWHERE,
        "/-/static/app.css": Owner.ELSEWHERE,
    }
    both.page("/team")
    assert {path: owner_of(both.datasette, path) for path in places} == places


def test_a_folder_of_templates_that_the_user_gave_goes_first(team: Team, tmp_path: Path) -> None:
    from datasette.app import Datasette

    (tmp_path / "table.html").write_text("a table of our own making", encoding="utf-8")
    (tmp_path / "row-team-builds.html").write_text('{% extends "bevelbook:row.html" %}', encoding="utf-8")
    datasette = Datasette([str(team.path)], template_dir=str(tmp_path))
    try:
        site = Site(datasette)
        assert site.page("/team/builds") == "a table of our own making"
        assert FRAME in site.page(f"/team/builds/{team.ids['rear-a/2']}")
        assert FRAME in site.page("/team")
    finally:
        close(datasette)


def test_a_template_of_all_tables_is_compiled_once_and_keeps_the_name_it_was_asked_by(both: Site) -> None:
    both.page("/team/builds")
    loader = templates.TemplatesOfOurDatabases(both.datasette)
    environment = Environment(loader=loader, bytecode_cache=CompiledTemplates(), enable_async=True)
    names = ("table-team-builds.html", "table-team-runs.html")
    builds, runs = (environment.get_template(name) for name in names)
    assert (builds.name, runs.name) == names
    assert builds.root_render_func.__code__ is runs.root_render_func.__code__
