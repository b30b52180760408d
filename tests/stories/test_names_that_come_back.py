"""A name comes back with a take-back only while no other record has got it since. Figures constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked
from canonical import dumped
from conftest import Outcome

Run = Callable[..., Outcome]
SHEET = "date,diff,pos,oil,dry g,oil g,total g,remarks\n2026-11-12,q1,rear,7k,12.40,1.90,14.30,filled\n"


def diffs(db: Path) -> list[tuple[object, ...]]:
    return sorted(asked(db, "SELECT label FROM diffs"))


@pytest.fixture
def renamed(say: Run, tmp_path: Path) -> None:
    """A diff of a sheet that was renamed, and another one that got its name."""
    (tmp_path / "s.csv").write_text(SHEET)
    say("import", tmp_path / "s.csv")
    say("record", "diff", "q1", "label=quick")
    say("record", "diff", "label=Q1")


@pytest.mark.usefixtures("renamed")
def test_a_rename_is_not_taken_back_beside_a_diff_that_got_the_name(say: Run, bevelbook: Run, db: Path) -> None:
    before = dumped(db)
    refused = bevelbook("--db", db, "--by", "ana", "take-back", "2")
    assert refused.code == 2
    assert "q1 would come back beside the diff Q1 from entry 3 of ana (record diff label=Q1)" in refused.err
    assert "Take back entry 3 first" in refused.err
    assert "--and-later" in refused.err
    assert dumped(db) == before
    say("take-back", "2", "--and-later", "--yes")
    assert diffs(db) == [("q1",)]


@pytest.mark.usefixtures("renamed")
def test_a_rename_is_taken_back_once_the_other_diff_has_another_name(say: Run, db: Path) -> None:
    say("record", "diff", "Q1", "label=spare")
    say("take-back", "2")
    assert diffs(db) == [("q1",), ("spare",)]


@pytest.mark.parametrize("gone", [("take-back",), ("record", "diff", "q1", "--remove", "sold")])
def test_a_removed_diff_does_not_come_back_beside_one_of_its_name(
    say: Run, bevelbook: Run, db: Path, gone: tuple[str, ...]
) -> None:
    say("record", "diff", "label=q1")
    say(*gone)
    say("record", "diff", "label=q1")
    refused = bevelbook("--db", db, "--by", "ana", "take-back", "2")
    assert refused.code == 2
    assert "q1 would come back beside the diff q1 from entry 3 of ana" in refused.err
    assert diffs(db) == [("q1",)]
    say("take-back", "2", "--and-later", "--yes")
    assert diffs(db) == [("q1",)]


def test_two_of_one_name_that_were_asked_for_are_two_again(say: Run, db: Path) -> None:
    say("record", "diff", "label=q1")
    say("record", "diff", "label=q1", "--another")
    found = asked(db, "SELECT id FROM diffs ORDER BY id LIMIT 1")[0][0]
    say("record", "diff", found, "label=quick")
    say("take-back")
    assert diffs(db) == [("q1",), ("q1",)]


def test_an_opening_does_not_come_back_beside_a_later_one(say: Run, bevelbook: Run, db: Path) -> None:
    say("record", "diff", "label=q1")
    say("record", "build", "diff=q1", "built_on=2026-05-01", "dry_mass=12.42", "oil_mass=1.86")
    say("record", "opening", "build=q1/1", "opened_on=2026-05-04", "reason=leak")
    say("take-back")
    say("record", "opening", "build=q1/1", "opened_on=2026-05-06", "reason=leak")
    refused = bevelbook("--db", db, "--by", "ana", "take-back", "4")
    assert refused.code == 2
    assert "opening of q1/1 2026-05-04 would come back beside the opening of q1/1#2, " in refused.err
    assert "#2, 2026-05-06 from entry 5 of ana" in refused.err
    assert asked(db, "SELECT opened_on FROM openings") == [("2026-05-06",)]


def test_a_build_is_not_named_back_beside_one_of_a_sheet_that_was_given_the_name(
    say: Run, bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    (tmp_path / "s.csv").write_text(SHEET)
    say("import", tmp_path / "s.csv")
    say("record", "diff", "label=q2")
    say("record", "build", "diff=q2", "label=gold", "built_on=2026-11-01", "dry_mass=12.4", "oil_mass=1.9")
    say("record", "build", "gold", "label=silver")
    say("record", "build", "q1/1", "label=gold")
    refused = bevelbook("--db", db, "--by", "ana", "take-back", "4")
    assert refused.code == 2
    assert "gold would come back beside the build gold from entry 5 of ana" in refused.err
    say("take-back", "4", "--and-later", "--yes")
    assert sorted(asked(db, "SELECT label FROM builds")) == [("gold",), ("q1/1",)]


def test_a_counted_label_does_not_come_back_beside_a_build_that_was_given_it(
    say: Run, bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    (tmp_path / "s.csv").write_text(SHEET)
    say("import", tmp_path / "s.csv")
    say("record", "build", "q1/1", "label=gold")
    say("record", "build", "diff=q1", "label=q1/1", "built_on=2026-11-20", "dry_mass=12.4", "oil_mass=1.9")
    refused = bevelbook("--db", db, "--by", "ana", "take-back", "2")
    assert refused.code == 2
    assert "q1/1 would come back beside the build q1/1 from entry 3 of ana" in refused.err
