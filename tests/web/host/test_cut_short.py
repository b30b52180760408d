"""An answer with fewer rows than there are says so: in a header, in the last row of a CSV file, in its name."""

from __future__ import annotations

import csv
import html
import re
from collections.abc import Iterator
from io import StringIO
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from browser_team import Site, Team, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.cut_short import CUT, HEADER

RUNS = 8
"""In the made team."""


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("cut") / "team.db")


@pytest.fixture(scope="module")
def site(team: Team, registry: Registry) -> Iterator[Site]:
    with site_over(team.path, registry) as made:
        yield made


def _rows(text: str) -> list[list[str]]:
    return list(csv.reader(StringIO(text)))


def test_a_csv_file_that_is_cut_says_so_in_every_cell_of_its_last_row(site: Site) -> None:
    answer = site.get("/team/runs.csv?_size=3&grip=low&_sort=best_five_s")
    head, *rows, last = _rows(answer.text)
    assert len(rows) == 3
    assert last[0] == (
        "cut short: 3 rows are here and there are more; all are at /team/runs.csv?grip=low&_sort=best_five_s&_stream=on"
    )
    assert last[1:] == [CUT] * (len(head) - 1)
    assert answer.headers[HEADER] == "3 rows are here, there are more"
    whole = _rows(site.page(last[0].partition("all are at ")[2]))
    assert [row[0] for row in whole[1:4]] == [row[0] for row in rows]
    assert len(whole) == 5
    assert whole[-1][0] != last[0]


@pytest.mark.parametrize("query", ["", "?_size=max", "?_stream=on&_size=3", "?_size=8", "?grip=low&_size=4"])
def test_a_csv_file_that_is_whole_says_nothing(site: Site, query: str) -> None:
    answer = site.get(f"/team/runs.csv{query}")
    assert CUT not in answer.text
    assert HEADER not in answer.headers


def test_a_stream_reads_in_the_largest_pages_unless_it_says_in_which(site: Site) -> None:
    """A table of ours has pages of 50 rows: 2,000 statements for 100,000 rows, each sorted again."""
    asked: list[str] = []
    database = site.datasette.databases["team"]
    execute = type(database).execute

    async def counted(self: Any, sql: str, *more: Any, **named: Any) -> Any:
        asked.append(sql)
        return await execute(self, sql, *more, **named)

    for query, limits in (
        ("_stream=on", {"1001"}),
        ("_stream=on&_size=2", {"3", "3 offset 2", "3 offset 4", "3 offset 6"}),
    ):
        asked.clear()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(type(database), "execute", counted)
            site.page(f"/team/what_worked.csv?{query}")
        assert {sql.partition(" limit ")[2] for sql in asked if " limit " in sql} == limits


def test_a_cut_file_to_save_has_it_in_its_name(site: Site) -> None:
    assert 'filename="runs-cut-short.csv"' in site.get("/team/runs.csv?_size=3&_dl=on").headers["content-disposition"]
    assert 'filename="runs.csv"' in site.get("/team/runs.csv?_stream=on&_dl=on").headers["content-disposition"]


def test_a_cut_file_with_labels_and_without_a_header_line_has_as_many_cells_in_its_last_row(site: Site) -> None:
    for query in ("_labels=on&_size=3", "_header=off&_size=3", "_labels=on&_size=3&_header=off", "_col=grip&_size=3"):
        rows = _rows(site.page(f"/team/runs.csv?{query}"))
        assert len(rows[-1]) == len(rows[0]), query
        assert rows[-1][-1] == CUT


def test_the_last_page_of_a_table_is_not_called_cut(site: Site) -> None:
    first = site.get("/team/runs.json?_size=6")
    assert first.headers[HEADER] == "6 rows are here, there are more"
    after = site.get(f"/team/runs.json?_size=6&_next={first.json()['next']}")
    assert len(after.json()["rows"]) == RUNS - 6
    assert HEADER not in after.headers


@pytest.mark.parametrize("shape", ["arrays", "objects", "array", "object", "arrayfirst"])
def test_json_of_every_shape_says_that_it_is_cut(site: Site, shape: str) -> None:
    answer = site.get(f"/team/runs.json?_size=3&_shape={shape}")
    assert answer.headers[HEADER] == "3 rows are here, there are more"
    assert 'rel="next"' in answer.headers["link"]


def test_a_query_of_ones_own_that_is_cut_says_so(team: Team, registry: Registry) -> None:
    with site_over(team.path, registry) as site:
        site.datasette.max_returned_rows = 5
        asked = "sql=SELECT+id,+run_on+FROM+runs+ORDER+BY+id"
        answer = site.get(f"/team.csv?{asked}")
        head, *rows, last = _rows(answer.text)
        assert (head, len(rows), last[1]) == (["id", "run_on"], 5, CUT)
        assert last[0].startswith("cut short: 5 rows are here and there are more; add ORDER BY, LIMIT and OFFSET")
        assert HEADER in answer.headers
        assert HEADER in site.get(f"/team.json?{asked}&_shape=array").headers
        assert "Rows 1 to 5; there are more" in site.page(f"/team?{asked}")
        assert CUT not in site.page(f"/team.csv?{asked}+LIMIT+5")


def test_a_stream_that_stops_before_its_end_says_so(team: Team, registry: Registry) -> None:
    with site_over(team.path, registry) as site:
        site.datasette._settings["max_csv_mb"] = 0.0001
        text = site.page("/team/runs.csv?_size=1&_stream=on")
        assert _rows(text)[-1][0].startswith("cut short: ")
        assert "the server stopped before the end" in text


def test_where_no_file_may_be_streamed_the_last_row_names_no_address(team: Team, registry: Registry) -> None:
    with site_over(team.path, registry) as site:
        site.datasette._settings["allow_csv_stream"] = False
        assert _rows(site.page("/team/runs.csv?_size=3"))[-1][0].endswith("filter the rows to get others")


def test_a_page_says_which_rows_of_how_many_it_shows_and_its_link_to_csv_gives_all(site: Site) -> None:
    first = site.page("/team/runs?_size=3&_sort=run_on")
    assert "Rows 1 to 3 of 8" in first
    second = site.page(_link(first, "Next page").removeprefix("http://localhost"))
    assert "Rows 4 to 6 of 8" in second
    last = site.page(_link(second, "Next page").removeprefix("http://localhost"))
    assert "Rows 7 to 8 of 8" in last
    for page in (first, second, last):
        assert len(_rows(site.page(_link(page, "All 8 rows as CSV")))) == 1 + RUNS
    assert "Rows 3 to 5 of 8" not in site.page("/team/runs?_size=3&_from=3")
    whole = site.page("/team/runs")
    assert '<p class="count">8 rows' in whole
    assert len(_rows(site.page(_link(whole, "All 8 rows as CSV")))) == 1 + RUNS


def test_the_query_of_a_page_is_the_one_that_was_asked(site: Site) -> None:
    page = site.page("/team/runs?_sort=grip&_size=3")
    asked = parse_qs(urlsplit(_link(page, "The SQL query")).query)["sql"][0]
    assert asked.endswith("order by grip, id limit 4")
    assert asked.partition(" limit ")[0] in html.unescape(site.page(f"/team?{urlencode({'sql': asked})}"))


@pytest.mark.parametrize("value", ["x,", "b'x,", "1e999,", "$null,", ",", ""])
def test_an_address_goes_on_behind_any_value_of_a_row_and_behind_no_other_key(site: Site, value: str) -> None:
    row = site.get("/team/runs.json?_shape=array&_size=1").json()[0]["id"]
    assert site.get(f"/team/runs.json?_sort=best_five_s&_next={value}{row}").status_code == 200
    for address in ("runs.json?_sort=best_five_s&_next=", "note_bytes.json?_next="):
        answer = site.get(f"/team/{address}{value}y")
        assert (answer.status_code, "_next=" in answer.text) == (400, True)


def test_a_page_whose_place_is_not_known_says_how_many_rows_it_shows(site: Site) -> None:
    following = site.get("/team/runs.json?_size=3").json()["next"]
    assert "3 more rows of 8" in site.page(f"/team/runs?_size=3&_next={following}")
    assert "_from=x" in site.page(f"/team/runs?_size=3&_next={following}&_from=x", status=400)


def _link(page: str, words: str) -> str:
    """The address behind the words."""
    found = re.search(f'<a href="([^"]*)">{words}</a>', page)
    assert found, words
    return html.unescape(found[1])


def test_a_query_that_is_refused_gives_no_file_without_rows(team: Team, registry: Registry) -> None:
    with site_over(team.path, registry) as site:
        answer = site.get("/team.csv?sql=SELECT+bounce+FROM+runs&_dl=1")
    assert (answer.status_code, "no such column: bounce" in answer.text) == (400, True)
    assert "content-disposition" not in answer.headers
