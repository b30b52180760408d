"""What the bench wrote, as history has it: times by the clock on the wall, what comes next in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest

from bevelbook.records import BY_NAME
from bevelbook.taking_back.words import changes_in_words

BEGUN = {"id": "1", "begun_at": "2026-05-03T10:00:00.000Z", "done_at": None, "at_step": "Weigh it closed"}
DONE = {**BEGUN, "done_at": "2026-05-03T10:30:12.076Z", "at_step": None}


@pytest.fixture
def connection() -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(":memory:")) as opened:
        yield opened


def test_a_job_that_is_done_says_when_on_the_wall_and_that_no_step_comes_next(
    connection: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two hours ahead of UTC in summer: central Europe (tz database, Europe/Berlin)."""
    from time import tzset

    with monkeypatch.context() as there:
        there.setenv("TZ", "Europe/Berlin")
        tzset()
        said = changes_in_words(connection, BY_NAME["bench_job"], BEGUN, DONE)
    tzset()
    assert said == ["done at 2026-05-03 12:30", "next step: none, was Weigh it closed"]
