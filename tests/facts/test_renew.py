"""Facts that differ from the records are found, and made again. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from conftest import Outcome
from constructed import Team, adding

from bevelbook.facts.kept_facts import facts_of, facts_of_some
from bevelbook.facts.renew import renew_all, stale
from bevelbook.records import FACTS
from bevelbook.records.facts import BuildFacts, DiffFacts, RunDiffFacts
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

SOUND = {"build_facts": 0, "run_diff_facts": 0, "diff_facts": 0}
Run = Callable[..., Outcome]


@pytest.fixture
def team(db: Path) -> Path:
    """Two diffs; one was weighed, ran and had its seals noted twice."""
    connection = open_for_writing(db)
    with transaction(connection, db):
        add = adding(Writer(connection, "ana"))
        fluid = add("fluid", label="house 7k", viscosity_cst=7000.0)
        rear = Team(add, "rear-a", usual_position="rear")
        for last_g in (22.38, 22.00):
            build = rear.build(oil_mass_g=1.86, closed_mass_g=22.40, fluid=fluid)
            add("seal_fitting", build=build, place="joint", condition="used")
            rear.run(build, "2026-02-01", 4.0)
            rear.run(build, "2026-02-02", 2.0)
            rear.weigh(build, (6.0, last_g))
        Team(add, "rear-b").build()
    connection.close()
    return db


@pytest.fixture
def opened(team: Path) -> Iterator[sqlite3.Connection]:
    connection = open_for_writing(team)
    yield connection
    connection.close()


def content(connection: sqlite3.Connection) -> dict[str, list[tuple[Any, ...]]]:
    return {kind.table: [tuple(row) for row in connection.execute(f"SELECT * FROM {kind.table}")] for kind in FACTS}


FAULTS = {
    "a changed number": ("UPDATE build_facts SET loss_g = 0.01 WHERE loss_g = 0.4", {"build_facts": 1}),
    "a changed reason": ("UPDATE diff_facts SET reasons = 'opened' WHERE word = 'open it'", {"diff_facts": 1}),
    "an emptied cell": ("UPDATE build_facts SET leak = NULL WHERE leak = 'stop'", {"build_facts": 1}),
    "a changed word": (
        "UPDATE run_diff_facts SET fill_state = 'unknown' WHERE fill_state = 'doubtful'",
        {"run_diff_facts": 2},
    ),
    "a missing build": ("DELETE FROM build_facts WHERE leak = 'stop'", {"build_facts": 1}),
    "a missing run": ("DELETE FROM run_diff_facts WHERE runs_after = 4.0", {"run_diff_facts": 2}),
    "a missing diff": ("DELETE FROM diff_facts WHERE word = 'open it'", {"diff_facts": 1}),
    "an orphan build": (
        "INSERT INTO build_facts (build, diff, runs) SELECT 'nobody', id, 3.0 FROM diffs LIMIT 1",
        {"build_facts": 1},
    ),
    "an orphan run": (
        "INSERT INTO run_diff_facts (run_diff, build, runs_before, runs_after, fill_state) "
        "VALUES ('nobody', 'nobody', 0.0, 1.0, 'full')",
        {"run_diff_facts": 1},
    ),
    "an orphan diff": ("INSERT INTO diff_facts (diff, word) VALUES ('nobody', 'ready')", {"diff_facts": 1}),
    "all of them gone": ("DELETE FROM build_facts", {"build_facts": 3}),
}


def test_what_the_transactions_wrote_is_what_the_records_say(opened: sqlite3.Connection) -> None:
    assert stale(opened) == SOUND
    counts = {table: len(rows) for table, rows in content(opened).items()}
    assert counts == {"build_facts": 3, "run_diff_facts": 4, "diff_facts": 2}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_row_that_is_not_as_the_records_say_is_found_and_made_again(opened: sqlite3.Connection, fault: str) -> None:
    sql, found = FAULTS[fault]
    before = content(opened)
    opened.execute(sql)
    spoilt = content(opened)
    assert spoilt != before
    assert stale(opened) == SOUND | found
    assert content(opened) == spoilt, "to look changes nothing"
    renew_all(opened)
    assert stale(opened) == SOUND
    assert content(opened) == before


@pytest.mark.parametrize("fault", FAULTS)
def test_check_says_so_and_rebuilds_it_when_asked(team: Path, bevelbook: Run, fault: str) -> None:
    sql, found = FAULTS[fault]
    with closing(sqlite3.connect(team)) as other, other:
        other.execute(sql)
    bytes_before = team.read_bytes()
    said = bevelbook("--db", team, "check", "--json").json["faults"]
    assert team.read_bytes() == bytes_before
    ((table, count),) = found.items()
    rows = f"{count} rows of {table} are" if count > 1 else f"1 row of {table} is"
    assert len(said) == 1
    assert said[0].startswith(f"{rows} not what the records say; ")
    assert "bevelbook check --rebuild" in said[0]
    lines = " ".join(bevelbook("--db", team, "check").out.split())
    assert "The database itself" in lines
    assert said[0].replace("bevelbook check", f"bevelbook --db {team} check") in lines
    assert bevelbook("--db", team, "check", "--rebuild", "--json").json["faults"] == []
    assert bevelbook("--db", team, "check", "--json").json["faults"] == []


def test_a_fault_of_the_facts_alone_ends_the_check_with_1(db: Path, bevelbook: Run) -> None:
    assert bevelbook("--db", db, "check").code == 0
    with closing(sqlite3.connect(db)) as other, other:
        other.execute("INSERT INTO diff_facts (diff, word) VALUES ('nobody', 'ready')")
    assert bevelbook("--db", db, "check").code == 1
    assert bevelbook("--db", db, "check", "--rebuild").code == 0


def test_they_are_compared_in_a_database_that_may_only_be_read(team: Path) -> None:
    with closing(open_for_reading(team)) as connection:
        assert stale(connection) == SOUND
        assert stale(connection) == SOUND, "and again"
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            connection.execute("UPDATE diffs SET label = 'x'")


def test_a_change_by_a_program_that_knows_of_no_facts_is_found(team: Path, opened: sqlite3.Connection) -> None:
    with closing(sqlite3.connect(team)) as other, other:
        other.execute("UPDATE weighings SET mass_g = 22.37 WHERE mass_g = 22.0")
    assert stale(opened) == {"build_facts": 1, "run_diff_facts": 2, "diff_facts": 1}
    with transaction(opened, team):
        opened.execute("UPDATE weighings SET mass_g = 22.37 WHERE mass_g = 22.37")
    assert stale(opened) == SOUND, "the next change of that diff mends it"


CHANGES_ELSEWHERE = {
    "a mass": "UPDATE weighings SET mass_g = 22.37 WHERE mass_g = 22.0",
    "a mass less": "DELETE FROM weighings WHERE mass_g = 22.0",
    "a mass more": (
        "INSERT INTO weighings (id, build, runs, mass_g, mass_basis, created_at, updated_at) "
        "SELECT 'more', build, 9.0, 21.5, 'closed', '', '' FROM weighings WHERE mass_g = 22.0"
    ),
}


@pytest.mark.parametrize("change", CHANGES_ELSEWHERE)
def test_the_next_command_that_writes_works_out_what_another_program_changed_and_says_so(
    team: Path, bevelbook: Run, change: str
) -> None:
    with closing(sqlite3.connect(team)) as other, other:
        assert other.execute(CHANGES_ELSEWHERE[change]).rowcount == 1
    done = bevelbook("--db", team, "record", "person", "name=zoe")
    assert (done.code, "Another program changed records" in done.err) == (0, True)
    with closing(open_for_reading(team)) as connection:
        assert stale(connection) == SOUND
    assert bevelbook("--db", team, "record", "person", "name=yan").err == ""


def test_the_next_transaction_of_a_connection_that_was_open_meanwhile_does_so_too(
    team: Path, opened: sqlite3.Connection
) -> None:
    with closing(sqlite3.connect(team)) as other, other:
        other.execute(CHANGES_ELSEWHERE["a mass"])
    with transaction(opened, team):
        opened.execute("UPDATE scales SET name = 'another'")
    assert stale(opened) == SOUND


def test_check_goes_by_the_records_where_the_kept_facts_are_older(team: Path, bevelbook: Run) -> None:
    before = bevelbook("--db", team, "check", "--json").json
    assert "oil_lost" in {one["code"] for group in before["diffs"] for one in group["findings"]}
    with closing(sqlite3.connect(team)) as other, other:
        other.execute(CHANGES_ELSEWHERE["a mass"])
    found = bevelbook("--db", team, "check", "--json").json
    assert len(found["faults"]) == 4, "three tables of facts, and the change itself"
    bevelbook("--db", team, "record", "person", "name=zoe")
    after = bevelbook("--db", team, "check", "--json").json
    assert (found["diffs"], found["counts"]) == (after["diffs"], after["counts"])
    assert "oil_lost" not in {one["code"] for group in found["diffs"] for one in group["findings"]}


def test_without_a_viscosity_there_is_none_at_the_temperature_of_the_diff(
    team: Path, opened: sqlite3.Connection
) -> None:
    with transaction(opened, team):
        opened.execute("UPDATE run_diffs SET diff_temp_c = 35.0")
    asked = "SELECT DISTINCT viscosity_at_diff_temperature_cst IS NULL FROM run_diff_facts"
    assert [row[0] for row in opened.execute(asked)] == [0]
    with transaction(opened, team):
        opened.execute("UPDATE fluids SET viscosity_cst = NULL")
    assert [row[0] for row in opened.execute(asked)] == [1]


# Kept facts, typed


def test_the_facts_of_one_record_come_typed(opened: sqlite3.Connection) -> None:
    build = opened.execute("SELECT id FROM builds WHERE label = 'rear-a/2'").fetchone()[0]
    found = facts_of(opened, BuildFacts, build)
    assert (found.build, found.runs, found.oil_in_g, found.leak, found.loss_g) == (build, 6.0, 1.86, "stop", 0.4)
    assert (found.viscosity_cst, found.weighed_as, found.weighings, found.limit_from) == (
        7000.0,
        "closed",
        2,
        "proposal",
    )
    diff = facts_of(opened, DiffFacts, found.diff)
    assert (diff.current_build, diff.position, diff.word, diff.seal_uses) == (build, "rear", "open it", 2)
    (run_diff,) = opened.execute("SELECT run_diff FROM run_diff_facts WHERE build = ? AND runs_before = 0", (build,))
    run = facts_of(opened, RunDiffFacts, run_diff[0])
    assert (run.build, run.runs_before, run.runs_after, run.fill_state) == (build, 0.0, 4.0, "doubtful")


def test_facts_of_some_leave_out_what_is_not_there(opened: sqlite3.Connection) -> None:
    builds = [row[0] for row in opened.execute("SELECT id FROM builds ORDER BY id")]
    assert list(facts_of_some(opened, BuildFacts, [builds[1], "nobody"])) == [builds[1]]
    assert facts_of_some(opened, BuildFacts, []) == {}
    with pytest.raises(KeyError):
        facts_of(opened, BuildFacts, "nobody")
