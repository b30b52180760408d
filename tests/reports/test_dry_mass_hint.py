"""What a dry mass may be missing. All data are constructed; masses of shims are worked out beside them."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.reports.dry_mass_hint import DryMassHint, dry_mass_hint


def _shimmed(add: Add, **diff: object) -> Team:
    """A build of 12.42 g, all parts on the scale, with two shims 5 x 7 x 0.2 mm: pi/4 (49 - 25) 0.2 x 7.85 = 29.6 mg
    each."""
    team = Team(add, **diff)
    first = team.build(dry_mass_g=12.42, mass_basis="all parts on the pan")
    for place in ("behind case-side gear", "behind lid-side gear"):
        add("build_shim", build=first, place=place, thickness_mm=0.2, bore_mm=5.0, outside_diameter_mm=7.0, pieces=1)
    ring = add("seal", label="joint ring 18 x 1", inside_diameter_mm=18.0, section_mm=1.0)
    add("seal_fitting", build=first, place="joint", seal=ring)
    return team


def _hint(connection: sqlite3.Connection, team: Team, dry_g: float) -> DryMassHint:
    found = dry_mass_hint(connection, team.build(dry_mass_g=dry_g, mass_basis="all parts on the pan"))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("dry_g", "words"),
    [
        (12.39, "0.03 g light: a 0.2 mm shim or the joint ring?"),
        (12.36, "0.06 g light: the joint ring or two 0.2 mm shims?"),
        (12.16, "0.26 g light: a screw?"),
        (12.32, "0.10 g light: are all shims, gasket, pins and screws in?"),
        (8.42, "4.00 g light: the lid with its screws?"),
        (12.45, "0.03 g heavy: a 0.2 mm shim too many, or oil or water left from washing?"),
        (12.55, "0.13 g heavy: oil or water left from washing?"),
    ],
    ids=["shim", "two-shims", "screw", "nothing-known", "lid", "shim-too-many", "washing"],
)
def test_the_likeliest_part_is_named(add: Add, connection: sqlite3.Connection, dry_g: float, words: str) -> None:
    """Of an 18 x 1 ring 0.052 to 0.066 g, of a screw M2 x 8 0.15 to 0.33 g, of the lid with its screws 4.00 g."""
    found = _hint(connection, _shimmed(add, screw_size="M2 x 8", usual_lid_mass_g=4.0), dry_g)
    assert found.words == words
    assert found.is_asked


def test_what_it_is_compared_with_and_what_the_part_weighs(add: Add, connection: sqlite3.Connection) -> None:
    found = _hint(connection, _shimmed(add), 12.39)
    assert found.beside[:2] == (
        "dry, rear-a/1 had 12.42 g, and nothing is noted as changed",
        "a 0.2 mm shim is 0.030 g (5 x 7 mm, steel)",
    )


def test_a_shim_is_asked_about_although_the_scale_cannot_show_it(add: Add, connection: sqlite3.Connection) -> None:
    """A scale that was never checked: one step each as repeatability and from day to day is assumed, so two readings
    show 1.96 sqrt(2 (0.01^2 / 12 + 0.01^2 + 0.01^2)) = 0.040 g."""
    team = _shimmed(add)
    connection.execute("UPDATE scales SET repeatability_g = NULL, day_to_day_g = NULL")
    found = _hint(connection, team, 12.39)
    assert found.is_asked
    assert "these readings can show 0.04 g, so it may be the scale too" in found.beside[0]
    assert not _hint(connection, team, 12.38).is_asked


def test_nothing_is_said_of_the_same_mass_or_of_noted_parts(add: Add, connection: sqlite3.Connection) -> None:
    team = _shimmed(add)
    same = team.build(dry_mass_g=12.42, mass_basis="all parts on the pan")
    assert dry_mass_hint(connection, same) is None
    other = team.build(dry_mass_g=12.39, mass_basis="all parts on the pan")
    add("build_part", build=other, part="cross pin", condition="new")
    assert dry_mass_hint(connection, other) is None


@pytest.mark.parametrize(
    ("dry_g", "words"),
    [
        (12.45, None),
        (12.42, "0.03 g light: a 0.2 mm shim or the joint ring?"),
        (12.50, "0.05 g heavy: two 0.2 mm shims too many, or oil or water left from washing?"),
    ],
    ids=["as-it-should-be", "light", "heavy"],
)
def test_another_stack_is_taken_off_first(
    add: Add, connection: sqlite3.Connection, dry_g: float, words: str | None
) -> None:
    """Three shims where there were two: 0.0296 g more than 12.42 g."""
    team = _shimmed(add)
    build = team.build(dry_mass_g=dry_g, mass_basis="all parts on the pan")
    for place, pieces in (("behind case-side gear", 1), ("behind lid-side gear", 2)):
        add(
            "build_shim",
            build=build,
            place=place,
            thickness_mm=0.2,
            bore_mm=5.0,
            outside_diameter_mm=7.0,
            pieces=pieces,
        )
    found = dry_mass_hint(connection, build)
    assert (found and found.words) == words
    if found:
        assert found.beside[0] == "dry, rear-a/1 had 12.42 g, and its shims now make 0.03 g more"


def test_another_stack_of_unknown_size_says_nothing(add: Add, connection: sqlite3.Connection) -> None:
    team = _shimmed(add)
    build = team.build(dry_mass_g=12.42, mass_basis="all parts on the pan")
    add("build_shim", build=build, place="small gears", thickness_mm=0.2)
    assert dry_mass_hint(connection, build) is None


def test_only_the_open_half_has_no_lid_and_no_screws(add: Add, connection: sqlite3.Connection) -> None:
    team = Team(add, screw_size="M2 x 8", usual_lid_mass_g=0.3)
    team.build(dry_mass_g=12.42, mass_basis="open half")
    light = dry_mass_hint(connection, team.build(dry_mass_g=12.16, mass_basis="open half"))
    heavy = dry_mass_hint(connection, team.build(dry_mass_g=12.46, mass_basis="open half"))
    assert light is not None and light.suspects == ()
    assert heavy is not None and heavy.words == "0.30 g heavy: the lid on the scale, or oil or water left from washing?"
