"""A query that asks a served database for more than the memory of the machine is refused in words."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import closing
from pathlib import Path
from urllib.parse import urlencode

import pytest
from browser_team import Site, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.web.host import visitors_sql
from bevelbook.web.host.limits_of_sqlite import LONGEST_OF_VISITORS_BYTES, LONGEST_VALUE_BYTES, TOO_LONG_A_VALUE
from bevelbook.web.host.own_sql import own_sql_of
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE
from bevelbook.web.host.readonly import guard
from bevelbook.web.host.visitors_sql import ENDED_AFTER_S, VisitorsProcesses, visitors_processes
from bevelbook.web.worker.crossing import Held


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Site]:
    with site_over(make_team(tmp_path_factory.mktemp("limits") / "team.db").path, registry) as made:
        yield made


def test_a_value_of_hundreds_of_megabytes_is_refused_in_words(site: Site) -> None:
    for asked in (
        "zeroblob(900000000)",
        "hex(zeroblob(400000000))",
        "replace(hex(zeroblob(1000)), '00', hex(zeroblob(1000000)))",
        "(SELECT group_concat(hex(zeroblob(1000000))) FROM diffs, runs)",
    ):
        answer = site.get("/team.json", params={"sql": f"select {asked}"})
        assert (answer.status_code, TOO_LONG_A_VALUE in answer.text) == (400, True), asked
    page = site.get("/team", params={"sql": "select zeroblob(900000000)"})
    assert (page.status_code, TOO_LONG_A_VALUE in page.text) == (200 if HAS_SQL_PAGE else 400, True)
    table = site.get("/team/builds.json", params={"_where": "length(zeroblob(900000000)) > 1"})
    assert (table.status_code, TOO_LONG_A_VALUE in table.text) == (400, True)


def test_a_number_printed_in_hundreds_of_megabytes_is_left_empty_by_sqlite(site: Site) -> None:
    asked = {"sql": "select printf('%*d', 900000000, 1) as wide", "_shape": "array"}
    assert site.get("/team.json", params=asked).json() in ([{"wide": None}], [{"wide": ""}])


def test_two_texts_so_long_that_to_compare_them_everywhere_takes_minutes_are_refused(site: Site) -> None:
    compare = "SELECT instr(hex(zeroblob(990000)), hex(zeroblob(470000)) || '1')"
    assert TOO_LONG_A_VALUE in site.get("/team.json", params={"sql": compare}).text
    table = site.get("/team/builds.json", params={"_where": f"({compare}) = 0"})
    assert (table.status_code, TOO_LONG_A_VALUE in table.text) == (400, True)
    pattern = site.get("/team.json", params={"sql": "SELECT 'a' LIKE hex(zeroblob(2000))"})
    assert (pattern.status_code, "pattern too complex" in pattern.text) == (400, True)
    longest = site.get("/team.json", params={"sql": "SELECT max(length(note)) FROM venues", "_shape": "arrays"})
    assert 100_000 < longest.json()["rows"][0][0] < LONGEST_OF_VISITORS_BYTES


def test_while_visitors_sql_works_on_and_on_pages_are_answered_and_more_of_it_is_given_up(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    class AtWork(VisitorsProcesses):
        is_ready = True

        def submit(self, question: Held) -> Future[Held]:
            return Future()

    limit_s = site.datasette.setting("sql_time_limit_ms") / 1000
    monkeypatch.setattr(visitors_sql, "_PROCESSES", [AtWork()])
    monkeypatch.setattr(visitors_sql, "WAIT_S", 0.1 - ENDED_AFTER_S - limit_s)
    answer = site.get("/team.json", params={"sql": "SELECT 1"})
    assert (answer.status_code, "took too long" in answer.text) == (400, True)
    assert site.get("/team/-/home").status_code == 200
    assert site.get("/team/builds").status_code == 200


def test_functions_that_look_at_no_clock_are_ended_with_their_process(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each of these calls compares two long texts at every place of one, and there is no step between them."""
    long, sought = "SELECT hex(zeroblob(99000)) AS x", "SELECT hex(zeroblob(49000)) || '1' AS y"
    calls = "+".join(["instr(x, y)"] * 400)
    sql = f"WITH a AS MATERIALIZED ({long}), b AS MATERIALIZED ({sought}) SELECT {calls} FROM a, b"
    with monkeypatch.context() as patched:
        patched.setitem(site.datasette._settings, "sql_time_limit_ms", 50)
        answer = site.get("/team.json", params={"sql": sql})
    assert (answer.status_code, "took longer than" in answer.text) == (400, True)
    assert site.get("/team.json", params={"sql": "SELECT 7 AS seven", "_shape": "array"}).json() == [{"seven": 7}]


def test_values_of_every_type_of_sqlite_come_over_as_they_are(site: Site) -> None:
    asked = "SELECT NULL, 9223372036854775807, 0.1, 'µ \"' AS \"a \"\"b\", x'00ff', CAST(x'edb080' AS TEXT), -9e999, 1"
    with closing(sqlite3.connect(":memory:")) as memory:
        memory.text_factory = lambda text: str(text, "utf-8", "replace")
        wanted = memory.execute(asked)
        [values] = wanted
    found = asyncio.run(visitors_processes().rows(site.datasette.databases["team"], asked, None, 10, 1000))
    assert [tuple(row) for row in found.rows] == [values]
    assert found.columns == [column[0] for column in wanted.description]


def test_a_row_of_too_many_columns_and_a_sum_of_too_many_terms_are_refused(site: Site) -> None:
    for asked in (f"select {', '.join(['1'] * 600)}", f"select {'+'.join(['1'] * 600)}"):
        assert site.get("/team.json", params={"sql": asked}).status_code == 400


def test_a_kept_file_longer_than_that_is_still_served(tmp_path: Path) -> None:
    """Its packed bytes are a value of the database."""
    path = make_team(tmp_path / "team.db").path
    connection = sqlite3.connect(path)
    with connection:
        connection.execute("INSERT INTO note_bytes VALUES ('long', zeroblob(?))", (3 * LONGEST_VALUE_BYTES,))
    assert guard(connection)
    assert len(connection.execute("SELECT packed FROM note_bytes").fetchone()[0]) == 3 * LONGEST_VALUE_BYTES
    with pytest.raises(sqlite3.DataError, match="too big"):
        connection.execute("SELECT zeroblob(?)", (4 * LONGEST_VALUE_BYTES,)).fetchone()
    connection.close()


def test_a_long_text_to_search_for_is_asked_like_a_visitors_sql_and_no_statement_of_datasette_is() -> None:
    phrase = '"' + "long " * 100 + '"'
    own = own_sql_of(urlencode({"_where": " id > 'a' ;", "_search": phrase, "_sort": "id"}).encode())
    assert own.is_in("select id from builds where id > 'a' order by id", {})
    assert own.is_in("select id from builds where rowid in (select 1)", {"search": phrase})
    assert not own.is_in("PRAGMA schema_version", None)
    assert not own.is_in("select count(*) from builds where id = :p0", {"p0": "a"})
    assert not own_sql_of(b"_search=clip").is_in("select 1", {"search": "clip"})
