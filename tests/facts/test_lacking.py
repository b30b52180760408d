"""Facts that another program took out of the file: readers say so with the way back. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browser_team import make_team, site_over

from bevelbook.facts.lacking import facts_are_lacking
from bevelbook.plugin.registry import Registry
from bevelbook.store.opened_to_read import open_for_reading

Maker = Callable[..., Any]
TABLES = ("build_facts", "diff_facts", "run_diff_facts")


def without(path: Path, *tables: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        for table in tables:
            connection.execute(f"DELETE FROM {table}")


def is_lacking(path: Path) -> bool:
    with closing(open_for_reading(path)) as connection:
        return facts_are_lacking(connection)


@pytest.fixture
def team(tmp_path: Path) -> Path:
    return make_team(tmp_path / "team.db", note="grey oil at the seal").path


def test_commands_name_the_way_back_and_it_works(bevelbook: Maker, team: Path) -> None:
    without(team, *TABLES)
    for words in (["plan"], ["compare", "rear-a/1", "rear-a/2"], ["card", "rear-a/2"]):
        done = bevelbook("--db", team, *words)
        said = " ".join(done.err.split())
        assert done.code == 2, (words, said)
        assert "what follows from the records is not all there" in said
        assert "check --rebuild" in said
        assert "fault of the program" not in said
    assert bevelbook("--db", team, "check", "--rebuild").code in (0, 1)
    assert not is_lacking(team)
    for words in (["plan"], ["compare", "rear-a/1", "rear-a/2"], ["card", "rear-a/2"]):
        assert bevelbook("--db", team, *words).code in (0, 1), words


@pytest.mark.parametrize("table", TABLES)
def test_each_table_is_looked_at(team: Path, table: str) -> None:
    assert not is_lacking(team)
    without(team, table)
    assert is_lacking(team)


def test_pages_name_it_too(team: Path, registry: Registry) -> None:
    with closing(open_for_reading(team)) as connection:
        (build,) = connection.execute("SELECT id FROM builds WHERE label = 'rear-a/2'").fetchone()
    without(team, *TABLES)
    with site_over(team, registry) as site:
        for page in ("plan", f"card/{build}"):
            answer = site.get(f"/team/-/{page}")
            assert answer.status_code == 400, page
            assert "check --rebuild" in answer.text, page
