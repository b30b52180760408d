"""What ``bevelbook merge`` says of what it did to the book: the shelf, builds written twice, values, names. All data
are constructed."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest
from clashing import copy_of
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
Say = Callable[..., Outcome]


@pytest.fixture
def say(bevelbook: Run) -> Say:
    """Run a command on a database as somebody; it must do what it says. One that brings records in or looks at them may
    end with 1, for what it found; one that writes may not."""

    def done(path: Path, by: str, *words: object) -> Outcome:
        outcome = bevelbook("--db", path, "--by", by, *words)
        only_looks = words[0] in ("merge", "check") and not {"--settle", "--put-by"} & {*words}
        assert outcome.code in ((0, 1) if only_looks else (0,)), (words, outcome)
        return outcome

    return done


def in_one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def bo(bevelbook: Run, begin: Begin, db: Path) -> Path:
    """Bo's laptop: the build of a day is written on it and on ana's, and bo sees that it lost oil."""
    of_ana, other = ("--db", db, "--by", "ana", "record"), db.with_name("bo.db")
    of_day = ("build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=46.20g", "oil_mass=1.86g")
    begin(
        bevelbook,
        db,
        (*of_ana, "diff", "label=rear-a"),
        (*of_ana, "build", "diff=rear-a", "built_on=2026-05-01", "dry_mass=46.20g", "oil_mass=1.86g"),
    )
    copy_of(db, "bo")
    of_bo = ("--db", other, "--by", "bo", "record")
    weighed = (*of_bo, "weighing", "build=rear-a/2", "mass_basis=closed", "weighed_on=2026-05-09")
    begin(
        bevelbook,
        other,
        (*of_bo, *of_day),
        (*weighed, "mass=48.06g", "runs=0"),
        (*weighed, "mass=47.56g", "runs=4"),
    )
    begin(bevelbook, db, (*of_ana, *of_day))
    return other


def test_a_stop_that_a_merge_hides_is_said_and_what_brings_it_back(say: Say, db: Path, bo: Path) -> None:
    say(db, "ana", "record", "weighing", "build=rear-a/2", "mass=48.06g", "mass_basis=closed", "weighed_on=2026-05-09")
    tried = in_one_line(say(bo, "bo", "merge", db, "--dry-run").out)
    done = in_one_line(say(bo, "bo", "merge", db).out)
    named = "rear-a has 2 builds on 2026-05-09, rear-a/2 of bo and rear-a/2 of ana: it may be one build, written twice"
    for said in (tried, done):
        assert "Shelf: rear-a was 'open it', is now 'ready'" in said
        assert f"{named}. If so, keep one: the check says how." in said
    assert named not in say(bo, "bo", "merge", db).out

    (remedy,) = re.findall(r"-> (If so, keep one.*?\"written twice\"')\.", in_one_line(say(bo, "bo", "check").out))
    assert remedy.startswith("If so, keep one, such as rear-a/2 of bo. Move to it what is under the others: 'bevelbook")
    moving, removing = re.findall(r"'bevelbook --db \S+ --by bo (record .*?)'(?:\. |$)", remedy)
    for command in (moving, removing):
        say(bo, "bo", *shlex.split(command))
    after = say(bo, "bo", "check").out
    assert "written twice" not in after
    assert "STOP" in after.upper(), "the loss that bo saw is that of the diff again"


def test_a_diff_that_another_member_built_again_after_it_ran_is_no_build_written_twice(say: Say, db: Path) -> None:
    say(db, "ana", "record", "diff", "label=rear-a")
    build = ("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=46.20g", "oil_mass=1.86g")
    say(db, "ana", *build)
    say(db, "ana", "record", "run", "run_on=2026-05-09", "rear=rear-a")
    say(db, "bo", *build)
    assert "written twice" not in say(db, "ana", "check").out


def test_a_finding_that_a_build_was_written_twice_can_be_put_by(say: Say, db: Path, bo: Path) -> None:
    say(bo, "bo", "merge", db)
    say(bo, "bo", "check", "--put-by", "rear-a/2 of ana written twice", "two builds")
    assert "written twice" not in say(bo, "bo", "check").out


def test_values_that_came_are_named_with_what_they_were_and_who_wrote_them(say: Say, db: Path, bo: Path) -> None:
    say(bo, "bo", "record", "build", "rear-a/1", "dry_mass=46.31g")
    done = in_one_line(say(db, "ana", "merge", bo).out)
    assert "Changed by it: 1 build. build rear-a/1: dry mass 46.31 g, was 46.20 g (by bo)." in done, done


def test_a_value_against_which_a_clash_was_settled_elsewhere_is_named(say: Say, db: Path, bo: Path) -> None:
    say(bo, "bo", "record", "build", "rear-a/1", "dry_mass=46.15g")
    say(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.10g")
    met = in_one_line(say(bo, "bo", "merge", db).out)
    assert "1 clash: dry mass of build rear-a/1." in met, met
    settled = in_one_line(say(bo, "bo", "merge", "--settle", "build rear-a/1", "46.15g").out)
    assert settled.startswith("Settled build rear-a/1: dry mass 46.15 g (bo, "), settled
    done = in_one_line(say(db, "ana", "merge", bo).out)
    assert "build rear-a/1: dry mass 46.15 g, was 46.10 g (settled by bo)." in done, (done, met, settled)


def test_what_was_removed_is_named(say: Say, db: Path) -> None:
    say(db, "ana", "record", "venue", "name=Low hall")
    other = copy_of(db, "bo")
    say(other, "bo", "record", "venue", "Low hall", "--remove", "closed for good")
    assert "Removed by it: 1 venue. Removed: venue Low hall." in in_one_line(say(db, "ana", "merge", other).out)


def test_what_came_and_was_here_by_name_is_named(say: Say, db: Path) -> None:
    other = copy_of(db, "bo")
    for path, by in ((db, "ana"), (other, "bo")):
        say(path, by, "record", "venue", "name=Low hall")
        say(path, by, "record", "diff", "label=rear-a")
    say(other, "bo", "record", "diff", "label=rear-b")
    done = in_one_line(say(db, "ana", "merge", other).out)
    assert "bo: 1 venue, 2 diffs Of these, here already by name: diff rear-a, venue Low hall." in done, done


def test_what_two_wrote_differently_of_one_name_is_said_where_they_meet(say: Say, db: Path) -> None:
    other = copy_of(db, "bo")
    say(db, "ana", "record", "diff", "label=rear-z", "usual_position=rear", "screw_count=4")
    say(other, "bo", "record", "diff", "label=rear-z", "usual_position=front", "note=hums")
    done = say(db, "ana", "merge", other).out
    said = in_one_line(done)
    assert "usual position front of bo's rear-z does not hold: rear-z has another" in said, done
    taking_over = re.search(r"note hums is noted with bo's rear-z alone: '(bevelbook .*)' takes it over", said)
    assert taking_over, done
    assert "screw count" not in said, "rear-z shows it"
    say(db, "ana", *shlex.split(taking_over[1])[1:])
    rows = say(db, "ana", "export", "--table", "diffs", "--csv", "-").out.splitlines()
    assert sum(row.endswith(",hums") for row in rows) == 2, rows


def test_a_name_that_goes_back_to_what_was_written_is_said(say: Say, db: Path, bo: Path) -> None:
    say(db, "ana", "merge", bo)
    say(bo, "bo", "record", "build", "rear-a/2", "label=rear-a/7")
    done = in_one_line(say(db, "ana", "merge", bo).out)
    assert "Build rear-a/2 of ana is called rear-a/2 now." in done, done
