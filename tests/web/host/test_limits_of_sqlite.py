"""A query that asks a served database for more than the memory of the machine is refused in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_team import Site, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.limits_of_sqlite import LONGEST_VALUE_BYTES, TOO_LONG_A_VALUE
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE
from bevelbook.web.host.readonly import guard


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
