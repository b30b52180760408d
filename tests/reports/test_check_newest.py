"""A check of a book with too many builds to look at all each time: the newest of each diff, and the rest when asked.

All data are constructed. Readings are of a scale of 0.01 g; masses are far enough apart to be seen without a sum.
"""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team, adding

from bevelbook.facts.newest_builds import NEWEST, of_newest_builds
from bevelbook.plugin.check import Reader
from bevelbook.plugin.registry import Registry, load
from bevelbook.reports import check as checking
from bevelbook.reports.check import check
from bevelbook.reports.written_twice_findings import written_twice_findings
from bevelbook.store.writing import Writer

BUILDS = NEWEST + 4


@pytest.fixture
def registry() -> Registry:
    return load()


@pytest.fixture
def many(add: Add, connection: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch) -> sqlite3.Connection:
    """Two diffs with so many builds each that a check looks at the newest alone: the second build of each lost oil, was
    weighed dry lighter than the first, and does not balance; and so is the last one."""
    monkeypatch.setattr(checking, "MOST", 2 * BUILDS - 1)
    for label in ("rear-a", "rear-b"):
        team = Team(add, label)
        for number in range(1, BUILDS + 1):
            is_odd = number in (2, BUILDS)
            dry_g = 12.30 if is_odd else 12.42
            build = team.build(dry_mass_g=dry_g, oil_mass_g=1.86, filled_mass_g=dry_g + (1.5 if is_odd else 1.86))
            team.run(build, f"2026-02-{number:02d}", 3.0)
            team.weigh(build, (0, 22.40), (3, 22.10 if is_odd else 22.40))
    return connection


def said(checked: checking.Checked) -> set[tuple[str, str]]:
    return {(one.subject_label, one.code) for one in checked.every}


def test_what_is_in_use_is_found_as_ever_and_the_past_when_asked(many: sqlite3.Connection, registry: Registry) -> None:
    newest, all_of_it = check(many, registry), check(many, registry, past=True)
    assert newest.passed_over == 2 * BUILDS
    assert f"Of {2 * BUILDS} builds the newest {NEWEST} of each diff" in newest.passed_over_in_words()
    assert newest.as_dict()["looked_at_newest_of"] == 2 * BUILDS
    assert not all_of_it.passed_over and not all_of_it.passed_over_in_words()
    assert "looked_at_newest_of" not in all_of_it.as_dict()
    assert [one.words for one in newest.due] == [one.words for one in all_of_it.due]
    assert {(f"rear-a/{BUILDS}", "dry_mass_changed"), (f"rear-a/{BUILDS}", "mass_balance")} <= said(newest)
    assert {("rear-a/2", "dry_mass_changed"), ("rear-a/2", "mass_balance")} <= said(all_of_it)
    assert not any(label in ("rear-a/2", "rear-b/2") for label, _ in said(newest))


def test_facts_are_worked_out_again_only_where_all_is_looked_at(many: sqlite3.Connection, registry: Registry) -> None:
    many.execute("UPDATE build_facts SET runs = runs + 1 WHERE build IN (SELECT current_build FROM diff_facts)")
    assert check(many, registry, recheck_facts=True).faults == ()
    assert check(many, registry, recheck_facts=True, past=True).faults != ()


def test_a_build_written_twice_is_found_by_any_of_the_newest(connection: sqlite3.Connection) -> None:
    """Of three builds of one day one is still among the newest; of that day all are named. Of older days none is."""
    authors = {name: adding(Writer(connection, name)) for name in ("anna", "ben")}
    diff = authors["anna"]("diff", label="rear-a")
    days = ["2026-01-01", "2026-01-01", *(["2026-02-01"] * 3), *(f"2026-03-0{one}" for one in range(1, NEWEST))]
    for number, day in enumerate(days, start=1):
        author = "ben" if number % 2 else "anna"
        authors[author]("build", label=f"rear-a/{number} by {author}", diff=diff, built_on=day)
    (newest,) = written_twice_findings(connection, of_newest_builds)
    old, same = written_twice_findings(connection)
    assert newest == same and "rear-a has 3 builds on 2026-02-01" in newest.words
    assert "rear-a has 2 builds on 2026-01-01" in old.words


def test_a_small_book_is_looked_at_whole(add: Add, connection: sqlite3.Connection, registry: Registry) -> None:
    team = Team(add)
    team.build(dry_mass_g=12.42)
    assert check(connection, registry).passed_over == 0


@pytest.mark.parametrize(
    "sql",
    [
        "SELECT count(*) FROM builds b JOIN diffs d ON d.id = b.diff WHERE d.label = 'rear-a'",
        "-- all\n with of_a AS (SELECT b.id FROM builds b JOIN diffs d ON d.id = b.diff WHERE d.label = 'rear-a') "
        "SELECT count(*) FROM of_a",
        "SELECT count(DISTINCT w.build) FROM weighings w JOIN builds b ON b.id = w.build "
        "JOIN diffs d ON d.id = b.diff WHERE d.label = 'rear-a'",
        "SELECT count(*) FROM run_diffs x JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff "
        "WHERE d.label = 'rear-a'",
    ],
)
def test_a_reader_of_the_newest_sees_these_alone(many: sqlite3.Connection, sql: str) -> None:
    reader = Reader(many)
    assert [*reader.rows(sql)[0].values()] == [BUILDS]
    assert [*reader.through(of_newest_builds).rows(sql)[0].values()] == [NEWEST]
    assert many.execute(of_newest_builds("SELECT min(label) FROM builds WHERE diff IN (SELECT id FROM diffs)"))
