"""Two builds side by side. All data are constructed."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import FIXED_NOW, Outcome
from constructed import Add, Team, adding, kept

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.keep import keep_result
from bevelbook.calculating.known import find_subject, known_of
from bevelbook.plugin.registry import Registry, load
from bevelbook.reports.compare import compare
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer


def differing(
    connection: sqlite3.Connection, registry: Registry | None, a: str = "rear-a/1", b: str = "rear-a/2"
) -> Any:
    found = compare(connection, a, b, registry)
    return {f"{one.group}: {one.what}": (one.a, one.b, one.change, one.unit) for one in found.differences}


def test_builds_with_nothing_but_their_days_between_them(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    for _ in range(2):
        team.build(dry_mass_g=12.4, oil_mass_g=1.86, gasket="paper")
    assert differing(connection, registry) == {"Build: built on": ("2026-01-02", "2026-01-03", None, "")}


def test_masses_have_a_signed_change_in_grams(connection: sqlite3.Connection, registry: Registry, team: Team) -> None:
    team.build(dry_mass_g=12.42, oil_mass_g=1.86)
    team.build(dry_mass_g=12.39, oil_mass_g=1.86, closed_mass_g=22.4)
    found = differing(connection, registry)
    assert found["Masses: dry mass"] == (12.42, 12.39, -0.03, "g")
    assert found["Masses: closed mass"] == (None, 22.4, None, "g")
    assert "Masses: oil mass" not in found


def test_oil_that_follows_from_two_masses_is_oil_that_is_known(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    """What is in a diff is what it weighs more than dry: 14.26 g - 12.40 g = 1.86 g, worked out by hand."""
    team.build(dry_mass_g=12.40, filled_mass_g=14.26)
    team.build(dry_mass_g=12.41, oil_mass_g=1.90)
    team.build(dry_mass_g=12.40, filled_mass_g=14.31)
    found = differing(connection, registry)
    assert found["Masses: oil mass"] == (1.86, 1.90, 0.04, "g")
    assert found["Masses: oil mass from"] == ("filled less dry mass", "written", None, "")
    of_two = differing(connection, registry, "rear-a/1", "rear-a/3")
    assert of_two["Masses: oil mass"] == (1.86, 1.91, 0.05, "g")
    assert "Masses: oil mass from" not in of_two


def test_the_bottles_own_measurement_goes_first_with_its_origin(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    fluid = add("fluid", label="house 7k", viscosity_cst=7000.0, viscosity_source="its label")
    bottle = add("bottle", fluid=fluid, lot="second", viscosity_cst=6150.0)
    team.build(fluid=fluid)
    team.build(fluid=fluid, bottle=bottle, viscosity_cst=7000.0, viscosity_from="note")
    found = differing(connection, registry)
    assert found["Oil: viscosity at 25 °C"] == (7000.0, 6150.0, -850.0, "cSt")
    assert found["Oil: viscosity from"] == ("its label", "own measurement of the bottle", None, "")
    assert found["Oil: bottle"] == (None, "second", None, "")
    assert "Oil: fluid" not in found


def test_shims_are_shown_as_the_sum_of_their_stack(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    """2 x 0.1 + 0.2 = 0.4 mm against 0.2 - 0.05 = 0.15 mm: -0.25 mm."""
    for build, shims in ((team.build(), ((0.1, 2), (0.2, None))), (team.build(), ((0.2, 1), (-0.05, 1)))):
        for thickness, pieces in shims:
            add("build_shim", build=build, place="behind lid-side gear", thickness_mm=thickness, pieces=pieces)
    found = differing(connection, registry)
    assert found["Shims: behind lid-side gear"] == (0.4, 0.15, -0.25, "mm")
    assert found["Shims: behind lid-side gear, pieces"] == ("1 x 0.2 + 2 x 0.1", "1 x 0.2 + 1 x -0.05", None, "")


def test_seals_parts_and_blends(connection: sqlite3.Connection, registry: Registry, add: Add, team: Team) -> None:
    first, second = team.build(), team.build()
    ring = add("seal", label="5 x 1.5")
    add("seal_fitting", build=first, place="joint", seal=ring, condition="new", measured_outside_diameter_mm=8.0)
    add("seal_fitting", build=second, place="joint", seal=ring, condition="used", measured_outside_diameter_mm=8.11)
    add("build_part", build=second, part="outdrive", place="lid side", condition="new", mark="red")
    oil = add("fluid", label="house 5k")
    add("blend_part", build=first, fluid=oil, viscosity_cst=5000.0, mass_g=5.15)
    add("blend_part", build=second, fluid=oil, viscosity_cst=5000.0, mass_g=4.15)
    found = differing(connection, registry)
    assert found["Seals: joint new or used"] == ("new", "used", None, "")
    assert found["Seals: joint outside diameter"] == (8.0, 8.11, 0.11, "mm")
    assert "Seals: joint" not in found
    assert found["Parts: outdrive, lid side"] == (None, "new, red", None, "")
    assert found["Blend: house 5k, 5,000 cSt"] == (5.15, 4.15, -1.0, "g")


def test_runs_before_a_diff_lost_oil_count_for_keeping_it(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    first, _ = team.build(), team.build()
    team.run(first, "2026-02-01", 6.0, "keep")
    team.run(first, "2026-02-02", 6.0, "change")
    team.weigh(first, (0, 22.35), (6, 22.35), (12, 22.05))
    found = differing(connection, registry)
    assert found["Runs and outcome: kept"][0] == "on 1 day"
    assert found["Runs and outcome: not counted for that"][0] == "6 runs that had lost oil, or may have"


def test_runs_losses_calls_and_what_the_opening_found(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    first, second = team.build(), team.build()
    team.run(first, "2026-02-01", 13.0, "keep")
    team.run(first, "2026-02-02", 5.0, "change")
    team.run(second, "2026-02-08", 4.0, "keep")
    team.weigh(first, (0, 22.35), (18, 22.05))
    team.weigh(second, (0, 22.35), (4, 22.34))
    team.open(first, leak_place="joint")
    found = differing(connection, registry)
    assert found["Runs and outcome: runs"] == (18.0, 4.0, -14.0, "runs")
    assert found["Runs and outcome: mass lost"] == (0.30, "no loss seen (the scale can see 0.02 g and more)", None, "g")
    assert found["Runs and outcome: kept"] == (None, "on 1 day", None, "")
    lost = found["Runs and outcome: not counted for that"]
    assert lost == ("18 runs that had lost oil, or may have", None, None, "")
    assert found["Runs and outcome: found: leak place"] == ("joint", None, None, "")


def keep_leaks(connection: sqlite3.Connection, registry: Registry) -> None:
    """Two builds that were weighed on paper, kept as calculations only."""
    offered = registry.calculator("leak-trend")
    for label, last in (("rear-a/1", "22.05"), ("rear-a/2", "22.34")):
        subject = find_subject(connection, label)
        typed: dict[str, str | list[str]] = {"weighings": ["0:22.35", f"13:{last}"]}
        known = known_of(connection, offered.calculator, [subject])
        result = run(offered.calculator, bind(offered.calculator, typed, known))
        keep_result(connection, offered, result, subject, "ana", FIXED_NOW)


def test_the_latest_calculations_by_their_outputs_with_units_also_when_the_plugin_is_gone(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    builds = [team.build(oil_mass_g=1.86) for _ in range(2)]
    keep_leaks(connection, registry)
    for loaded in (registry, load(entry_points=()), None):
        found = differing(connection, loaded)
        assert found["Calculations: leak-trend: loss"] == (0.30, 0.01, -0.29, "g")
        assert found["Calculations: leak-trend: verdict"] == ("stop", "ok", None, "")
    assert differing(connection, registry)["Calculations: leak-trend: changed before runs"] == (
        13.0,
        None,
        None,
        "runs",
    )
    team.weigh(builds[0], (0, 22.35), (13, 22.34))
    found = differing(connection, registry)
    assert found["Runs and outcome: oil lost"] == ("ok", None, None, ""), "the facts speak where the records tell"
    assert found["Calculations: leak-trend: verdict"] == (None, "ok", None, "")


def test_what_binary_fractions_left_over_of_a_zero_is_read_as_zero(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    """A pressure of -1.4e-14 kPa, as 101.325 - 101.325 may give, is none; a damping of 2e-6 N·m·s is one."""
    builds = [team.build() for _ in range(3)]
    for build, gauge_kpa, damping in zip(builds, (0.0, -1.4e-14, 12.5), (2e-6, 3e-6, 3e-6), strict=True):
        found = json.dumps({"cold_gauge_kpa": gauge_kpa, "damping_nm_s": damping})
        kept(connection, calculator="pressure", subject_table="builds", subject_id=build, found=found)
    lines = {
        other: [
            " ".join(line.split()) for line in compare(connection, "rear-a/2", other, registry).lines(everything=True)
        ]
        for other in ("rear-a/1", "rear-a/3")
    }
    assert "pressure: damping 0.000003 N·m·s 0.000002 N·m·s -0.000001 N·m·s" in lines["rear-a/1"]
    assert not [line for line in lines["rear-a/1"] if "gauge" in line]
    assert "pressure: cold gauge 0.0 kPa 12 kPa +12 kPa" in lines["rear-a/3"]


@pytest.fixture
def filled(db: Path) -> Path:
    connection = open_for_writing(db)
    with transaction(connection, db):
        add = adding(Writer(connection, "ana", lambda: FIXED_NOW))
        team = Team(add)
        team.build(dry_mass_g=12.42, hand_feel="smooth")
        team.build(dry_mass_g=12.39, hand_feel="loose")
    connection.close()
    return db


def test_for_people_only_what_differs_in_columns(bevelbook: Callable[..., Outcome], filled: Path) -> None:
    done = bevelbook("--db", filled, "compare", "rear-a/1", "rear-a")
    assert done.code == 0
    lines = [line.split() for line in done.out.splitlines()]
    assert lines[0] == ["rear-a/1", "rear-a/2", "change"]
    assert ["dry", "mass", "12.42", "g", "12.39", "g", "-0.03", "g"] in lines
    assert ["hand", "feel", "smooth", "loose"] in lines
    assert "oil mass" not in done.out
    assert lines.index(["hand", "feel", "smooth", "loose"]) < lines.index(["built", "on", "2026-01-02", "2026-01-03"])


def test_what_calculators_say_is_counted_and_shown_with_all(
    bevelbook: Callable[..., Outcome], filled: Path, registry: Registry
) -> None:
    connection = open_for_writing(filled)
    with transaction(connection, filled):
        keep_leaks(connection, registry)
    connection.close()
    short, whole = (
        bevelbook("--db", filled, "compare", "rear-a/1", "rear-a/2", *option).out for option in ((), ("--all",))
    )
    assert short.endswith(" numbers of calculators differ too: see them with --all.\n")
    assert "Leak trend" in whole and "--all" not in whole


def test_for_programs(bevelbook: Callable[..., Outcome], filled: Path) -> None:
    found = bevelbook("--db", filled, "compare", "rear-a/1", "rear-a/2", "--json").json
    assert (found["a"], found["b"], found["same_build"]) == ("rear-a/1", "rear-a/2", False)
    assert {"group": "Masses", "what": "dry mass", "a": 12.42, "b": 12.39, "change": -0.03, "unit": "g"} in found[
        "differences"
    ]
    assert json.dumps(found)


def test_one_build_and_an_unknown_one(bevelbook: Callable[..., Outcome], filled: Path) -> None:
    assert (
        bevelbook("--db", filled, "compare", "rear-a/2", "rear-a").out == "rear-a/2 is one build: nothing to compare.\n"
    )
    missed = bevelbook("--db", filled, "compare", "rear-a/1", "rear-a/3")
    assert (missed.code, "there is no build named" in missed.err) == (2, True)


def read(connection: sqlite3.Connection, registry: Registry | None = None) -> Any:
    """What is read first, what opens, and the calculators, each by what it is."""
    found = compare(connection, "rear-a/1", "rear-a/2", registry).changed
    return [{line.what: line[1:] for line in lines} for lines in found]


def test_what_a_person_changed_is_read_first_and_each_thing_is_one_line(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    seven, ten = (
        add("fluid", label=f"house {cst}", viscosity_cst=cst, viscosity_source="its label") for cst in (7, 10)
    )
    first = team.build(fluid=seven, dry_mass_g=12.42, oil_mass_g=1.86, hand_feel="smooth", scale=None)
    second = team.build(fluid=ten, dry_mass_g=12.39, oil_mass_g=1.80, hand_feel="loose", screw_torque_nm=0.2)
    for build, condition, thickness in ((first, "used", 0.2), (second, "new", 0.3)):
        for side in ("case-side", "lid-side"):
            add("seal_fitting", build=build, place=f"{side} shaft", condition=condition)
            add("build_shim", build=build, place=f"behind {side} gear", thickness_mm=thickness)
    add("seal_fitting", build=second, place="joint", condition="new")
    add("build_part", build=second, part="outdrive", place="lid side", condition="new")
    first_read, more, calculated = read(connection)
    assert list(first_read.items()) == [
        ("oil", ("house 7, 7 cSt", "house 10, 10 cSt", "+3 cSt")),
        ("oil mass", ("1.86 g", "1.80 g", "-0.06 g")),
        ("dry mass", ("12.42 g", "12.39 g", "-0.03 g")),
        ("shims behind case-side and lid-side gear", ("0.20 mm", "0.30 mm", "+0.10 mm")),
        ("case-side and lid-side shaft seal", ("used", "new", "")),
        ("outdrive, lid side", ("-", "new", "")),
        ("hand feel", ("smooth", "loose", "")),
    ]
    assert more["joint seal"] == ("not noted", "new", ""), "unknown of the first: perhaps no change"
    assert more["screw torque"] == ("not noted", "0.20 N·m", "")
    assert more["outdrive, lid side, runs at its end"] == ("not noted", "0 runs", "")
    assert calculated == {}


def test_masses_and_feel_noted_of_both_are_read_first_and_what_one_lacks_says_not_noted(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    masses = {"dry_mass_g": 12.42, "filled_mass_g": 14.28}
    first = team.build(**masses, closed_mass_g=22.35, hand_feel="smooth", squeeze_out="trace", scale=None)
    second = team.build(dry_mass_g=12.39, filled_mass_g=14.19, hand_feel="loose", scale=None)
    for number in range(9):
        for build, mass in ((first, 0.10), (second, 0.20)):
            add("blend_part", build=build, viscosity_cst=1000.0 * (number + 1), mass_g=mass)
    first_read, more, _ = read(connection)
    assert len(first_read) == 8
    assert first_read["dry, filled mass"] == ("12.42 g, 14.28 g", "12.39 g, 14.19 g", "")
    assert first_read["hand feel"] == ("smooth", "loose", "")
    assert more["closed mass"] == ("22.35 g", "not noted", "")
    assert more["squeeze out"] == ("trace", "not noted", "")


def test_runs_are_counted_without_a_change_and_calculators_come_last(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    builds = [team.build(oil_mass_g=1.86) for _ in range(2)]
    for build in builds:
        add("seal_fitting", build=build, place="joint", condition="new")
    keep_leaks(connection, registry)
    team.run(builds[0], "2026-02-01", 5.0)
    first_read, _, calculated = read(connection, registry)
    assert first_read["seal, joint, runs at its end"] == ("5 runs", "0 runs", "")
    assert calculated["Leak trend: loss"] == ("0.30 g", "0.01 g", "-0.29 g")
    compared = compare(connection, "rear-a/1", "rear-a/2", registry)
    short, whole = (list(compared.lines(everything=everything)) for everything in (False, True))
    assert not [line for line in short if "Leak trend" in line]
    assert compared.calculated_too == f"{len(calculated)} numbers of calculators differ too"
    assert compare(connection, "rear-a/1", "rear-a/1", registry).calculated_too == ""
    assert whole.index("What calculators say") > whole.index("What was changed")


def test_what_came_of_each_build_in_a_few_lines(connection: sqlite3.Connection, team: Team) -> None:
    first = team.build(oil_mass_g=1.86)
    team.build(oil_mass_g=1.86)
    team.run(first, "2026-02-01", 13.0, "keep", note="planted")
    team.run(first, "2026-02-08", 5.0, "undecided", note="steps out")
    team.weigh(first, (0, 22.35), (18, 22.05))
    team.open(first, day="2026-03-01", leak_place="joint", seals="flattened", screws="ok")
    one, other = compare(connection, "rear-a/1", "rear-a/2").outcomes
    assert one.verdict == "stop"
    assert list(one.lines()) == [
        "18 runs; lost 0.30 g of 1.86 g (16 %) by run 18",
        "5 runs undecided; 13 runs that had lost oil, or may have, not counted",
        "8 Feb 2026: “steps out”",
        "opened 1 Mar 2026 (joint): seals flattened",
    ]
    assert (other.verdict, list(other.lines())) == ("", ["0 runs; not weighed since the fill"])
