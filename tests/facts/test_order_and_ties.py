"""Which record goes first where several could: ideas, runs of a day, openings, parts, results. Constructed data."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.facts.diffs import (
    BROKE,
    CANNOT_TELL,
    LOST_SOME,
    LOST_TOO_MUCH,
    NOT_BUILT,
    NOT_WEIGHED,
    NOTCHY,
    OPENED,
    RUNS_REACHED,
    SEALS_OVER,
    TURNS_BADLY,
    WEIGHED_LONG_AGO,
    WET_ON_PAPER,
    LastBuild,
    reasons_of,
)
from bevelbook.facts.ideas import ideas_by_venue, last_venue, open_ideas
from bevelbook.facts.limits import OwnLimits
from bevelbook.facts.masses import Mass, comparable, without_runs
from bevelbook.facts.openings import found_at_openings, runs_when_notchy, since_opened
from bevelbook.facts.parts import parts_of_build, seal_uses
from bevelbook.facts.renew import renew_touched, stale
from bevelbook.facts.uncompared_weighings import uncompared

# Ideas


def test_ideas_stand_by_venue_then_day_and_those_for_any_venue_last(connection: sqlite3.Connection, add: Add) -> None:
    hall, field = add("venue", name="Hall"), add("venue", name="Field")
    for text, venue, day in (
        ("h2", hall, "2026-02-02"),
        ("any", None, "2026-01-01"),
        ("f", field, "2026-02-09"),
        ("h1", hall, "2026-02-01"),
        ("h0", hall, None),
    ):
        add("idea", text=text, venue=venue, noted_on=day)
    assert [one.text for one in open_ideas(connection)] == ["f", "h0", "h1", "h2", "any"]
    assert [one.text for one in open_ideas(connection, hall)] == ["h0", "h1", "h2", "any"]
    assert [one.noted_on for one in open_ideas(connection, field)] == ["2026-02-09", "2026-01-01"]
    assert list(ideas_by_venue(connection)) == ["Field", "Hall", None]


def test_ideas_of_one_day_stand_in_the_order_of_their_ids(connection: sqlite3.Connection, add: Add) -> None:
    ids = [add("idea", text=str(number), noted_on="2026-02-01") for number in range(6)]
    for new, old in zip("cafbed", ids, strict=True):
        connection.execute("UPDATE ideas SET id = ? WHERE id = ?", (new, old))
    assert [one.id for one in open_ideas(connection)] == list("abcdef")


# The last run


def test_of_runs_without_their_place_the_last_by_its_id_leads(connection: sqlite3.Connection, add: Add) -> None:
    for name, run in (("Hall", "b"), ("Field", "c"), ("Quay", "a")):
        made = add("run", label=name, run_on="2026-02-01", venue=add("venue", name=name))
        connection.execute("UPDATE runs SET id = ? WHERE id = ?", (run, made))
    assert (last_venue(connection) or ("", ""))[1] == "Field"


@pytest.mark.parametrize(
    ("runs", "position"),
    [
        ([("2026-02-01", 9, "a", "front"), ("2026-02-02", 1, "b", "rear")], "rear"),
        ([("2026-02-01", 1, "b", "front"), ("2026-02-01", 2, "a", "rear")], "rear"),
        ([("2026-02-01", None, "a", "front"), ("2026-02-01", None, "b", "rear")], "rear"),
        ([("2026-02-01", None, "b", "front"), ("2026-02-01", 1, "a", "rear")], "rear"),
        ([("2026-02-01", 1, "a", None)], "centre"),
        ([], "centre"),
    ],
)
def test_a_diff_stands_where_its_last_build_ran_last_by_day_place_and_id(
    connection: sqlite3.Connection, add: Add, runs: list[tuple[str, int | None, str, str | None]], position: str
) -> None:
    team = Team(add, "mid", usual_position="centre")
    build = team.build()
    for day, order, name, where in runs:
        run = add("run", label=name, run_on=day, day_order=order)
        connection.execute("UPDATE runs SET id = ? WHERE id = ?", (name, run))
        add("run_diff", run=name, build=build, position=where)
    renew_touched(connection)
    assert connection.execute("SELECT position FROM shelf").fetchone()[0] == position


# Openings


def test_openings_stand_by_day_then_id_and_diffs_by_their_label(connection: sqlite3.Connection, add: Add) -> None:
    teams = {label: Team(add, label) for label in ("rear-b", "rear-a", "rear-c")}
    for label, day, row_id in (
        ("rear-a", "2026-03-02", "a"),
        ("rear-b", "2026-03-01", "c"),
        ("rear-c", "2026-03-01", "b"),
    ):
        opened = teams[label].open(teams[label].build(), day, screws="one stopped early", seals="swollen")
        connection.execute("UPDATE openings SET id = ? WHERE id = ?", (row_id, opened))
    found = found_at_openings(connection)
    assert [(one.opening, one.part) for one in found] == [
        *(("b", "seal"), ("b", "screw")),
        *(("c", "seal"), ("c", "screw")),
        *(("a", "seal"), ("a", "screw")),
    ]
    assert [(one.opened_on, one.diff, one.build_label, one.build_runs) for one in found[::2]] == [
        ("2026-03-01", teams["rear-c"].diff, "rear-c/1", 0.0),
        ("2026-03-01", teams["rear-b"].diff, "rear-b/1", 0.0),
        ("2026-03-02", teams["rear-a"].diff, "rear-a/1", 0.0),
    ]
    assert [one.label for one in since_opened(connection)] == ["rear-a", "rear-b", "rear-c"]


def test_an_opening_that_found_nothing_is_not_listed(connection: sqlite3.Connection, team: Team) -> None:
    team.open(team.build(), reason="routine")
    assert found_at_openings(connection) == []


def test_an_opening_goes_by_the_most_used_piece_of_a_part(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """The joint's seal has 5 + 3 runs, the shaft's only 3."""
    first, second = team.build(), team.build()
    add("seal_fitting", build=first, place="joint", condition="new")
    add("seal_fitting", build=second, place="lid-side shaft", condition="new")
    team.run(first, "2026-02-01", 5.0)
    team.run(second, "2026-02-02", 3.0)
    team.open(second, seals="swollen")
    assert [one.part_runs for one in found_at_openings(connection)] == [8.0]


def test_a_build_that_was_notchy_before_it_ran_says_nothing_of_runs(connection: sqlite3.Connection, add: Add) -> None:
    for label, runs in (("rear-a", 0.0), ("rear-b", 7.0), ("rear-c", 0.5)):
        team = Team(add, label)
        build = team.build()
        if runs:
            team.run(build, "2026-02-01", runs)
        team.open(build, reason="notchy")
    assert [runs for _, runs in runs_when_notchy(connection)] == [0.5, 7.0]


# Parts


def test_parts_of_a_build_stand_by_part_place_and_mark(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    build = team.build()
    for part, place in (("side gear", "lid side"), ("outdrive", "lid side"), ("outdrive", "case side")):
        add("build_part", build=build, part=part, place=place)
    add("seal_fitting", build=build, place="joint")
    found = [(one.part, one.place) for one in parts_of_build(connection, build)]
    assert found == [("outdrive", "case side"), ("outdrive", "lid side"), ("seal", "joint"), ("side gear", "lid side")]


def test_parts_of_another_diff_are_not_those_of_a_build(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    bare, other = team.build(), Team(add, "rear-b")
    fitted = other.build()
    add("seal_fitting", build=fitted, place="joint")
    assert parts_of_build(connection, bare) == []
    assert len(parts_of_build(connection, fitted)) == 1
    add("build_part", build=bare, part="cross pin")
    assert len(parts_of_build(connection, bare)) == 1


def test_a_marked_piece_that_goes_from_diff_to_diff_and_back_keeps_its_count(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """4 runs in rear-a, 2 in rear-b, then a blue one in rear-a, and 1 run of the red one there again: 7 in three.

    A red one noted as new after that has only its own 8.
    """
    other = Team(add, "rear-b")
    counts = []
    for number, (one, mark, runs, condition) in enumerate(
        (
            (team, "red", 4.0, "new"),
            (other, "red", 2.0, "used"),
            (team, "blue", 3.0, "new"),
            (team, "red", 1.0, "used"),
            (other, "red", 8.0, "new"),
        ),
        start=1,
    ):
        build = one.build(built_on=f"2026-0{number}-01")
        one.run(build, f"2026-0{number}-02", runs)
        add("build_part", build=build, part="outdrive", place="lid side", condition=condition, mark=mark)
        counts += [(part.uses, part.runs, part.from_new) for part in parts_of_build(connection, build)]
    assert counts == [(1, 4.0, True), (2, 6.0, True), (1, 3.0, True), (3, 7.0, True), (1, 8.0, True)]


def test_a_build_without_a_word_of_parts_carries_them_on_up_to_the_next_that_has_one(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    builds = [team.build() for _ in range(4)]
    add("build_part", build=builds[1], part="cross pin", mark="one")
    add("build_part", build=builds[3], part="cross pin", mark="two")
    found = [[(one.mark, one.uses) for one in parts_of_build(connection, build)] for build in builds]
    assert found == [[], [("one", 1)], [("one", 2)], [("two", 1)]]


def test_a_marked_piece_brings_all_the_builds_and_runs_along_that_it_had_in_one_place(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """3 and 4 runs in two builds of rear-a, then 5 in rear-b: 12 in three builds, from the day it was first fitted."""
    first, second = team.build(built_on="2026-01-01"), team.build(built_on="2026-02-01")
    last = Team(add, "rear-b").build(built_on="2026-03-01")
    for build, runs in ((first, 3.0), (second, 4.0), (last, 5.0)):
        team.run(build, "2026-03-02", runs)
    add("build_part", build=first, part="outdrive", place="lid side", condition="new", mark="red")
    add("build_part", build=last, part="outdrive", place="case side", condition="used", mark="red")
    (piece,) = parts_of_build(connection, last)
    assert (piece.uses, piece.runs, piece.from_new) == (3, 12.0, True)


def test_two_kinds_of_seal_in_one_place_are_one_piece_until_both_are_replaced(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    kinds = [add("seal", label=label) for label in ("5 x 1.5", "5 x 2")]
    builds = [team.build() for _ in range(3)]
    for build, noted in zip(builds, (("used", "used"), ("new", "used"), ("new", "new")), strict=True):
        for kind, condition in zip(kinds, noted, strict=True):
            add("seal_fitting", build=build, place="joint", seal=kind, condition=condition)
    found = [[(one.uses, one.from_new) for one in parts_of_build(connection, build)] for build in builds]
    assert found == [[(1, False)], [(2, False)], [(1, True)]]


def test_only_seals_count_as_uses_of_a_seal(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    builds = [team.build() for _ in range(3)]
    add("build_part", build=builds[0], part="cross pin")
    add("seal_fitting", build=builds[1], place="joint")
    assert seal_uses(connection, "(SELECT id AS diff FROM diffs)") == {builds[1]: 1, builds[2]: 2}


# Masses


def test_two_weighings_that_say_the_same_are_two(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.40)
    for _ in range(2):
        add("weighing", build=build, runs=6.0, mass_g=22.39, mass_basis="closed", weighed_on="2026-02-02")
    assert connection.execute("SELECT weighings FROM build_facts").fetchone()[0] == 3
    assert connection.execute("SELECT count(*) FROM masses").fetchone()[0] == 3


def test_a_mass_has_the_scale_that_is_noted_with_it_else_that_of_the_build(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.40)
    other = add("scale", name="other", step_g=0.01)
    for runs, scale in ((1.0, None), (2.0, other)):
        add("weighing", build=build, runs=runs, mass_g=22.4, mass_basis="closed", scale=scale)
    team.run(build, "2026-02-01", 3.0)
    team.open(build, closed_mass_g=22.4, scale=other)
    team.open(build, "2026-03-02", closed_mass_g=22.3)
    found = connection.execute("SELECT taken, mass_g, scale FROM masses ORDER BY runs, step, day").fetchall()
    assert [(row[0], row[2]) for row in found] == [
        ("closed", team.scale),
        ("weighed", team.scale),
        ("weighed", other),
        ("before opening", other),
        ("before opening", team.scale),
    ]


def series(basis: str, *runs: float | None) -> list[Mass]:
    return [Mass("b", basis, run, None, 22.4, "weighed", None, 2, "d", 1.86) for run in runs]


@pytest.mark.parametrize(
    ("masses", "bases"),
    [
        ([("closed", (6.0, 6.0))], ["closed"]),
        ([("closed", (6.0,))], []),
        ([("closed", (0.0, 6.0))], []),
        ([("closed", (0.0, 0.0)), ("open half", (6.0, 6.0))], ["open half", "closed"]),
        ([("closed", (6.0, 6.0)), ("open half", (6.0, 6.0, 6.0))], ["open half", "closed"]),
        ([("not said", (6.0, 6.0)), ("open half", (6.0, 6.0))], ["open half", "not said"]),
        ([("closed", (None, None))], []),
        ([("closed", (None, 6.0, 6.0))], ["closed"]),
    ],
)
def test_bases_without_runs_between_their_masses_stand_by_runs_count_and_name(
    masses: list[tuple[str, tuple[float | None, ...]]], bases: list[str]
) -> None:
    given = [one for basis, runs in masses for one in series(basis, *runs)]
    assert [same[0].mass_basis for same in without_runs(given)] == bases


@pytest.mark.parametrize(
    ("masses", "bases"),
    [
        ([("closed", (0.0, 6.0)), ("open half", (0.0, 9.0))], ["open half", "closed"]),
        ([("closed", (0.0, 9.0)), ("not said", (0.0, 9.0)), ("open half", (0.0, 9.0))],
         ["closed", "open half", "not said"]),
        ([("closed", (0.0, 9.0)), ("open half", (0.0, 3.0, 9.0))], ["open half", "closed"]),
        ([("closed", (9.0,)), ("open half", (0.0, 3.0))], ["open half"]),
    ],
)  # fmt: skip
def test_every_basis_that_tells_a_loss_stands_newest_first_then_by_count_then_by_name(
    masses: list[tuple[str, tuple[float, ...]]], bases: list[str]
) -> None:
    given = [one for basis, runs in masses for one in series(basis, *runs)]
    assert [same[0].mass_basis for same in comparable(given)] == bases


# Weighings that compare with nothing


def alone(connection: sqlite3.Connection, build: str) -> list[tuple[float | None, bool, tuple[str, ...]]]:
    return [(one.runs, one.is_alone, one.other_bases) for one in uncompared(connection, [build])]


def test_a_first_weighing_on_a_named_basis_waits_for_the_next_and_one_without_a_name_does_not(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    first, second = team.build(), team.build()
    add("weighing", build=first, runs=6.0, mass_g=22.4, mass_basis="closed")
    add("weighing", build=second, runs=6.0, mass_g=22.4)
    assert alone(connection, first) == []
    assert alone(connection, second) == [(6.0, True, ())]


def test_weighings_that_nothing_else_orders_stand_as_they_were_written_whichever_row_came_in_first(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """Two laptops that met have the same rows in another order."""
    build = team.build()
    for mass_g in (14.2, 14.1, 14.3):
        add("weighing", build=build, mass_g=mass_g, mass_basis="open half")
    ids = [row[0] for row in connection.execute("SELECT id FROM weighings ORDER BY rowid")]
    later, line_9, line_2 = ids
    connection.executemany(
        "UPDATE weighings SET created_at = ?, note_line = ? WHERE id = ?",
        [
            ("2026-04-06T20:00:00.000Z", None, later),
            ("2026-04-05T20:00:00.000Z", 9, line_9),
            ("2026-04-05T20:00:00.000Z", 2, line_2),
        ],
    )
    assert [one.mass_g for one in uncompared(connection, [build])] == [14.3, 14.1, 14.2]


def test_a_weighing_alone_on_its_basis_names_the_others(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    build = team.build(closed_mass_g=22.4)
    add("weighing", build=build, runs=6.0, mass_g=14.2, mass_basis="open half")
    assert alone(connection, build) == [(6.0, True, ("closed",))]
    add("weighing", build=build, runs=7.0, mass_g=14.2, mass_basis="open half")
    assert alone(connection, build) == []


def test_a_mass_of_which_nothing_says_when_it_was_is_nothing_to_compare_with(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build()
    add("weighing", build=build, runs=6.0, mass_g=22.4, mass_basis="closed")
    add("weighing", build=build, mass_g=22.3, mass_basis="closed")
    assert alone(connection, build) == [(None, False, ())]
    add("weighing", build=build, runs=7.0, mass_g=14.2, mass_basis="open half")
    found = alone(connection, build)
    assert sorted(found, key=str) == [(6.0, True, ("open half",)), (7.0, True, ("closed",)), (None, False, ())]


def test_weighings_without_a_basis_compare_with_each_other(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build()
    for runs in (6.0, 7.0):
        add("weighing", build=build, runs=runs, mass_g=22.4)
    assert alone(connection, build) == []


def test_a_weighing_of_which_nothing_says_when_it_was_compares_with_nothing(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(closed_mass_g=22.4)
    add("weighing", build=build, mass_g=22.3, mass_basis="closed")
    (one,) = uncompared(connection, [build])
    assert (one.label, one.mass_g, one.runs, one.is_alone, one.other_bases) == ("rear-a/1", 22.3, None, False, ())
    assert uncompared(connection, []) == []


# The word for the shelf

SOUND = LastBuild("b", None, None, "keep", 10.0, 1.86, False, 10.0, "ok", 2)


@pytest.mark.parametrize(
    ("changed", "limits", "reasons"),
    [
        ({}, {}, []),
        ({"build": None, "leak": "stop"}, {}, [NOT_BUILT]),
        ({"opened_on": "2026-03-01", "leak": "stop"}, {}, [OPENED]),
        ({"leak": "stop"}, {}, [LOST_TOO_MUCH]),
        ({"leak": "caution"}, {}, [LOST_SOME]),
        ({"leak": "unclear"}, {}, [CANNOT_TELL]),
        ({"hand_feel": "notchy"}, {}, [NOTCHY]),
        ({"hand_feel": "gritty"}, {}, [TURNS_BADLY]),
        ({"is_wet_on_paper": True, "leak": "unclear"}, {}, [WET_ON_PAPER, CANNOT_TELL]),
        ({"hand_feel": "smooth"}, {}, []),
        ({"last_call": "broke"}, {}, [BROKE]),
        ({}, {"runs": 10.0}, [RUNS_REACHED]),
        ({}, {"runs": 10.5}, []),
        ({}, {"seal_uses": 2.0}, []),
        ({}, {"seal_uses": 1.0}, [SEALS_OVER]),
        ({"seal_uses": None}, {"seal_uses": 1.0}, []),
        ({"seal_uses": None}, {"seal_uses": 0.5}, []),
        ({"leak": None}, {}, [NOT_WEIGHED]),
        ({"leak": None, "runs": 0.0, "weighed_at_runs": None}, {}, []),
        ({"leak": None, "runs": 0.0, "weighed_at_runs": None, "oil_in_g": None}, {}, [NOT_WEIGHED]),
        ({"leak": None, "runs": 0.0, "weighed_at_runs": None, "oil_in_g": None, "is_weighed_full": True}, {}, []),
        (
            {"leak": None, "runs": 1.0, "weighed_at_runs": None, "oil_in_g": None, "is_weighed_full": True},
            {},
            [NOT_WEIGHED],
        ),
        ({"weighed_at_runs": 4.0}, {}, [WEIGHED_LONG_AGO]),
        ({"weighed_at_runs": 4.5}, {}, []),
        ({"leak": "unclear", "weighed_at_runs": 0.0, "runs": 6.0}, {}, [CANNOT_TELL, WEIGHED_LONG_AGO]),
        ({"leak": "unclear", "weighed_at_runs": 0.0, "runs": 5.5}, {}, [CANNOT_TELL]),
        ({"leak": None, "weighed_at_runs": 0.0}, {}, [NOT_WEIGHED]),
        (
            {"leak": "caution", "weighed_at_runs": 1.0, "hand_feel": "gritty"},
            {"runs": 5.0, "seal_uses": 1.0},
            [RUNS_REACHED, LOST_SOME, WEIGHED_LONG_AGO, SEALS_OVER, TURNS_BADLY],
        ),
    ],
)
def test_why_a_diff_is_not_ready_the_gravest_reason_first(
    changed: dict[str, object], limits: dict[str, float], reasons: list[str]
) -> None:
    assert reasons_of(SOUND._replace(**changed), OwnLimits(**limits)) == reasons  # type: ignore[arg-type]


# Facts that differ from the records


def test_each_fact_that_is_not_as_the_records_say_is_counted_once(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    builds = [team.build(oil_mass_g=1.86) for _ in range(3)]
    for build in builds:
        team.run(build, "2026-02-01", 2.0)
    assert set(stale(connection).values()) == {0}
    connection.execute("UPDATE build_facts SET runs = 3 WHERE build = ?", (builds[0],))
    connection.execute("UPDATE build_facts SET oil_in_g = NULL WHERE build = ?", (builds[1],))
    connection.execute("DELETE FROM run_diff_facts WHERE build = ?", (builds[2],))
    connection.execute("UPDATE diff_facts SET diff = 'nobody'")
    assert stale(connection) == {"build_facts": 2, "run_diff_facts": 1, "diff_facts": 2}
