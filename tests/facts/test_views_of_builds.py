"""What views list beside a build: the verdicts kept for it, and no other's. All data are constructed."""

from __future__ import annotations

import sqlite3

from constructed import Team, kept


def verdicts(connection: sqlite3.Connection) -> dict[str, str | None]:
    return dict(map(tuple, connection.execute("SELECT label, verdicts FROM build_sheet")))


def test_a_build_has_the_verdicts_that_were_kept_for_it_alone(connection: sqlite3.Connection, team: Team) -> None:
    first, second = team.build(), team.build()
    third = team.build()
    kept(connection, subject_table="builds", subject_id=first, calculator="fill", verdict="ok")
    kept(connection, subject_table="builds", subject_id=second, calculator="fill", verdict="stop")
    kept(connection, subject_table="diffs", subject_id=third, calculator="fill", verdict="caution")
    assert verdicts(connection) == {"rear-a/1": "fill: ok", "rear-a/2": "fill: stop", "rear-a/3": None}


def test_of_one_calculator_the_latest_verdict_is_listed_and_of_each_one_verdict(
    connection: sqlite3.Connection, team: Team
) -> None:
    build = team.build()
    for day, verdict in (("2026-02-01", "ok"), ("2026-02-03", "stop"), ("2026-02-02", "caution")):
        kept(
            connection,
            subject_table="builds",
            subject_id=build,
            calculator="fill",
            verdict=verdict,
            calculated_at=day,
        )
    kept(connection, subject_table="builds", subject_id=build, calculator="shim", verdict="unclear")
    assert set(str(verdicts(connection)["rear-a/1"]).split("; ")) == {"fill: stop", "shim: unclear"}
