"""A racer plans how much oil goes in, and pours by what the scale shows. All figures are constructed."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from browser_team import site_over
from conftest import Begin, Outcome

from bevelbook.plugin.registry import Registry

Bevelbook = Callable[..., Outcome]


@pytest.fixture
def planned(bevelbook: Bevelbook, begin: Begin) -> Bevelbook:
    """rear-a/1 was run, rear-a/2 is like it with another target; nothing was poured yet."""
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "scale", "name=bench", "step_g=0.01", "repeatability=0.005", "day_to_day=0"),
        ("record", "diff", "label=rear-a", "housing_material=aluminium"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=12.42", "oil_mass=1.86", "scale=bench"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-10", "dry_mass=12.41", "like=rear-a/1",
         "target_oil_mass=1.87"),
    )  # fmt: skip
    return bevelbook


def poured(planned: Bevelbook, reading: str) -> Outcome:
    return planned("calc", "fill-target", "--for", "rear-a", "--reading", reading)


def test_the_target_written_before_pouring_is_where_to_stop(planned: Bevelbook) -> None:
    done = poured(planned, "13.9")
    assert done.out.splitlines()[:2] == ["Fill target", "pour on: 0.38 g to go"]
    said = " ".join(done.out.split())
    assert "stop at 14.28 g; anything from 14.26 to 14.30 g is fine" in said
    assert "oil mass 1.87 g (the target, build rear-a/2)" in said
    assert "not run since" not in said, "nobody asks that with the bottle in hand"
    assert done.code == 0


@pytest.mark.parametrize(
    ("reading", "first", "code"),
    [
        ("14.24", "a drop or two: 0.04 g to go", 0),
        ("14.27", "full", 0),
        ("14.32", "0.04 g too much: draw out", 1),
        ("1.85", "full", 0),
    ],
)
def test_only_too_much_oil_ends_with_one_and_no_verdict_is_before_the_words(
    planned: Bevelbook, reading: str, first: str, code: int
) -> None:
    done = poured(planned, reading)
    assert (done.out.splitlines()[1], done.code) == (first, code)


def test_the_card_for_the_bench_says_where_to_stop(planned: Bevelbook) -> None:
    text = planned("card", "rear-a/2").out
    assert "STOP POURING AT 14.28 g   anything from 14.26 to 14.30 g is fine" in text
    assert re.search(r"Oil to put in +1\.87 g", text)
    assert "oil mass ________ g" in " ".join(text.split()), "what was put in is still to be written"


def test_oil_that_was_put_in_serves_where_no_target_was_written(planned: Bevelbook) -> None:
    said = " ".join(planned("calc", "fill-target", "--for", "rear-a/1").out.split())
    assert "stop at 14.28 g" in said
    assert "oil mass 1.86 g (build rear-a/1)" in said


def test_a_target_goes_before_what_was_put_in(planned: Bevelbook) -> None:
    planned("record", "build", "rear-a/2", "oil_mass=1.90")
    assert "stop at 14.28 g" in planned("calc", "fill-target", "--for", "rear-a/2").out


def test_without_any_oil_the_answer_says_where_to_write_the_target(planned: Bevelbook) -> None:
    planned("record", "build", "diff=rear-a", "built_on=2026-05-11", "dry_mass=12.41")
    said = planned("calc", "fill-target", "--for", "rear-a/3").err
    assert "Or write down target_oil_mass of build rear-a/3" in said


def test_the_teams_own_window_is_used_for_its_diffs_and_said_to_be_its_own(planned: Bevelbook) -> None:
    planned("record", "limit", "kind=fill window", "value=0.04")
    done = poured(planned, "14.25")
    said = " ".join(done.out.split())
    assert done.out.splitlines()[1] == "full"
    assert "anything from 14.24 to 14.32 g is fine" in said
    assert "fill window 0.04 g (your limit, build rear-a/2)" in said


def test_a_reading_that_was_kept_is_not_the_reading_of_another_day(planned: Bevelbook) -> None:
    assert planned("calc", "fill-target", "--for", "rear-a/2", "--reading", "13.9", "--keep").code == 0
    text = planned("card", "rear-a/2").out
    assert "g to go" not in text
    assert "STOP POURING AT 14.28 g" in text


def test_on_the_page_the_reading_comes_first_and_the_answer_has_no_verdict_before_it(
    planned: Bevelbook, registry: Registry, tmp_path: Path
) -> None:
    with site_over(tmp_path / "bevelbook.db", registry) as site:
        page = site.page("/bevelbook/-/calc/fill-target?for=rear-a%2F2&reading_g=13.9")
        bare = site.page("/bevelbook/-/calc/fill-target?for=rear-a%2F2")
    assert page.index('name="reading_g"') < page.index('name="dry_mass_g"') < page.index("more inputs:")
    assert '<p class="answer-words">Pour on: 0.38 g to go.</p>' in page
    assert "verdict-line" not in page
    assert 'placeholder="12.41"' in page, "what the build knows is greyed in the input"
    assert '<p class="verdict-line">' in bare


def test_a_kitchen_scale_is_said_to_be_too_coarse_and_the_card_names_the_nearest_reading(planned: Bevelbook) -> None:
    planned("record", "scale", "name=kitchen", "step_g=0.1")
    planned("record", "build", "rear-a/2", "scale=kitchen", "dry_mass=12.4")
    done = planned("calc", "fill-target", "--for", "rear-a/2")
    said = " ".join(done.out.split())
    assert said.startswith("Fill target caution: stop at 14.3 g, the nearest that this scale shows to 14.27 g")
    assert "this scale cannot hit the window" in said
    assert done.code == 0
    assert "STOP POURING AT 14.3 g   no other reading is nearer on this scale" in planned("card", "rear-a/2").out


@pytest.mark.parametrize(("basis", "is_compared"), [("open half", True), ("all parts on the pan", False)])
def test_a_dry_mass_with_other_parts_on_the_scale_is_not_held_against_the_usual_one(
    planned: Bevelbook, basis: str, is_compared: bool
) -> None:
    planned("record", "diff", "rear-a", "usual_dry_mass=12.37")
    planned("record", "build", "rear-a/2", f"mass_basis={basis}")
    out = planned("calc", "fill-target", "--for", "rear-a/2").out
    assert ("heavier than the last one" in out) is is_compared
