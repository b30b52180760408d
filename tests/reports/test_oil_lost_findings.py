"""What the check says of oil that was lost. All data are constructed, and each sum is written beside it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook.plugin.check import Finding, fault_of
from bevelbook.reports.oil_lost_findings import leak_findings

Find = Callable[[], list[Finding]]


@pytest.fixture
def find(connection: sqlite3.Connection) -> Find:
    return lambda: list(leak_findings(connection))


def only(found: list[Finding], code: str) -> Finding:
    (one,) = [finding for finding in found if finding.code == code]
    return one


def codes(found: list[Finding]) -> list[str]:
    return [one.code for one in found]


def leaking(add: Add, *weighings: tuple[float, float], **values: Any) -> tuple[Team, str]:
    team = Team(add, "rear-d")
    build = team.build(**{"oil_mass_g": 1.86, **values})
    team.weigh(build, *weighings)
    return team, build


def test_an_empty_database_and_a_sound_build_yield_nothing(add: Add, find: Find) -> None:
    assert find() == []
    leaking(add, (0, 22.40), (8, 22.39), (15, 22.38), dry_mass_g=12.4, filled_mass_g=14.26, mass_basis="open half")
    assert find() == []


def test_a_sudden_leak_is_said_in_grams_share_and_runs(add: Add, find: Find) -> None:
    """22.35 - 22.05 = 0.30 g of 1.86 g = 16.1 %; U = 2 sqrt 2 x 0.00577 = 0.016 g; 0.29 g in 7 runs = 0.041 g/run."""
    team, build = leaking(add, (0, 22.35), (6, 22.34), (13, 22.05))
    one = only(find(), "oil_lost")
    assert one.severity == "stop"
    assert one.words.startswith("lost 0.30 g of 1.86 g (16 %) by run 13, over our default limit of 0.19 g; ")
    assert "that is 0.30 ± 0.016 g (k = 2) in 13 runs; " in one.words
    assert (
        "0.29 g of it went between run 6 and 13 by the last weighing alone (0.041 ± 0.002 g per run, k = 2): "
        "weigh once more to be sure"
    ) in one.words
    team.weigh(build, (15, 22.04))
    sudden = "sudden: 0.29 g of it went between run 6 and 13 (0.041 ± 0.002 g per run, k = 2)"
    assert sudden in only(find(), "oil_lost").words
    assert one.words.endswith("good at run 6, bad at run 13 (over 0.09 g)")
    assert one.remedy.startswith("Do not run it.")
    team.open(build, leak_place="joint", leak_amount="drops")
    ended = only(find(), "oil_lost")
    assert ended.severity == "caution"
    assert ended.words.endswith("opened 2026-03-01: joint, drops")


def test_a_second_weighing_after_the_same_runs_confirms_that_it_was_sudden(add: Add, find: Find) -> None:
    """22.34 g to 22.11 g, the mean of 22.10 and 22.12 after the same runs."""
    team, build = leaking(add, (0, 22.35), (6, 22.34), (13, 22.10))
    assert "by the last weighing alone" in only(find(), "oil_lost").words
    team.weigh(build, (13, 22.12))
    said = only(find(), "oil_lost").words
    assert "sudden: 0.23 g of it went between run 6 and 13 (" in said
    assert "once more" not in said


def test_weighings_of_one_day_with_sisters_apart_are_named_and_weighed_again_once(add: Add, find: Find) -> None:
    """The second mass less the water that the sister shows is a figure that nobody wrote: it is named as written."""
    team = Team(add, "rear-n", housing_material="nylon")
    own = {"oil_mass_g": 1.86, "closed_mass_g": 22.35, "built_on": "2026-05-01", "sister_mass_g": 4.98}
    build = team.build(**own)
    same = {"build": build, "mass_basis": "closed", "scale": team.scale, "weighed_on": "2026-05-09", "runs": 4.0}
    add("weighing", **same, mass_g=22.45, sister_mass_g=5.03)
    add("weighing", **same, mass_g=22.79, sister_mass_g=5.04)
    found = find()
    assert found
    for one in found:
        assert "): ." not in one.remedy
        assert one.remedy.count("gain, wiped") <= 1
    assert any("22.45 g (2026-05-09, weighing " in one.remedy for one in found)
    assert any("22.79 g (2026-05-09, weighing " in one.remedy for one in found)


def test_a_loss_between_the_limits_is_a_caution_and_milder_in_a_build_that_has_ended(add: Add, find: Find) -> None:
    """0.14 g of 1.86 g is 7.5 %, with U = 0.016 g all between 5 and 10 %."""
    team, _ = leaking(add, (0, 22.40), (6, 22.26))
    one = only(find(), "oil_lost")
    assert (one.severity, one.remedy.startswith("Weigh it after the next run.")) == ("caution", True)
    team.build(oil_mass_g=1.86)
    ended = only(find(), "oil_lost")
    assert (ended.severity, ended.subject_label) == ("worth a look", "rear-d/1")
    assert ended.remedy.startswith("Leave its doubtful runs out")


def test_runs_between_the_good_and_the_bad_weighing_are_doubtful(add: Add, find: Find) -> None:
    team, build = leaking(add, (0, 22.35), (6, 22.34), (13, 22.05))
    for day, runs, call in (
        ("2026-02-01", 6.0, "keep"),
        ("2026-02-08", 4.0, "change"),
        ("2026-02-09", 3.0, "keep"),
        ("2026-02-15", 2.0, "change"),
    ):
        team.run(build, day, runs, call)
    assert only(find(), "doubtful_runs").words == (
        "7 runs (2026-02-08/rear-d to 2026-02-09/rear-d) between the last good weighing (run 6) and the first bad one "
        "(run 13): doubtful; 2 runs (2026-02-15/rear-d) after that, with oil known to be missing; what was decided "
        "after them (2 change, 1 keep) rests on a diff that was losing oil"
    )


def test_runs_of_each_leaking_build_are_listed_under_it(add: Add, find: Find) -> None:
    for label, day in (("rear-d", "2026-02-01"), ("rear-e", "2026-02-02")):
        team = Team(add, label)
        build = team.build(oil_mass_g=1.86)
        team.weigh(build, (0, 22.35), (6, 22.05))
        team.run(build, day, 6.0)
    doubtful_runs = {one.subject_label: one.words for one in find() if one.code == "doubtful_runs"}
    assert {label: words.partition(" between")[0] for label, words in doubtful_runs.items()} == {
        "rear-d/1": "6 runs (2026-02-01/rear-d)",
        "rear-e/1": "6 runs (2026-02-02/rear-e)",
    }


def test_another_oil_after_a_leak_is_said_to_be_decided_on_a_leaking_diff(add: Add, find: Find) -> None:
    """22.42 - 22.05 = 0.37 g of 1.86 g = 19.9 %."""
    team, _ = leaking(add, (0, 22.42), (18, 22.05), viscosity_cst=7000.0)
    team.build(viscosity_cst=10000.0)
    one = only(find(), "oil_changed_on_a_leak")
    assert one.subject_label == "rear-d/2"
    assert one.words == (
        "thicker oil, 10,000 cSt after 7,000 cSt in rear-d/1, was decided on a diff that had lost 20 % of its oil"
    )


@pytest.mark.parametrize(("cst", "codes_found"), [(7350.0, []), (7351.0, ["oil_changed_on_a_leak"]), (None, [])])
def test_nearly_the_same_oil_after_a_leak_is_no_decision(
    add: Add, find: Find, cst: float | None, codes_found: list[str]
) -> None:
    """5 % of 7,000 cSt are 350 cSt (our own figure)."""
    team, _ = leaking(add, (0, 22.42), (18, 22.05), viscosity_cst=7000.0)
    team.build(viscosity_cst=cst)
    assert [code for code in codes(find()) if code != "oil_lost"] == codes_found


def test_a_weep_below_the_limit_and_a_blind_scale_are_no_leak(add: Add, find: Find) -> None:
    """0.03 g of 1.86 g is 2 %; a coarse scale has U = 2 sqrt 2 sqrt(0.1^2/12 + 0.05^2) = 0.163 g, 5 % is 0.093 g."""
    leaking(add, (0, 22.40), (20, 22.37))
    team = Team(add, "rear-e")
    coarse = add("scale", name="kitchen", step_g=0.1, repeatability_g=0.05, day_to_day_g=0.0)
    build = team.build(oil_mass_g=1.86, scale=coarse)
    for runs in (0.0, 20.0):
        add("weighing", build=build, runs=runs, mass_g=22.4, mass_basis="closed", scale=coarse)
    assert codes(find()) == ["weighing_unclear"]


def test_weighings_on_different_bases_are_never_a_leak(add: Add, find: Find) -> None:
    team = Team(add)
    build = team.build(
        dry_mass_g=12.4, oil_mass_g=1.86, filled_mass_g=14.26, closed_mass_g=22.4, mass_basis="open half"
    )
    team.weigh(build, (12, 22.39))
    assert find() == []


def test_a_loss_without_the_oil_known_and_a_gain_are_said_apart(add: Add, find: Find) -> None:
    leaking(add, (0, 22.35), (6, 22.25), oil_mass_g=None)
    heavier = Team(add, "rear-e")
    heavier.weigh(heavier.build(oil_mass_g=1.86), (0, 22.35), (6, 22.45))
    found = find()
    assert only(found, "oil_lost_share_unknown").words.startswith("lost 0.10 g by run 6; ")
    assert only(found, "mass_gained").words == (
        "0.10 g heavier by run 6: unclear what it lost; other parts were on the scale, or dirt, or oil was added"
    )
    assert "oil_lost" not in codes(found)


def test_more_lost_than_was_put_in_is_a_slip_of_the_pen(add: Add, find: Find) -> None:
    leaking(add, (0, 22.35), (6, 14.26))
    found = find()
    assert only(found, "weighings_disagree").words == (
        "8.09 g lighter by run 6, and only 1.86 g went in: unclear what it lost"
    )
    assert codes(found) == ["weighings_disagree"]


def test_the_teams_own_limits_of_oil(add: Add, find: Find) -> None:
    """Lost 0.12 g of 1.86 g; 0.13 g is near from 0.104 g; 0.08 g is certainly over: 0.12 - 0.016 > 0.08."""
    team, _ = leaking(add, (0, 22.35), (6, 22.23))
    add("limit", kind="oil lost in grams", value=0.13)
    found = find()
    assert codes(found) == ["weighing_unclear"], "the limit lies inside the interval: one finding says both"
    assert found[0].words == (
        "lost 0.12 g of 1.86 g (6 %) by run 6, over 0.09 g for certain; unclear whether it is over your limit of "
        "0.13 g: weigh it again; that is 0.12 ± 0.016 g (k = 2) in 6 runs; good at run 0, bad at run 6 "
        "(over 0.09 g)"
    )
    add("limit", kind="oil lost in grams", value=0.14, diff=team.diff)
    assert [(one.code, one.words) for one in find()] == [
        (
            "oil_lost",
            "lost 0.12 g of 1.86 g (6 %) by run 6, over our default limit of 0.09 g; that is 0.12 ± 0.016 g "
            "(k = 2) in 6 runs; good at run 0, bad at run 6 (over 0.09 g)",
        ),
        ("limit_near", "lost 0.12 g (0.10 to 0.14 g), your limit is 0.14 g"),
    ]
    add("limit", kind="oil lost in grams", value=0.08, diff=team.diff)
    found = find()
    assert codes(found) == ["oil_lost"]
    assert (found[0].severity, "over your limit of 0.08 g" in found[0].words) == ("stop", True)


def test_the_teams_own_share_of_oil_is_held_against_in_grams(add: Add, find: Find) -> None:
    """7 % of 1.86 g is 0.1302 g, 6 % is 0.1116 g: the whole of 0.12 ± 0.016 g is over 5 % (0.093 g) and not over it."""
    leaking(add, (0, 22.35), (6, 22.23))
    for share, limit in ((0.07, "0.13 g"), (0.06, "0.11 g")):
        add("limit", kind="oil lost as a share", value=share)
        said = f"over 0.09 g for certain; unclear whether it is over your limit of {limit}"
        assert said in only(find(), "weighing_unclear").words
    add("limit", kind="oil lost as a share", value=0.05)
    found = only(find(), "oil_lost")
    assert (found.severity, "over your limit of 0.09 g" in found.words) == ("stop", True)


@pytest.mark.parametrize(("last_g", "is_near"), [(22.32, False), (22.317, True), (22.345, False)])
def test_a_limit_is_near_from_four_fifths_of_it_on_and_where_a_loss_is_seen(
    add: Add, find: Find, last_g: float, is_near: bool
) -> None:
    """0.04 g times 0.8 is 0.032 g (our own figure); the scale can see 0.016 g."""
    leaking(add, (0, 22.35), (6, last_g))
    add("limit", kind="oil lost in grams", value=0.04)
    words = "; ".join(one.words for one in find())
    assert ("your limit is 0.04 g" in words) is is_near
    assert len(codes(find())) <= 1


def test_a_proposed_limit_is_never_called_yours(add: Add, find: Find) -> None:
    leaking(add, (0, 22.35), (6, 22.20))
    found = find()
    assert "limit_near" not in codes(found)
    assert not any("your limit" in one.words for one in found)


def test_every_finding_says_what_to_do(add: Add, find: Find) -> None:
    team, build = leaking(add, (0, 22.35), (6, 22.34), (13, 22.05), viscosity_cst=7000.0)
    team.run(build, "2026-02-08", 10.0, "keep")
    found = find()
    assert len(found) == 2
    team.build(viscosity_cst=10000.0)
    found = find()
    assert codes(found) == ["oil_lost", "doubtful_runs", "oil_changed_on_a_leak"]
    assert all(fault_of(one) is None and one.remedy.endswith(".") for one in found)
