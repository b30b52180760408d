"""What the check finds about old builds comes last, and a finding can be put by. All figures constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
DRY_CHANGED = "rear-a/2 dry mass changed"


@pytest.fixture
def team(bevelbook: Run, begin: Begin, db: Path) -> Run:
    """A diff whose second build was 0.09 g heavier dry for no noted reason, and was built again since."""

    def run(*words: object) -> Outcome:
        return bevelbook("--db", db, "--by", "ana", *words)

    lines = (
        "person name=ana",
        "diff label=rear-a",
        "scale name=pocket step_g=0.01 repeatability=0.005 day_to_day=0",
        "build diff=rear-a built_on=2026-05-03 dry_mass=12.40 oil_mass=1.86 closed_mass=22.35 scale=pocket",
        "build diff=rear-a built_on=2026-05-10 dry_mass=12.49 oil_mass=1.86 closed_mass=22.44 scale=pocket",
        "build diff=rear-a built_on=2026-05-17 dry_mass=12.49 oil_mass=1.86 closed_mass=22.44 scale=pocket",
    )
    begin(run, db, *(("record", *line.split()) for line in lines))
    return run


def weighed(team: Run, runs: int, mass: float) -> None:
    words = f"build=rear-a weighed_on=2026-05-24 runs={runs} mass={mass} mass_basis=closed scale=pocket"
    assert team("record", "weighing", *words.split()).code == 0


def test_what_is_about_an_old_build_is_counted_and_listed_when_asked_for(team: Run) -> None:
    weighed(team, 6, 22.43)
    done = team("check")
    assert done.code == 1, "findings about the past are findings"
    assert DRY_CHANGED not in done.out
    assert done.out.splitlines()[-2:] == [
        "Nothing to do before the next time out.",
        "About the past: 1 finding: 1 worth a look (--past lists them).",
    ]
    assert f"worth a look: {DRY_CHANGED}: 12.49 g dry, rear-a/1 had" in team("check", "--past").out
    data = team("check", "--json").json
    assert data["counts"]["worth a look"] == data["counts_past"]["worth a look"] == 1
    assert [one["past"] for group in data["diffs"] for one in group["findings"]] == [True]


def test_a_finding_that_was_put_by_is_only_counted_until_its_number_changes(team: Run) -> None:
    weighed(team, 6, 22.43)
    done = team("check", "--put-by", "rear-a/2 dry_mass_changed", "the lid is a new one")
    assert done.code == 0
    assert done.out.startswith(f"Put by: {DRY_CHANGED}: 12.49 g dry")
    quiet = team("check", "--past")
    assert (quiet.code, quiet.out.splitlines()[-2:]) == (0, ["Nothing found.", "1 put by (--put-by-list lists them)."])
    assert DRY_CHANGED not in quiet.out
    listed = " ".join(team("check", "--put-by-list").out.split())
    assert f"{DRY_CHANGED}: 12.49 g dry" in listed
    assert "by ana: the lid is a new one" in listed
    (finding,) = team("check", "--json").json["diffs"][0]["findings"]
    assert (finding["resting"], finding["put_by"]["reason"]) == (True, "the lid is a new one")
    assert team("record", "build", "rear-a/2", "dry_mass=12.51", "--yes").code == 0
    again = team("check", "--past")
    assert again.code == 1
    assert f"{DRY_CHANGED}: 12.51 g dry" in again.out


def test_put_by_again_only_the_reason_changes(team: Run) -> None:
    for reason in ("the lid is a new one", "the lid is of brass"):
        assert team("check", "--put-by", DRY_CHANGED, reason).code == 0
    (finding,) = [
        one for one in team("check", "--json").json["diffs"][0]["findings"] if one["code"] == "dry_mass_changed"
    ]
    assert finding["put_by"]["reason"] == "the lid is of brass"


def test_a_stop_for_a_diff_in_use_cannot_be_hidden(team: Run) -> None:
    weighed(team, 6, 22.10)
    done = team("check", "--put-by", "rear-a/3 oil lost", "only one more race")
    assert done.code == 0
    assert done.out.startswith("Noted, but shown all the same, as it is a STOP for a diff in use: rear-a/3 oil lost")
    shown = team("check")
    assert shown.code == 1
    assert "STOP: rear-a/3 oil lost: lost 0.34 g" in shown.out
    assert "only one more race; it is in use, so it is shown all the same" in " ".join(shown.out.split())
    assert "put by (" not in shown.out


def test_a_name_that_no_finding_has_and_a_missing_reason_are_refused(team: Run) -> None:
    wrong = team("check", "--put-by", "rear-a/2 dry", "why")
    assert wrong.code == 2
    assert f"Did you mean {DRY_CHANGED}" in wrong.err
    assert team("check", "--put-by", DRY_CHANGED, " ").code == 2
    assert DRY_CHANGED in team("check", "--past").out


def test_what_was_put_by_comes_back_when_that_is_taken_back_or_removed(team: Run) -> None:
    for bring_back in (["take-back"], ["record", "put-by", DRY_CHANGED, "--remove", "the lid was the old one"]):
        assert team("check", "--put-by", DRY_CHANGED, "a new lid").code == 0
        assert f"worth a look: {DRY_CHANGED}" not in team("check", "--past").out
        done = team(*bring_back)
        assert done.code == 0, done.err
        assert f"worth a look: {DRY_CHANGED}" in team("check", "--past").out
