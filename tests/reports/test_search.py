"""The search for words in all records."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_team import Team, make_team
from conftest import FIXED_NOW
from constructed import adding

from bevelbook.reports.search import HIT_END, HIT_START, excerpt_of, search_records
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("search") / "team.db")


@pytest.fixture
def connection(team: Team) -> Iterator[sqlite3.Connection]:
    opened = open_for_reading(team.path)
    yield opened
    opened.close()


def test_search_finds_whole_words_and_the_last_one_begun(connection: sqlite3.Connection, team: Team) -> None:
    assert [one.row_id for one in search_records(connection, "grooved sha", 10)] == [team.ids["rear-b/1"]]
    (found,) = search_records(connection, "quince", 10)
    assert found.excerpt == f"{HIT_START}quince{HIT_END}"
    assert search_records(connection, "rings quince", 10) == []
    assert search_records(connection, "   ", 10) == []


@pytest.mark.parametrize("words", ['"', "* OR", "NEAR(a b)", "a AND b", "-x", "col:x", "\0", "'; DROP TABLE builds;"])
def test_search_takes_any_text_as_words(connection: sqlite3.Connection, words: str) -> None:
    search_records(connection, words, 10)


def test_an_excerpt_of_a_long_note_is_short_and_marks_its_hits(connection: sqlite3.Connection, team: Team) -> None:
    found = [one for one in search_records(connection, "long", 10) if one.row_id == team.ids["run 2"]]
    assert len(found) == 1
    assert f"{HIT_START}long{HIT_END}" in found[0].excerpt
    assert len(found[0].excerpt) < 400


def test_a_hit_that_only_the_index_sees_shows_the_beginning() -> None:
    assert excerpt_of(["café", "rien"], re.compile("cafe")) == "rien"
    assert excerpt_of([], re.compile("x")) == ""


def test_of_each_kind_the_newest_day_comes_first_however_often_a_word_is_there(db: Path) -> None:
    """Written down in another order than they were run."""
    connection = open_for_writing(db)
    with transaction(connection, db):
        add = adding(Writer(connection, "ana", lambda: FIXED_NOW))
        for day, note in (("2026-05-03", "planted"), ("2026-05-09", "once planted"), ("2026-05-01", "planted " * 5)):
            add("run", label=f"heat {day}", run_on=day, note=note)
    assert [one.name for one in search_records(connection, "planted", 10)] == [
        "heat 2026-05-09",
        "heat 2026-05-03",
        "heat 2026-05-01",
    ]
    connection.close()
