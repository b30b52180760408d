"""The facts of imported notes are those of a full rebuild, however and in whatever order they came. Constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest
from conftest import empty_database
from constructed import Team, adding

from bevelbook.declare.errors import InputError
from bevelbook.facts import renew
from bevelbook.facts.renew import renew_all, stale
from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.reread import carry_out, revise
from bevelbook.notes.settings import Settings
from bevelbook.records import BY_NAME, FACTS
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

SOUND = {kind.table: 0 for kind in FACTS}
HEAD = "date,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,fluid,position,grip,diff_temp_c,runs,call"
STORY = (
    "2026-05-01,rear-a,12.40,1.86,14.26,7000,,,,,,",
    "2026-05-02,rear-a,,,,,,rear,low,35,4,keep",
    "2026-05-03,rear-a,,,14.25,,,,,,,",
    "2026-05-04,rear-a,,,,,,rear,low,35,4,change",
    "2026-05-05,rear-a,,,13.95,,,,,,,",
    "2026-05-06,rear-a,,,,,,front,low,,2,keep",
    "2026-05-01,rear-b,12.40,1.86,14.26,,house 7k,,,,,",
    "2026-05-02,rear-b,,,,,,rear,low,,6,keep",
)
"""0.31 g of 1.86 g went from rear-a between run 4 and 8; rear-b was not weighed."""


@pytest.fixture(params=[0.5, 2.0], ids=["all where most are touched", "diff by diff"])
def db(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(renew, "_ALL_FROM_SHARE", request.param)
    return tmp_path / "team.db"


@pytest.fixture
def connection(db: Path) -> Iterator[sqlite3.Connection]:
    made = open_for_writing(empty_database(db))
    yield made
    made.close()


@pytest.fixture
def bring(connection: sqlite3.Connection, db: Path) -> Callable[..., Report]:
    def run(*lines: str, name: str = "notes.csv", **options: Any) -> Report:
        text = "\n".join((HEAD, *lines)).encode()
        return import_notes(io.BytesIO(text), name, connection, db, Settings(**options), by="ana")

    return run


def content(connection: sqlite3.Connection) -> list[list[tuple[Any, ...]]]:
    return [[tuple(row) for row in connection.execute(f"SELECT * FROM {kind.table}")] for kind in FACTS]


def check(connection: sqlite3.Connection) -> None:
    """The facts are those of a rebuild, as compared in temporary tables and as written in their place."""
    assert stale(connection) == SOUND
    before = content(connection)
    connection.execute("BEGIN")
    renew_all(connection)
    assert content(connection) == before
    connection.rollback()


def story(connection: sqlite3.Connection, diff: str = "rear-a") -> dict[str, Any]:
    """The facts of a diff, and its runs before and after with the state of its fill."""
    word, runs, loss_g = connection.execute("SELECT word, runs, loss_g FROM shelf WHERE label = ?", (diff,)).fetchone()
    states = connection.execute(
        "SELECT runs_before, fill_state FROM what_worked WHERE diff = ? ORDER BY run_on, runs_before", (diff,)
    )
    return {"word": word, "runs": runs, "loss_g": loss_g, "states": [tuple(row) for row in states]}


EXPECTED = {
    "word": "open it",
    "runs": 10.0,
    "loss_g": 0.31,
    "states": [(0.0, "full"), (4.0, "doubtful"), (8.0, "lost oil")],
}


def test_the_facts_of_a_file_are_those_of_a_rebuild(
    connection: sqlite3.Connection, bring: Callable[..., Report]
) -> None:
    assert bring(*STORY).added == len(STORY)
    check(connection)
    assert story(connection) == EXPECTED
    assert story(connection, "rear-b")["word"] == "weigh it"


def test_a_file_brought_in_twice_changes_no_fact(connection: sqlite3.Connection, bring: Callable[..., Report]) -> None:
    bring(*STORY)
    before = content(connection)
    assert bring(*STORY).known == len(STORY)
    assert bring(*STORY[:5], name="part.csv").known == 5
    assert content(connection) == before
    check(connection)


def test_lines_may_come_in_any_order_within_a_file(
    connection: sqlite3.Connection, bring: Callable[..., Report]
) -> None:
    bring(*reversed(STORY))
    check(connection)
    assert story(connection) == EXPECTED


@pytest.mark.parametrize("cut", range(1, len(STORY)))
def test_a_season_may_come_in_two_files_of_days(
    connection: sqlite3.Connection, bring: Callable[..., Report], cut: int
) -> None:
    by_day = sorted(STORY)
    bring(*by_day[:cut], name="first.csv")
    check(connection)
    bring(*by_day[cut:], name="second.csv")
    check(connection)
    assert story(connection) == EXPECTED


def test_older_runs_that_come_in_later_count_before_those_that_are_there(
    connection: sqlite3.Connection, bring: Callable[..., Report]
) -> None:
    """The runs of the 2nd are forgotten at first: the weighing of the 3rd was then after none."""
    bring(*(line for line in STORY if not line.startswith("2026-05-02")))
    check(connection)
    assert story(connection)["states"] == [(0.0, "doubtful"), (4.0, "lost oil")]
    bring(*(line for line in STORY if line.startswith("2026-05-02")), name="forgotten.csv")
    check(connection)
    assert story(connection) == EXPECTED


def test_an_older_build_that_comes_in_later_is_not_the_last_one(
    connection: sqlite3.Connection, bring: Callable[..., Report]
) -> None:
    bring(*STORY)
    bring(
        "2026-04-01,rear-a,12.40,1.80,14.20,5000,,,,,,",
        "2026-04-02,rear-a,,,,,,rear,low,,9,keep",
        "2026-04-03,rear-a,,,14.19,,,,,,,",
        name="older.csv",
    )
    check(connection)
    found = story(connection)
    assert {**found, "states": found["states"][1:]} == EXPECTED
    assert found["states"][0] == (0.0, "full")
    labels = [row[0] for row in connection.execute("SELECT label FROM builds WHERE oil_mass_g = 1.8")]
    assert connection.execute("SELECT build_label FROM shelf WHERE label = 'rear-a'").fetchone()[0] not in labels


def test_notes_meet_records_written_by_hand(
    connection: sqlite3.Connection, db: Path, bring: Callable[..., Report]
) -> None:
    """A diff with a build, a scale, a limit and an opening by hand gets its runs and a weighing from notes."""
    with transaction(connection, db):
        add = adding(Writer(connection, "ana"))
        team = Team(add, "rear-a")
        team.build(label="rear-a/1", built_on="2026-04-30", dry_mass_g=12.40, oil_mass_g=1.86, mass_basis="open half")
        add("limit", kind="oil lost in grams", value=0.10, diff=team.diff)
        Team(add, "rear-c").build()
    bring(*STORY[1:6])
    check(connection)
    assert story(connection) == EXPECTED
    kept = connection.execute("SELECT weighed_as, stop_g, limit_from FROM shelf WHERE label = 'rear-a'").fetchone()
    assert tuple(kept) == ("open half", 0.1, "yours")


# A kept file read again


def again(connection: sqlite3.Connection, db: Path, name: str, **options: Any) -> int:
    """Read a kept file again and make its changes; returns how many."""
    revision = revise(connection, db, name, Settings(**options), by="ana")
    carry_out(connection, db, revision, by="ana")
    return len(revision.changes)


AMBIGUOUS = (
    "03/02/2026,rear-a,12.40,1.86,14.26,7000,,,,,,",
    "04/02/2026,rear-a,,,,,,rear,low,35,4,keep",
    "05/02/2026,rear-a,,,14.25,,,,,,,",
    "02/03/2026,rear-a,,,,,,rear,low,35,4,change",
    "06/02/2026,rear-a,,,13.95,,,,,,,",
    "01/02/2026,rear-b,,,14.26,,,rear,low,,2,",
)
"""Read with the day first, all but one line is of February; with the month first the lines lie in other months."""


def test_a_file_read_again_has_the_facts_of_a_rebuild_there_and_back(
    connection: sqlite3.Connection, db: Path, bring: Callable[..., Report]
) -> None:
    bring(*AMBIGUOUS, date_order="dmy")
    check(connection)
    first = content(connection)
    assert again(connection, db, "notes.csv", date_order="mdy") > 5
    check(connection)
    second = content(connection)
    assert second != first
    assert again(connection, db, "notes.csv", date_order="dmy") > 5
    check(connection)
    assert content(connection) == first
    assert again(connection, db, "notes.csv", date_order="dmy") == 0
    assert content(connection) == first


def test_runs_that_go_to_another_build_when_read_again_are_counted_there(
    connection: sqlite3.Connection, db: Path, bring: Callable[..., Report]
) -> None:
    """With the month first the run of the 14th comes before the build of 2 March, and has one of its own."""
    bring("03/02/2026,rear-a,12.40,1.86,14.26,,,,,,,", "2026-02-14,rear-a,,,,,,rear,high,,4,", date_order="mdy")
    check(connection)
    asked = "SELECT b.built_on, k.runs FROM builds b JOIN build_facts k ON k.build = b.id ORDER BY b.built_on"
    assert [tuple(row) for row in connection.execute(asked)] == [("2026-02-14", 4.0), ("2026-03-02", 0.0)]
    again(connection, db, "notes.csv", date_order="dmy")
    check(connection)
    assert [tuple(row) for row in connection.execute(asked)] == [("2026-02-03", 4.0)]


def test_a_file_that_was_put_in_order_by_hand_is_read_again(
    connection: sqlite3.Connection, db: Path, bring: Callable[..., Report]
) -> None:
    bring(*STORY)
    with transaction(connection, db):
        connection.execute("UPDATE weighings SET mass_g = 14.24 WHERE mass_g = 13.95")
    check(connection)
    assert story(connection)["word"] == "ready"
    assert again(connection, db, "notes.csv") == 1
    check(connection)
    assert story(connection) == EXPECTED


# At random


def drawn_notes(random: Random, count: int) -> list[str]:
    """Lines of ten diffs over two months: fills, runs and weighings, some of them odd."""
    lines = []
    for _ in range(count):
        day = date(2026, 4, 1) + timedelta(days=random.randrange(60))
        diff = f"diff {random.randrange(10)}"
        lines.append(
            random.choice(
                (
                    f"{day},{diff},12.4,1.86,14.26,{random.choice(('', '7000', '5000'))},,,,,,",
                    f"{day},{diff},,,{random.choice((14.26, 14.25, 14.1, 13.9, 12.0))},,,,,,,",
                    f"{day},{diff},,,{random.choice((14.26, 14.2))},,,rear,low,{random.choice(('', 35))},2,keep",
                    f"{day},{diff},,,,,,front,high,30,{random.choice(('', 0.1, 0.2, 4))},change",
                    f"{day},{diff},,,,,house {random.choice('ab')},,,,,",
                )
            )
        )
    return lines


@pytest.mark.parametrize("seed", range(6))
def test_drawn_notes_in_several_files_have_the_facts_of_a_rebuild_after_each(
    connection: sqlite3.Connection, db: Path, bring: Callable[..., Report], seed: int
) -> None:
    random = Random(seed)
    lines = drawn_notes(random, 240)
    for number in range(4):
        some = lines[60 * number : 60 * (number + 1)]
        report = bring(*some, name=f"{number}.csv")
        assert report.added > 50
        check(connection)
    states = {row[0] for row in connection.execute("SELECT DISTINCT fill_state FROM run_diff_facts")}
    assert states == {"full", "unknown", "doubtful", "lost oil"}
    again(connection, db, "3.csv")
    check(connection)


def test_lines_that_were_rejected_count_once_they_are_read(
    connection: sqlite3.Connection, db: Path, bring: Callable[..., Report]
) -> None:
    """The word of the team for low grip was not known at first: the file made nothing of that diff's runs."""
    bring(*(line.replace(",low,", ",dusty,") if "rear-a" in line else line for line in STORY))
    check(connection)
    assert story(connection)["runs"] == 0.0
    again(connection, db, "notes.csv", words={"grip": {"dusty": "low"}})
    check(connection)
    assert story(connection) == EXPECTED


@pytest.mark.parametrize(
    "line",
    [
        "2026-05-07,rear-b,12.42,1.86,14.28,,,{position},,,,",
        "2026-05-07,rear-b,,,14.00,,,{position},,,,",
        "2026-05-07,rear-b,,,,,,{position},low,,5,keep",
    ],
    ids=["a build", "a weighing", "a run"],
)
def test_one_line_that_was_rejected_is_followed_whatever_it_makes(
    connection: sqlite3.Connection, db: Path, bring: Callable[..., Report], line: str
) -> None:
    bring(*STORY)
    report = bring("2026-05-01,rear-c,12.40,1.86,14.26,,,,,,,", line.format(position="behind"), name="one.csv")
    assert (report.added, report.rejected) == (1, 1)
    before = content(connection)
    assert again(connection, db, "one.csv", words={"position": {"behind": "rear"}}) <= 2
    assert content(connection) != before
    check(connection)
    assert story(connection) == EXPECTED, "the other diff is as it was"


def test_reading_again_that_is_refused_leaves_the_facts_as_they_were(
    connection: sqlite3.Connection, db: Path, bring: Callable[..., Report]
) -> None:
    """The build of the third file is older: read again, the first would no longer make its own, which has a run that a
    person wrote down."""
    bring("2026-05-02,rear-a,,,,,,rear,low,35,4,keep", name="first.csv")
    with transaction(connection, db, asked="record run", by="ana"):
        (build,) = connection.execute("SELECT id FROM builds").fetchone()
        run = Writer(connection, "ana").insert(BY_NAME["run"], {"label": "2026-05-03/1", "run_on": "2026-05-03"})
        Writer(connection, "ana").insert(BY_NAME["run_diff"], {"run": run, "build": build, "position": "rear"})
    bring("2026-04-01,rear-a,12.40,1.86,14.26,,,,,,,", name="older.csv")
    before = content(connection)
    with pytest.raises(InputError, match="other records refer to it"):
        again(connection, db, "first.csv")
    assert content(connection) == before
    check(connection)
