"""Which dry mass holds for a diff. All data are constructed; the rule is the project's own."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook.facts.dry_mass import dry_mass_of

KEPT = "dry mass of 2 Jan, same parts; old oil left inside counts as oil"


def test_a_dry_mass_weighed_for_the_build_holds(team: Team, connection: sqlite3.Connection) -> None:
    build = team.build(dry_mass_g=12.40)
    found = dry_mass_of(connection, build)
    assert (found.mass_g, found.is_own, found.of_build) == (12.40, True, build)


@pytest.mark.parametrize("kind", ["top-up", "oil change"])
def test_the_last_one_goes_on_holding_where_nothing_was_taken_apart(
    team: Team, connection: sqlite3.Connection, kind: str
) -> None:
    first = team.build(dry_mass_g=12.40)
    later = [team.build(kind=kind), team.build(kind="top-up")]
    for build in later:
        found = dry_mass_of(connection, build)
        assert (found.mass_g, found.words, found.of_build, found.is_own) == (12.40, KEPT, first, False)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"kind": "rebuild"}, "no dry mass since rear-a/2 was built on 3 Jan"),
        ({}, "no dry mass since rear-a/2 was built on 3 Jan"),
        ({"kind": "oil change", "washed": "yes"}, "no dry mass since rear-a/2, which was washed out"),
        ({"kind": "oil change", "gasket": "paper 0.3"}, "no dry mass since rear-a/2: another gasket"),
        ({"kind": "top-up", "mass_basis": "closed"}, "no dry mass since rear-a/2, which is weighed on another basis"),
    ],
)
def test_after_a_rebuild_or_a_change_there_is_none(
    team: Team, connection: sqlite3.Connection, values: dict[str, Any], words: str
) -> None:
    team.build(dry_mass_g=12.40, gasket="paper 0.2", mass_basis="open half")
    found = dry_mass_of(connection, team.build(**values))
    assert (found.mass_g, found.words) == (None, words)


@pytest.mark.parametrize(
    ("kind", "values", "words"),
    [
        ("build_part", {"part": "outdrive", "place": "lid side", "condition": "new"}, "new outdrive lid side"),
        ("build_shim", {"place": "behind lid-side gear", "thickness_mm": 0.1}, "other shims"),
        ("seal_fitting", {"place": "joint", "condition": "new"}, "new seal, joint"),
    ],
)
def test_a_part_noted_as_changed_ends_it(
    team: Team, add: Add, connection: sqlite3.Connection, kind: str, values: dict[str, Any], words: str
) -> None:
    team.build(dry_mass_g=12.40)
    changed = team.build(kind="oil change")
    add(kind, build=changed, **values)
    assert dry_mass_of(connection, changed).words == f"no dry mass since rear-a/2: {words}"


def test_an_opened_diff_has_none_and_a_build_that_was_replaced_keeps_its_own(
    team: Team, connection: sqlite3.Connection
) -> None:
    build = team.build(dry_mass_g=12.40)
    team.open(build, "2026-03-01")
    assert dry_mass_of(connection, build).words == "no dry mass since rear-a/1 was opened on 1 Mar"
    assert dry_mass_of(connection, build).mass_g is None
    team.build(built_on="2026-03-02")
    assert dry_mass_of(connection, build).mass_g == 12.40


def test_one_that_was_never_weighed(team: Team, connection: sqlite3.Connection) -> None:
    assert dry_mass_of(connection, team.build(kind="top-up")).words == "rear-a/1 was never weighed dry"
