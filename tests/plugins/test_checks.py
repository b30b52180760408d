"""The bundled checks: every finding with its numbers. All data are constructed, and each sum is written beside it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from typing import Any

import pytest
from constructed import Add, Team, kept

from bevelbook.calculating.calculate import plain
from bevelbook.formulas.fill_target import FillGiven, fill
from bevelbook.plugin.check import Finding, Reader
from bevelbook_plugins import checks
from bevelbook_plugins.checking.oils import label_viscosity_cst

Find = Callable[[], list[Finding]]


@pytest.fixture
def find(connection: sqlite3.Connection) -> Find:
    return lambda: list(checks.bevelbook_checks(Reader(connection)))


def only(found: list[Finding], code: str) -> Finding:
    (one,) = [finding for finding in found if finding.code == code]
    return one


def codes(found: list[Finding]) -> list[str]:
    return [one.code for one in found]


def test_an_empty_database_yields_nothing(find: Find) -> None:
    assert find() == []


def test_a_sound_build_yields_nothing(add: Add, find: Find) -> None:
    team = Team(add, free_volume_cm3=2.30)
    build = team.build(
        dry_mass_g=12.4, oil_mass_g=1.86, filled_mass_g=14.26, viscosity_cst=7000.0, mass_basis="open half"
    )
    team.weigh(build, (0, 22.40), (8, 22.39), (15, 22.38))
    assert find() == []


@pytest.mark.parametrize(
    ("filled", "words"),
    [
        (14.31, "12.40 g dry and 1.86 g of oil make 14.26 g, but 14.31 g was weighed: 0.05 g too much"),
        (14.23, "12.40 g dry and 1.86 g of oil make 14.26 g, but 14.23 g was weighed: 0.03 g too little"),
        (14.24, None),
        (14.27, None),
    ],
)
def test_masses_may_miss_each_other_by_what_three_readings_scatter(
    add: Add, find: Find, filled: float, words: str | None
) -> None:
    """By hand: 1.96 sqrt(3 (0.01^2 / 12 + 0.005^2)) g + 0.005 g = 0.0246 g."""
    Team(add).build(dry_mass_g=12.4, oil_mass_g=1.86, filled_mass_g=filled)
    found = find()
    assert (only(found, "mass_balance").words.startswith(words)) if words else (found == [])


def test_a_coarse_scale_explains_more_and_a_scale_not_noted_is_said(add: Add, find: Find) -> None:
    team = Team(add)
    coarse = add("scale", name="kitchen", step_g=0.1, repeatability_g=0.05, day_to_day_g=0.0)
    team.build(dry_mass_g=12.4, oil_mass_g=1.86, filled_mass_g=14.36, scale=coarse)
    assert find() == []
    team.build(oil_mass_g=1.86, dry_mass_g=12.3, filled_mass_g=14.26, scale=None)
    balance = only(find(), "mass_balance")
    assert balance.severity == "caution"
    assert balance.words.endswith("for no scale is noted; one with steps of 0.01 g")


def test_equal_labels_are_reported_with_their_days(add: Add, find: Find) -> None:
    team = Team(add)
    team.build(label="rear-a/7", built_on="2026-02-01")
    team.build(label="Rear-A/7", built_on="2026-02-08")
    one = only(find(), "equal_labels")
    assert one.words.startswith("2 builds are named Rear-A/7 (2026-02-01 and 2026-02-08)")


@pytest.mark.parametrize(
    ("runs", "code", "words"),
    [
        (15.0, None, ""),
        (16.0, "limit_near", "16 runs since it was filled, your limit is 20: 4 left"),
        (19.5, "limit_near", "19.5 runs since it was filled, your limit is 20: 0.5 left"),
        (20.0, None, ""),
        (41.0, None, ""),
    ],
)
def test_a_limit_of_runs_is_near_until_it_is_reached(
    add: Add, find: Find, runs: float, code: str | None, words: str
) -> None:
    add("limit", kind="runs between openings", value=20.0)
    team = Team(add)
    team.run(team.build(), "2026-02-01", runs)
    assert [(one.code, one.words) for one in find()] == ([(code, words)] if code else []), "the shelf says the rest"


def test_a_limit_of_one_diff_goes_before_that_of_all(add: Add, find: Find) -> None:
    team = Team(add)
    team.run(team.build(), "2026-02-01", 11.0)
    add("limit", kind="runs between openings", value=20.0)
    add("limit", kind="runs between openings", value=12.0, diff=team.diff)
    add("limit", kind="runs between openings", value=30.0)
    assert only(find(), "limit_near").words.endswith("your limit is 12: 1 left")


def test_uses_of_seals(add: Add, find: Find) -> None:
    add("limit", kind="seal uses", value=2.0)
    team = Team(add)
    first = team.build()
    for place in ("joint", "lid-side shaft"):
        add("seal_fitting", build=first, place=place, condition="new")
    team.run(first, "2026-02-01", 5.0)
    second = team.build()
    found = find()
    assert codes(found) == ["limit_near"]
    assert found[0].words == ("seals: joint (2 uses, 5 runs) and lid-side shaft (2 uses, 5 runs); your limit is 2 uses")
    third = team.build()
    add("seal_fitting", build=third, place="lid-side shaft", condition="new")
    team.run(third, "2026-02-08", 4.0)
    assert second != third
    assert find() == [], "one that is over it is said by the shelf"


def test_a_seal_past_its_verdict_counts_until_a_new_one_is_in(
    add: Add, find: Find, connection: sqlite3.Connection
) -> None:
    team = Team(add)
    first = team.build()
    fitting = add("seal_fitting", build=first, place="joint", condition="used")
    kept(
        connection,
        calculator="seal-swell",
        subject_table="seal_fittings",
        subject_id=fitting,
        verdict="stop",
        reasons=json.dumps(["swollen by 24 %, over 20 %"]),
    )
    assert "at the joint is in use after the verdict stop: swollen by 24 %" in only(find(), "seal_past_verdict").words
    second = team.build()
    assert ", measured in rear-a/1 is in use" in only(find(), "seal_past_verdict").words
    add("seal_fitting", build=second, place="joint", condition="new")
    assert find() == []


def test_a_third_new_seal_on_a_grooved_shaft_is_no_cure(add: Add, find: Find) -> None:
    team = Team(add)
    builds = []
    for number in range(3):
        builds.append(team.build())
        add("seal_fitting", build=builds[-1], place="lid-side shaft", condition="new")
        if number < 2:
            team.open(builds[-1], f"2026-02-1{number}", shafts="grooved", leak_place="lid-side shaft")
    one = only(find(), "new_seal_on_groove")
    assert one.subject_label == "rear-a/3"
    assert one.words == (
        "the 3rd new seal noted on the lid-side shaft, which was found grooved when rear-a/1 was opened (2026-02-10); "
        "no new outdrive since: new seals alone do not cure a groove"
    )
    last = team.build()
    add("build_part", build=last, part="outdrive", place="lid side", condition="new")
    add("seal_fitting", build=last, place="lid-side shaft", condition="new")
    assert find() == []


def test_a_groove_on_the_other_side_is_not_meant(add: Add, find: Find) -> None:
    team = Team(add)
    team.open(team.build(), shafts="grooved", leak_place="case-side shaft")
    add("seal_fitting", build=team.build(), place="lid-side shaft", condition="new")
    assert find() == []


def test_too_much_oil_for_the_room(add: Add, find: Find) -> None:
    """2.17 g at 20 °C: 0.975 g/cm3 at 25 °C / (1 - 9.2e-4 x 5) = 0.9795; 2.2154 cm3 of 2.24 cm3 = 98.9 %."""
    team = Team(add, free_volume_cm3=2.24)
    build = team.build(dry_mass_g=12.4, oil_mass_g=2.17, viscosity_cst=7000.0)
    one = only(find(), "overfilled")
    assert (one.severity, one.words.startswith("2.17 g of oil in 2.24 cm³: the oil takes 98.9 % of the room")) == (
        "stop",
        True,
    )
    team.open(build)
    assert only(find(), "overfilled").severity == "caution"


def test_oil_that_ran_out_at_the_lid(add: Add, find: Find) -> None:
    Team(add).build(squeeze_out="runs out")
    one = only(find(), "oil_ran_out")
    assert (one.severity, "closed full" in one.words) == ("stop", True)


@pytest.mark.parametrize(
    ("origin", "odd", "is_reported"),
    [("given", {}, True), ("the build", {}, False), ("given", {"stop_low_g": None}, False), ("given", {"x": 1}, False)],
)
def test_a_fill_beside_its_kept_target(
    add: Add, find: Find, connection: sqlite3.Connection, origin: str, odd: dict[str, object], is_reported: bool
) -> None:
    """A kept target whose outputs no longer fit says nothing."""
    build = Team(add).build(dry_mass_g=12.4, oil_mass_g=1.96, filled_mass_g=14.36)
    target = plain(fill(FillGiven(dry_mass_g=12.4, oil_mass_g=1.86, repeatability_g=0.005)))
    origins = json.dumps({"oil_mass_g": origin})
    subject = {"subject_table": "builds", "subject_id": build}
    kept(connection, calculator="fill-target", found=json.dumps(target | odd), origins=origins, **subject)
    found = find()
    assert codes(found) == (["beside_target"] if is_reported else [])
    if is_reported:
        words = "filled to 14.36 g, its target was 14.26 g (anything from 14.24 to 14.28 g is fine): 0.10 g too much"
        assert found[0].words == words


def test_a_fill_unlike_the_others_of_its_diff(add: Add, find: Find) -> None:
    """Grubbs at 1 %, n = 7: mean 1.85, s = 0.0316, G = 0.07 / 0.0316 = 2.21; critical 2.139 (scipy's t)."""
    team = Team(add)
    for oil in (1.86, 1.87, 1.85, 1.86, 1.78, 1.87, 1.86):
        team.build(oil_mass_g=oil)
    one = only(find(), "fill_unlike_others")
    assert one.subject_label == "rear-a/5"
    assert one.words == "1.78 g of oil, the other 6 fills of rear-a lie between 1.85 and 1.87 g"


def test_a_top_up_is_not_counted_among_the_fills(add: Add, find: Find) -> None:
    team = Team(add)
    for oil in (1.86, 1.87, 1.85, 1.86, 1.78, 1.87, 1.86):
        team.build(oil_mass_g=oil)
    team.build(kind="top-up", oil_mass_g=0.2)
    words = only(find(), "fill_unlike_others").words
    assert words == "1.78 g of oil, the other 6 fills of rear-a lie between 1.85 and 1.87 g"


def test_even_fills_are_not_reported(add: Add, find: Find) -> None:
    team = Team(add)
    for oil in (1.86, 1.88, 1.85, 1.86, 1.83, 1.87, 1.86):
        team.build(oil_mass_g=oil)
    assert find() == []


def bottle(add: Add, label: str, lot: str, fluid: dict[str, Any] | None = None, **values: Any) -> str:
    return add("bottle", fluid=add("fluid", label=label, **(fluid or {})), lot=lot, **values)


@pytest.mark.parametrize(
    ("measured", "uncertainty", "words"),
    [
        (6150.0, 150.0, "labelled 7,000 cSt, measured 6,150 ± 300 cSt (k = 2): 12 % thinner than the label says"),
        (7800.0, None, "labelled 7,000 cSt, measured 7,800 cSt (its uncertainty is not noted): 11 % thicker"),
        (6400.0, 150.0, None),
        (6150.0, 450.0, None),
    ],
)
def test_a_label_that_disagrees_with_the_measurement(
    add: Add, find: Find, measured: float, uncertainty: float | None, words: str | None
) -> None:
    """850 cSt is 12.1 % of 7,000 and more than 2 x 150; 600 is 8.6 %; 850 is less than 2 x 450."""
    bottle(add, "7k", "second", viscosity_cst=measured, viscosity_uncertainty_cst=uncertainty)
    found = find()
    assert codes(found) == (["label_disagrees"] if words else [])
    if words:
        assert found[0].words.startswith(words)
        assert found[0].subject_label == "7k (second)"


def test_a_bottle_that_another_program_made_lighter_full_than_empty(add: Add, find: Find) -> None:
    bottle(add, "7k", "first", full_mass_g=71.4, empty_mass_g=11.2)
    assert find() == []
    bottle(add, "10k", "second", full_mass_g=11.2, empty_mass_g=11.2)
    found = only(find(), "bottle_masses")
    assert (found.subject_label, found.words) == (
        "10k (second)",
        "weighs 11.2 g full and 11.2 g empty: one of the two is wrong",
    )


def test_the_noted_viscosity_of_a_label_goes_before_its_text(add: Add, find: Find) -> None:
    bottle(add, "7k", "x", {"viscosity_cst": 6100.0}, viscosity_cst=6150.0)
    assert find() == []


@pytest.mark.parametrize("label", ["60 wt", "60wt", "box 3", "oil no. 2", "", "2024 blue", "1.5.7000"])
def test_a_label_that_names_no_viscosity_gives_none(label: str) -> None:
    assert label_viscosity_cst(label) is None


@pytest.mark.parametrize(
    ("label", "cst"), [("7k", 7000), ("10 K", 10000), ("7.5k", 7500), ("7,000 cSt", 7000), ("15 000 cs", 15000)]
)
def test_a_label_that_names_a_viscosity(label: str, cst: float) -> None:
    assert label_viscosity_cst(label) == cst


def test_an_oil_used_often_and_never_measured(add: Add, find: Find) -> None:
    team = Team(add)
    fluid = add("fluid", label="house 7k")
    first = add("bottle", fluid=fluid, lot="A")
    for number in range(5):
        build = team.build(fluid=fluid, bottle=first if number < 2 else None)
    add("blend_part", build=build, fluid=fluid, viscosity_cst=7000.0, mass_g=1.0)
    assert only(find(), "never_measured").words == (
        "went into 5 builds (3 from a bottle not noted and 2 from A), and no bottle of it was ever measured"
    )


def test_another_bottle_of_a_measured_oil(add: Add, find: Find) -> None:
    team = Team(add)
    fluid = add("fluid", label="house 7k")
    add("bottle", fluid=fluid, lot="A", viscosity_cst=7000.0)
    second = add("bottle", fluid=fluid, lot="B")
    for _ in range(4):
        team.build(fluid=fluid, bottle=second)
    assert find() == []
    team.build(fluid=fluid, bottle=second)
    one = only(find(), "never_measured")
    assert (one.subject_label, one.words[:19]) == ("house 7k (B)", "went into 5 builds ")


def test_comparisons_that_go_in_a_circle(add: Add, find: Find) -> None:
    a, b, c = (bottle(add, label, "1") for label in ("a", "b", "c"))
    for thicker, thinner in ((a, b), (b, c), (c, a)):
        add("fluid_comparison", thicker=thicker, thinner=thinner)
    words = only(find(), "comparisons_contradict").words
    assert words.count("thicker than") == 3
    assert words.endswith("these cannot all be right")


def test_ratios_that_disagree_by_two_ways(add: Add, find: Find) -> None:
    """1.5 x 1.2 = 1.8 against 2.2 measured directly: 22 % apart."""
    a, b, c = (bottle(add, label, "1") for label in ("a", "b", "c"))
    for thicker, thinner, ratio in ((a, b, 1.5), (b, c, 1.2), (a, c, 2.2)):
        add("fluid_comparison", thicker=thicker, thinner=thinner, ratio=ratio)
    found_words = [one.words for one in find()]
    assert any(" was measured as " in words for words in found_words)


def test_a_comparison_against_the_measurements(add: Add, find: Find) -> None:
    """7,100 - 6,150 = 950 cSt, over 2 sqrt(150^2 + 150^2) = 424 cSt; 6,400 - 6,150 = 250 is under it."""
    a = bottle(add, "a", "1", viscosity_cst=6150.0, viscosity_uncertainty_cst=150.0)
    b = bottle(add, "b", "1", viscosity_cst=7100.0, viscosity_uncertainty_cst=150.0)
    c = bottle(add, "c", "1", viscosity_cst=6400.0, viscosity_uncertainty_cst=150.0)
    add("fluid_comparison", thicker=a, thinner=b)
    add("fluid_comparison", thicker=a, thinner=c)
    assert only(find(), "comparisons_contradict").words == (
        "a (1) was found thicker than b (1), but measured 6,150 cSt against 7,100 cSt"
    )


def test_every_finding_says_what_to_do(add: Add, find: Find) -> None:
    add("limit", kind="runs between openings", value=8.0)
    team = Team(add, free_volume_cm3=2.24)
    build = team.build(
        dry_mass_g=12.4, oil_mass_g=2.17, filled_mass_g=14.67, viscosity_cst=7000.0, hand_feel="loose", label="one"
    )
    team.build(label="one", dry_mass_g=12.3, squeeze_out="runs out")
    team.run(build, "2026-02-08", 10.0, "keep")
    found = find()
    assert set(codes(found)) == {"mass_balance", "overfilled", "equal_labels", "oil_ran_out"}
    assert all(one.remedy.endswith(".") for one in found)


@pytest.mark.parametrize(
    ("read", "code", "words"),
    [
        (
            {"diff_temp_c": 38.0, "after_run_s": 300.0, "second_diff_temp_c": 35.0, "second_after_run_s": 120.0},
            "readings_out_of_order",
            "has a second temperature of the diff from before the first one (2 and 5 min after the run)",
        ),
        (
            {"diff_temp_c": 38.0, "after_run_s": 300.0, "second_diff_temp_c": 35.0, "second_after_run_s": 300.0},
            "readings_out_of_order",
            "has a second temperature of the diff from at the time of the first one (5 and 5 min after the run)",
        ),
        (
            {"second_diff_temp_c": 35.0, "second_after_run_s": 300.0},
            "readings_out_of_order",
            "has a second temperature of the diff but no first one",
        ),
        ({"diff_temp_c": 20.0}, "diff_colder_than_air", "has a diff at 20 °C, colder than the air at 22 °C"),
        (
            {"diff_temp_c": 38.0, "second_diff_temp_c": 21.0},
            "diff_colder_than_air",
            "has a diff at 21 °C, colder than the air at 22 °C",
        ),
        ({"diff_temp_c": 38.0, "after_run_s": 120.0, "second_diff_temp_c": 35.0, "second_after_run_s": 300.0}, "", ""),
        ({"diff_temp_c": 38.0}, "", ""),
    ],
)
def test_temperatures_that_cannot_be_as_written(
    add: Add, find: Find, read: dict[str, float], code: str, words: str
) -> None:
    build = Team(add).build(viscosity_cst=7000.0)
    run = add("run", label="2026-05-10/1", run_on="2026-05-10", air_temp_c=22.0)
    add("run_diff", run=run, build=build, position="rear", **read)
    found = [one for one in find() if one.subject_table == "run_diffs"]
    assert [(one.code, one.words, one.subject_label) for one in found] == (
        [(code, words, "2026-05-10/1 rear")] if code else []
    )


def test_a_scale_of_masses_in_use_that_was_never_checked(add: Add, find: Find) -> None:
    team = Team(add)
    team.build(dry_mass_g=12.4, scale=add("scale", name="of a build that was replaced", step_g=0.1))
    used = add("scale", name="kitchen", step_g=0.1)
    team.build(dry_mass_g=12.4, kind="rebuild", scale=used)
    one = only(find(), "scale_never_checked")
    assert (one.severity, one.subject_id) == ("worth a look", used)
    assert "one step, 0.1 g, is assumed" in one.words
    assert "scale-check" in one.remedy
    assert "several steps" not in one.words


def test_a_fine_scale_that_was_never_checked_may_scatter_by_several_steps(add: Add, find: Find) -> None:
    Team(add).build(dry_mass_g=12.4, scale=add("scale", name="fine", step_g=0.001))
    assert "usually scatters by several steps" in only(find(), "scale_never_checked").words


@pytest.mark.parametrize(("checked_on", "expected"), [("2025-01-01", ["scale_checked_long_ago"]), ("2025-01-02", [])])
def test_a_check_of_a_scale_holds_for_a_year(add: Add, find: Find, checked_on: str, expected: list[str]) -> None:
    """From 1 Jan 2025 to 2 Jan 2026 are 366 days."""
    scale = add("scale", name="pocket", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.0, checked_on=checked_on)
    Team(add).build(built_on="2026-01-02", dry_mass_g=12.4, scale=scale)
    assert codes(find()) == expected
