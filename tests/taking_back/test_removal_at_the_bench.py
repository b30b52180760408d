"""A record that work at the bench made is not removed from under it, and what to do instead is said."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.declare.errors import InputError
from bevelbook.records import BY_NAME
from bevelbook.taking_back.removal import removal_of


def test_a_build_of_work_at_the_bench_says_that_the_entries_of_that_work_are_taken_back(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build()
    add(
        "bench_job",
        diff=team.diff,
        kind="rebuild",
        way="step by step",
        begun_at="2026-05-10T12:10:00.000Z",
        build=build,
    )
    with pytest.raises(InputError) as refused:
        removal_of(connection, BY_NAME["build"], build)
    assert "rear-a rebuild begun 2026-05-10" in refused.value.what
    assert "take back the entries of that work" in (refused.value.remedy or "")
    add("run_diff", run=add("run", label="2026-05-11/1", run_on="2026-05-11"), build=(other := team.build()))
    with pytest.raises(InputError) as refused:
        removal_of(connection, BY_NAME["build"], other)
    assert "Move or remove those first" in (refused.value.remedy or "")
