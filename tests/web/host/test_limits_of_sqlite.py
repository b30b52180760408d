"""A query that asks a served database for more than the memory of the machine is refused in words."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_team import Site, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.web.host import readonly
from bevelbook.web.host.limits_of_sqlite import LONGEST_OF_VISITORS_BYTES, LONGEST_VALUE_BYTES, TOO_LONG_A_VALUE
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE
from bevelbook.web.host.readonly import guard
from bevelbook.web.host.visitors_sql import THREADS


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
    team = site.datasette.databases["team"]
    question = {"sql": "SELECT 1"}
    assert site.get("/team.json", params=question).status_code == 200
    monkeypatch.setattr(readonly, "_VISITORS_WAIT_S", 0.1 - site.datasette.setting("sql_time_limit_ms") / 1000)
    over = threading.Event()
    held = [team._visitors._pool.submit(over.wait, 30) for _ in range(THREADS)]
    try:
        answer = site.get("/team.json", params=question)
        assert (answer.status_code, "took too long" in answer.text) == (400, True)
        assert site.get("/team/-/home").status_code == 200
        assert site.get("/team/builds").status_code == 200
    finally:
        over.set()
    assert all(one.result() for one in held)


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
