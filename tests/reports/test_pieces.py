"""The runs of each piece of a diff with the motor beside. All data are constructed."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.reports.pieces import pieces_with_motors
from bevelbook.web.shared.blocks_of_pieces import piece_blocks
from bevelbook.web.shared.links import NamesOnly


def test_a_piece_has_its_runs_by_motor_and_those_that_were_replaced_stay(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """5 runs with 13.5 and 7 with 17.5 on one pair of gears, then new ones with 3; one run says no car."""
    car = add("car", name="blue")
    add("car_value", car=car, what="Motor", value="13.5", from_on="2026-02-01")
    add("car_value", car=car, what="motor", value="17.5", from_on="2026-02-10")
    builds = [team.build(built_on=day) for day in ("2026-02-01", "2026-02-08", "2026-02-15")]
    for build, day, runs, of in (
        (builds[0], "2026-02-02", 5.0, car),
        (builds[1], "2026-02-12", 7.0, car),
        (builds[1], "2026-02-13", 1.0, None),
        (builds[2], "2026-02-16", 3.0, car),
    ):
        run = add("run", label=day, run_on=day, runs=runs, car=of)
        add("run_diff", run=run, build=build)
    for build, condition in ((builds[0], "new"), (builds[1], "used"), (builds[2], "new")):
        add("build_part", build=build, part="side gear", place="lid side", condition=condition)
    found = pieces_with_motors(connection, team.diff)
    assert [(one.piece.runs, one.by_motor, one.not_noted, one.piece.is_in) for one in found] == [
        (3.0, (("17.5", 3.0),), 0.0, True),
        (13.0, (("13.5", 5.0), ("17.5", 7.0)), 1.0, False),
    ]
    now, before = piece_blocks(NamesOnly("team"), found)
    assert (str(now.head), now.word, now.lines) == ("side gear, lid side", "3 runs", ("motor 17.5: 3 runs",))
    assert str(now.quiet) == "in it since rear-a/3, 1 build"
    assert before.lines == ("motor 13.5: 5 runs, 17.5: 7 runs, not noted: 1 run",)
    assert str(before.quiet) == "was in from rear-a/1 to rear-a/2, 2 builds"


def test_a_diff_without_parts_or_builds_has_none_and_a_motor_that_was_not_noted_says_so(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    assert pieces_with_motors(connection, team.diff) == []
    build = team.build()
    assert pieces_with_motors(connection, team.diff) == []
    team.run(build, "2026-02-01", 4.0)
    add("seal_fitting", build=build, place="joint", condition="used")
    (shown,) = piece_blocks(NamesOnly("team"), pieces_with_motors(connection, team.diff))
    assert (shown.word, shown.lines) == ("4 runs", ("motor not noted",))
    assert str(shown.quiet) == "in it since rear-a/1, 1 build, not known as new"
