"""Runs of a build and runs at a weighing. All data are constructed."""

from __future__ import annotations

import sqlite3
from random import Random
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook.facts.kept_facts import facts_of
from bevelbook.facts.renew import renew_all, renew_touched, stale
from bevelbook.facts.runs import count_of, since_filled_words
from bevelbook.records.facts import BuildFacts


def runs_of_build(connection: sqlite3.Connection, build: str) -> float:
    return facts_of(connection, BuildFacts, build).runs


def runs_at(connection: sqlite3.Connection, build: str) -> list[float | None]:
    """The runs of each mass of a build, in the order of the masses on the scale."""
    found = connection.execute("SELECT runs FROM masses WHERE build = ? ORDER BY mass_g DESC", (build,))
    return [row[0] for row in found]


def test_runs_of_a_build_are_summed_and_a_row_without_a_count_is_one(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build()
    assert runs_of_build(connection, build) == 0.0
    team.run(build, "2026-02-01", 4.5)
    add("run_diff", run=add("run", label="2026-02-02/1", run_on="2026-02-02"), build=build)
    assert runs_of_build(connection, build) == 5.5


def test_a_weighing_may_know_of_more_runs(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build()
    team.run(build, "2026-02-01", 4.0)
    team.weigh(build, (0, 22.4), (9, 22.4))
    assert runs_of_build(connection, build) == 9.0
    team.run(build, "2026-02-02", 10.0)
    assert runs_of_build(connection, build) == 14.0


def test_runs_after_a_weighing_are_added_to_those_that_it_states(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """4 were written, the weighing of the 2nd states 9, 2 came on the 3rd. 1 of the 2nd is among the 9, unless both
    were written down that day, the weighing first."""
    build = team.build()
    team.run(build, "2026-02-01", 4.0)
    weigh(add, build, 22.4, weighed_on="2026-02-02", runs=9.0)
    team.run(build, "2026-02-03", 2.0)
    assert runs_of_build(connection, build) == 11.0
    team.run(build, "2026-02-02", 1.0)
    for weighed_at, run_at, runs in (
        ("2026-05-04T10:00", "2026-05-04T10:00", 11.0),
        ("2026-05-04T10:00", "2026-05-04T12:00", 11.0),
        ("2026-02-02T10:00", "2026-05-04T12:00", 11.0),
        ("2026-02-02T10:00", "2026-02-02T12:00", 12.0),
        ("2026-02-02T12:00", "2026-02-02T10:00", 11.0),
    ):
        connection.execute("UPDATE weighings SET created_at = ? || ':00.000Z'", (weighed_at,))
        connection.execute("UPDATE runs SET created_at = ? || ':00.000Z' WHERE run_on = '2026-02-02'", (run_at,))
        renew_touched(connection)
        assert runs_of_build(connection, build) == runs, (weighed_at, run_at)
        assert not any(stale(connection).values())


def test_every_count_of_runs_is_that_of_one_counter(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """A counter by hand: a run adds its runs, a weighing that states more than it shows sets it forward. Build, runs
    before and after each run, and weighings that state none, all agree with it. The order of writing is shuffled."""
    chance = Random(7)
    right: dict[str, float] = {}
    at_runs: dict[str, list[tuple[float, float]]] = {}
    at_weighings: dict[str, list[float]] = {}
    for _ in range(20):
        build, counter, rows = team.build(), 0.0, []
        runs_right: list[tuple[float, float]] = []
        weighings_right: list[float] = []
        for number in range(1, chance.randint(2, 9)):
            day, what = f"2026-03-{number:02}", chance.choice(("run", "run", "stated", "unstated"))
            if what == "run":
                many = float(chance.randint(1, 5))
                rows.append((team.run, (build, day, many), {}))
                runs_right.append((counter, counter + many))
                counter += many
            else:
                stated = float(chance.randint(0, 15)) if what == "stated" else None
                rows.append((weigh, (add, build, 22.4), {"weighed_on": day, "runs": stated}))
                counter = max(counter, stated or 0.0)
                weighings_right.append(counter if stated is None else stated)
        chance.shuffle(rows)
        for write, given, named in rows:
            write(*given, **named)
        right[build], at_runs[build], at_weighings[build] = counter, runs_right, weighings_right
    facts = {build: runs_of_build(connection, build) for build in right}
    assert facts == right
    for build, expected in at_runs.items():
        found = connection.execute(
            "SELECT runs_before, runs_after FROM run_diff_facts WHERE build = ? ORDER BY runs_after", (build,)
        ).fetchall()
        assert [tuple(row) for row in found] == expected
        masses = connection.execute("SELECT runs FROM masses WHERE build = ? ORDER BY day", (build,)).fetchall()
        assert [row[0] for row in masses] == at_weighings[build]
    renew_all(connection)
    assert not any(stale(connection).values()), "one diff and all are worked out alike"


def test_runs_of_another_build_do_not_count(connection: sqlite3.Connection, team: Team) -> None:
    first, second = team.build(), team.build()
    team.run(first, "2026-02-01", 4.0)
    team.run(second, "2026-02-02", 2.0)
    assert (runs_of_build(connection, first), runs_of_build(connection, second)) == (4.0, 2.0)


def weigh(add: Add, build: str, mass_g: float, **when: Any) -> None:
    add("weighing", build=build, mass_g=mass_g, mass_basis="closed", **when)


def test_a_weighing_without_runs_has_those_up_to_its_day(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """3 runs on the 1st and 2 on the 4th: none before the 1st, 3 on the 1st itself and on the 3rd, 5 from the 4th."""
    build = team.build()
    days = ("2026-01-31", "2026-02-01", "2026-02-03", "2026-02-04", "2026-02-09")
    for number, day in enumerate(days):
        weigh(add, build, 22.4 - 0.01 * number, weighed_on=day)
    team.run(build, "2026-02-01", 3.0)
    team.run(build, "2026-02-04", 2.0)
    assert runs_at(connection, build) == [0.0, 3.0, 3.0, 5.0, 5.0]


@pytest.mark.parametrize(
    ("weighing", "runs", "counted"),
    [
        pytest.param((None, None, 3), [(None, None, 2), (None, None, 3), (None, None, 4)], 2.0, id="by hand"),
        pytest.param(("x", 3, 1), [("x", 2, 1), ("x", 3, 1), ("x", 4, 1)], 2.0, id="of one file"),
        pytest.param(("x", 3, 1), [("x", 4, 1), ("y", 4, 2), (None, None, 2)], 2.0, id="of two files, and by hand"),
        pytest.param((None, None, 1), [("x", 4, 2), (None, None, 2)], 1.0, id="by hand beside notes"),
        pytest.param(("x", None, 1), [("x", 4, 1)], 1.0, id="of no line"),
    ],
)
def test_a_weighing_without_runs_has_those_of_its_day_that_were_before_it(
    connection: sqlite3.Connection,
    add: Add,
    team: Team,
    weighing: tuple[str | None, int | None, int],
    runs: list[tuple[str | None, int | None, int]],
    counted: float,
) -> None:
    """Each row by its file of notes, its line, and the second in which it was written."""
    build = team.build()
    for name in ("x", "y"):
        connection.execute(
            "INSERT INTO note_files (id, name, sha256, byte_count, read_at, accepted, rejected, skipped) "
            "VALUES (?1, ?1, ?1, 0, 't', 0, 0, 0)",
            (name,),
        )
    weigh(add, build, 22.4, weighed_on="2026-02-01")
    for _ in runs:
        team.run(build, "2026-02-01", 1.0)
    rows = "UPDATE {} SET note_file = ?, note_line = ?, created_at = '2026-02-01T10:00:0' || ? || '.000Z' {}"
    connection.execute(rows.format("weighings", ""), weighing)
    made = [row[0] for row in connection.execute("SELECT id FROM runs ORDER BY id")]
    for row_id, (file, line, second) in zip(made, runs, strict=True):
        connection.execute(rows.format("runs", "WHERE id = ?"), (file, line, second, row_id))
    assert runs_at(connection, build) == [counted]
    connection.execute("UPDATE builds SET closed_mass_g = 22.4")
    connection.execute("UPDATE weighings SET mass_g = 22.3")
    renew_touched(connection)
    assert facts_of(connection, BuildFacts, build).weighed_at_runs == counted, "laid out they count the same"
    assert not any(stale(connection).values())


def test_a_weighing_without_runs_has_those_of_an_earlier_one_where_that_knew_of_more(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """3 runs are written down by the 3rd, but the weighing of the 2nd was after 7; the one of the 1st is before it."""
    build = team.build()
    team.run(build, "2026-02-01", 3.0)
    weigh(add, build, 22.40, weighed_on="2026-02-01")
    weigh(add, build, 22.39, weighed_on="2026-02-02", runs=7.0)
    weigh(add, build, 22.38, weighed_on="2026-02-03")
    assert runs_at(connection, build) == [3.0, 7.0, 7.0]


def test_of_several_earlier_weighings_the_one_that_knew_of_the_most_runs_counts(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """After 4 and after 7 runs; the one of the 4th is after 7 at least, and those of later days do not matter."""
    build = team.build()
    weigh(add, build, 22.40, weighed_on="2026-02-01", runs=4.0)
    weigh(add, build, 22.39, weighed_on="2026-02-02", runs=7.0)
    weigh(add, build, 22.38, weighed_on="2026-02-04")
    weigh(add, build, 22.37, weighed_on="2026-02-05", runs=9.0)
    assert runs_at(connection, build) == [4.0, 7.0, 7.0, 9.0]


def test_runs_that_a_weighing_says_are_believed_though_more_are_written_down(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build()
    team.run(build, "2026-02-01", 8.0)
    weigh(add, build, 22.40, weighed_on="2026-02-05", runs=6.0)
    assert runs_at(connection, build) == [6.0]
    assert runs_of_build(connection, build) == 8.0


def test_a_weighing_with_neither_day_nor_runs_is_listed_but_says_nothing(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.40)
    team.run(build, "2026-02-01", 8.0)
    weigh(add, build, 22.00)
    assert runs_at(connection, build) == [0.0, None]
    facts = facts_of(connection, BuildFacts, build)
    assert (facts.leak, facts.weighings, facts.loss_g) == (None, None, None)


def test_the_mass_before_opening_comes_after_all_runs(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build(closed_mass_g=22.40)
    team.run(build, "2026-02-01", 8.0)
    team.open(build, "2026-02-02", closed_mass_g=22.35)
    assert runs_at(connection, build) == [0.0, 8.0]


def run_counts(connection: sqlite3.Connection, build: str) -> list[tuple[float, float]]:
    found = connection.execute(
        "SELECT runs_before, runs_after FROM run_diff_facts WHERE build = ? ORDER BY runs_after", (build,)
    )
    return [(row[0], row[1]) for row in found]


def test_runs_are_counted_in_the_order_of_day_place_and_line(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """Written down as 8, 1, 4, 2 runs; in their order they are 1, 2, 4 and 8."""
    build = team.build()
    for label, day, order, runs in (
        ("late", "2026-02-02", None, 8.0),
        ("first", "2026-02-01", 1, 1.0),
        ("third", "2026-02-01", 3, 4.0),
        ("second", "2026-02-01", 2, 2.0),
    ):
        run = add("run", label=label, run_on=day, day_order=order, runs=runs)
        add("run_diff", run=run, build=build)
    assert run_counts(connection, build) == [(0.0, 1.0), (1.0, 3.0), (3.0, 7.0), (7.0, 15.0)]


def test_parts_of_runs_add_up_without_the_noise_of_their_last_digits(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """0.1 + 0.2 is 0.3 runs; as sums of binary fractions it is not."""
    build = team.build()
    for day, runs in (("2026-02-01", 0.1), ("2026-02-02", 0.2)):
        team.run(build, day, runs)
    weigh(add, build, 22.40, weighed_on="2026-02-03")
    assert run_counts(connection, build) == [(0.0, 0.1), (0.1, 0.3)]
    assert runs_of_build(connection, build) == 0.3
    assert runs_at(connection, build) == [0.3]


@pytest.mark.parametrize(
    ("runs", "count", "since"),
    [
        (0.0, "0 runs", "not run since it was closed"),
        (1.0, "1 run", "filled 1 run ago"),
        (2.5, "2.5 runs", "filled 2.5 runs ago"),
        (41.0, "41 runs", "filled 41 runs ago"),
    ],
)
def test_counts_in_words(runs: float, count: str, since: str) -> None:
    assert (count_of(runs), since_filled_words(runs)) == (count, since)
