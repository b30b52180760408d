"""The event of a run was a text: each different one becomes an event, the same on every laptop. All rows are
constructed."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from tempfile import mkdtemp

import pytest

from bevelbook.meeting.union import merge_into
from bevelbook.meeting.vetted import vetted
from bevelbook.records import BY_NAME
from bevelbook.store.clashes import clashes
from bevelbook.store.event_of_day import events_standing
from bevelbook.store.events_of_texts import event_id
from bevelbook.store.migrate import create_at_step
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.schema import APPLICATION_ID
from bevelbook.store.writing import Writer

STEP_WITH_TEXTS = 4
AT = "2026-05-03T18:20:00.000Z"
Past = tuple[str, str | None]
"""A run with the event that was written for it."""


def older_database(path: Path, runs: Iterable[Past], past: Iterable[Past] = ()) -> Path:
    """A database of before events were records, with runs, and what some of them said before."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        create_at_step(connection, STEP_WITH_TEXTS)
        connection.execute(
            "INSERT INTO entries (id, made_at, made_by, asked) VALUES ('0197-first', ?, 'ana', 'record run')", (AT,)
        )
        earlier = dict(past)
        for label, event in runs:
            connection.execute(
                "INSERT INTO runs (id, version, parents, entered, created_at, updated_at, label, run_on, event, "
                "best_lap_s) VALUES (?1, ?2, ?3, ?4, ?5, ?5, ?1, '2026-05-03', ?6, 14.1)",
                (
                    label,
                    f"v2 {label}" if label in earlier else f"v1 {label}",
                    json.dumps([f"v1 {label}"]) if label in earlier else None,
                    json.dumps({"event": event}),
                    AT,
                    event,
                ),
            )
        for label, event in earlier.items():
            content = {"entered": None, "created_at": AT, "updated_at": AT, "label": label, "run_on": "2026-05-03"}
            text = json.dumps({**content, "event": event, "best_lap_s": 1}).replace(": 1}", ": 14.100000000000001}")
            connection.execute(
                "INSERT INTO history (table_name, row_id, version, content, replaced_in, replaced_at) "
                "VALUES ('runs', ?1, 'v1 ' || ?1, ?2, '0197-first', ?3)",
                (label, text, AT),
            )
    return path


def shown(connection: sqlite3.Connection) -> dict[str, str | None]:
    """The name of each run's event."""
    asked = "SELECT r.label, e.name FROM runs r LEFT JOIN events e ON e.id = r.event ORDER BY r.label"
    return {row[0]: row[1] for row in connection.execute(asked)}


def sent(path: Path) -> Path:
    """The clean database that a laptop makes of what another one sends."""
    return vetted(path, Path(mkdtemp(dir=path.parent)))


def test_each_different_text_is_an_event_and_the_past_says_it_too(tmp_path: Path) -> None:
    runs = [("a", "club race"), ("b", "Club  race"), ("c", None), ("d", "spring cup"), ("e", "club race"), ("f", " ")]
    path = older_database(tmp_path / "team.db", runs, [("d", "test day"), ("e", "club race")])
    with closing(open_for_writing(path)) as team:
        first = {row["name"]: row["id"] for row in team.execute("SELECT name, id FROM events")}
        assert first == {name: event_id(name) for name in ("club race", "Club  race", "spring cup", "test day")}
        assert len(events_standing(team)) == 3
        one = {shown(team)["a"], shown(team)["b"], shown(team)["e"]}
        assert len(one) == 1
        assert one <= {"club race", "Club  race"}
        assert (shown(team)["c"], shown(team)["d"], shown(team)["f"]) == (None, "spring cup", None)
        assert not team.execute("SELECT 1 FROM events WHERE first_on IS NOT NULL OR venue IS NOT NULL").fetchall()
        ((content,),) = team.execute("SELECT content FROM history WHERE row_id = 'd'")
        assert json.loads(content)["event"] == event_id("test day")
        assert "14.100000000000001" in content
        assert team.execute("SELECT count(*) FROM history").fetchone()[0] == 2
        assert json.loads(team.execute("SELECT entered FROM runs WHERE id = 'd'").fetchone()[0]) == {
            "event": "spring cup"
        }
        found = team.execute("SELECT rowid FROM events_search WHERE events_search MATCH 'spring'").fetchall()
        assert len(found) == 1
        assert not team.execute("PRAGMA foreign_key_check").fetchall()


BO = [("a", "club race"), ("b", "Club Race"), ("g", "autumn cup")]
ANA = [("a", "club race"), ("d", "spring cup"), ("b", "Club Race")]


@pytest.mark.parametrize("is_upgraded_apart", [True, False], ids=["brought here apart", "an older one comes in"])
def test_two_laptops_that_upgrade_apart_have_one_event_and_no_clash(tmp_path: Path, is_upgraded_apart: bool) -> None:
    here = older_database(tmp_path / "here.db", ANA, [("d", "test day"), ("b", "club race")])
    there = older_database(tmp_path / "there.db", BO, [("b", "club race")])
    if is_upgraded_apart:
        open_for_writing(there).close()
    with closing(open_for_writing(here)) as team:
        merge_into(team, here, sent(there))
        assert clashes(team) == []
        assert shown(team).keys() == {"a", "b", "d", "g"}
        assert shown(team)["a"] == shown(team)["b"]
        assert sorted(one.name.casefold() for one in events_standing(team)) == [
            "autumn cup",
            "club race",
            "spring cup",
            "test day",
        ]
        again = merge_into(team, here, sent(there))
        assert again.is_empty


def test_days_that_one_laptop_gave_stay_when_the_other_upgrades_later(tmp_path: Path) -> None:
    here, there = older_database(tmp_path / "here.db", ANA), older_database(tmp_path / "there.db", BO)
    with closing(open_for_writing(here)) as team:
        with transaction(team, here, asked="record event", by="ana"):
            Writer(team, "ana").update(BY_NAME["event"], event_id("spring cup"), {"first_on": "2026-05-03"})
        merge_into(team, here, sent(there))
        assert clashes(team) == []
        days = {one.name.casefold(): one.first_on for one in events_standing(team)}
        assert days == {"club race": None, "spring cup": "2026-05-03", "autumn cup": None}
