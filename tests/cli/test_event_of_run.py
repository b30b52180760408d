"""The event of a run at the command line: made where it is new, taken back with its run, joined, erased."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

Run = Callable[..., Any]


def events(path: Path) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        asked = "SELECT r.label, e.name FROM runs r LEFT JOIN events e ON e.id = r.event ORDER BY r.label"
        return connection.execute(asked).fetchall()


def count(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("SELECT count(*) FROM events").fetchone()[0])


def test_a_new_event_comes_and_goes_with_its_run_and_two_are_joined(bevelbook: Run, db: Path) -> None:
    def said(*words: object) -> Any:
        done = bevelbook("--db", db, "--by", "ana", *words)
        assert done.code == 0, done.err
        return done

    first = said("record", "run", "run_on=2026-05-03", "event=spring cup")
    assert 'The event "spring cup" is new: it was added.' in first.out + first.err
    assert events(db) == [("2026-05-03/1", "spring cup")]
    said("take-back", "--yes")
    assert (events(db), count(db)) == ([], 0)
    said("record", "run", "run_on=2026-05-03", "event=spring cup")
    said("record", "run", "run_on=2026-05-04", "event=cup in spring")
    said("join", "event", "spring cup", "cup in spring")
    assert {name for _, name in events(db)} == {"spring cup"}
    low = bevelbook("--db", db, "record", "event", "name=cup", "air_low=24", "air_high=18")
    assert low.code == 2
    assert "above the highest" in low.err
    said("record", "event", "spring cup", "first_on=2026-05-03", "last_on=2026-05-04")
    said("record", "run", "run_on=2026-05-10", "event=spring cup")
    assert count(db) == 3, "a run of another day is of an event of its own"


def test_a_person_who_is_erased_goes_from_the_names_of_events(bevelbook: Run, db: Path) -> None:
    for words in (("person", "name=joris"), ("run", "run_on=2026-05-03", "event=cup of joris")):
        assert bevelbook("--db", db, "record", *words).code == 0
    done = bevelbook("--db", db, "erase", "person", "joris", "--yes")
    assert done.code == 0, done.err
    ((_, name),) = events(db)
    assert name.startswith("cup of erased")
