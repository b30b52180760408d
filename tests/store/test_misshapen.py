"""Kept results that another program left damaged: skipped by all, and named by ``check``.

All data are invented.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browser_team import Team, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.store.calculations import misshapen
from bevelbook.store.opened_to_read import open_for_reading

Run = Callable[..., Any]


@pytest.fixture(scope="module")
def made() -> list[bytes]:
    """The file of the team below, once a test has made it."""
    return []


@pytest.fixture
def team(bevelbook: Run, tmp_path: Path, made: list[bytes]) -> Team:
    """A team with a kept fill target of a build, of which a person gave the mass of oil."""
    team = make_team(tmp_path / "team.db")
    if made:
        team.path.write_bytes(made[0])
        return team
    words = ("fill-target", "--for", "rear-b/2", "--oil-mass", "1.5 g", "--free-volume", "2.1 cm3", "--keep")
    assert bevelbook("--db", team.path, "calc", *words).code in (0, 1)
    for build in ("rear-b/1", "rear-b/2"):
        assert bevelbook("--db", team.path, "calc", "heat-soak", "--for", build, "--keep").code in (0, 1, 2)
    assert not team.path.with_name("team.db-wal").exists(), "its last changes are beside the file"
    made.append(team.path.read_bytes())
    return team


def put(team: Team, column: str, text: str) -> str:
    """Set a column of the kept fill target, as a program that knows nothing of us may; the id of the result."""
    with closing(sqlite3.connect(team.path)) as connection, connection:
        set_it = f"UPDATE calculations SET {column} = ? WHERE calculator = 'fill-target' RETURNING id"
        return str(connection.execute(set_it, (text,)).fetchall()[0][0])


WRONG = [
    ("origins", "null"),
    ("origins", "[]"),
    ("found", "3"),
    ("found", '"x"'),
    ("given", "[]"),
    ("given", '{"oil_mass_g":[1,2]}'),
    ("given", '{"oil_mass_g":{"a":1}}'),
    ("reasons", "7"),
    ("rows", "3"),
    ("uncertainties", "[]"),
]


@pytest.mark.parametrize(("column", "text"), WRONG)
def test_such_a_result_is_passed_over_and_named(
    bevelbook: Run, registry: Registry, team: Team, column: str, text: str
) -> None:
    row_id = put(team, column, text)
    for words in (
        ("card", "rear-b"),
        ("card", "rear-b/2", "--json"),
        ("compare", "rear-b/1", "rear-b/2"),
        ("calc", "fill-target", "--for", "rear-b/2", "--oil-mass", "1.5 g", "--free-volume", "2.1 cm3"),
        ("record", "build", "rear-b/2", "note=wiped"),
    ):
        done = bevelbook("--db", team.path, *words)
        assert done.code in (0, 1), (words, done.err)
        assert "fault of the p" not in done.err
    checked = bevelbook("--db", team.path, "check", "--json")
    assert checked.code in (0, 1), checked.err
    assert checked.json["left_out"] == []
    (named,) = [one for one in checked.json["faults"] if row_id in one]
    assert f"of fill-target for builds {team.ids['rear-b/2']} has {column} in the wrong form" in named
    with site_over(team.path, registry) as site:
        for page in ("build/rear-b~2F2", "card/rear-b~2F2", "compare?a=rear-b/1&b=rear-b/2", "look", "home"):
            site.page(f"/team/-/{page}")


def test_results_as_we_keep_them_are_not_named(team: Team) -> None:
    with closing(open_for_reading(team.path)) as connection:
        assert connection.execute("SELECT count(*) FROM calculations").fetchone()[0] > 0
        assert misshapen(connection) == []


def test_what_was_typed_beside_a_record_may_be_of_another_shape_too(bevelbook: Run, team: Team) -> None:
    with closing(sqlite3.connect(team.path)) as connection, connection:
        connection.execute("UPDATE builds SET entered = '3'")
    assert bevelbook("--db", team.path, "card", "rear-b").code == 0
    assert bevelbook("--db", team.path, "record", "build", "rear-b/2", "dry_mass=12.5g").code == 0
