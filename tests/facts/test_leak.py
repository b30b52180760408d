"""What a build lost as a kept fact, and as the whole story of its weighings. All data are constructed."""

from __future__ import annotations

import sqlite3
from math import sqrt

import pytest
from constructed import Add, Team

from bevelbook.facts.kept_facts import facts_of
from bevelbook.facts.leak import leaks_of
from bevelbook.records.facts import BuildFacts


def test_a_loss_is_kept_with_its_limits_and_its_uncertainty(connection: sqlite3.Connection, team: Team) -> None:
    """22.35 - 22.05 g; U = 2 sqrt(2 (0.01² / 12 + 0.005²)) g (JCGM 100:2008, F.2.2.1); 5 and 10 % of 1.86 g."""
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    team.weigh(build, (6.0, 22.34), (13.0, 22.05))
    found = facts_of(connection, BuildFacts, build)
    assert (found.weighed_as, found.weighings, found.first_mass_g, found.last_mass_g) == ("closed", 3, 22.35, 22.05)
    assert (found.loss_g, found.weighed_at_runs, found.leak) == (0.3, 13.0, "stop")
    assert found.loss_uncertainty_g == pytest.approx(2.0 * sqrt(2.0 * (0.01**2 / 12.0 + 0.005**2)))
    assert (found.caution_g, found.stop_g, found.limit_from) == (0.093, 0.186, "proposal")
    assert (found.good_until_runs, found.bad_from_runs) == (6.0, 13.0)


def test_where_more_is_missing_than_went_in_it_is_unclear(connection: sqlite3.Connection, team: Team) -> None:
    """8 g lost of 1.86 g: other parts were on the scale."""
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    team.run(build, "2026-02-01", 6.0)
    team.run(build, "2026-02-02", 2.0)
    team.weigh(build, (6.0, 14.35))
    found = facts_of(connection, BuildFacts, build)
    assert (found.leak, found.loss_g, found.good_until_runs, found.bad_from_runs) == ("unclear", 8.0, 0.0, None)
    states = connection.execute("SELECT DISTINCT fill_state FROM run_diff_facts").fetchall()
    assert [row[0] for row in states] == ["unknown"]
    story = leaks_of(connection, [build])[build]
    assert story.found is None
    assert story.refused is not None
    assert story.judgement.reasons == ("8.00 g lighter, and only 1.86 g went in",)


@pytest.mark.parametrize(("last_g", "verdict"), [(20.49, "stop"), (20.48, "stop"), (20.47, "unclear")])
def test_all_of_the_oil_may_be_gone_but_not_more_than_the_scale_can_tell(
    connection: sqlite3.Connection, team: Team, last_g: float, verdict: str
) -> None:
    """1.86, 1.87 and 1.88 g of 1.86 g; U = 0.0163 g."""
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    team.weigh(build, (6.0, last_g))
    assert facts_of(connection, BuildFacts, build).leak == verdict
    assert leaks_of(connection, [build])[build].judgement.verdict == verdict


@pytest.mark.parametrize("filled_g", [12.4, 12.0])
def test_a_fill_of_nothing_sets_no_limit(connection: sqlite3.Connection, team: Team, filled_g: float) -> None:
    build = team.build(dry_mass_g=12.4, filled_mass_g=filled_g, closed_mass_g=22.35)
    team.weigh(build, (6.0, 22.05))
    found = facts_of(connection, BuildFacts, build)
    assert (found.leak, found.stop_g, found.caution_g, found.limit_from) == ("caution", None, None, None)
    assert (found.good_until_runs, found.bad_from_runs) == (0.0, 6.0)


def test_a_gain_is_unclear(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    team.weigh(build, (6.0, 22.45))
    found = facts_of(connection, BuildFacts, build)
    assert (found.leak, found.loss_g) == ("unclear", -0.1)


def test_the_whole_story_agrees_with_what_is_kept(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    add("limit", kind="oil lost as a share", value=0.08)
    builds = []
    for oil_g, last_g in ((1.86, 22.34), (1.86, 22.22), (1.86, 22.00), (None, 22.00), (None, 22.35), (1.86, 22.6)):
        builds.append(team.build(oil_mass_g=oil_g, closed_mass_g=22.35))
        team.weigh(builds[-1], (6.0, last_g))
    bare = team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    stories = leaks_of(connection, [*builds, bare, "nobody"])
    assert set(stories) == set(builds)
    for build in builds:
        kept, story = facts_of(connection, BuildFacts, build), stories[build]
        assert story.found is not None
        assert story.judgement.verdict == kept.leak == story.loss.verdict
        assert round(story.found.loss_g, 6) == kept.loss_g
        assert story.found.loss_high_g - story.found.loss_g == pytest.approx(kept.loss_uncertainty_g)
        assert story.found.changed_before_runs == kept.bad_from_runs
        assert story.weighed.limits == (kept.caution_g, kept.stop_g, kept.limit_from, None)
    verdicts = {stories[build].judgement.verdict for build in builds}
    assert verdicts == {"ok", "caution", "stop", "unclear"}


def test_the_whole_formula_takes_the_finest_step_and_the_widest_scatter_and_each_reading_its_own(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    coarse = add("scale", name="coarse", step_g=0.1, repeatability_g=0.02, day_to_day_g=0.0)
    add("limit", kind="oil lost as a share", value=0.08)
    add("limit", kind="oil lost in grams", value=0.2)
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    add("weighing", build=build, runs=6.0, mass_g=22.3, mass_basis="closed", scale=coarse)
    given = leaks_of(connection, [build])[build].given
    assert (given.scale_step_g, given.repeatability_g) == (0.01, 0.02)
    assert [(one.runs, one.mass_g, one.scale_step_g, one.repeatability_g) for one in given.weighings] == [
        (0.0, 22.35, 0.01, 0.005),
        (6.0, 22.3, 0.1, 0.02),
    ]
    assert (given.oil_mass_g, given.stop_share, given.stop_loss_g) == (1.86, 0.08, 0.2)


def test_masses_that_disagree_without_a_run_between_them_are_unclear(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    first, second = team.build(oil_mass_g=1.86), team.build(oil_mass_g=1.86, closed_mass_g=22.35)
    for mass_g in (22.35, 22.05):
        add("weighing", build=first, runs=6.0, mass_g=mass_g, mass_basis="closed")
    team.weigh(second, (6.0, 22.34))
    stories = leaks_of(connection, [first, second])
    assert [stories[one].is_without_runs for one in (first, second)] == [True, False]
    assert [stories[one].is_unclear_without_runs for one in (first, second)] == [True, False]
    assert stories[first].weighed.apart_in_words() is not None
    assert stories[second].weighed.apart_in_words() is None


def test_what_is_lost_while_the_diff_only_stands_is_judged(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """0.30 g of 1.86 g (16 %) between two days, with no run between them: unclear until a second reading shows it."""
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35, built_on="2026-01-02")

    def weigh(day: str, mass_g: float) -> BuildFacts:
        add("weighing", build=build, runs=0.0, weighed_on=day, mass_g=mass_g, mass_basis="closed", scale=team.scale)
        return facts_of(connection, BuildFacts, build)

    weigh("2026-01-03", 22.34)
    assert weigh("2026-01-20", 22.05).leak == "unclear"
    found = weigh("2026-02-20", 22.05)
    assert (found.leak, found.loss_g, found.good_until_runs, found.bad_from_runs) == ("stop", 0.3, 0.0, 0.0)
    assert found.weighings_apart is None
    story = leaks_of(connection, [build])[build]
    assert story.judgement.verdict == "stop"
    assert story.judgement.reasons[:2] == (
        "lost 0.30 g of 1.86 g (16 %), ± 0.014 g (k = 2)",
        "0.30 g went at 0 runs while it stood, between 2026-01-03 and 2026-01-20",
    )
    assert not story.is_unclear_without_runs
    team.run(build, "2026-02-21", 2.0)
    assert connection.execute("SELECT fill_state FROM run_diff_facts").fetchall()[0][0] == "lost oil"


def test_more_lost_standing_than_went_in_is_unclear(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.35, built_on="2026-01-02")
    for day in ("2026-01-20", "2026-01-21"):
        add("weighing", build=build, runs=0.0, weighed_on=day, mass_g=20.4, mass_basis="closed", scale=team.scale)
    assert facts_of(connection, BuildFacts, build).leak == "unclear"
    assert leaks_of(connection, [build])[build].judgement.reasons == ("1.95 g lighter, and only 1.86 g went in",)


def test_only_the_last_build_of_a_diff_that_is_closed_is_to_be_weighed_again(
    connection: sqlite3.Connection, team: Team
) -> None:
    """Two readings after the same runs disagree: nobody can weigh again what was filled again or opened since."""
    builds = [team.build(oil_mass_g=1.86, closed_mass_g=22.35) for _ in range(2)]
    for build in builds:
        team.weigh(build, (6.0, 22.05), (6.0, 22.34))

    def is_asked(build: str) -> bool:
        judgement = leaks_of(connection, builds)[build].judgement
        return any("weigh again" in words for words in (*judgement.reasons, *judgement.findings))

    assert [is_asked(build) for build in builds] == [False, True]
    team.open(builds[1])
    assert [is_asked(build) for build in builds] == [False, False]
