"""What the search page asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Team

from bevelbook.plugin.registry import Registry
from bevelbook.web.pages.search import search_page_of


def test_search_finds_rows_with_the_words_and_calculators_that_speak_of_them(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    build = team.build(note="quince on the shaft")
    team.build(note="nothing to say")
    found = search_page_of(connection, registry, "quin")
    assert [(hit.kind.name, hit.row_id, hit.name) for hit in found.hits] == [("build", build, "rear-a/1")]
    assert found.calculators == []
    speaking = search_page_of(connection, registry, "POURING").calculators
    assert "fill-target" in [one.name for one in speaking]
    assert [one.title for one in speaking] == sorted(one.title for one in speaking)


def test_no_words_find_nothing(connection: sqlite3.Connection, registry: Registry, team: Team) -> None:
    team.build(note="quince")
    assert search_page_of(connection, registry, "") == ([], [])
