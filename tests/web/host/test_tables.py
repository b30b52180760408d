"""The generic browser over our tables and views: words, units, names, rounding, search, policy, no path."""

from __future__ import annotations

import asyncio
import html
import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_team import HOSTILE, Site, Team, make_team, site_over

from bevelbook.declare.fields import Field
from bevelbook.display.format import DECIMALS, format_number
from bevelbook.facts.views import VIEWS
from bevelbook.plugin.registry import Registry
from bevelbook.records import FACTS, KINDS
from bevelbook.store.calculation_views import ensure_views
from bevelbook.store.column_words import columns_of_view
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.schema import columns_of, search_table
from bevelbook.web.host import database_marks
from bevelbook.web.host.cells import measured_text
from bevelbook.web.host.datasette_state import DatasetteState
from bevelbook.web.host.entry_permission import PICTURE_BYTES
from bevelbook.web.host.metadata import metadata_of
from bevelbook.web.host.policy import POLICY
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE
from bevelbook.web.host.signs import SIGN_OF, with_sign


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Team:
    made = make_team(tmp_path_factory.mktemp("tables") / "team.db")
    connection = open_for_writing(made.path)
    with transaction(connection, made.path):
        for offered in registry.calculators.values():
            ensure_views(connection, offered.calculator)
    connection.close()
    return made


@pytest.fixture(scope="module")
def site(team: Team, registry: Registry) -> Iterator[Site]:
    with site_over(team.path, registry) as made:
        yield made


def _tables(team: Team) -> list[str]:
    with sqlite3.connect(team.path) as connection:
        names = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type IN ('table', 'view')")]
    connection.close()
    return names


def may_be_seen(name: str) -> bool:
    """Whether Datasette shows a table: not the bytes of pictures, which have addresses of their own; and 1.0 keeps
    SQLite's own tables behind a search to itself."""
    return name != PICTURE_BYTES and not (HAS_SQL_PAGE and re.search(r"_search_(data|idx|docsize|config)$", name))


def _facets(site: Site, path: str) -> object:
    """The facets of a table as JSON; 1.0 has them a level down, and only where asked for, which 0.65 does not know."""
    asked = f"{path}{'&' if '?' in path else '?'}_extra=facet_results" if HAS_SQL_PAGE else path
    found = site.get(asked).json()["facet_results"]
    return found.get("results", found)


def _shown(page: str) -> str:
    """The words of a page without its tags."""
    return html.unescape(re.sub(r"<[^>]*>", " ", page))


def test_every_table_and_view_answers_as_page_json_and_csv(site: Site, team: Team) -> None:
    names = _tables(team)
    assert len(names) > 60
    for name in names:
        for ending in ("", ".json", ".csv"):
            answer = site.get(f"/team/{name}{ending}")
            assert answer.status_code == (200 if may_be_seen(name) else 403), (name, ending, answer.text[:300])


def test_every_column_of_every_table_and_view_is_described(team: Team, registry: Registry) -> None:
    tables = metadata_of("team", registry)["tables"]
    hidden = {name for name, one in tables.items() if one.get("hidden")}
    hidden |= {name for name in _tables(team) if any(name.startswith(search_table(kind)) for kind in KINDS)}
    with sqlite3.connect(team.path) as connection:
        for name in set(_tables(team)) - hidden:
            columns = [row[1] for row in connection.execute(f"PRAGMA table_info({name})")]
            missing = [column for column in columns if not tables[name]["columns"].get(column)]
            assert not missing, (name, missing)
            assert tables[name]["title"]
            assert tables[name]["description"]
    connection.close()


def test_descriptions_of_quantities_name_their_unit(registry: Registry) -> None:
    tables = metadata_of("team", registry)["tables"]
    for kind in KINDS:
        for field in kind.fields:
            if field.kind == "quantity" and field.unit != "1":
                assert f"[{field.unit}]" in tables[kind.table]["columns"][field.name]


def test_columns_of_facts_in_views_are_described_as_the_facts_are(registry: Registry) -> None:
    tables = metadata_of("team", registry)["tables"]
    assert tables["build_sheet"]["columns"]["runs"] == tables["build_facts"]["columns"]["runs"] != ""
    assert "since it was filled" in tables["shelf"]["columns"]["runs"]
    assert tables["shelf"]["columns"]["reasons"] == tables["diff_facts"]["columns"]["reasons"] != ""
    for view in ("losses", "build_sheet"):
        assert tables[view]["columns"]["opened_on"] == tables["build_facts"]["columns"]["opened_on"]
    facts = {name: tables[name]["columns"] for name in ("build_facts", "diff_facts")}
    assert "JSON" not in facts["diff_facts"]["reasons"]


def test_declared_order_facets_and_names_exist(registry: Registry) -> None:
    tables = metadata_of("team", registry)["tables"]
    columns = {kind.table: columns_of(kind) for kind in KINDS} | {
        view.name: columns_of_view(view.name) for view in VIEWS
    }
    for name, known in columns.items():
        one = tables[name]
        wanted = {*one.get("facets", ()), one.get("sort"), one.get("sort_desc"), one.get("label_column")} - {None}
        assert wanted <= set(known), name
        assert not ("sort" in one and "sort_desc" in one), name


CALLED_BY_SEVERAL = {"bench_jobs", "build_parts", "openings", "pictures", "plans", "seal_fittings"}
"""Called by their diff, build or event with what belongs to it, in every cell, by ``store/record_names.py``; a picture
is shown as a thumbnail."""


def test_every_table_that_an_id_points_to_has_a_column_to_be_called_by(site: Site, team: Team) -> None:
    with sqlite3.connect(team.path) as connection:
        targets = {
            key[2]
            for table in _tables(team)
            for key in connection.execute(f'PRAGMA foreign_key_list("{table}")')
            if key[2] not in {kind.table for kind in FACTS}
        }
    connection.close()
    assert len(targets) > 10
    database = site.datasette.databases["team"]
    found = {table: asyncio.run(database.label_column_for_table(table)) for table in targets}
    assert {table for table, column in found.items() if column is None} == CALLED_BY_SEVERAL, found


def test_the_names_can_be_given_to_a_datasette_without_our_plugin(site: Site) -> None:
    tables = site.get("/-/metadata.json").json()["databases"]["team"]["tables"]
    assert {name: tables[name]["label_column"] for name in ("builds", "diffs", "fluids", "bottles")} == {
        "builds": "label",
        "diffs": "label",
        "fluids": "label",
        "bottles": "lot",
    }


def test_datasette_finds_the_search_of_a_table_in_the_file_itself(site: Site) -> None:
    database = site.datasette.databases["team"]
    searched = [kind for kind in KINDS if kind.searched]
    assert len(searched) > 5
    for kind in searched:
        assert asyncio.run(database.fts_table(kind.table)) == search_table(kind)


def test_a_large_database_counts_no_facets_of_a_view_unless_one_is_asked_for(
    team: Team, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    with site_over(team.path, registry) as small:
        assert _facets(small, "/team/what_worked.json")
    monkeypatch.setattr(database_marks, "LARGE", 1)
    with site_over(team.path, registry) as large:
        assert not _facets(large, "/team/what_worked.json")
        assert _facets(large, "/team/what_worked.json?_facet=grip")
        assert _facets(large, "/team/builds.json")


def test_a_cell_has_its_heading_for_a_phone_and_is_marked_where_it_is_empty(site: Site) -> None:
    page = site.page("/team/builds?_sort=label")
    assert re.search('<td role="cell" class="short" data-heading="Diff"><a [^>]*>front-a</a></td>', page)
    assert re.search('<td role="cell" class="[^"]* empty" data-heading="Dry mass \\[g\\]">\\s*&nbsp;</td>', page)
    assert "columns: scroll inside the table for those to the right" in page
    assert 'data-heading="label">front-a/1</td>' in site.page("/team?sql=select+id,+label+from+builds+order+by+label")


def test_a_kept_result_is_shown_in_the_unit_and_digits_of_its_calculator(registry: Registry) -> None:
    state = DatasetteState(registry)
    swell = state.field_of_result("calc_seal_swell", "volume_change_fraction")
    assert swell is not None
    assert format_number(0.03413111133, swell) == "3.4 %"
    assert state.field_of_result("calc_blend_rows", "mass_g") is not None
    assert state.field_of_result("builds", "mass_g") is None
    assert state.field_of_result(None, "mass_g") is None


def test_technical_tables_are_hidden(site: Site) -> None:
    page = site.page("/team")
    for name in ("history", "note_bytes", "_sqlite_migrations", "builds_search", "builds_search_data"):
        assert f'href="/team/{name}"' not in page
    assert 'href="/team/builds"' in page
    assert "Each filling of a diff" in page


def test_names_are_shown_instead_of_ids(site: Site, team: Team) -> None:
    tables = ("builds", "weighings", "run_diffs", "shelf", "what_worked", *(kind.table for kind in FACTS))
    for path in (f"/team/{table}" for table in tables):
        words = _shown(site.page(path))
        assert not re.search(r"[0-9a-f]{8}-[0-9a-f]{4}-", words.partition("How it is defined")[0]), path
    row = site.page(f"/team/weighings/{team.ids['weighing rear-b/1']}")
    assert "rear-b/1" in _shown(row)
    assert team.ids["rear-b/1"] not in _shown(row)
    bottle = _shown(site.page(f"/team/builds/{team.ids['rear-a/2']}"))
    assert "10,000" in bottle


def test_facts_are_shown_under_the_name_of_what_they_are_about(site: Site, team: Team) -> None:
    row = site.page(f"/team/build_facts/{team.ids['rear-a/2']}")
    assert "<h1>Facts of builds: rear-a/2</h1>" in row
    assert team.ids["rear-a/2"] not in _shown(row)
    tables = site.page("/team")
    assert tables.index("Behind the overviews") < tables.index("Facts of builds")


def test_words_are_found_by_search(site: Site) -> None:
    page = site.page("/team/builds?_search=quince")
    assert "rear-b/2" in page
    assert "rear-a/1" not in page.partition("<table>")[2]
    assert 'id="_search"' in page


def test_masses_show_what_the_scale_could_tell(site: Site) -> None:
    page = site.page("/team/builds")
    cells = re.findall(r'<td role="cell" class="number"[^>]*>([^<]*)</td>', page)
    assert "12.42" in cells
    assert "12.4" in cells
    assert "12.40" not in cells


def test_measured_numbers_keep_their_own_digits() -> None:
    mass = Field("mass_g", "quantity", "", unit="g")
    assert measured_text(12.4, mass) == "12.40"
    assert measured_text(12.423, mass) == "12.423"
    assert measured_text(0.1 + 0.2, mass) == "0.30"
    assert measured_text(6150.0, Field("viscosity_cst", "quantity", "", unit="cSt")) == "6,150"
    assert DECIMALS["g"] == 2


def test_numbers_of_a_question_in_sql_are_rounded_by_their_unit(site: Site) -> None:
    page = site.page("/team?sql=select+12.41999999999+as+dry_mass_g")
    assert '<td role="cell" data-heading="dry_mass_g">12.42</td>' in page


def test_a_verdict_is_a_sign_and_a_word(site: Site) -> None:
    page = site.page("/team/shelf")
    word = re.search(
        r'<span class="verdict (\w+)"><svg class="sign"[^>]*aria-hidden="true">.*?</svg> ([a-z ]+)</span>', page
    )
    assert word
    assert SIGN_OF[word[2]] == word[1]
    assert {SIGN_OF[one] for one in ("ok", "caution", "stop", "unclear")} == {"ok", "caution", "stop", "unclear"}
    assert str(with_sign("<b>")) == "&lt;b&gt;"


def test_hostile_notes_are_text_on_tables_and_rows(site: Site, team: Team) -> None:
    for path in (
        "/team/builds",
        f"/team/builds/{team.ids['rear-a/2']}",
        f"/team/-/run/{team.ids['run 2']}",
        f"/team/venues/{team.ids['field']}",
        f"/team/fluids/{team.ids['evil fluid']}",
        "/team/fluids",
        "/team/what_worked",
        "/team/build_sheet",
        "/team?sql=select+note+from+builds",
    ):
        page = site.page(path)
        assert "<script>document" not in page, path
        assert "<img src=x" not in page, path
    assert html.escape(HOSTILE, quote=False)[:40] in site.page("/team/runs").replace("&#34;", '"')
    whole = _shown(site.page(f"/team/-/run/{team.ids['run 2']}"))
    assert whole.count("long ") >= 20_000


def test_no_path_of_the_machine_in_any_answer(site: Site, team: Team) -> None:
    folder = str(team.path.parent)
    for path in (
        "/",
        "/team",
        "/-/databases",
        "/-/databases.json",
        "/-/threads.json",
        "/-/plugins.json",
        "/-/versions.json",
        "/-/settings.json",
        "/-/metadata.json",
        "/nothing",
        "/team/nothing",
        "/team/builds/nothing",
        "/team?sql=select+*+from+nothing",
        "/team?sql=PRAGMA+database_list",
        "/team/builds?_sort=nothing",
    ):
        text = site.get(path).text
        assert folder not in text, path
        assert "site-packages" not in text, path


def test_a_fault_inside_is_shown_without_its_path(
    team: Team, registry: Registry, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    gone = tmp_path / "gone.db"
    gone.write_bytes(team.path.read_bytes())
    with site_over(gone, registry) as site:
        site.page("/gone/builds")
        for one in gone.parent.glob("gone.db*"):
            one.unlink()
        for path in ("/gone", "/-/databases.json", "/-/databases"):
            answer = site.get(path)
            assert answer.status_code in (400, 500)
            assert str(tmp_path) not in answer.text
        assert "Something went wrong" in answer.text
    capsys.readouterr()


def test_a_question_that_takes_too_long_is_stopped_in_words(site: Site) -> None:
    endless = "with recursive n(x) as (select 1 union all select x + 1 from n) select count(*) from n"
    answer = site.get("/team", params={"sql": endless, "_timelimit": "50"})
    assert answer.status_code == 400
    assert "longer than this server allows" in answer.text
    assert "<script>" not in answer.text


def test_answers_of_our_databases_carry_the_policy(site: Site) -> None:
    for path in ("/", "/team", "/team/builds", "/team/builds.json", "/team/builds.csv", "/team/-/home", "/nothing"):
        answer = site.get(path)
        header = answer.headers["content-security-policy"]
        assert re.sub(" 'nonce-[^']+'", "", header) == POLICY, path
        assert "nonce" not in header or path == "/team" or path == "/team/builds", path
        assert answer.headers["x-content-type-options"] == "nosniff"
    rules = dict(rule.split(" ", 1) for rule in POLICY.split("; "))
    assert rules["default-src"] == "'none'"
    assert rules["frame-ancestors"] == "'none'"
    assert rules["form-action"] == "'self'"
    assert "unsafe" not in rules["script-src"]


def test_our_pages_hold_no_inline_script(site: Site, team: Team) -> None:
    for path in ("/", "/team", "/team/builds", f"/team/builds/{team.ids['rear-a/2']}", "/team?sql=select+1"):
        assert not re.search(r"<script(?![^>]*(src|nonce)=)[^>]*>", site.page(path)), path


def test_sql_can_be_switched_off_and_tables_still_work(team: Team, registry: Registry) -> None:
    with site_over(team.path, registry, allow_sql=False) as closed:
        assert closed.get("/team?sql=select+1").status_code == 403
        assert closed.get("/team/builds?_where=1=1").status_code in (400, 403)
        assert "Ask in SQL" not in closed.page("/team")
        for name in _tables(team):
            assert closed.get(f"/team/{name}.json").status_code == (200 if may_be_seen(name) else 403), name
        of_each_sort = ("builds", "about", "build_facts", "builds_search", "shelf", "what_worked", "calc_fill_target")
        assert set(of_each_sort) <= set(_tables(team))
        for name in of_each_sort:
            assert closed.get(f"/team/{name}").status_code == 200, name


def test_a_view_is_filtered_by_a_decimal_and_a_negative_number_as_sqlite_does(team: Team, site: Site) -> None:
    """Of every column with numbers of the views that work some out."""
    compared = 0
    with sqlite3.connect(team.path) as connection:
        for view in (view.name for view in VIEWS if "CAST(" in view.sql):
            for (column,) in connection.execute("SELECT name FROM pragma_table_xinfo(?)", (view,)).fetchall():
                held = f"FROM {view} WHERE typeof({column}) IN ('real', 'integer')"
                least, most = connection.execute(f"SELECT min({column}), max({column}) {held}").fetchone()
                if least is None:
                    continue
                for number in (round((least + most) / 2, 2) + 0.001, *((-1,) if column == "runs" else ())):
                    (right,) = connection.execute(f"SELECT count(*) {held} AND {column} > {number}").fetchone()
                    found = site.get(f"/team/{view}.json?_shape=array&_size=max&{column}__gt={number}").json()
                    assert len(found) == right, (view, column, number)
                    compared += 1
    connection.close()
    assert compared > 20
